"""Large timetables: the list that is run is sound, never worse than where it began, and its cost is what it says."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from solver.domain.timetable import Goals, Pool, ScheduleJob, ScheduleResult, Slot
from solver.scheduling.check import check
from solver.scheduling.dispatch import RULES, dispatch_by_rule
from solver.scheduling.lists.annealing import (
    AnnealingChain,
    anneal_side_by_side,
    best_dispatch_timetable,
    is_large_tardiness_job,
    time_list,
)
from solver.scheduling.lists.decoding import undecoded_list
from solver.scheduling.lists.portfolio import improve_large
from solver.scheduling.lists.shop import build_shop, list_from_slots, predecessor_lists, slots_from_arrays
from solver.scheduling.objectives import objective_value
from solver.search import Search, deterministic_search
from tests.generators.weeks import FAMILY, KEYS, closed, new_order, set_up, week
from tests.unit.test_scheduling_schedule import random_task


def sound(task: ScheduleJob, slots: tuple[Slot, ...]) -> bool:
    value = objective_value(task, slots)
    result = ScheduleResult(
        status="feasible" if value else "optimal", objective=value, lower_bound=0, operations=slots, seconds=0.0
    )
    return check(task, result).faults == ()


def counted(turns: int) -> Search:
    """A search that ends after it was asked so many times: the same on every machine."""
    left = iter(range(turns, -1, -1))
    return Search(left_s=lambda: next(left, 0) / 1.0)


@pytest.mark.parametrize("seed", range(15))
def test_lists_of_odd_small_jobs_are_sound_and_never_worse(seed: int) -> None:
    task = replace(random_task(random.Random(seed)), objective="weighted_tardiness")
    start = min((dispatch_by_rule(task, rule) for rule in RULES), key=lambda slots: objective_value(task, slots))
    slots = improve_large(task, start, counted(12))
    assert sound(task, slots)
    assert objective_value(task, slots) <= objective_value(task, start)


def test_a_list_costs_what_its_goals_say() -> None:
    task = replace(week(3, orders=4), goals=Goals(tardiness=7, setup=0, flow=0))
    shop, named = build_shop(task)
    slots = best_dispatch_timetable(task)
    found = time_list(shop, *list_from_slots(named, shop, slots))
    again = slots_from_arrays(named, shop, found.pick, found.start, found.end)
    assert found.cost == 7 * objective_value(task, again)
    flow = replace(task, goals=Goals(tardiness=0, setup=0, flow=1))
    shop, named = build_shop(flow)
    done = {slot.job: slot.end for slot in again}
    assert time_list(shop, *list_from_slots(named, shop, again)).cost == sum(
        done[job.id] for job in task.jobs if job.due is not None
    )


def test_a_small_week_gets_better_than_its_best_rule() -> None:
    task = week(5, orders=40, days=3)
    start = best_dispatch_timetable(task)
    slots = improve_large(task, None, deterministic_search(1.0, seed=1))
    assert sound(task, slots)
    assert objective_value(task, slots) < objective_value(task, start)


@pytest.mark.parametrize("seed", range(4))
def test_after_moves_taken_and_taken_back_the_list_is_timed_as_from_the_start(seed: int) -> None:
    """Only what a move changes is timed again; links, places and costs are those of the same list timed whole."""
    task = week(seed, orders=5, days=3)
    shop, named = build_shop(task)
    chain = AnnealingChain(shop, time_list(shop, *list_from_slots(named, shop, best_dispatch_timetable(task))), seed)
    for heat in (50.0, 5.0, 0.5):
        chain.anneal_on(100, heat * 3_600_000)
        plan = chain.plan
        whole = undecoded_list(shop, plan.order, plan.pick)
        again = time_list(shop, plan.order, plan.pick)
        assert chain.values[0] == again.cost == plan.cost.sum()
        assert not plan.marks.any()
        assert (plan.start == again.start).all()
        assert (plan.end == again.end).all()
        for name in ("place", "follows", "then", "front"):
            assert (getattr(plan, name) == getattr(whole, name)).all(), name
    assert time_list(shop, *chain.best).cost == chain.values[1]


def test_the_kin_of_a_load_are_all_jobs_of_its_order() -> None:
    task = week(2, orders=3, days=3)
    shop, named = build_shop(task)
    ends = shop.counted.nonzero()[0]
    at, kin = predecessor_lists(shop, ends)
    for k, last in enumerate(ends):
        order = named.keys[last][0].split()[0]
        found = {named.keys[n] for n in kin[at[k] : at[k + 1]]}
        assert found == {key for key in named.keys if key[0].split()[0] == order}


def test_workers_side_by_side_give_the_same_each_time() -> None:
    task = week(6, orders=8, days=3)
    two = [improve_large(task, None, replace(counted(8), workers=2)) for _ in range(2)]
    assert two[0] == two[1]
    assert sound(task, two[0])


def test_the_same_seed_gives_the_same_week() -> None:
    task = week(6, orders=8, days=3)
    assert improve_large(task, None, counted(8)) == improve_large(task, None, counted(8))


def test_never_more_people_than_there_are() -> None:
    task = week(2, orders=6, days=3)
    people = Pool(id="hands", size=2, uses={"panel-saw-1": 2, "panel-saw-2": 1, "press": 1, "bay-1": 1})
    task = replace(task, pools=(people,))
    slots = improve_large(task, None, counted(8))
    assert sound(task, slots)
    assert not sound(replace(task, pools=(replace(people, size=1, uses={**people.uses, "panel-saw-1": 1}),)), slots)


def test_pinned_work_stays_and_a_list_that_would_move_it_is_refused() -> None:
    task = week(4, orders=5, days=3)
    shop, named = build_shop(task)
    slots = best_dispatch_timetable(task)
    order, pick = list_from_slots(named, shop, slots)
    whole = time_list(shop, order, pick)
    shop.pinned[order[:40]] = 1
    shop.pin_start[order[:40]], shop.pin_end[order[:40]] = whole.start[order[:40]], whole.end[order[:40]]
    best = anneal_side_by_side(shop, time_list(shop, order, pick), counted(6))
    assert (best.start[order[:40]] == whole.start[order[:40]]).all()
    shop.pin_start[order[:40]] = 0
    assert time_list(shop, order, pick).cost > 2**60


def test_a_week_is_as_documented() -> None:
    task = week(0)
    assert len([job for job in task.jobs if job.due is not None]) == 60
    assert 1_500 < sum(len(job.operations) for job in task.jobs) < 2_300
    assert is_large_tardiness_job(task) and not is_large_tardiness_job(replace(task, objective="makespan"))
    assert week(0) == task != week(1)
    assert set_up("press", KEYS[FAMILY["panel", "4", "birch"]], KEYS[FAMILY["panel", "6", "moss"]]) == 2_100
    assert closed((6,), 1)[0] == (0, 6 * 3600)
    assert new_order("x", 7)[-1].id == "x load"
