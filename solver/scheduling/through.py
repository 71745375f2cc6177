"""A timetable made to keep to its rooms: who would overfill one is held back, and nobody is held back for ever."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace

from solver.domain.timetable import Job, ScheduleJob, Slot
from solver.scheduling.dispatch import RULES, dispatch, value_of
from solver.scheduling.later import later
from solver.scheduling.levels import FAR, Level
from solver.scheduling.rooms import Doors, Passage, as_listed, best_order, doors_of
from solver.scheduling.settle import Floor, Key, ranks, settle
from solver.scheduling.sooner import levels, sooner
from solver.search import Search


class NoOrder(Exception):
    """No order of work was found that keeps to the rooms; there may be one."""


def through_rooms(task: ScheduleJob, slots: Sequence[Slot]) -> tuple[Slot, ...]:
    """Return the work on the same machines as early as can be with rooms and people, in the same order if that keeps to both.

    First people alone are minded, then rooms by letting nothing in sooner than it is wanted. If that is not enough, the
    better of two ways: machines keep their order as long as it leads on, or whatever finds room may overtake what does not.
    Raises NoOrder. Ends: see `_listed`; each step of `sooner` moves work to an earlier time.
    """
    if keeps(task, slots):
        return sooner(task, slots)
    slots = settle(replace(task, rooms=()), slots)
    for made in (slots, later(task, slots)):
        if keeps(task, made):
            return sooner(task, made)
    doors, starts = doors_of(task.rooms), _starts(slots)
    dues = {job.id: float(job.due) if job.due is not None else float(FAR) for job in task.jobs}
    order = best_order(task.jobs, doors, (starts, dues, as_listed(task.jobs)))
    if order.over(doors.sizes):
        raise NoOrder
    ways = [sooner(task, _listed(task, slots, Stock(task.jobs, doors, order.jobs), overtake=one)) for one in (False, True)]
    return min(ways, key=lambda one: value_of(task, one))


def around(
    task: ScheduleJob, slots: Sequence[Slot], kept: Mapping[Key, Slot], not_before: Mapping[Key, int], old: Iterable[Slot]
) -> tuple[Slot, ...]:
    """Return a timetable as it is where no room is overfull, else with what is not kept re-timed, none of it sooner than told.

    `old`: a timetable that kept to the rooms, whose order may still do. Where what is kept leaves no order that keeps to the
    rooms, they are overfilled as little as one was found to.
    """
    if not overfull(task, slots):
        return tuple(slots)
    doors, size = doors_of(task.rooms), {job.id: len(job.operations) for job in task.jobs}
    begun = {name for name, index in kept if index == 0}
    ended = {name for name in begun if (name, size[name] - 1) in kept}
    there = [0] * len(doors.sizes)
    for sign, counts, names in ((1, doors.brings, ended), (-1, doors.fetches, begun)):
        for name in names & counts.keys():
            there = [a + sign * b for a, b in zip(there, counts[name], strict=True)]
    jobs = [replace(job, after=tuple(one for one in job.after if one not in ended)) for job in task.jobs if job.id not in ended]
    left = replace(doors, fetches={name: counts for name, counts in doors.fetches.items() if name not in begun})
    order = best_order(jobs, left, (_doors_pass(doors, old, jobs), _starts(slots), as_listed(jobs)), tuple(there))
    wide = replace(doors, sizes=tuple(max(a, b) for a, b in zip(doors.sizes, order.most, strict=True)))
    ways = [
        _listed(task, slots, Stock(task.jobs, wide, order.jobs), overtake=one, kept=kept, not_before=not_before)
        for one in (False, True)
    ]
    return min(ways, key=lambda one: value_of(task, one))


def through(
    task: ScheduleJob, slots: tuple[Slot, ...], floor: int, search: Search, *, rules: bool = True
) -> tuple[Slot, ...] | None:
    """Return the best that a timetable, or those of the dispatch rules, become when they keep to rooms and people; None: none.

    Rules are tried while time is left, and while the best is above the bound `floor`.
    """
    best = None
    for rule in (None, *(RULES if rules else ())):
        if rule is not None and (search.left_s() <= 0 or (best is not None and value_of(task, best) <= floor)):
            break
        try:
            made = through_rooms(task, slots if rule is None else dispatch(task, rule))
        except NoOrder:
            continue
        best = made if best is None or value_of(task, made) < value_of(task, best) else best
    return best


def _starts(slots: Sequence[Slot]) -> dict[str, float]:
    found: dict[str, float] = {}
    for slot in slots:
        found[slot.job] = min(found.get(slot.job, FAR), slot.start)
    return found


def _doors_pass(doors: Doors, slots: Iterable[Slot], jobs: Iterable[Job]) -> dict[str, float]:
    """When each job brought what it brings, or else started; FAR for jobs that were not there."""
    found: dict[str, float] = {job.id: FAR for job in jobs}
    for slot in slots:
        time = found.get(slot.job, FAR)
        found[slot.job] = max(0 if time == FAR else time, slot.end) if slot.job in doors.brings else min(time, slot.start)
    return found


def overfull(task: ScheduleJob, slots: Sequence[Slot]) -> bool:
    """Return whether a room ever is."""
    return any(one.conflict([(0, FAR)], 0) is not None for one in levels(task, slots))


def keeps(task: ScheduleJob, slots: Sequence[Slot]) -> bool:
    """Return whether no room is ever overfull and people are enough."""
    floor = Floor(task)
    for slot in slots:
        floor.book(slot.machine, slot.start, slot.end, 1)
    crews = [crew for mine in floor.crews.values() for crew, _ in mine]
    return not overfull(task, slots) and all(crew.conflict([(0, FAR)], 0) is None for crew in crews)


def _listed(
    task: ScheduleJob,
    slots: Sequence[Slot],
    stock: Stock,
    *,
    overtake: bool,
    kept: Mapping[Key, Slot] | None = None,
    not_before: Mapping[Key, int] | None = None,
) -> tuple[Slot, ...]:
    """Place work by when it was to start, or to end where it brings something into a room.

    Work that finds no room until other work fetches something, or after which what is left could not pass, is passed over.
    Where all is passed over, the next of the first unfinished job of the order that keeps to the rooms goes: what it waits
    for comes before it in that order, and all that is left can pass in that order, so it always can. So all gets placed.
    """
    floor, last, rank = Floor(task, not_before), stock.last, ranks(task)
    placed = dict.fromkeys(last, 0)  # operations of each job

    def when(slot: Slot) -> tuple[int, int, int, int, int]:
        brings = slot.job in stock.doors.brings and slot.index == last[slot.job]
        return (slot.end if brings else slot.start), not brings, slot.end, rank[slot.job], slot.index

    def put(slot: Slot, start: int, end: int) -> None:
        floor.put(slot, start, end)
        placed[slot.job] += 1
        if slot.index == 0:
            stock.start(slot.job, start)
        if slot.index == last[slot.job]:
            stock.end(slot.job, end)

    for slot in sorted((kept or {}).values(), key=lambda one: (one.start, one.end, rank[one.job], one.index)):
        put(slot, slot.start, slot.end)
    pending = sorted((slot for slot in slots if (slot.job, slot.index) not in (kept or {})), key=when)

    def free(slot: Slot) -> bool:
        waits = floor.jobs[slot.job].after if slot.index == 0 else ()
        return placed[slot.job] == slot.index and all(placed[other] > last[other] for other in waits)

    fetched = -1  # how often something had been fetched when work last found no room
    full: set[Key] = set()
    while pending:
        if stock.fetched != fetched:
            fetched = stock.fetched
            full.clear()
        number, start, end = _next(floor, stock, pending, free, full, overtake=overtake)
        put(pending.pop(number), start, end)
    return tuple(floor.made)


def _next(
    floor: Floor, stock: Stock, pending: Sequence[Slot], free: Callable[[Slot], bool], full: set[Key], *, overtake: bool
) -> tuple[int, int, int]:
    """Which of the pending slots goes next, and its times; what finds no room is added to `full`."""
    shut: set[str] = set()  # machines whose next work waits
    for number, slot in enumerate(pending):
        if slot.machine in shut:
            continue
        if free(slot) and (slot.job, slot.index) not in full:
            found = stock.fit(floor, slot)
            if found is not None:
                return number, *found
            full.add((slot.job, slot.index))
        if not overtake:
            shut.add(slot.machine)
    name = next(name for name in stock.passage.order if name not in stock.ended)
    number = min((n for n, slot in enumerate(pending) if slot.job == name), key=lambda n: pending[n].index)
    found = stock.fit(floor, pending[number], asked=False)
    assert found is not None  # all before it in the order that keeps to the rooms is done
    return number, *found


class Stock:
    """What is in the rooms when, as far as work is placed: for ever, until who fetches it is placed."""

    def __init__(self, jobs: Iterable[Job], doors: Doors, order: Sequence[str], there: Sequence[Level] = ()) -> None:
        """`order`: of jobs, one after the other, that keeps to the rooms. `there`: what other work has there."""
        self.doors, self.passage = doors, Passage(order, doors)
        self.last = {job.id: len(job.operations) - 1 for job in jobs}
        self.levels = [level.copy() for level in there] or [Level(size) for size in doors.sizes]
        self.ended: set[str] = set()
        self.fetched = 0  # jobs

    def fit(self, floor: Floor, slot: Slot, *, asked: bool = True) -> tuple[int, int] | None:
        """Return the first times from which what the work brings has room for good. `asked`: and all else can still pass."""
        ready = floor.ready(slot)
        if not self.brings(slot.job, slot.index):
            return floor.fit(slot, ready)
        if asked and not self.passage.safe(slot.job):
            return None
        return floor.fit(slot, ready, lambda _start, end: self.full_until(slot.job, slot.index, end))

    def brings(self, job: str, index: int) -> bool:
        """Return whether an operation is one that brings something."""
        return job in self.doors.brings and index == self.last[job]

    def full_until(self, job: str, index: int, end: int) -> int | None:
        """Return the time before which work that brings may not end, None where it may at `end`; FAR: never, as things are."""
        brings = self.doors.net(job) if index == 0 else self.doors.brings[job]
        pairs = zip(self.levels, brings, strict=True)
        times = [level.conflict([(end, FAR)], count) for level, count in pairs if count > 0]
        return max((time for time in times if time is not None), default=None)

    def start(self, job: str, at: int) -> None:
        """Let a job fetch what waits for it."""
        for level, count in zip(self.levels, self.doors.fetches.get(job, ()), strict=False):
            level.take([(at, FAR)], -count)
        self.fetched += job in self.doors.fetches
        self.passage.start(job)

    def end(self, job: str, at: int) -> None:
        """Let a job bring what it made."""
        for level, count in zip(self.levels, self.doors.brings.get(job, ()), strict=False):
            level.take([(at, FAR)], count)
        self.passage.end(job)
        self.ended.add(job)
