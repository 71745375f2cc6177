"""What a timetable costs beside lateness: set-up time and flow time."""

from __future__ import annotations

from solver.domain.timetable import ScheduleJob, Slot


def setup_and_flow(task: ScheduleJob, slots: tuple[Slot, ...]) -> tuple[int, int]:
    """Return the set-up time between operations on all machines, and the sum over jobs with a due date from release to end."""
    family = {(job.id, n): step.family for job in task.jobs for n, step in enumerate(job.operations)}
    holds = {(job.id, len(job.operations) - 1): job.operations[-1].hold for job in task.jobs if job.operations}
    tables = {machine.id: machine.setup for machine in task.machines}
    last = {machine.id: machine.initial for machine in task.machines}
    setup, done = 0, {}
    for slot in sorted(slots, key=lambda slot: (slot.start, slot.end)):
        key = (slot.job, slot.index)
        table, before = tables[slot.machine], last[slot.machine]
        if table is not None and before is not None:
            setup += table[before][family[key]]
        last[slot.machine] = family[key]
        if key in holds:
            done[slot.job] = slot.end + holds[key]
    return setup, sum(done[one.id] - one.release for one in task.jobs if one.due is not None)
