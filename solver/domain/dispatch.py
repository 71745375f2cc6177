"""Dispatch: which truck is loaded at which door when, when it leaves and arrives, and whether that is in time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from solver.domain.ids import LoadId, OrderId
from solver.units import Seconds


@dataclass(frozen=True, slots=True, kw_only=True)
class Departure:
    """One truck, in seconds from the timetable's epoch: its last bundle built, loading begun and done, on site; due and late.

    It may leave once it is loaded and must by `leave_by_s`; on site and late are told of a truck that leaves at once.
    Of several deliveries the one due first counts; a truck of no delivery is wanted at no time.
    """

    load: LoadId
    order: OrderId
    deliveries: tuple[str, ...]
    door: str
    ready_s: Seconds
    start_s: Seconds
    leave_s: Seconds  # loaded: it may leave
    arrive_s: Seconds
    leave_by_s: int | None = None  # to be on site in time
    need_by_s: int | None = None  # at the site; below zero: before the plan's time starts
    late_s: int | None = None  # below zero: early


@dataclass(frozen=True, slots=True, kw_only=True)
class Dispatch:
    """Trucks in order of leaving; the largest lateness on site (0: all in time), and the least that any order can have.

    The bound takes as given when bundles are built. `optimal` where it is reached.
    """

    status: Literal["optimal", "feasible"]
    departures: tuple[Departure, ...]
    most_late_s: int = 0
    lower_bound: int = 0
