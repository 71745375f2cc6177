"""Set-up and flow time are stated where they are goals, and a timetable that states them wrongly is found out."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from solver.domain.timetable import Goals, Job, Machine, Operation, ScheduleJob
from solver.scheduling.check import check
from solver.scheduling.schedule import schedule
from tests.unit.test_scheduling_lists import counted
from tests.unit.test_scheduling_schedule import random_task


def test_two_families_and_a_hold_by_hand() -> None:
    """5 of set-up before b; a ends at 10, b at 25 and is held 3: flow 10 - 0 and 28 - 2."""
    machine = Machine(id="m", setup=((0, 5), (5, 0)), initial=0)
    jobs = (
        Job(id="a", operations=(Operation(on={"m": 10}),), due=10),
        Job(id="b", operations=(Operation(on={"m": 10}, family=1, hold=3),), release=2, due=40),
    )
    task = ScheduleJob(objective="weighted_tardiness", machines=(machine,), jobs=jobs, goals=Goals())
    made = schedule(task, counted(50))
    assert (made.status, made.objective, made.setup, made.flow) == ("optimal", 0, 5, 36)
    assert check(task, made).sound
    assert [fault.path for fault in check(task, replace(made, setup=4, flow=35)).faults] == ["setup", "flow"]
    assert schedule(replace(task, goals=None), counted(50)).setup is None


@pytest.mark.parametrize("seed", range(20))
def test_what_is_stated_is_proved_again(seed: int) -> None:
    task = replace(random_task(random.Random(seed)), objective="weighted_tardiness", goals=Goals())
    made = schedule(task, counted(50))
    assert made.setup is not None
    assert made.flow is not None
    assert check(task, made).faults == ()
