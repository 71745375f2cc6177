"""A timetable made to keep to its rooms: who would overfill one is held back, and nobody is held back for ever."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from solver.domain.timetable import ScheduleJob, Slot
from solver.scheduling.dispatch import RULES, dispatch, value_of
from solver.scheduling.later import later
from solver.scheduling.levels import FAR, Level
from solver.scheduling.rooms import Doors, Order, Passage, as_listed, best_order, doors_of
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
    ways = [sooner(task, _listed(task, slots, order, doors, overtake=one)) for one in (False, True)]
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


def keeps(task: ScheduleJob, slots: Sequence[Slot]) -> bool:
    """Return whether no room is ever overfull and people are enough."""
    floor = Floor(task)
    for slot in slots:
        floor.book(slot.machine, slot.start, slot.end, 1)
    crews = [crew for mine in floor.crews.values() for crew, _ in mine]
    return all(one.conflict([(0, FAR)], 0) is None for one in (*levels(task, slots), *crews))


def _listed(task: ScheduleJob, slots: Sequence[Slot], order: Order, doors: Doors, *, overtake: bool) -> tuple[Slot, ...]:
    """Place work by when it was to start, or to end where it brings something into a room.

    Work that finds no room until other work fetches something, or after which what is left could not pass, is passed over.
    Where all is passed over, the next of the first unfinished job of the order that keeps to the rooms goes: what it waits
    for comes before it in that order, and all that is left can pass in that order, so it always can. So all gets placed.
    """
    last = {job.id: len(job.operations) - 1 for job in task.jobs}
    floor, stock = Floor(task), _Stock(doors, Passage(order.jobs, doors), last)
    rank = ranks(task)

    def when(slot: Slot) -> tuple[int, int, int, int, int]:
        brings = slot.job in doors.brings and slot.index == last[slot.job]
        return (slot.end if brings else slot.start), not brings, slot.end, rank[slot.job], slot.index

    pending = sorted(slots, key=when)
    placed = dict.fromkeys(last, 0)  # operations of each job

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
        slot = pending.pop(number)
        floor.put(slot, start, end)
        placed[slot.job] += 1
        if slot.index == 0:
            stock.start(slot.job, start)
        if slot.index == last[slot.job]:
            stock.end(slot.job, end)
    return tuple(floor.made)


def _next(
    floor: Floor, stock: _Stock, pending: Sequence[Slot], free: Callable[[Slot], bool], full: set[Key], *, overtake: bool
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


class _Stock:
    """What is in the rooms when, as far as work is placed: for ever, until who fetches it is placed."""

    def __init__(self, doors: Doors, passage: Passage, last: Mapping[str, int]) -> None:
        self.doors, self.passage, self.last = doors, passage, last
        self.levels = [Level(size) for size in doors.sizes]
        self.ended: set[str] = set()
        self.fetched = 0  # jobs

    def fit(self, floor: Floor, slot: Slot, *, asked: bool = True) -> tuple[int, int] | None:
        """The first times from which what the work brings has room for good. `asked`: and what is left can still pass."""
        ready = floor.ready(slot)
        if slot.job not in self.doors.brings or slot.index < self.last[slot.job]:
            return floor.fit(slot, ready)
        if asked and not self.passage.safe(slot.job):
            return None
        brings = self.doors.net(slot.job) if slot.index == 0 else self.doors.brings[slot.job]

        def until(_start: int, end: int) -> int | None:
            pairs = zip(self.levels, brings, strict=True)
            times = [level.conflict([(end, FAR)], count) for level, count in pairs if count > 0]
            return max((time for time in times if time is not None), default=None)

        return floor.fit(slot, ready, until)

    def start(self, job: str, at: int) -> None:
        for level, count in zip(self.levels, self.doors.fetches.get(job, ()), strict=False):
            level.take([(at, FAR)], -count)
        self.fetched += job in self.doors.fetches
        self.passage.start(job)

    def end(self, job: str, at: int) -> None:
        for level, count in zip(self.levels, self.doors.brings.get(job, ()), strict=False):
            level.take([(at, FAR)], count)
        self.passage.end(job)
        self.ended.add(job)
