"""Work that came sooner than it was released without need goes back to its released time, or as near as its place allows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise

from solver.domain.timetable import ScheduleJob, Slot
from solver.scheduling.levels import FAR, worked
from solver.scheduling.rooms import doors_of
from solver.scheduling.settle import Floor, Key, in_order


def stay(task: ScheduleJob, slots: Sequence[Slot], kept: Mapping[Key, Slot], released: Mapping[Key, Slot]) -> tuple[Slot, ...]:
    """Return a timetable with the same order on each machine, in which nothing ends later than what waits for it allows.

    No job is late that was not, or later. What fetches from a room stays where it is: what it fetches would stay longer.
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
        key = slot.job, slot.index
        before = released.get(key)
        if key in kept or before is None or before.machine != slot.machine or before.start <= slot.start:
            continue
        if slot.index == 0 and slot.job in doors.fetches:
            continue
        made[key] = _later(floor, slot, before.start, _limit(floor, slot, made, following.get(key), followers))
        if made[key] is not slot:
            floor.book(slot.machine, slot.start, slot.end, -1)
            spans = worked(floor.calendars[slot.machine], made[key].start, made[key].end)
            if any(crew.conflict(spans, count) is not None for crew, count in floor.crews[slot.machine]):
                made[key] = slot
            floor.book(slot.machine, made[key].start, made[key].end, 1)
    return tuple(made.values())


def _limit(
    floor: Floor, slot: Slot, made: Mapping[Key, Slot], behind: Key | None, followers: Mapping[str, Sequence[str]]
) -> int:
    """When the work must have ended: for its own job, for jobs that wait, for its due date, for what comes behind it."""
    job, step = floor.jobs[slot.job], floor.step(slot)
    limit = FAR
    if slot.index + 1 < len(job.operations):
        limit = made[slot.job, slot.index + 1].start - step.hold
    else:
        limit = min([FAR, *(made[one, 0].start - step.hold for one in followers.get(slot.job, ()))])
        if job.due is not None:
            limit = min(limit, max(job.due - step.hold, slot.end))
    if behind is not None:
        table = floor.machines[slot.machine].setup
        gap = table[step.family][floor.step(made[behind]).family] if table is not None else 0
        limit = min(limit, made[behind].start - gap)
    return limit


def _later(floor: Floor, slot: Slot, wished: int, limit: int) -> Slot:
    """The work begun at a time or before it, as late as it ends at `limit` at the latest; else where it was."""
    step, calendar = floor.step(slot), floor.calendars[slot.machine]
    work = step.on[slot.machine]
    low, high = slot.start, wished
    while low < high:  # the latest time from which it begins and ends soon enough; neither falls as the time rises
        middle = (low + high + 1) // 2
        start, end = calendar.fit(middle, work, pause=step.pause)
        if start <= wished and end <= limit:
            low = middle
        else:
            high = middle - 1
    start, end = calendar.fit(low, work, pause=step.pause)
    if start == slot.start:
        return slot
    return Slot(job=slot.job, index=slot.index, machine=slot.machine, start=start, end=end)
