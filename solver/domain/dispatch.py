"""Dispatch: when each load is put on its truck and leaves, so that what is wanted first is on the road in time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from solver.domain.ids import LoadId
from solver.hints import Items, Low
from solver.units import Seconds


@dataclass(frozen=True, slots=True, kw_only=True)
class DispatchLoad:
    """A load: when the last of its bundles is ready, how long the dock takes, how long the road, when the site wants it."""

    id: LoadId
    ready_s: Annotated[Seconds, Low(0)]
    dock_s: Annotated[Seconds, Low(0)]
    transit_s: Annotated[Seconds, Low(0)]
    need_by_s: Annotated[Seconds, Low(0)]


@dataclass(frozen=True, slots=True, kw_only=True)
class DispatchJob:
    """Loads for one dock door, one after the other; times in seconds from one instant."""

    loads: Annotated[tuple[DispatchLoad, ...], Items(0, 1_000)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Departure:
    """When a load begins at the dock, leaves and arrives, and by how much it is late (below zero: early)."""

    load: LoadId
    start_s: Seconds
    leave_s: Seconds
    arrive_s: Seconds
    late_s: int


@dataclass(frozen=True, slots=True, kw_only=True)
class DispatchResult:
    """Departures in order, the largest lateness and the least that any order can have."""

    status: Literal["optimal", "feasible"]
    departures: tuple[Departure, ...]
    most_late_s: int
    lower_bound: int
