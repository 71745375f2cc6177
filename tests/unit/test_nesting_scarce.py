"""Limited stock: used within its count, and refused with names where it can not do."""

from __future__ import annotations

from typing import Any

import pytest

from solver.codec import decode
from solver.domain.cut_plan import NestJob, NestResult
from solver.errors import NoPlan
from solver.nesting.check import check
from solver.nesting.nest import nest
from solver.search import Search


def solve(pieces: list[tuple[float, int]], stock: list[dict[str, Any]], **more: Any) -> NestResult:
    data = {
        "unit": "mm",
        "stock": [{"id": f"S{n}", **item} for n, item in enumerate(stock)],
        "pieces": [{"id": f"P{n}", "length": length, "count": count} for n, (length, count) in enumerate(pieces)],
    }
    job = decode(NestJob, data | more, name="$")
    result = nest(job, Search())
    assert check(job, result).faults == ()
    return result


def test_more_length_than_all_limited_stock_is_refused_and_the_pieces_are_named() -> None:
    with pytest.raises(NoPlan, match="'P0', 'P1'"):
        solve([(3000, 2), (1000, 1)], [{"length": 3000, "count": 2}])


def test_pieces_too_many_for_the_places_of_long_stock_are_refused_though_lengths_would_do() -> None:
    with pytest.raises(NoPlan, match="'P0': they are 3, and it has places for 2"):
        solve([(3500, 3)], [{"length": 6000, "count": 2}, {"length": 3000}])


def test_what_sums_allow_and_no_packing_does_is_refused_by_proof() -> None:
    """6000, 5800, 5600 and 5500 in two bars of 11450: sums and places are just enough, but nothing goes beside the 6000."""
    with pytest.raises(NoPlan, match="proved over all ways"):
        solve([(6000, 1), (5800, 1), (5600, 1), (5500, 1)], [{"length": 11450, "count": 2}])


def test_a_tight_packing_of_limited_stock_is_found() -> None:
    result = solve([(5000, 2), (4000, 2), (3000, 2)], [{"length": 12000, "count": 2}])
    assert result.status == "optimal"
    assert result.cost == 24000


def test_cheap_limited_stock_is_used_up_before_dear_stock() -> None:
    result = solve([(2900, 5)], [{"length": 3000, "cost": 100, "count": 3}, {"length": 6000, "cost": 1000}])
    assert (result.status, result.cost) == ("optimal", 1300)


def test_no_stock_at_all_is_impossible_and_a_count_of_zero_is_none() -> None:
    with pytest.raises(NoPlan):
        solve([(2900, 1)], [])
    with pytest.raises(NoPlan):
        solve([(2900, 1)], [{"length": 3000, "count": 0}])


def test_with_no_time_at_all_the_answer_is_a_plan_with_an_honest_bound() -> None:
    data = {
        "unit": "mm",
        "stock": [{"id": "S", "length": 1000}],
        "pieces": [{"id": f"P{n}", "length": 300 + 7 * n, "count": 3} for n in range(30)],
    }
    job = decode(NestJob, data, name="$")
    result = nest(job, Search(left_s=lambda: 0.0))
    assert check(job, result).faults == ()
    assert result.status == "feasible"
    assert result.cost is not None
    assert 0 < result.lower_bound < result.cost
