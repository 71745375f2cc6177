"""Work that fills a room moved to later times, as late as what fetches it allows: so that less is there at one time."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from itertools import pairwise

from solver.domain.timetable import ScheduleJob, Slot
from solver.scheduling.levels import FAR, worked
from solver.scheduling.rooms import doors_of
from solver.scheduling.settle import Floor, Key, in_order


def later(task: ScheduleJob, slots: Sequence[Slot]) -> tuple[Slot, ...]:
    """Return a timetable with the same order on each machine in which only work of jobs that bring into a room starts later.

    Such jobs have no due date; what waits for them starts when it did. What fetches from a room itself does not move: what
    it fetches would stay longer.
    """
    floor, doors = Floor(task), doors_of(task.rooms)
    ordered = in_order(task, slots)
    made: dict[Key, Slot] = {(slot.job, slot.index): slot for slot in ordered}
    following: dict[Key, Key] = {}  # on its machine
    for name in floor.machines:
        following.update(pairwise([(slot.job, slot.index) for slot in ordered if slot.machine == name]))
    followers: dict[str, list[str]] = {}
    for job in task.jobs:
        for other in job.after:
            followers.setdefault(other, []).append(job.id)
    for slot in ordered:
        floor.book(slot.machine, slot.start, slot.end, 1)
    for slot in reversed(ordered):
        job, step, key = floor.jobs[slot.job], floor.step(slot), (slot.job, slot.index)
        if slot.job not in doors.brings or job.due is not None or (slot.index == 0 and slot.job in doors.fetches):
            continue
        waiting = (
            [(one, 0) for one in followers[slot.job]] if slot.index == len(job.operations) - 1 else [(slot.job, slot.index + 1)]
        )
        limit = min((made[one].start - step.hold for one in waiting), default=FAR)
        if key in following:
            behind, table = made[following[key]], floor.machines[slot.machine].setup
            limit = min(limit, behind.start - (table[step.family][floor.step(behind).family] if table is not None else 0))
        made[key] = _moved(floor, slot, limit)
    return tuple(made.values())


def _moved(floor: Floor, slot: Slot, limit: int) -> Slot:
    """The work as late as it can end at `limit` at the latest, where its people are free then; else where it was."""
    calendar, step = floor.calendars[slot.machine], floor.step(slot)
    work = step.on[slot.machine]
    if limit <= slot.end:
        return slot
    behind = bisect_right(range(limit + 1), limit, lo=slot.start, key=lambda at: calendar.fit(at, work, pause=step.pause)[1])
    start, end = calendar.fit(max(slot.start, behind - 1), work, pause=step.pause)
    floor.book(slot.machine, slot.start, slot.end, -1)
    spans = worked(calendar, start, end)
    if any(crew.conflict(spans, count) is not None for crew, count in floor.crews[slot.machine]):
        start, end = slot.start, slot.end
    floor.book(slot.machine, start, end, 1)
    return Slot(job=slot.job, index=slot.index, machine=slot.machine, start=start, end=end)
