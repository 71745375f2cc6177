"""Counts again what is in the rooms of a replanned timetable: only what is firm may come into one that is full."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from solver.domain.timetable import Room, ScheduleJob, Slot
from solver.errors import Faults


def rooms_faults(name: str, task: ScheduleJob, slots: Iterable[Slot], old: Iterable[Slot], firm: int, faults: Faults) -> None:
    """Add a fault for each room that is full and yet work comes into it that could have waited: is not before `firm`."""
    new, kept = list(slots), _kept(old, firm)
    for room in task.rooms:
        for at, there, last in _arrivals(room, task, new):
            if there > room.size and not kept.issuperset(last):
                faults.add(
                    f"{name}: rooms.{room.id}", f"{there} are there at {at}, room for {room.size}", f"at most {room.size}"
                )
                break


def with_firm(task: ScheduleJob, slots: Iterable[Slot], old: Iterable[Slot], firm: int) -> ScheduleJob:
    """Return the job with rooms as wide as firm work fills them: it comes though they are full."""
    new, kept = list(slots), _kept(old, firm)
    rooms = []
    for room in task.rooms:
        most = [there for _, there, last in _arrivals(room, task, new) if kept.issuperset(last)]
        rooms.append(replace(room, size=max([room.size, *most])))
    return replace(task, rooms=tuple(rooms))


Place = tuple[str, int, str, int]  # of an operation: its job and index, on which machine it starts when


def _place(slot: Slot) -> Place:
    return slot.job, slot.index, slot.machine, slot.start


def _kept(old: Iterable[Slot], firm: int) -> set[Place]:
    return {_place(slot) for slot in old if slot.start < firm}


def _arrivals(room: Room, task: ScheduleJob, slots: list[Slot]) -> Iterator[tuple[int, int, set[Place]]]:
    """When something comes in, how much is there then, and the work that brings it."""
    by_key = {(slot.job, slot.index): slot for slot in slots}
    size = {one.id: len(one.operations) for one in task.jobs}
    spans = [
        (by_key[one.job, size[one.job] - 1], by_key[one.until, 0].start, one.takes)
        for one in room.stays
        if (one.job, size[one.job] - 1) in by_key and (one.until, 0) in by_key
    ]
    for at in sorted({slot.end for slot, _, _ in spans}):
        yield (
            at,
            sum(n for slot, gone, n in spans if slot.end <= at < gone),
            {_place(slot) for slot, _, _ in spans if slot.end == at},
        )
