"""Published scheduling instances as jobs of the `schedule` contract, set by set."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from solver.domain.timetable import Job, Machine, Operation, ScheduleJob

Instance = dict[str, Any]


def job_shop(rows: list[list[list[int]]]) -> ScheduleJob:
    """Return a job shop: of each job its (machine, time) steps in order; makespan."""
    machines = max(machine for row in rows for machine, _ in row) + 1
    return ScheduleJob(
        objective="makespan",
        machines=tuple(Machine(id=f"m{n}") for n in range(machines)),
        jobs=tuple(
            Job(id=f"j{n}", operations=tuple(Operation(on={f"m{machine}": work}) for machine, work in row))
            for n, row in enumerate(rows)
        ),
    )


def flexible(instance: Instance) -> ScheduleJob:
    """Return a flexible job shop; with `setup`, each operation is a family of its own and has no set-up before the first."""
    families = iter(range(sum(len(row) for row in instance["jobs"])))
    jobs = tuple(
        Job(
            id=f"j{n}",
            operations=tuple(
                Operation(
                    on={f"m{machine}": work for machine, work in step}, family=next(families) if "setup" in instance else 0
                )
                for step in row
            ),
        )
        for n, row in enumerate(instance["jobs"])
    )
    used = {int(name[1:]) for job in jobs for step in job.operations for name in step.on}
    setup = instance.get("setup")
    machines = tuple(
        Machine(id=f"m{n}", setup=None if setup is None else tuple(tuple(row) for row in setup[n]))
        for n in range(max([instance["n_machines"], *(n + 1 for n in used)]))
    )
    return ScheduleJob(objective="makespan", machines=machines, jobs=jobs)


def hybrid_flow(instance: Instance) -> ScheduleJob:
    """Return stages of identical machines; makespan."""
    lanes = instance["machines_per_stage"]
    return ScheduleJob(
        objective="makespan",
        machines=tuple(Machine(id=f"s{stage}.{n}") for stage, many in enumerate(lanes) for n in range(many)),
        jobs=tuple(
            Job(
                id=f"j{n}",
                operations=tuple(
                    Operation(on={f"s{stage}.{lane}": work for lane in range(lanes[stage])}) for stage, work in enumerate(row)
                ),
            )
            for n, row in enumerate(instance["p"])
        ),
    )


def permutation_tardiness(instance: Instance) -> ScheduleJob:
    """Return a flow shop that keeps one order on all machines; total tardiness."""
    return ScheduleJob(
        objective="weighted_tardiness",
        same_order=True,
        machines=tuple(Machine(id=f"m{n}") for n in range(instance["n_machines"])),
        jobs=tuple(
            Job(id=f"j{n}", due=due, operations=tuple(Operation(on={f"m{k}": work}) for k, work in enumerate(row)))
            for n, (row, due) in enumerate(zip(instance["p"], instance["due"], strict=True))
        ),
    )


def single_machine(instance: Instance) -> ScheduleJob:
    """Return one machine with weighted tardiness; the set-up of a first job is that after one more family."""
    many, setup, initial = len(instance["p"]), None, None
    if "setup" in instance:
        setup = (*((*row, 0) for row in instance["setup"]), (*instance["setup0"], 0))
        initial = many
    rows = zip(instance["p"], instance["w"], instance["due"], strict=True)
    return ScheduleJob(
        objective="weighted_tardiness",
        machines=(Machine(id="m", setup=setup, initial=initial),),
        jobs=tuple(
            Job(
                id=f"j{n}",
                operations=(Operation(on={"m": work}, family=n if setup is not None else 0),),
                due=due,
                weight=weight,
            )
            for n, (work, weight, due) in enumerate(rows)
        ),
    )


SETS: dict[str, Callable[[Instance], ScheduleJob]] = {
    "job_shop": lambda instance: job_shop(instance["jobs"]),
    "flexible_job_shop": flexible,
    "flexible_job_shop_sdst": flexible,
    "hybrid_flow_shop": hybrid_flow,
    "flow_shop_tardiness": permutation_tardiness,
    "flow_shop_drawn": permutation_tardiness,
    "single_machine_weighted_tardiness": single_machine,
    "single_machine_weighted_tardiness_sdst": single_machine,
}
