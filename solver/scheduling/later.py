"""Work that fills a room moved to later times, as late as what fetches it allows: so that less is there at one time."""

from __future__ import annotations

from collections.abc import Sequence

from solver.domain.timetable import ScheduleJob, Slot
from solver.scheduling.behind import Behind
from solver.scheduling.rooms import doors_of


def later(task: ScheduleJob, slots: Sequence[Slot]) -> tuple[Slot, ...]:
    """Return a timetable with the same order on each machine in which only work of jobs that bring into a room starts later.

    Such jobs have no due date; what waits for them starts when it did. What fetches from a room itself does not move: what
    it fetches would stay longer.
    """
    behind, doors = Behind(task, slots), doors_of(task.rooms)
    for slot in reversed(behind.ordered):
        fetches = slot.index == 0 and slot.job in doors.fetches
        if slot.job in doors.brings and behind.floor.jobs[slot.job].due is None and not fetches:
            behind.move(slot, behind.limit(slot))
    return tuple(behind.made.values())
