"""A timetable with everything as early as its own order of work allows, people counted."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable

from solver.domain.timetable import Pool, ScheduleJob, Slot
from solver.scheduling.calendar import Calendar


class Crew:
    """How many of a pool's people work when: a step function of time."""

    def __init__(self, pool: Pool) -> None:
        """Start with nobody at work."""
        self.pool = pool
        self._times = [0]
        self._used = [0]

    def conflict(self, spans: Iterable[tuple[int, int]], count: int) -> int | None:
        """Return the end of the last time within the spans at which `count` more would be too many."""
        found = None
        for low, high in spans:
            at = bisect_right(self._times, low) - 1
            while at < len(self._times) and self._times[at] < high:
                if self._used[at] + count > self.pool.size:
                    found = self._times[at + 1]  # the last level is nobody, for ever
                at += 1
        return found

    def take(self, spans: Iterable[tuple[int, int]], count: int) -> None:
        """Book `count` people over the spans."""
        for low, high in spans:
            first, last = self._cut(low), self._cut(high)
            for n in range(first, last):
                self._used[n] += count

    def _cut(self, time: int) -> int:
        at = bisect_left(self._times, time)
        if at == len(self._times) or self._times[at] != time:
            self._times.insert(at, time)
            self._used.insert(at, self._used[at - 1])
        return at


def worked(calendar: Calendar, start: int, end: int) -> list[tuple[int, int]]:
    """Return the open times between start and end: when work that may pause is really done."""
    made, at = [], start
    for low, high in calendar.closed:
        if high <= start:
            continue
        if low >= end:
            break
        if low > at:
            made.append((at, low))
        at = high
    if at < end:
        made.append((at, end))
    return made


def in_order(task: ScheduleJob, slots: Iterable[Slot]) -> list[Slot]:
    """Return the slots by start, each after all that it waits for; ties of work without length by the order of jobs."""
    rank: dict[str, int] = {}
    waits = {job.id: set(job.after) for job in task.jobs}
    while waits:
        free = [name for name, others in waits.items() if not others & waits.keys()]
        for name in free:
            rank[name] = len(rank)
            del waits[name]
    return sorted(slots, key=lambda slot: (slot.start, slot.end, rank[slot.job], slot.index))


def settle(task: ScheduleJob, slots: Iterable[Slot]) -> tuple[Slot, ...]:
    """Return the same work on the same machines in the same order, as early as can be with the people there are.

    Without pools no operation starts later than it did, for start and end of work both grow with the time it is ready.
    """
    jobs = {job.id: job for job in task.jobs}
    machines = {machine.id: machine for machine in task.machines}
    calendars = {machine.id: Calendar(machine.closed) for machine in task.machines}
    crews = [Crew(pool) for pool in task.pools]
    free: dict[str, int] = {}
    family = {machine.id: machine.initial for machine in task.machines}
    done: dict[str, int] = {}  # of a job: the end of what is placed of it, hold included
    made = []
    for slot in in_order(task, slots):
        job, machine = jobs[slot.job], machines[slot.machine]
        step = job.operations[slot.index]
        before = family[machine.id]
        gap = machine.setup[before][step.family] if machine.setup is not None and before is not None else 0
        ready = done[job.id] if slot.index else max([job.release, *(done[other] for other in job.after)])
        ready = max(ready, free.get(machine.id, 0) + gap)
        start, end = _with_people(calendars[machine.id], crews, machine.id, ready, step.on[machine.id], pause=step.pause)
        free[machine.id], family[machine.id], done[job.id] = end, step.family, end + step.hold
        made.append(Slot(job=slot.job, index=slot.index, machine=machine.id, start=start, end=end))
    return tuple(made)


def _with_people(calendar: Calendar, crews: list[Crew], machine: str, ready: int, work: int, *, pause: bool) -> tuple[int, int]:
    """The first time from `ready` at which the work fits into the machine's hours and the people are free; they are booked."""
    mine = [(crew, crew.pool.uses[machine]) for crew in crews if crew.pool.uses.get(machine)]
    while True:
        start, end = calendar.fit(ready, work, pause=pause)
        spans = worked(calendar, start, end)
        ends = [at for at in (crew.conflict(spans, count) for crew, count in mine) if at is not None]
        if not ends:
            for crew, count in mine:
                crew.take(spans, count)
            return start, end
        # work that starts before the end of a conflict still runs into it: it works through all open times
        ready = max(ends)
