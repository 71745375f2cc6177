"""What is wrong with the rooms of a schedule job, and what can never find room."""

from __future__ import annotations

from solver.domain.timetable import Job, ScheduleJob
from solver.errors import FaultCollector, NoPlan


def buffer_faults(task: ScheduleJob, faults: FaultCollector) -> None:
    """Add every fault of the rooms of a job that is otherwise sound, or may not be."""
    if task.rooms and task.same_order:
        faults.add("rooms", "cannot be kept with one order of jobs on all machines", "no rooms, or same_order false")
    jobs = {job.id: job for job in task.jobs}
    ancestors: dict[str, set[str]] = {}
    for n, room in enumerate(task.rooms):
        for k, stay in enumerate(room.stays):
            path = f"rooms[{n}].stays[{k}]"
            for field, name in (("job", stay.job), ("until", stay.until)):
                if name not in jobs:
                    faults.add(f"{path}.{field}", f"{name!r} is no job", "an id of jobs")
            if stay.until in jobs and stay.job in jobs[stay.until].after:
                continue
            if stay.until not in ancestors:
                ancestors[stay.until] = _ancestors(stay.until, jobs)
            if stay.job in jobs and stay.until in jobs and stay.job not in ancestors[stay.until]:
                what = f"{stay.until!r} does not wait for {stay.job!r}"
                faults.add(f"{path}.until", what, "a job that waits for the one that brings it, by `after`")


def _ancestors(name: str, jobs: dict[str, Job]) -> set[str]:
    """All jobs that must be done before a job, directly or by way of others."""
    seen: set[str] = set()
    ahead = [name]
    while ahead:
        job = jobs.get(ahead.pop())
        for other in job.after if job is not None else ():
            if other not in seen:
                seen.add(other)
                ahead.append(other)
    return seen


def refuse_oversized_jobs(task: ScheduleJob) -> None:
    """Raise NoPlan where what one job brings at once, to stay for its hold at least, is more than its room holds."""
    faults = FaultCollector()
    holds = {job.id: job.operations[-1].hold for job in task.jobs}
    for n, room in enumerate(task.rooms):
        brought: dict[str, int] = {}
        for stay in room.stays:
            brought[stay.job] = brought.get(stay.job, 0) + stay.takes
        for name, count in brought.items():
            if count > room.size and holds[name]:
                what = f"{name!r} brings {count} at once into {room.id!r}, which holds {room.size}"
                faults.add(f"rooms[{n}].size", what, f"at least {count}, or smaller lots")
    if faults:
        raise NoPlan(*faults.found)


def refuse_deadlocking_buffers(task: ScheduleJob) -> None:
    """Raise NoPlan: it is proved that no timetable keeps to all rooms."""
    faults = FaultCollector()
    names = ", ".join(f"{room.id!r} ({room.size})" for room in task.rooms)
    faults.add("rooms", f"no order of work keeps to {names}: each waits for another to make room", "more room, or smaller lots")
    raise NoPlan(*faults.found)
