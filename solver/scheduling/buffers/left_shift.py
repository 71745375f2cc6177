"""Left shifts: work moved to earlier times until none could start earlier with all else as it is."""

from __future__ import annotations

from collections.abc import Sequence

from solver.domain.timetable import ScheduleJob, Slot
from solver.scheduling.buffers.whole_schedule import BookedSchedule
from solver.scheduling.precedence import Key
from solver.scheduling.resource_profile import FAR, ResourceProfile


def buffer_profiles(task: ScheduleJob, slots: Sequence[Slot]) -> list[ResourceProfile]:
    """Return what is in each buffer when."""
    ends, starts = {slot.job: 0 for slot in slots}, {slot.job: FAR for slot in slots}
    for slot in slots:
        ends[slot.job], starts[slot.job] = max(ends[slot.job], slot.end), min(starts[slot.job], slot.start)
    return [
        ResourceProfile.of(room.size, [((ends[stay.job], starts[stay.until]), stay.takes) for stay in room.stays])
        for room in task.rooms
    ]


def left_shift(task: ScheduleJob, slots: Sequence[Slot]) -> tuple[Slot, ...]:
    """Return a timetable that keeps to buffers and people with everything as early as it can be, machines in the same order."""
    shift = _LeftShift(task, slots)
    while sum(shift.moved(key) for key in [*shift.schedule.slots]):
        pass
    return tuple(shift.schedule.slots.values())


class _LeftShift:
    """A whole schedule, and what is in the buffers when."""

    def __init__(self, task: ScheduleJob, slots: Sequence[Slot]) -> None:
        self.schedule, self.profiles = BookedSchedule(task, slots), buffer_profiles(task, slots)

    def moved(self, key: Key) -> bool:
        """Move one operation to the earliest time it can have; return whether it moved."""
        slot = self.schedule.slots[key]
        self.schedule.book(slot, -1)
        found = self.schedule.partial.fit(slot, self._ready(key), lambda start, end: self._full_until(slot, start, end))
        if found is None or found[0] >= slot.start:
            self.schedule.book(slot, 1)
            return False
        self._change_buffers(slot, *found)
        self.schedule.move(slot, *found)
        return True

    def _ready(self, key: Key) -> int:
        slots, jobs = self.schedule.slots, self.schedule.partial.jobs
        job, slot, before = jobs[key[0]], slots[key], self.schedule.before.get(key)
        waits = [(job.id, key[1] - 1)] if key[1] else [(other, len(jobs[other].operations) - 1) for other in job.after]
        times = [slots[other].end + jobs[other[0]].operations[other[1]].hold for other in waits]
        previous = None if before is None else slots[before]
        gap = self.schedule.set_up(slot.machine, previous, slot)
        return max([job.release, *times, gap + (previous.end if previous is not None else 0)])

    def _flows(self, slot: Slot) -> list[tuple[ResourceProfile, int, int]]:
        """By buffer that it has to do with: what the operation brings at its end, and fetches at its start."""
        none, flows = (0,) * len(self.profiles), self.schedule.flows
        brings = flows.brings.get(slot.job, none) if self.schedule.is_last(slot) else none
        fetches = flows.fetches.get(slot.job, none) if slot.index == 0 else none
        return [(profile, a, b) for profile, a, b in zip(self.profiles, brings, fetches, strict=True) if a or b]

    def _full_until(self, slot: Slot, start: int, end: int) -> int | None:
        """The time before which the work may not end, for want of room; None where it may end at `end`."""
        if start >= slot.start:
            return None
        found = []
        for profile, brings, fetches in self._flows(slot):
            if brings:
                both = profile.end_of_last_conflict([(end, min(slot.end, slot.start))], brings - fetches)
                alone = profile.end_of_last_conflict([(max(end, slot.start), slot.end)], brings)
                found += [time for time in (both, alone) if time is not None]
        return max(found, default=None)

    def _change_buffers(self, slot: Slot, start: int, end: int) -> None:
        for profile, brings, fetches in self._flows(slot):
            profile.take([(start, slot.start)], -fetches)
            profile.take([(end, slot.end)], brings)
