"""What is wrong with a schedule job: every fault at once, with its path."""

from __future__ import annotations

from solver.domain.timetable import ScheduleJob
from solver.errors import FaultCollector, FieldFault
from solver.scheduling.buffers.faults import buffer_faults
from solver.scheduling.precedence import in_precedence_order


def validate(task: ScheduleJob) -> list[FieldFault]:
    """Return every fault of a schedule job, with its path."""
    faults = FaultCollector()
    machines = _ids([machine.id for machine in task.machines], "machines", faults)
    jobs = _ids([job.id for job in task.jobs], "jobs", faults)
    _machine_faults(task, faults)
    _job_faults(task, machines, jobs, faults)
    _pool_faults(task, machines, faults)
    if not faults and len(in_precedence_order(task.jobs)) < len(task.jobs):
        faults.add("jobs", "wait for each other in a circle", "an order in which jobs can be done")
    _ids([room.id for room in task.rooms], "rooms", faults)
    buffer_faults(task, faults)
    return faults.found


def _machine_faults(task: ScheduleJob, faults: FaultCollector) -> None:
    """Closed times that overlap, and set-up tables that are too small for the families worked on."""
    families: dict[str, int] = {}
    for operation in (operation for job in task.jobs for operation in job.operations):
        for name in operation.on:
            families[name] = max(families.get(name, 1), 1 + operation.family)
    for n, machine in enumerate(task.machines):
        path = f"machines[{n}]"
        _closed_faults(machine.closed, f"{path}.closed", faults)
        if machine.setup is not None:
            size = len(machine.setup)
            need = max(size, families.get(machine.id, 1))
            if size < need or any(len(row) != size for row in machine.setup):
                faults.add(f"{path}.setup", f"is not square for {need} families", f"{need} rows of {need}")
            if machine.initial is not None and machine.initial >= size:
                faults.add(f"{path}.initial", f"{machine.initial} has no set-up row", f"0 to {size - 1}")


def _job_faults(task: ScheduleJob, machines: set[str], jobs: set[str], faults: FaultCollector) -> None:
    """Jobs without work, and jobs and machines that are not there."""
    for n, job in enumerate(task.jobs):
        if not job.operations:
            faults.add(f"jobs[{n}].operations", "is empty", "at least one operation")
        for other in job.after:
            if other not in jobs:
                faults.add(f"jobs[{n}].after", f"{other!r} is no job", "ids of other jobs")
        for k, operation in enumerate(job.operations):
            path = f"jobs[{n}].operations[{k}].on"
            if not operation.on:
                faults.add(path, "names no machine", "at least one machine and its time")
            for name in operation.on:
                if name not in machines:
                    faults.add(f"{path}.{name}", "is no machine", "an id of machines")


def _pool_faults(task: ScheduleJob, machines: set[str], faults: FaultCollector) -> None:
    """Pools of machines that are not there, or that take more people than there are."""
    for n, pool in enumerate(task.pools):
        for name, count in pool.uses.items():
            if name not in machines:
                faults.add(f"pools[{n}].uses.{name}", "is no machine", "an id of machines")
            elif count > pool.size:
                faults.add(f"pools[{n}].uses.{name}", f"{count} of {pool.size} people", f"at most {pool.size}")


def _ids(ids: list[str], path: str, faults: FaultCollector) -> set[str]:
    seen: set[str] = set()
    for n, name in enumerate(ids):
        if name in seen:
            faults.add(f"{path}[{n}].id", f"{name!r} is used before", "an id of its own")
        seen.add(name)
    return seen


def _closed_faults(closed: tuple[tuple[int, int], ...], path: str, faults: FaultCollector) -> None:
    last = None
    for n, (start, end) in sorted(enumerate(closed), key=lambda pair: pair[1]):
        if start >= end:
            faults.add(f"{path}[{n}]", f"[{start}, {end}] ends before it starts", "start below end")
        elif last is not None and start < last:
            faults.add(f"{path}[{n}]", f"[{start}, {end}] overlaps another", "disjoint intervals")
        last = end if last is None else max(last, end)
