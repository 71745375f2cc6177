"""Few different patterns at the same cost: never dearer, never fewer than proved, counted again by the check."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest

from solver.codec import decode, encode
from solver.domain.cut_plan import NestJob, NestResult
from solver.nesting.check import check
from solver.nesting.model import build_model
from solver.nesting.nest import nest
from solver.nesting.patterns import patterns_bound
from solver.search import Search
from tests.generators.nesting import odd, plant_like


def without_waste(seed: int, *, patterns: int, times: int) -> dict[str, Any]:
    """A job made of bars without waste, each pattern cut many times: those patterns are one answer."""
    dice = random.Random(seed)
    wanted: dict[int, int] = {}
    for _ in range(patterns):
        ends = [0, *sorted(dice.sample(range(4, 57), 2)), 60]
        often = dice.randrange(1, times)
        for low, high in pairwise(ends):
            wanted[100 * (high - low)] = wanted.get(100 * (high - low), 0) + often
    pieces = [{"id": f"P{length}", "length": length, "count": count} for length, count in wanted.items()]
    return {"unit": "mm", "stock": [{"id": "S", "length": 6000}], "pieces": pieces}


def asked(data: dict[str, Any], *, few: bool = True) -> tuple[NestJob, NestResult]:
    job = decode(NestJob, {**data, "few_patterns": few}, name="$")
    result = nest(job, Search(left_s=Ticks(500)))
    assert check(job, result).faults == ()
    return job, result


class Ticks:
    """A clock that goes by looks, so that a search ends at the same place each time."""

    def __init__(self, count: int) -> None:
        self.left = count

    def __call__(self) -> float:
        self.left -= 1
        return self.left / 100


def test_few_patterns_cost_no_more_and_are_fewer_over_some_jobs() -> None:
    before = after = 0
    for seed in range(3):
        data = without_waste(seed, patterns=5, times=7)
        _, plain = asked(data, few=False)
        _, few = asked(data)
        assert plain.patterns is None and plain.patterns_lower_bound is None
        assert few.cost == plain.cost and few.lower_bound == plain.lower_bound
        assert few.patterns is not None and few.patterns_lower_bound is not None
        assert few.patterns_lower_bound <= few.patterns <= len(plain.bars)
        before, after = before + len(plain.bars), after + few.patterns
    assert after <= before - 3


def test_one_pattern_is_found_where_one_does() -> None:
    pieces = [{"id": f"P{n}", "length": length, "count": 12} for n, length in enumerate((2500, 2100, 1400))]
    _, few = asked({"unit": "mm", "stock": [{"id": "S", "length": 6000}], "pieces": pieces})
    assert (few.patterns, few.patterns_lower_bound) == (1, 1)


@pytest.mark.parametrize("seed", range(12))
def test_any_job_may_ask_and_its_bound_holds(seed: int) -> None:
    data = odd(seed + 7000) if seed % 2 else plant_like(seed, time_limit_s=1)
    for stock in data["stock"]:
        stock.pop("count", None)
    job = decode(NestJob, {**data, "few_patterns": True}, name="$")
    result = nest(job, Search(left_s=Ticks(200)))
    assert check(job, result).faults == ()
    assert result.patterns is not None and result.patterns >= patterns_bound(build_model(job))
    assert decode(NestResult, encode(result, unit="mm"), name="$", unit="mm").patterns == result.patterns


def test_limited_stock_is_kept_to() -> None:
    data = without_waste(3, patterns=4, times=6)
    _, free = asked(data)
    short = {"id": "T", "length": 6000.5, "cost": 5990, "count": 4}
    _, few = asked({**data, "stock": [*data["stock"], short]})
    assert few.cost is not None and free.cost is not None and few.cost < free.cost
    assert sum(bar.repeat for bar in few.bars if bar.stock == "T") <= 4


def test_a_wrong_count_of_patterns_is_caught() -> None:
    job, few = asked(without_waste(1, patterns=5, times=6))
    assert few.patterns is not None
    assert any("stated" in str(fault) for fault in check(job, replace(few, patterns=few.patterns - 1)).faults)
    high = replace(few, patterns_lower_bound=few.patterns + 1)
    assert any("is above" in str(fault) for fault in check(job, high).faults)
