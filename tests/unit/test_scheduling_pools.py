"""People who share machines, in the generic contract: refused where they can't be kept, kept by every timetable."""

from __future__ import annotations

import random
import time
from dataclasses import replace
from typing import Any

import pytest

from solver.codec import decode
from solver.domain.timetable import Job, Machine, Operation, Pool, ScheduleJob, ScheduleResult, Slot
from solver.scheduling.check import check
from solver.scheduling.faults import validate
from solver.scheduling.schedule import schedule
from solver.search import Search
from tests.property.test_scheduling_why import random_week


def within(seconds: float) -> Search:
    end = time.monotonic() + seconds
    return Search(workers=1, left_s=lambda: end - time.monotonic())


def test_pools_of_unknown_machines_or_too_few_people_are_refused() -> None:
    data: dict[str, Any] = {
        "objective": "makespan",
        "machines": [{"id": "saw"}],
        "jobs": [{"id": "a", "operations": [{"on": {"saw": 1}}]}],
        "pools": [{"id": "crew", "size": 1, "uses": {"saw": 2, "brake": 1}}],
    }
    assert [fault.path for fault in validate(decode(ScheduleJob, data, name="$"))] == [
        "pools[0].uses.saw",
        "pools[0].uses.brake",
    ]


def test_two_machines_that_need_the_same_people_take_turns() -> None:
    """Two jobs of 3 on machines of their own take 3 with two crews, 6 with one; the bound is without crews."""
    machines = (Machine(id="a"), Machine(id="b"))
    jobs = tuple(Job(id=f"on {name}", operations=(Operation(on={name: 3}),)) for name in "ab")
    task = ScheduleJob(objective="makespan", machines=machines, jobs=jobs)
    assert schedule(task, within(30)).objective == 3
    one = replace(task, pools=(Pool(id="crew", size=1, uses={"a": 1, "b": 1}),))
    result = schedule(one, within(30))
    assert (result.status, result.objective, result.lower_bound) == ("feasible", 6, 3)
    two = replace(task, pools=(Pool(id="crew", size=2, uses={"a": 1, "b": 1}),))
    assert (schedule(two, within(30)).status, schedule(two, within(30)).objective) == ("optimal", 3)


def test_who_pauses_over_closed_hours_is_free_for_other_work() -> None:
    """The brake closes from 2 to 10 amid its work of 4: its people saw meanwhile."""
    task = ScheduleJob(
        objective="makespan",
        machines=(Machine(id="brake", closed=((2, 10),)), Machine(id="saw", closed=((0, 2),))),
        jobs=(
            Job(id="fold", operations=(Operation(on={"brake": 4}, pause=True),)),
            Job(id="cut", operations=(Operation(on={"saw": 8}),)),
        ),
        pools=(Pool(id="crew", size=1, uses={"brake": 1, "saw": 1}),),
    )
    result = schedule(task, within(30))
    assert (result.status, result.objective) == ("optimal", 12)
    assert check(task, result).sound


@pytest.mark.parametrize("seed", range(12))
def test_timetables_with_people_hold(seed: int) -> None:
    task = random_week(random.Random(seed), people=True)
    result = schedule(task, within(0.5))
    assert [str(fault) for fault in check(task, result).faults] == []
    alone = schedule(replace(task, pools=()), within(0.5))
    assert result.objective is not None and result.objective >= alone.lower_bound


def test_work_without_length_at_one_instant_stands_in_whichever_order_holds() -> None:
    """The list names family 0 first, which would need a set-up of 3; the machine does family 1 first, and needs none."""
    jobs = tuple(Job(id=name, operations=(Operation(on={"m": 0}, family=kind),)) for name, kind in (("a", 0), ("b", 1)))
    slots = tuple(Slot(job=name, index=0, machine="m", start=5, end=5) for name in "ab")
    for table, sound in (((0, 3), (0, 0)), True), (((0, 3), (1, 0)), False):
        task = ScheduleJob(objective="makespan", machines=(Machine(id="m", setup=table),), jobs=jobs)
        result = ScheduleResult(status="feasible", objective=5, lower_bound=0, operations=slots, seconds=0.0)
        assert check(task, result).sound is sound
