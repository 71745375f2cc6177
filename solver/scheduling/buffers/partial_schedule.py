"""A schedule as far as work is placed: which machines and people are taken when, and where more fits first."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterable, Mapping

from solver.domain.timetable import Operation, ScheduleJob, Slot
from solver.scheduling.calendar import Calendar
from solver.scheduling.precedence import Key, slots_by_start
from solver.scheduling.resource_profile import FAR, ResourceProfile, working_spans


class PartialSchedule:
    """Machines and people as they are taken by what was placed so far; work is placed machine by machine in turn."""

    def __init__(self, task: ScheduleJob, not_before: Mapping[Key, int] | None = None) -> None:
        """Start with nothing placed. `not_before`: of operations, beside their jobs' releases."""
        self.not_before = not_before or {}
        self.jobs = {job.id: job for job in task.jobs}
        self.machines = {machine.id: machine for machine in task.machines}
        self.calendars = {machine.id: Calendar(machine.closed) for machine in task.machines}
        crews = [(pool, ResourceProfile(pool.size)) for pool in task.pools]
        self.crews = {name: [(crew, pool.uses[name]) for pool, crew in crews if pool.uses.get(name)] for name in self.machines}
        self.free: dict[str, int] = {}
        self.family = {machine.id: machine.initial for machine in task.machines}
        self.done: dict[str, int] = {}  # of a job: the end of what is placed of it, hold included
        self.slots: list[Slot] = []

    def step(self, slot: Slot) -> Operation:
        """Return the operation of a slot."""
        return self.jobs[slot.job].operations[slot.index]

    def ready(self, slot: Slot) -> int:
        """Return when all that work waits for is done and its machine is free and set up for it."""
        job, machine = self.jobs[slot.job], self.machines[slot.machine]
        before = self.family[machine.id]
        gap = machine.setup[before][self.step(slot).family] if machine.setup is not None and before is not None else 0
        ready = self.done[job.id] if slot.index else max([job.release, *(self.done[other] for other in job.after)])
        return max(ready, self.free.get(machine.id, 0) + gap, self.not_before.get((slot.job, slot.index), 0))

    def fit(self, slot: Slot, ready: int, full_until: Callable[[int, int], int | None] | None = None) -> tuple[int, int] | None:
        """Return the first start and end from `ready` on in the machine's hours at which the people are free.

        `full_until`: given a start and an end, None where they will do, else the time before which the work may not end; FAR,
        and nothing is returned: never, as things are.
        """
        calendar, step = self.calendars[slot.machine], self.step(slot)
        work = step.on[slot.machine]
        while True:
            start, end = calendar.fit(ready, work, pause=step.pause)
            spans = working_spans(calendar, start, end)
            ends = [
                at
                for at in (crew.end_of_last_conflict(spans, count) for crew, count in self.crews[slot.machine])
                if at is not None
            ]
            if ends:
                # work that starts before the end of a conflict still runs into it: it works through all open times
                ready = max(ends)
                continue
            not_before = full_until(start, end) if full_until is not None else None
            if not_before is None:
                return start, end
            if not_before >= FAR:
                return None
            ready = _ready_for(calendar, ready, not_before, work, pause=step.pause)

    def put(self, slot: Slot, start: int, end: int) -> Slot:
        """Place work and book its people; return it as it is placed."""
        step = self.step(slot)
        self.book(slot.machine, start, end, 1)
        self.free[slot.machine], self.family[slot.machine], self.done[slot.job] = end, step.family, end + step.hold
        placed = Slot(job=slot.job, index=slot.index, machine=slot.machine, start=start, end=end)
        self.slots.append(placed)
        return placed

    def book(self, machine: str, start: int, end: int, sign: int) -> None:
        """Book the people of a machine for work from start to end (sign 1), or give them back (-1)."""
        for crew, count in self.crews[machine]:
            crew.take(working_spans(self.calendars[machine], start, end), sign * count)


def _ready_for(calendar: Calendar, ready: int, end: int, work: int, *, pause: bool) -> int:
    """The first time, from `ready` on, at which work begun as early as can be ends at `end` or later."""
    return bisect_left(range(end + 1), end, lo=ready, key=lambda at: calendar.fit(at, work, pause=pause)[1])


def semi_active(task: ScheduleJob, slots: Iterable[Slot]) -> tuple[Slot, ...]:
    """Return the same work on the same machines in the same order, as early as can be with the people there are.

    Without pools no operation starts later than it did: start and end of work both grow with the time it is ready. Buffers are
    not minded (see `repair`).
    """
    partial = PartialSchedule(task)
    for slot in slots_by_start(task.jobs, slots):
        found = partial.fit(slot, partial.ready(slot))
        assert found is not None  # people come free
        partial.put(slot, *found)
    return tuple(partial.slots)
