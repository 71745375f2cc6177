"""What a timetable costs: the objectives, what is minded beside them, and a bound that needs no search.

A new objective is a name in `domain.timetable`, an entry of OBJECTIVES here, its term in `model` and its line in `check`; a
new goal beside lateness a field of `Goals`, its part of `secondary_costs` and its term where `lists.decoding` counts costs.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

from solver.domain.timetable import Job, ScheduleJob, Slot
from solver.scheduling.precedence import in_precedence_order

Completions = Mapping[str, int]  # by job: when it is done, its hold included


def _makespan(_jobs: Sequence[Job], done: Completions) -> int:
    return max(done.values(), default=0)


def weighted_tardiness(jobs: Sequence[Job], done: Completions) -> int:
    """Return the sum over jobs with a due date of how late each is, times its weight."""
    return sum(job.weight * max(0, done[job.id] - job.due) for job in jobs if job.due is not None)


OBJECTIVES: dict[str, Callable[[Sequence[Job], Completions], int]] = {  # each grows with completion times: regular
    "makespan": _makespan,
    "weighted_tardiness": weighted_tardiness,
}


def objective_value(task: ScheduleJob, slots: Iterable[Slot]) -> int:
    """Return the objective of a timetable."""
    done: dict[str, int] = {}
    holds = {(job.id, n): operation.hold for job in task.jobs for n, operation in enumerate(job.operations)}
    for slot in slots:
        done[slot.job] = max(done.get(slot.job, 0), slot.end + holds[slot.job, slot.index])
    return OBJECTIVES[task.objective](task.jobs, done)


def completion_times(jobs: Iterable[Job], slots: Iterable[Slot]) -> dict[str, int]:
    """Return when each job whose last operation is among the slots is done, its hold included."""
    holds = {(job.id, len(job.operations) - 1): job.operations[-1].hold for job in jobs if job.operations}
    return {slot.job: slot.end + holds[slot.job, slot.index] for slot in slots if (slot.job, slot.index) in holds}


def secondary_costs(task: ScheduleJob, slots: tuple[Slot, ...]) -> tuple[int, int]:
    """Return the set-up time between operations on all machines, and the sum over jobs with a due date from release to end."""
    family = {(job.id, n): step.family for job in task.jobs for n, step in enumerate(job.operations)}
    tables = {machine.id: machine.setup for machine in task.machines}
    last = {machine.id: machine.initial for machine in task.machines}
    setup = 0
    for slot in sorted(slots, key=lambda slot: (slot.start, slot.end)):
        table, before = tables[slot.machine], last[slot.machine]
        if table is not None and before is not None:
            setup += table[before][family[slot.job, slot.index]]
        last[slot.machine] = family[slot.job, slot.index]
    done = completion_times(task.jobs, slots)
    return setup, sum(done[job.id] - job.release for job in task.jobs if job.due is not None)


def single_job_bound(task: ScheduleJob) -> int:
    """Return a value that no timetable beats: each job alone, started at its release, with nothing in its way."""
    done: dict[str, int] = {}
    for job in in_precedence_order(task.jobs):
        start = max([job.release, *(done[other] for other in job.after)])
        done[job.id] = start + sum(min(step.on.values()) + step.hold for step in job.operations)
    return OBJECTIVES[task.objective](task.jobs, done)
