"""A date for a new order beside a real plan: nothing released moves, and its families and material are the plan's own."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from service.usecases.make.plan_files import plan_orders
from service.usecases.make.stages import countdown
from solver.domain.building import Building
from solver.domain.plan import Plan
from solver.errors import InputError
from solver.promise_problem import NEW, ReleasedPlan, promise_problem
from solver.replanning.check import check_promise
from solver.replanning.promise import promise
from solver.replanning.validate import promise_faults
from solver.search import Search
from tests.plans import EPOCH, demo_buildings, demo_plant


@cache
def _plan() -> Plan:
    return plan_orders(demo_buildings()[2:], demo_plant(), epoch=EPOCH, limit_s=4.0, seed=1)


def _released() -> ReleasedPlan:
    return ReleasedPlan.of(_plan(), demo_plant(), demo_plant().stated_stock)


def _new() -> Building:
    return demo_buildings()[0]


def test_an_order_is_promised_beside_a_released_plan() -> None:
    asked = promise_problem(_released(), _new(), Search(left_s=countdown(3.0))).job
    assert promise_faults(asked) == []
    new = {one.id for one in asked.order}
    for room, old in zip(asked.plan.rooms, _plan().timetable.job.rooms, strict=True):
        assert (room.id, room.size) == (old.id, old.size) and set(old.stays) < set(room.stays)
        assert {stay.job in new for stay in room.stays if stay not in old.stays} == {True}
    result = promise(asked, Search(left_s=countdown(1.0)))
    assert check_promise(asked, result).faults == ()
    assert {slot.job for slot in result.operations} == {job.id for job in asked.order}
    assert all(slot.job.startswith(NEW) for slot in result.operations)
    assert result.lower_bound <= result.done


def test_the_plans_families_keep_their_numbers() -> None:
    asked, plan = promise_problem(_released(), _new(), Search(left_s=countdown(3.0))).job, _plan().timetable.job
    widened = 0
    for before, after in zip(plan.machines, asked.plan.machines, strict=True):
        assert before.id == after.id
        for n, row in enumerate(before.setup or ()):
            assert after.setup is not None
            assert after.setup[n][: len(row)] == row
            widened += len(after.setup) > len(row)
    assert widened  # the new order has work of a kind that the plan has not


def test_an_order_of_the_plan_and_a_date_gone_by_are_refused_together() -> None:
    with pytest.raises(InputError) as caught:
        promise_problem(_released(), demo_buildings()[2], Search(left_s=countdown(3.0)), now_s=100, by_s=50)
    assert [fault.path for fault in caught.value.faults] == ["order", "by"]


def test_a_timetable_that_its_parts_do_not_ask_for_is_refused() -> None:
    released = _released()
    table = replace(released.table, job=replace(released.table.job, jobs=released.table.job.jobs[:-1]))
    with pytest.raises(InputError) as caught:
        promise_problem(replace(released, table=table), _new(), Search(left_s=countdown(3.0)))
    assert [fault.path for fault in caught.value.faults] == ["plan"]
