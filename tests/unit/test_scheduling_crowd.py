"""The bound from crowded machines: no timetable of small jobs beats it; above zero where one machine must be late."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from solver.domain.timetable import Job, Machine, Operation, ScheduleJob
from solver.scheduling.dispatch import RULES, dispatch_by_rule
from solver.scheduling.lists.machine_group_bound import machine_group_bound
from solver.scheduling.objectives import objective_value, single_job_bound
from solver.scheduling.schedule import schedule
from tests.unit.test_scheduling_lists import counted
from tests.unit.test_scheduling_schedule import random_task


def late(task: ScheduleJob, dice: random.Random) -> ScheduleJob:
    """The task with due dates so early that much is late."""
    return replace(
        task,
        objective="weighted_tardiness",
        jobs=tuple(replace(job, due=dice.randint(0, 12), weight=dice.randint(1, 4)) for job in task.jobs),
    )


@pytest.mark.parametrize("seed", range(40))
def test_no_timetable_beats_the_bound(seed: int) -> None:
    dice = random.Random(seed)
    task = late(random_task(dice), dice)
    floor = machine_group_bound(task)
    assert floor >= 0
    assert floor <= min(objective_value(task, dispatch_by_rule(task, rule)) for rule in RULES)
    proved = schedule(task, counted(400))
    if proved.status == "optimal":
        assert proved.objective is not None
        assert floor <= proved.objective


def test_two_jobs_on_one_machine_cannot_both_be_early() -> None:
    """Ten seconds each, due at 10: one is done at 20. By hand: the seconds from 10 to 19 cost 0 to 0.9, 4.5 in all."""
    task = ScheduleJob(
        objective="weighted_tardiness",
        machines=(Machine(id="m"),),
        jobs=tuple(Job(id=name, operations=(Operation(on={"m": 10}),), due=10) for name in "ab"),
    )
    assert single_job_bound(task) == 0
    assert machine_group_bound(task) == 4


def test_closed_times_count_as_no_room() -> None:
    """Open from 0 all ten are on time; where the machine opens only at 100, they are done at 110 to 200."""
    jobs = tuple(Job(id=str(n), operations=(Operation(on={"m": 10}),), due=100, weight=1) for n in range(10))
    task = ScheduleJob(objective="weighted_tardiness", machines=(Machine(id="m", closed=((0, 100),)),), jobs=jobs)
    assert 0.4 * sum(range(10, 101, 10)) < machine_group_bound(task) <= sum(range(10, 101, 10))
    assert machine_group_bound(replace(task, machines=(Machine(id="m"),))) == 0
