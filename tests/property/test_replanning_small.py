"""The less late of the choices after a breakdown, on small shops, against a constraint program that tries everything."""

from __future__ import annotations

import random

import pytest
from ortools.sat.python import cp_model

from solver.domain.replan import Down, ReplanJob
from solver.domain.timetable import Job, Machine, Operation, ScheduleJob
from solver.replanning.check import check_replan
from solver.replanning.freeze import freeze_timetable
from solver.replanning.replan import replan
from solver.scheduling.cp_model import ScheduleCpModel, planning_horizon
from solver.scheduling.dispatch import dispatch_by_rule
from tests.unit.test_replanning import quick


def random_breakdown(dice: random.Random) -> ReplanJob:
    """Three to five jobs of one to three operations on up to three machines, of which one breaks down for 3 to 15."""
    names = [f"m{n}" for n in range(dice.randint(1, 3))]
    machines = tuple(
        Machine(
            id=name,
            closed=tuple((at, at + dice.randint(2, 6)) for at in range(10, 120, 20)) if dice.random() < 0.5 else (),
            setup=((0, 3, 1), (4, 0, 2), (2, 2, 0)) if dice.random() < 0.5 else None,
        )
        for name in names
    )
    jobs = tuple(
        Job(
            id=f"j{n}",
            release=dice.choice((0, 0, 5)),
            due=dice.randint(8, 40),
            weight=dice.randint(1, 4),
            operations=tuple(
                Operation(
                    on={name: dice.randint(1, 6) for name in dice.sample(names, dice.randint(1, len(names)))},
                    family=dice.randrange(3),
                    hold=dice.choice((0, 0, 3)),
                    pause=dice.random() < 0.3,
                )
                for _ in range(dice.randint(1, 3))
            ),
        )
        for n in range(dice.randint(3, 5))
    )
    task = ScheduleJob(objective="weighted_tardiness", machines=machines, jobs=jobs)
    now = dice.randint(2, 15)
    down = Down(machine=dice.choice(names), start=now, end=now + dice.randint(3, 15))
    return ReplanJob(
        plan=task, slots=dispatch_by_rule(task, "due"), now=now, firm_until=now + dice.choice((0, 4)), down=(down,)
    )


def least(job: ReplanJob) -> int:
    """Return the least weighted tardiness of all timetables that leave alone what stays."""
    frozen = freeze_timetable(job)
    model = ScheduleCpModel(frozen.task, planning_horizon(frozen.task))
    for key, step in model.steps.items():
        stays = frozen.kept.get(key)
        if stays is None:
            model.model.add(step.start >= (job.now if key in frozen.forced else max(job.firm_until, job.now)))
            continue
        model.model.add(step.start == stays.start)
        model.model.add(step.end == stays.end)
        for choice in step.choices:
            model.model.add(choice.taken == (choice.machine == stays.machine))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    assert solver.solve(model.model) == cp_model.OPTIMAL
    value: float = solver.objective_value
    return round(value)


@pytest.mark.parametrize("seed", range(20))
def test_on_time_is_as_much_on_time_as_can_be(seed: int) -> None:
    job = random_breakdown(random.Random(seed))
    result = replan(job, quick(60))
    assert [str(fault) for fault in check_replan(job, result).faults] == []
    assert min(one.tardiness for one in result.choices) == least(job)
