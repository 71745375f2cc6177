"""Rooms with more in them than they hold: how much too much, from when to when; and a job whose rooms hold it all."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import pairwise

from solver.domain.timetable import Buffer, Overfull, ScheduleJob, Slot

Doorway = tuple[dict[str, int], dict[str, int]]  # when each job ends, and starts


def overfull_buffers(task: ScheduleJob, slots: Sequence[Slot]) -> tuple[Overfull, ...]:
    """Return each room that a whole timetable overfills, with the most that is there and when. O(n log n)."""
    doorway = _doorway(slots)
    found = (_overfull(room, _steps(room, doorway)) for room in task.rooms)
    return tuple(one for one in found if one is not None)


def total_buffer_excess(task: ScheduleJob, slots: Sequence[Slot]) -> int:
    """Return by how much a timetable overfills rooms at the worst of each, in all."""
    return sum(one.most - one.size for one in overfull_buffers(task, slots))


def widen_buffers_to_hold(task: ScheduleJob, slots: Sequence[Slot]) -> ScheduleJob:
    """Return the job with rooms that hold all that a timetable has in them; those that it keeps to are as they were."""
    most = {one.room: one.most for one in overfull_buffers(task, slots)}
    return replace(task, rooms=tuple(replace(room, size=most.get(room.id, room.size)) for room in task.rooms))


def _doorway(slots: Iterable[Slot]) -> Doorway:
    ends: dict[str, int] = {}
    starts: dict[str, int] = {}
    for slot in slots:
        ends[slot.job] = max(ends.get(slot.job, 0), slot.end)
        starts[slot.job] = min(starts.get(slot.job, slot.start), slot.start)
    return ends, starts


def _steps(room: Buffer, doorway: Doorway) -> list[tuple[int, int]]:
    """What is in a room from each time on at which that changes."""
    ends, starts = doorway
    changes: Counter[int] = Counter()
    for stay in room.stays:
        changes[ends[stay.job]] += stay.takes
        changes[starts[stay.until]] -= stay.takes
    made, there = [], 0
    for time in sorted(changes):
        there += changes[time]
        made.append((time, there))
    return made


def _overfull(room: Buffer, steps: list[tuple[int, int]]) -> Overfull | None:
    spans = [(low, high) for (low, there), (high, _) in pairwise(steps) if there > room.size]
    if not spans:
        return None
    most = max(there for _, there in steps)
    return Overfull(
        room=room.id,
        size=room.size,
        most=most,
        at=next(time for time, there in steps if there == most),
        since=spans[0][0],
        until=spans[-1][1],
        time=sum(high - low for low, high in spans),
    )
