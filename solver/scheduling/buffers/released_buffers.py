"""Buffers for new jobs beside a timetable that stays: what is in them already, and an order of the new ones that fits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from solver.domain.timetable import Job, ScheduleJob, Slot
from solver.scheduling.buffers.contents import BufferContents
from solver.scheduling.buffers.flows import buffer_flows, least_overfull_sequence, priorities_as_listed, widen_for_sequence
from solver.scheduling.buffers.left_shift import buffer_profiles


class ReleasedBuffers:
    """What a timetable has in the buffers when, and an order of new jobs that keeps to them behind it."""

    def __init__(self, task: ScheduleJob, slots: Sequence[Slot], new: Sequence[Job]) -> None:
        """`task`: what is placed, with what the new jobs keep in its buffers too.

        Where no order is found for the buffers as they are, they are taken as wide as one needs.
        """
        names = {job.id for job in new}
        stays = [(room, [stay for stay in room.stays if stay.job in names]) for room in task.rooms]
        flows = buffer_flows([replace(room, stays=tuple(brought)) for room, brought in stays])
        jobs = [replace(job, after=tuple(name for name in job.after if name in names)) for job in new]
        order = least_overfull_sequence(jobs, flows, (priorities_as_listed(jobs),))
        self.jobs, self.flows, self.order = new, widen_for_sequence(flows, order), order.jobs
        placed = [
            replace(room, size=size, stays=tuple(stay for stay in room.stays if stay.job not in names))
            for room, size in zip(task.rooms, self.flows.sizes, strict=True)
        ]
        self.placed = buffer_profiles(replace(task, rooms=tuple(placed)), slots)

    def contents(self) -> BufferContents:
        """Return the buffers with nothing of the new jobs in them, to fill."""
        return BufferContents(self.jobs, self.flows, self.order, self.placed)
