"""Promises and replanning: questions asked of a released timetable, and what would change.

Times are whole numbers from the released timetable's own zero, as in `timetable`; seconds in a plant's plan.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from solver.domain.timetable import Job, ScheduleJob, Slot, Time
from solver.field_limits import ExclusiveMinimum, ItemCount, Minimum


@dataclass(frozen=True, slots=True, kw_only=True)
class Ending:
    """When a job with a due date ends, released and new; late by so much beyond its due date."""

    job: str
    due: Time
    done_before: int | None  # None: a new job
    done: int
    late_before: int
    late: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """An operation that is elsewhere or at another time than released."""

    job: str
    index: int
    machine_before: str
    machine: str
    start_before: int
    start: int
    forced: bool  # it could not have stayed: its machine is down, its material late, or what it waits for had to move


@dataclass(frozen=True, slots=True, kw_only=True)
class PromiseJob:
    """When could this order ship? Asked of a released timetable, which stays as it is.

    `order` holds the new order's jobs; their families are those of the released set-up tables. `by`: a date that is asked
    for, so that the answer tells what would have to give for it; work that starts before `firm_until` never gives.
    """

    plan: ScheduleJob
    slots: tuple[Slot, ...]
    order: Annotated[tuple[Job, ...], ItemCount(1, 100_000)]
    now: Time = 0
    firm_until: Time = 0
    by: Time | None = None
    time_limit_s: Annotated[float, Minimum(0)] = 3.0
    seed: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Earlier:
    """What would have to give for a date: the fewest jobs found that end later than due and later than released.

    It is the smallest set that the search found; a smaller one is not ruled out unless the set is empty.
    """

    reached: bool  # whether the date is met
    done: int  # when the new order would ship
    slips: tuple[Ending, ...]  # jobs whose lateness grows
    moved: int  # released operations that would move
    operations: tuple[Slot, ...]  # the whole timetable, the new order's operations included


@dataclass(frozen=True, slots=True, kw_only=True)
class PromiseResult:
    """The earliest end found for the new order with every released operation where it is, and what a date would cost."""

    status: Literal["optimal", "feasible"]
    done: int
    lower_bound: int  # no timetable that leaves the released one alone ends sooner
    operations: tuple[Slot, ...]  # of the new order
    earlier: Earlier | None = None  # only where a date was asked for that `done` misses
    seconds: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Down:
    """A machine that does not run from `start` to `end`."""

    machine: str
    start: Time
    end: Time


@dataclass(frozen=True, slots=True, kw_only=True)
class LateMaterial:
    """A job whose material (a coil, cores) comes later than planned."""

    job: str
    release: Time


@dataclass(frozen=True, slots=True, kw_only=True)
class Urgent:
    """A job that is wanted at another date, or counts more than planned."""

    job: str
    due: Time | None = None
    weight: Time | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Wait:
    """A released job that must now also wait for another, such as a bundle for a remade panel."""

    job: str
    after: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Undone:
    """An operation that should have begun before now and is not done: it is placed again."""

    job: str
    index: Annotated[int, Minimum(0)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Calm:
    """What moves cost beside weighted tardiness, each in units of it; the plant's catalog holds them."""

    move: Annotated[int, Minimum(0)] = 60  # an operation that starts at another time
    machine: Annotated[int, Minimum(0)] = 3_600  # one that goes to another machine
    far: Annotated[int, Minimum(0)] = 3_600  # one that goes farther than a shift
    shift: Annotated[int, ExclusiveMinimum(0)] = 28_800  # what a shift is


@dataclass(frozen=True, slots=True, kw_only=True)
class ReplanJob:
    """A released timetable, what happened, and from when work may move.

    What started before `now` is finished or running and stays, but for what is `undone`; what starts before `firm_until`
    stays too, unless what happened makes that impossible. Running work that may pause goes on when its machine runs again;
    running work that may not starts over.
    """

    plan: ScheduleJob
    slots: tuple[Slot, ...]
    now: Time
    firm_until: Time = 0
    down: tuple[Down, ...] = ()
    late: tuple[LateMaterial, ...] = ()
    urgent: tuple[Urgent, ...] = ()
    added: tuple[Job, ...] = ()  # a rush order, a remake
    waits: tuple[Wait, ...] = ()
    undone: tuple[Undone, ...] = ()
    calm: Calm = Calm()
    time_limit_s: Annotated[float, Minimum(0)] = 10.0
    seed: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """One way to go on: the new timetable, what moves in it, and what is late.

    "calm": moves as little as it can; "on_time": weighted tardiness first, then as few and as small moves as found.
    """

    name: Literal["calm", "on_time"]
    tardiness: int  # weighted
    setup: int  # set-up time on all machines
    flow: int  # sum over jobs with a due date, from release to end
    moved: int  # released operations that start at another time or on another machine
    machines: int  # of these, on another machine
    far: int  # of these, farther than a shift
    shifted: int  # sum of the shifts
    moves: tuple[Move, ...]
    endings: tuple[Ending, ...]  # every job with a due date whose end changes, and every new one
    operations: tuple[Slot, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ReplanResult:
    """The calm choice, and where calm costs lateness also the one that is on time as far as found."""

    status: Literal["optimal", "feasible"]
    tardiness_before: int  # weighted, of the released timetable
    lower_bound: int  # of weighted tardiness, whatever moves
    kept: int  # released operations that were finished, running or firm, and stay
    forced: int  # operations that could not stay
    choices: Annotated[tuple[Choice, ...], ItemCount(1, 2)]
    seconds: float
