"""Scheduling: what each machine does when, as the `schedule` contract states it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Literal

from solver.hints import Low
from solver.units import Seconds

Time = Annotated[int, Low(0)]  # unit free in the contract; seconds from the plan's start in a plant's plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """A machine: when it is closed, and the set-up from one family to the next."""

    id: str
    closed: tuple[tuple[Time, Time], ...] = ()
    setup: tuple[tuple[Time, ...], ...] | None = None
    initial: Annotated[int, Low(0)] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Operation:
    """One step of a job: its working time on each machine that can do it."""

    on: Mapping[str, Time]
    family: Annotated[int, Low(0)] = 0
    hold: Time = 0
    pause: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """Operations in order, when they may start and when they should be done."""

    id: str
    operations: tuple[Operation, ...]
    release: Time = 0
    due: Time | None = None
    weight: Time = 1
    after: tuple[str, ...] = ()  # jobs that must be done, holds included, before this one starts


@dataclass(frozen=True, slots=True, kw_only=True)
class ScheduleJob:
    """Jobs to put on machines."""

    objective: Literal["makespan", "weighted_tardiness"]
    machines: tuple[Machine, ...]
    jobs: tuple[Job, ...]
    time_limit_s: Annotated[float, Low(0)] = 10.0
    seed: int = 1
    same_order: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """When and where one operation runs."""

    job: str
    index: int
    machine: str
    start: int
    end: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ScheduleResult:
    """A timetable with its proof: the value and the bound nothing can beat."""

    status: Literal["optimal", "feasible", "unknown"]
    objective: int | None
    lower_bound: int
    operations: tuple[Slot, ...]
    seconds: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedOperation:
    """One operation of the plant's plan in clear: which work, on what, where, and when (seconds from `epoch`)."""

    id: str
    order: str = ""  # empty: work for several orders at once, such as a lot or a slitting run
    step: str  # "laminate", "cut", "rip", "rout", "bundle", "load", "slit", "form", ...
    about: str  # what it works on: a lot, a bar, a bundle, a load
    machine: str
    start_s: Seconds
    end_s: Seconds
    hold_s: Seconds = Seconds(0)
    setup_s: Seconds = Seconds(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lateness:
    """A delivery's promise: due at the dock, done, and how late, in seconds from the epoch."""

    order: str
    delivery: str
    due_s: Seconds | None
    done_s: Seconds
    late_s: Seconds
    why: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Timetable:
    """All operations of a plan; `epoch` is the aware start instant, ISO 8601."""

    epoch: str
    job: ScheduleJob
    result: ScheduleResult
    operations: tuple[PlannedOperation, ...]
    deliveries: tuple[Lateness, ...]
