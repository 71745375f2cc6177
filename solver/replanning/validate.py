"""Every fault of a question asked of a released timetable, with its path."""

from __future__ import annotations

from dataclasses import replace

from solver.domain.replan import PromiseJob, ReplanJob
from solver.domain.timetable import Job, ScheduleJob, Slot
from solver.errors import FaultCollector, FieldFault
from solver.scheduling.rescheduling import validate


def promise_faults(job: PromiseJob) -> list[FieldFault]:
    """Return every fault of a promise job."""
    faults = FaultCollector()
    _plan(job.plan, job.order, "order", job.slots, faults)
    return faults.found


def replan_faults(job: ReplanJob) -> list[FieldFault]:
    """Return every fault of a replan job."""
    faults = FaultCollector()
    _plan(job.plan, job.added, "added", job.slots, faults)
    machines = {machine.id for machine in job.plan.machines}
    released = {one.id for one in job.plan.jobs}
    known = released | {one.id for one in job.added}
    for n, down in enumerate(job.down):
        if down.machine not in machines:
            faults.add(f"down[{n}].machine", f"{down.machine!r} is no machine", "an id of the plan's machines")
        if down.end <= down.start:
            faults.add(f"down[{n}].end", f"{down.end} is not after {down.start}", "an end after its start")
    told = [("late", one.job) for one in job.late] + [("urgent", one.job) for one in job.urgent]
    for what, name in [*told, *(("waits", one.job) for one in job.waits)]:
        if name not in released:
            faults.add(what, f"{name!r} is no job of the plan", "ids of the plan's jobs")
    for n, wait in enumerate(job.waits):
        if wait.after not in known:
            faults.add(f"waits[{n}].after", f"{wait.after!r} is no job", "an id of the plan's jobs or of `added`")
    if not faults:
        _undone(job, faults)
    if not faults and job.waits:
        more: dict[str, tuple[str, ...]] = {}
        for wait in job.waits:
            more[wait.job] = (*more.get(wait.job, ()), wait.after)
        jobs = tuple(replace(one, after=(*one.after, *more.get(one.id, ()))) for one in (*job.plan.jobs, *job.added))
        faults.extend(FieldFault(f"waits: {one.path}", one.problem, one.fix) for one in validate(replace(job.plan, jobs=jobs)))
    return faults.found


def _undone(job: ReplanJob, faults: FaultCollector) -> None:
    """Work that is not done should have begun; nothing that waits for it has."""
    undone = {(one.job, one.index) for one in job.undone}
    begun = {(slot.job, slot.index) for slot in job.slots if slot.start < job.now}
    for n, told in enumerate(job.undone):
        if (told.job, told.index) not in begun:
            faults.add(
                f"undone[{n}]", f"{told.job} {told.index} should not have begun before {job.now}", "work that should have"
            )
    last = {one.id: len(one.operations) - 1 for one in job.plan.jobs}
    for one in job.plan.jobs:
        before = [(other, last[other]) for other in one.after]
        for index in range(len(one.operations)):
            waits = set(before) & undone
            if waits and (one.id, index) in begun - undone:
                name, number = min(waits)
                faults.add(
                    "undone", f"{one.id} {index} has begun, and {name} {number} is not done", "all that waits for it too"
                )
            before = [(one.id, index)]


def _plan(plan: ScheduleJob, more: tuple[Job, ...], name: str, slots: tuple[Slot, ...], faults: FaultCollector) -> None:
    """The plan with the new jobs as one job, and a slot for each of the plan's operations."""
    size = len(plan.jobs)
    for one in validate(replace(plan, jobs=(*plan.jobs, *more))):
        path = f"plan.{one.path}"
        if one.path.startswith("jobs["):
            number, _, rest = one.path[len("jobs[") :].partition("]")
            path = f"{name}[{int(number) - size}]{rest}" if int(number) >= size else path
        faults.extend([FieldFault(path, one.problem, one.fix)])
    if plan.same_order:
        faults.add("plan.same_order", "a released timetable in one order cannot be replanned", "false")
    steps = {(job.id, n): step for job in plan.jobs for n, step in enumerate(job.operations)}
    seen: set[tuple[str, int]] = set()
    for n, slot in enumerate(slots):
        key = (slot.job, slot.index)
        if key not in steps:
            faults.add(f"slots[{n}]", f"{slot.job} {slot.index} is no operation of the plan", "operations of the plan")
        elif key in seen:
            faults.add(f"slots[{n}]", f"{slot.job} {slot.index} is there twice", "each operation once")
        elif slot.machine not in steps[key].on:
            faults.add(f"slots[{n}].machine", f"{slot.machine} cannot do it", f"one of {', '.join(steps[key].on)}")
        seen.add(key)
    for job_id, index in sorted(steps.keys() - seen):
        faults.add("slots", f"{job_id} {index} is missing", "a slot for each operation of the plan")
