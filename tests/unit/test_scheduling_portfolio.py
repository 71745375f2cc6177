"""Large timetables from several beginnings: always sound, never worse than one of them, exact on tiny ones."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from solver.domain.timetable import Goals
from solver.scheduling.lists.portfolio import (
    best_from_starts,
    cheapest_list,
    improve_large,
    lists_by_bottleneck,
    lists_by_rules,
)
from solver.scheduling.lists.shop import build_shop, slots_from_arrays
from solver.scheduling.objectives import objective_value
from solver.scheduling.schedule import schedule
from solver.search import Search, deterministic_search
from tests.generators.weeks import week
from tests.unit.test_scheduling_bottleneck import narrow
from tests.unit.test_scheduling_lists import counted, sound
from tests.unit.test_scheduling_schedule import random_task


@pytest.mark.parametrize("seed", range(20))
def test_what_is_found_is_sound_and_no_worse_than_any_beginning(seed: int) -> None:
    goals = Goals(tardiness=1, setup=0, flow=0)
    task = replace(random_task(random.Random(seed)), objective="weighted_tardiness", goals=goals, pools=(), rooms=())
    shop, named = build_shop(task)
    begun = lists_by_rules(shop, counted(40)) + lists_by_bottleneck(shop, counted(30))
    assert all(sound(task, slots_from_arrays(named, shop, one.pick, one.start, one.end)) for one in begun)
    slots = improve_large(task, None, counted(60))
    assert sound(task, slots)
    best = best_from_starts(shop, begun, counted(20))
    assert sound(task, slots_from_arrays(named, shop, best.pick, best.start, best.end))
    assert best.cost <= min(one.cost for one in begun)


@pytest.mark.parametrize("seed", range(6))
def test_tiny_ones_are_never_below_the_proved_least_and_nearly_always_there(seed: int) -> None:
    """The constraint program proves the least; it shares nothing with the lists."""
    task = narrow(random.Random(seed), 6)
    proved = schedule(task, Search(workers=1))
    assert proved.status == "optimal"
    slots = improve_large(task, None, deterministic_search(0.5, seed=seed))
    assert sound(task, slots)
    assert objective_value(task, slots) == proved.objective


def test_a_week_by_its_press_first_is_better_than_by_rules() -> None:
    """All rules together leave it 249 hours late, weighted; without any list search."""
    task = week(9101)
    shop, named = build_shop(task)
    rules, line = (
        cheapest_list(one)
        for one in (
            lists_by_rules(shop, deterministic_search(9.0, seed=1)),
            lists_by_bottleneck(shop, deterministic_search(1.0, seed=1)),
        )
    )
    values = [objective_value(task, slots_from_arrays(named, shop, one.pick, one.start, one.end)) for one in (line, rules)]
    assert 3 * values[0] < values[1]


def test_the_same_seed_gives_the_same_and_another_one_another() -> None:
    task = week(12, orders=12, days=3)
    one, again, other = (improve_large(task, None, deterministic_search(0.3, seed=seed)) for seed in (1, 1, 2))
    assert one == again
    assert sound(task, other)


def test_never_worse_than_a_timetable_that_it_is_given() -> None:
    task = replace(week(13, orders=8, days=3), goals=Goals(tardiness=1, setup=0, flow=0))
    good = improve_large(task, None, counted(40))
    assert objective_value(task, improve_large(task, good, counted(3))) <= objective_value(task, good)
