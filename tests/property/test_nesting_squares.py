"""Sloped pieces taken as square: the bound is never above the best of all plans, the plan to begin with really fits."""

from __future__ import annotations

import random
from fractions import Fraction
from typing import Any

import pytest

from solver.codec import decode
from solver.domain.cut_plan import NestJob
from solver.nesting import square_relaxation
from solver.nesting.bars import pieces_fit, total_cost
from solver.nesting.check import check
from solver.nesting.model import build_model
from solver.nesting.nest import _solved, nest
from solver.search import Search
from tests.nesting_brute import best_cost


def hip_like(seed: int) -> dict[str, Any]:
    """Four to six pieces that may not turn, square at one end and steep at the other, as panels of a hip are; some at both."""
    dice = random.Random(seed)
    pieces = []
    for n in range(dice.randint(3, 5)):
        low, rise = dice.randrange(200, 1500), dice.choice((0, 300, 900, 1254))
        start = dice.choice((0, 0, 0, 300))
        edges = [[start, low + start], [0, low + rise]]
        dice.shuffle(edges)
        pieces.append({"id": f"P{n}", "edge_a": edges[0], "edge_b": edges[1], "count": dice.choice((1, 1, 2))})
    return {
        "unit": "mm",
        "kerf": 3.2,
        "end_trim": dice.choice((0, 12)),
        "clamp": dice.choice((0, 400)),
        "width": 1067,
        "keep_from": 900,
        "keep_value": dice.choice((0, 0.5)),
        "stock": [{"id": "S", "length": 3000, "cost": 310}, {"id": "L", "length": 4200, "cost": 400}],
        "pieces": pieces,
    }


SEEDS = range(40)


def test_most_of_these_jobs_are_better_looked_at_as_square() -> None:
    assert (
        sum(square_relaxation.is_worth_squaring(build_model(decode(NestJob, hip_like(seed), name="$"))) for seed in SEEDS)
        > len(SEEDS) / 2
    )


@pytest.mark.parametrize("seed", SEEDS)
def test_the_bound_of_squares_is_not_above_the_best_and_their_plan_fits(seed: int) -> None:
    job = decode(NestJob, hip_like(seed), name="$")
    model = build_model(job)
    best = best_cost(model)
    assert best is not None
    cuts, basis = square_relaxation.start_from_squares(model, None, Search(left_s=lambda: 5.0), _solved)
    assert basis is None or basis.bound <= best
    if cuts is not None:
        assert all(pieces_fit(model, model.stocks[cut.stock], cut.slots) for cut in cuts)
        made = sum(cut.repeat * len(cut.slots) for cut in cuts)
        assert made == model.pieces
        assert total_cost(model, cuts) >= best
    result = nest(job, Search(left_s=lambda: 5.0))
    assert check(job, result).faults == ()
    assert Fraction(repr(result.lower_bound)) <= best * (1 + Fraction(1, 10**9))
