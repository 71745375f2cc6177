"""Dispatch against every order of loads at the dock."""

from __future__ import annotations

import random
from itertools import permutations

import pytest

from solver.domain.dispatch import DispatchJob, DispatchLoad
from solver.domain.ids import LoadId
from solver.errors import InputError
from solver.loading.dispatch import dispatch
from solver.search import Search
from solver.units import Seconds


def load(name: str, ready: int, dock: int, transit: int, need_by: int) -> DispatchLoad:
    return DispatchLoad(
        id=LoadId(name), ready_s=Seconds(ready), dock_s=Seconds(dock), transit_s=Seconds(transit), need_by_s=Seconds(need_by)
    )


def random_loads(seed: int, most: int) -> tuple[DispatchLoad, ...]:
    dice = random.Random(seed)
    return tuple(
        load(f"L{place}", dice.randint(0, 40), dice.randint(0, 12), dice.randint(0, 9), dice.randint(0, 70))
        for place in range(dice.randint(1, most))
    )


def most_late(order: tuple[DispatchLoad, ...]) -> int:
    now, worst = 0, -1000
    for item in order:
        now = max(now, item.ready_s) + item.dock_s
        worst = max(worst, now + item.transit_s - item.need_by_s)
    return worst


def test_the_largest_lateness_is_the_least_of_every_order() -> None:
    for seed in range(400):
        loads = random_loads(seed, 6)
        result = dispatch(DispatchJob(loads=loads), Search())
        best = min(most_late(order) for order in permutations(loads))
        assert (result.status, result.most_late_s, result.lower_bound) == ("optimal", best, best), seed
        by_id = {item.id: item for item in loads}
        order = tuple(by_id[departure.load] for departure in result.departures)
        assert len(set(order)) == len(loads)
        assert most_late(order) == best


def test_the_bound_is_never_above_the_lateness_of_many_loads() -> None:
    for seed in range(60):
        result = dispatch(DispatchJob(loads=random_loads(seed, 60)), Search())
        assert result.lower_bound <= result.most_late_s
        assert (result.status == "optimal") == (result.lower_bound == result.most_late_s)


def test_a_load_waits_for_its_last_bundle_and_for_the_door() -> None:
    result = dispatch(DispatchJob(loads=(load("a", 10, 5, 3, 20), load("b", 0, 8, 1, 50))), Search())
    assert [(item.load, item.start_s, item.leave_s, item.arrive_s, item.late_s) for item in result.departures] == [
        ("b", 0, 8, 9, -41),
        ("a", 10, 15, 18, -2),
    ]


def test_no_load_and_a_load_given_twice() -> None:
    assert dispatch(DispatchJob(loads=()), Search()).status == "optimal"
    with pytest.raises(InputError):
        dispatch(DispatchJob(loads=(load("a", 0, 1, 1, 1),) * 2), Search())
