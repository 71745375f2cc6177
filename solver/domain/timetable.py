"""Scheduling: what each machine does when, as the `schedule` contract states it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Literal

from solver.domain.certificate import Certificate
from solver.domain.ids import BarId
from solver.field_limits import Description, Minimum
from solver.units import Seconds

Time = Annotated[int, Minimum(0)]  # unit free in the contract; seconds from the plan's start in a plant's plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """A machine: when it is closed, and the set-up from one family to the next."""

    id: str
    closed: tuple[tuple[Time, Time], ...] = ()
    setup: tuple[tuple[Time, ...], ...] | None = None
    initial: Annotated[int, Minimum(0)] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Operation:
    """One step of a job: its working time on each machine that can do it."""

    on: Mapping[str, Time]
    family: Annotated[int, Minimum(0)] = 0
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
class Pool:
    """People who share machines: no more than `size` work at one time; where work pauses they are free for other work."""

    id: str
    size: Annotated[int, Minimum(1)]
    uses: Mapping[str, Annotated[int, Minimum(0)]]  # machine id to how many it takes while it works


@dataclass(frozen=True, slots=True, kw_only=True)
class BufferStay:
    """What waits in a room: it comes in when its job's last operation ends, and sets there; it leaves when `until` starts."""

    job: str
    until: str  # the job that fetches it
    takes: Annotated[int, Minimum(1)] = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Buffer:
    """Where work waits between jobs: no more than `size` at one time; what leaves at an instant makes room for what comes."""

    id: str
    size: Annotated[int, Minimum(1)]
    stays: tuple[BufferStay, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Goals:
    """What a unit of weighted tardiness, of set-up time and of flow time counts where one is paid for with another.

    A weighted sum. The usual weights let set-ups decide only between timetables about as late, flow only after that.
    """

    tardiness: Annotated[int, Minimum(0)] = 1_000
    setup: Annotated[int, Minimum(0)] = 20
    flow: Annotated[int, Minimum(0)] = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class ScheduleJob:
    """Jobs to put on machines."""

    objective: Literal["makespan", "weighted_tardiness"]
    machines: tuple[Machine, ...]
    jobs: tuple[Job, ...]
    time_limit_s: Annotated[float, Minimum(0)] = 10.0
    seed: int = 1
    repeat: bool = False  # the same timetable each time: the search ends by the work done, about `time_limit_s` of it
    same_order: bool = False
    pools: tuple[Pool, ...] = ()
    rooms: tuple[Buffer, ...] = ()
    soft_rooms: bool = False  # a room that no order of work was found to keep to is overfull, and told
    goals: Goals | None = None  # for weighted tardiness: what the search minds beside it, and states in the result


@dataclass(frozen=True, slots=True, kw_only=True)
class Slot:
    """When and where one operation runs."""

    job: str
    index: int
    machine: str
    start: int
    end: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Overfull:
    """More in a room than finds room there: a soft rule that is broken, by how much and when."""

    room: str
    size: int
    most: int  # at one time
    at: Time  # when so many are there first
    since: Time  # when more than find room are there first
    until: Time  # from when on never again
    time: Time  # for how long in all


@dataclass(frozen=True, slots=True, kw_only=True)
class ScheduleResult:
    """A timetable with its proof: the value and the bound nothing can beat."""

    status: Literal["optimal", "feasible", "unknown"]
    objective: int | None
    lower_bound: int
    operations: tuple[Slot, ...]
    seconds: float
    setup: int | None = None  # stated where the job has goals: set-up time between operations, on all machines
    flow: int | None = None  # likewise: the sum over jobs with a due date, from release to end
    overfull: tuple[Overfull, ...] = ()  # rooms with more in them than they hold; of an unknown one: as little as was found
    certificate: Annotated[Certificate, Description("what the bound rests on")] | None = None


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
    setup_s: Seconds = Seconds(0)  # the set-up that this work needed after what its machine did before
    bars: tuple[BarId, ...] = ()  # the bars it works on, where it works on bars


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """One link of the chain that made a delivery late: an operation, what kept it from an earlier start, and for how long.

    The parts add up to the time from the end of `before` (from the plan's start, where nothing was before) to the
    operation's own end: of `release_s`, `hold_s`, `setup_s`, `closed_s`, `people_s`, `room_s`, `stayed_s`,
    `idle_s`, `work_s`, `pause_s`.
    What waits for room may end once the operation that makes room starts: so a link whose follower waits for room is told to
    its start only, and the follower's parts from that start on, its own work before it left out.
    """

    operation: str
    waits_for: Literal["start", "release", "job", "machine", "people", "room"]
    before: str | None = None  # the operation waited for
    release_s: Seconds = Seconds(0)  # until its material was there
    hold_s: Seconds = Seconds(0)  # glue sets, core seasons
    setup_s: Seconds = Seconds(0)
    closed_s: Seconds = Seconds(0)  # until its machine was open long enough
    people_s: Seconds = Seconds(0)  # until its people were free
    room_s: Seconds = Seconds(0)  # until what it makes found room
    stayed_s: Seconds = Seconds(0)  # for the sake of calm: not sooner than released, nor than what happened was known
    idle_s: Seconds = Seconds(0)  # for no reason at all
    work_s: Seconds = Seconds(0)
    pause_s: Seconds = Seconds(0)  # breaks and closed hours within it


@dataclass(frozen=True, slots=True, kw_only=True)
class Lateness:
    """A delivery's promise: due at the dock, done, and how late, in seconds from the epoch."""

    order: str
    delivery: str
    due_s: Seconds | None
    done_s: Seconds
    late_s: Seconds
    why: tuple[str, ...] = ()  # in words, English
    chain: tuple[Link, ...] = ()  # of a late one, from the plan's start to the last operation; each link tight


@dataclass(frozen=True, slots=True, kw_only=True)
class Waiting:
    """The most that waits before a place at one time: laminated bars before the saw, pieces before the bundle bay."""

    place: Literal["saw", "bundle_bay"]
    most: int
    at_s: Seconds  # when that many wait first
    room: int | None = None  # how many find room there, where the catalog says so
    over: Overfull | None = None  # where more wait than find room: a soft rule that is broken


@dataclass(frozen=True, slots=True, kw_only=True)
class Timetable:
    """All operations of a plan; `epoch` is the aware start instant, ISO 8601.

    `replanned_s`: from when work was placed again after something had happened; absent: made new.
    """

    epoch: str
    job: ScheduleJob
    result: ScheduleResult
    operations: tuple[PlannedOperation, ...]
    deliveries: tuple[Lateness, ...]
    waiting: tuple[Waiting, ...] = ()
    replanned_s: Seconds | None = None
