"""Small random jobs against trying everything: plans are sound, bounds never above the best, `optimal` is the best."""

from __future__ import annotations

import itertools
from functools import cache

import pytest

from solver.codec import decode, encode
from solver.domain.cut_plan import TURNS, NestJob, NestResult
from solver.errors import NoPlan
from solver.nesting.angled import AngledSearch
from solver.nesting.check import check
from solver.nesting.greedy import first_fit_decreasing
from solver.nesting.knapsack import KnapsackTables
from solver.nesting.model import build_model
from solver.nesting.nest import nest
from solver.nesting.scaled_job import scale_job
from solver.search import Search
from tests.generators.nesting import odd, plant_like
from tests.nesting_brute import SMALL, best_cost, looks


@pytest.mark.parametrize("seed", SMALL)
def test_a_small_job_is_solved_as_well_as_by_trying_everything(seed: int) -> None:
    job = decode(NestJob, odd(seed), name="$")
    best = best_cost(build_model(job))
    try:
        result = nest(job, Search())
    except NoPlan:
        assert best is None
        return
    assert best is not None
    assert check(job, result).faults == ()
    assert result.cost is not None
    assert result.lower_bound <= float(best) * (1 + 1e-9)
    assert result.cost >= float(best) * (1 - 1e-9)
    assert result.status == "optimal"


@pytest.mark.parametrize("seed", range(1000, 1030))
def test_any_job_cut_short_gives_a_sound_plan_and_a_bound_below_it(seed: int) -> None:
    job = decode(NestJob, odd(seed), name="$")
    turns = iter([1.0] * 40 + [0.0] * 1_000_000)
    try:
        result = nest(job, Search(left_s=lambda: next(turns)))
    except NoPlan:
        return
    assert check(job, result).faults == ()
    written = encode(result, unit=job.unit)
    assert decode(NestResult, written, name="$", unit=job.unit).bars == result.bars


@pytest.mark.parametrize("seed", (3, 7, 11))
def test_the_same_seed_gives_the_same_plan(seed: int) -> None:
    job = decode(NestJob, odd(seed), name="$")
    assert nest(job, Search(seed=5)) == nest(job, Search(seed=5))


@pytest.mark.parametrize("seed", range(16))
def test_two_stock_lengths_are_weighed_without_ruling_out_the_best(seed: int) -> None:
    """Few pieces of two lengths of stock with sloped ends: the bound, risen by other prices, stays at or below the best."""
    data = odd(seed + 5000)
    data["pieces"] = [{**piece, "count": min(piece["count"], 2)} for piece in data["pieces"][:3]]
    data["stock"] = [{"id": "S0", "length": 5200, "cost": 52}, {"id": "S1", "length": 8300, "cost": 83}]
    for name in ("keep_from", "keep_value"):
        data.pop(name, None)
    job = decode(NestJob, data, name="$")
    best = best_cost(build_model(job))
    assert best is not None
    model = build_model(job)
    angled = AngledSearch(model, first_fit_decreasing(model), Search())
    angled.start_master()
    angled.generate_columns(0.0)
    angled.cost = best + 1000  # as if the plan were poor, so that weighing has something to do
    angled._weigh()
    assert angled.bound <= best
    result = nest(job, Search())
    assert check(job, result).faults == ()
    assert result.cost == pytest.approx(float(best), rel=1e-9)


@pytest.mark.parametrize("count", (0, 1, 2, 3, 5, 8, 13, 21, 34, 55, 89, 144, 233))
@pytest.mark.parametrize("seed", (1, 4, 6))
def test_a_search_that_ends_anywhere_holds_and_never_states_a_bound_above_the_best(seed: int, count: int) -> None:
    job = decode(NestJob, plant_like(seed), name="$")
    result = nest(job, looks(count))
    assert check(job, result).faults == ()
    assert result.cost is not None
    best = best_known(seed)
    assert result.lower_bound <= best <= result.cost + 1e-6


@cache
def best_known(seed: int) -> float:
    job = decode(NestJob, plant_like(seed), name="$")
    result = nest(job, Search())
    assert result.status == "optimal" and result.cost is not None
    return result.cost


def test_many_steep_ends_on_one_bar_end_with_the_clock() -> None:
    """Twenty different slopes on a bar: the least room of their joins alone takes longer than the clock allows."""
    steep = [{"id": f"P{n}", "edge_a": [0, 250 + 9 * n], "edge_b": [n, 220 + n], "turns": list(TURNS)} for n in range(20)]
    data = {"unit": "mm", "kerf": 3.2, "width": 1200, "stock": [{"id": "S", "length": 7300}], "pieces": steep}
    job = decode(NestJob, data | {"keep_from": 300, "keep_value": 0.5}, name="$")
    polls = itertools.count()
    result = nest(job, Search(left_s=lambda: 15 - next(polls)))
    assert result.status == "feasible"
    assert next(polls) < 50
    assert check(job, result).faults == ()


def test_tables_of_a_job_of_many_kinds_stay_within_their_memory() -> None:
    pieces = [{"id": f"P{n}", "length": 300.1 + 1.3 * n, "count": 500} for n in range(2000)]
    data = {"unit": "mm", "kerf": 3.2, "stock": [{"id": "S", "length": 7300}], "pieces": pieces}
    core = scale_job(build_model(decode(NestJob, data, name="$")))
    tables = KnapsackTables(core)
    assert tables.any_bar.nbytes < 300_000_000
    assert all(low * core.step <= size * core.step for low, size in zip(core.low_sizes, core.sizes, strict=True))
    assert not core.exact
