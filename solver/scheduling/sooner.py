"""Work of a timetable moved to earlier times, one after the other, until none could start sooner with all else as it is."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from solver.domain.timetable import ScheduleJob, Slot
from solver.scheduling.levels import FAR, Level
from solver.scheduling.rooms import doors_of
from solver.scheduling.settle import Floor, Key, in_order


def levels(task: ScheduleJob, slots: Sequence[Slot]) -> list[Level]:
    """Return what is in each room when."""
    ends, starts = {slot.job: 0 for slot in slots}, {slot.job: FAR for slot in slots}
    for slot in slots:
        ends[slot.job], starts[slot.job] = max(ends[slot.job], slot.end), min(starts[slot.job], slot.start)
    made = []
    for room in task.rooms:
        level = Level(room.size)
        for stay in room.stays:
            level.take([(ends[stay.job], starts[stay.until])], stay.takes)
        made.append(level)
    return made


def sooner(task: ScheduleJob, slots: Sequence[Slot]) -> tuple[Slot, ...]:
    """Return a timetable that keeps to rooms and people with everything as early as it can be, machines in the same order."""
    moving = _Moving(task, slots)
    while sum(moving.moved(key) for key in moving.keys):
        pass
    return tuple(moving.slots.values())


class _Moving:
    """A whole timetable whose work is moved to earlier times; machines, people and rooms hold all of it."""

    def __init__(self, task: ScheduleJob, slots: Sequence[Slot]) -> None:
        self.floor, self.doors = Floor(task), doors_of(task.rooms)
        self.levels = levels(task, slots)
        ordered = in_order(task, slots)
        self.slots: dict[Key, Slot] = {(slot.job, slot.index): slot for slot in ordered}
        self.keys = list(self.slots)
        self.before: dict[Key, Key] = {}  # on its machine
        for name in self.floor.machines:
            here = [key for key, slot in self.slots.items() if slot.machine == name]
            self.before.update({two: one for one, two in pairwise(here)})
        for slot in ordered:
            self.floor.book(slot.machine, slot.start, slot.end, 1)

    def moved(self, key: Key) -> bool:
        """Move one operation to the earliest time it can have; return whether it moved."""
        slot = self.slots[key]
        self.floor.book(slot.machine, slot.start, slot.end, -1)
        found = self.floor.fit(slot, self._ready(key), lambda start, end: self._full_until(slot, start, end))
        if found is None or found[0] >= slot.start:
            found = slot.start, slot.end
        self.floor.book(slot.machine, *found, 1)
        if found[0] == slot.start:
            return False
        self._change_rooms(slot, *found)
        self.slots[key] = Slot(job=slot.job, index=slot.index, machine=slot.machine, start=found[0], end=found[1])
        return True

    def _ready(self, key: Key) -> int:
        job, machine = self.floor.jobs[key[0]], self.floor.machines[self.slots[key].machine]
        waits = [(job.id, key[1] - 1)] if key[1] else [(one, len(self.floor.jobs[one].operations) - 1) for one in job.after]
        times = [self.slots[one].end + self.floor.jobs[one[0]].operations[one[1]].hold for one in waits]
        previous = self.before.get(key)
        family = machine.initial if previous is None else self.floor.step(self.slots[previous]).family
        gap = 0
        if machine.setup is not None and family is not None:
            gap = machine.setup[family][job.operations[key[1]].family]
        return max([job.release, *times, gap + (self.slots[previous].end if previous is not None else 0)])

    def _doors(self, slot: Slot) -> list[tuple[Level, int, int]]:
        """By room that it has to do with: what the operation brings at its end, and fetches at its start."""
        none = (0,) * len(self.levels)
        last = slot.index == len(self.floor.jobs[slot.job].operations) - 1
        brings = self.doors.brings.get(slot.job, none) if last else none
        fetches = self.doors.fetches.get(slot.job, none) if slot.index == 0 else none
        return [(level, a, b) for level, a, b in zip(self.levels, brings, fetches, strict=True) if a or b]

    def _full_until(self, slot: Slot, start: int, end: int) -> int | None:
        """The time before which the work may not end, for want of room; None where it may end at `end`."""
        if start >= slot.start:
            return None
        found = []
        for level, brings, fetches in self._doors(slot):
            if brings:
                both = level.conflict([(end, min(slot.end, slot.start))], brings - fetches)
                alone = level.conflict([(max(end, slot.start), slot.end)], brings)
                found += [time for time in (both, alone) if time is not None]
        return max(found, default=None)

    def _change_rooms(self, slot: Slot, start: int, end: int) -> None:
        for level, brings, fetches in self._doors(slot):
            level.take([(start, slot.start)], -fetches)
            level.take([(end, slot.end)], brings)
