"""Small random jobs against trying everything: plans are sound, bounds never above the best, `optimal` is the best."""

from __future__ import annotations

import itertools
from fractions import Fraction
from functools import cache

import pytest

from solver.codec import decode, encode
from solver.domain.cut_plan import NestJob, NestResult
from solver.errors import NoPlan
from solver.nesting.angled import Angled
from solver.nesting.bars import cost_of, fits
from solver.nesting.check import check
from solver.nesting.greedy import first_fit
from solver.nesting.model import Model, build
from solver.nesting.nest import nest
from solver.search import Search
from tests.generators.nesting import odd


def best_cost(model: Model) -> Fraction | None:
    """The least cost by trying every order and turn on every bar, and every way to share pieces among bars."""

    @cache
    def bar(pieces: tuple[int, ...]) -> tuple[tuple[int, Fraction], ...]:
        """The least cost of these pieces on one bar of each stock that holds them, in any order and turns."""
        found: dict[int, Fraction] = {}
        for order in set(itertools.permutations(pieces)):
            for shapes in itertools.product(*(range(len(model.kinds[kind].shapes)) for kind in order)):
                slots = tuple(zip(order, shapes, strict=True))
                for n, stock in enumerate(model.stocks):
                    if fits(model, stock, slots):
                        cost = cost_of(model, stock, slots)
                        found[n] = min(found.get(n, cost), cost)
        return tuple(found.items())

    @cache
    def rest(pieces: tuple[int, ...], left: tuple[int, ...]) -> Fraction | None:
        if not pieces:
            return Fraction(0)
        best: Fraction | None = None
        for size in range(len(pieces)):
            for others in set(itertools.combinations(pieces[1:], size)):
                remaining = list(pieces)
                for piece in (pieces[0], *others):
                    remaining.remove(piece)
                for stock, cost in bar((pieces[0], *others)):
                    if left[stock] == 0:
                        continue
                    after = tuple(have - (n == stock) for n, have in enumerate(left))
                    more = rest(tuple(remaining), after)
                    if more is not None and (best is None or cost + more < best):
                        best = cost + more
        return best

    pieces = tuple(kind for kind, item in enumerate(model.kinds) for _ in range(item.count))
    return rest(pieces, tuple(9 if stock.count is None else min(9, stock.count) for stock in model.stocks))


SMALL = [
    seed for seed in range(400) if sum(piece["count"] for piece in odd(seed)["pieces"]) <= 6 and len(odd(seed)["pieces"]) <= 4
][:24]


@pytest.mark.parametrize("seed", SMALL)
def test_a_small_job_is_solved_as_well_as_by_trying_everything(seed: int) -> None:
    job = decode(NestJob, odd(seed), name="$")
    best = best_cost(build(job))
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
    best = best_cost(build(job))
    assert best is not None
    model = build(job)
    angled = Angled(model, first_fit(model), Search())
    angled.open()
    angled.generate(0.0)
    angled.cost = best + 1000  # as if the plan were poor, so that weighing has something to do
    angled._weigh()
    assert angled.bound <= best
    result = nest(job, Search())
    assert check(job, result).faults == ()
    assert result.cost == pytest.approx(float(best), rel=1e-9)
