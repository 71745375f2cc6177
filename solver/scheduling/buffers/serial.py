"""A timetable in a moment, however large the job: whole jobs one after the other, in an order that keeps to the rooms."""

from __future__ import annotations

from collections.abc import Sequence

from solver.domain.timetable import ScheduleJob, Slot
from solver.scheduling.buffers.contents import BufferContents
from solver.scheduling.buffers.flows import (
    BufferFlows,
    buffer_flows,
    least_overfull_sequence,
    priorities_as_listed,
    widen_for_sequence,
)
from solver.scheduling.buffers.partial_schedule import PartialSchedule
from solver.scheduling.resource_profile import FAR


def serial_schedule(task: ScheduleJob) -> tuple[Slot, ...]:
    """Return a sound timetable of a valid job without search: first what is due first, with all that it waits for.

    Where no order of work is found that keeps to the rooms they are overfilled, as little as an order was found to.
    """
    flows = buffer_flows(task.rooms)
    dues = {job.id: float(job.due) if job.due is not None else float(FAR) for job in task.jobs}
    order = least_overfull_sequence(task.jobs, flows, (dues, priorities_as_listed(task.jobs)))
    return serial_in_order(task, widen_for_sequence(flows, order), order.jobs)


def serial_in_order(task: ScheduleJob, flows: BufferFlows, order: Sequence[str]) -> tuple[Slot, ...]:
    """Return the jobs placed in an order that keeps to the rooms, each step on the machine where it ends first.

    What a job brings comes in once there is room for it for good, which there is when all before it is done.
    """
    partial, contents = PartialSchedule(task), BufferContents(task.jobs, flows, order)
    for name in order:
        for index, step in enumerate(partial.jobs[name].operations):
            best: Slot | None = None
            for machine in step.on:
                slot = Slot(job=name, index=index, machine=machine, start=0, end=0)
                found = contents.fit(partial, slot, asked=False)
                assert found is not None  # all before it is done
                if best is None or (found[1], found[0]) < (best.end, best.start):
                    best = Slot(job=name, index=index, machine=machine, start=found[0], end=found[1])
            assert best is not None  # every operation names a machine: validated
            partial.put(best, best.start, best.end)
            contents.note(best)
    return tuple(partial.slots)
