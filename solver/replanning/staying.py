"""Work that came sooner than it was released without need goes back to its released time, or as near as its place allows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from solver.domain.timetable import ScheduleJob, Slot
from solver.scheduling.behind import Behind
from solver.scheduling.rooms import doors_of
from solver.scheduling.settle import Key


def stay(task: ScheduleJob, slots: Sequence[Slot], kept: Mapping[Key, Slot], released: Mapping[Key, Slot]) -> tuple[Slot, ...]:
    """Return a timetable with the same order on each machine, in which nothing ends later than what waits for it allows.

    No job is late that was not, or later. What fetches from a room stays where it is: what it fetches would stay longer.
    """
    behind, doors = Behind(task, slots), doors_of(task.rooms)
    for slot in reversed(behind.ordered):
        key = slot.job, slot.index
        before, job = released.get(key), behind.floor.jobs[slot.job]
        if key in kept or before is None or before.machine != slot.machine or before.start <= slot.start:
            continue
        if slot.index == 0 and slot.job in doors.fetches:
            continue
        limit = behind.limit(slot)
        if slot.index == len(job.operations) - 1 and job.due is not None:
            limit = min(limit, max(job.due - job.operations[-1].hold, slot.end))
        behind.move(slot, limit, before.start)
    return tuple(behind.made.values())
