"""Bounds of cut plans verified from their certificates: whatever the certificate says, no more is proved than is true."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction

import pytest

from solver.codec import decode, encode
from solver.domain.certificate import Certificate
from solver.domain.cut_plan import NestJob, NestResult
from solver.errors import NoPlan
from solver.nesting.check_again import verify_by_other_solver
from solver.nesting.check_bound import BoundInstance, next_attainable_cost, verify_bounds
from solver.nesting.model import build_model
from solver.nesting.nest import nest
from solver.search import Search
from tests.generators.nesting import odd, plant_like, several_lengths
from tests.nesting_brute import SMALL, best_cost


def _nested(data: dict[str, object], seconds: float = 1.0) -> tuple[NestJob, NestResult]:
    job = decode(NestJob, data, name="$")
    from service.usecases.make.stages import countdown

    return job, nest(job, Search(left_s=countdown(seconds)))


@pytest.mark.parametrize("seed", SMALL)
def test_no_certificate_proves_more_than_the_least_cost_found_by_trying_everything(seed: int) -> None:
    job = decode(NestJob, odd(seed), name="$")
    best = best_cost(build_model(job))
    if best is None:
        return
    dice = random.Random(seed)
    leans = sorted({0, *(lean for piece in job.pieces if piece.edge_a and piece.edge_b for lean in _leans(piece))})
    dear = max(float(stock.cost or 0) for stock in job.stock) or 1000.0
    for _ in range(10):
        scale = dice.choice((1, 1000, 1 << 40))
        proof = Certificate(
            kind="worths",
            scale=scale,
            step=dice.choice((1, 10**6)),
            worths={piece.id: int(dice.random() * dice.choice((0.2, 1, 4)) * dear * scale) for piece in job.pieces},
            rents={stock.id: int(dice.random() * dear * scale / 2) for stock in job.stock},
            starts=tuple((lean, int(dice.uniform(-2, 4) * job.kerf_nm)) for lean in leans) if dice.random() < 0.7 else (),
            ends=tuple((lean, int(dice.uniform(-2, 4) * job.kerf_nm)) for lean in leans) if dice.random() < 0.7 else (),
        )
        shop = BoundInstance(job, proof)
        assert next_attainable_cost(job, shop.length_bound()) <= best
        assert next_attainable_cost(job, shop.dual_bound()) <= best


def _leans(piece: object) -> list[int]:
    (a0, a1), (b0, b1) = piece.edge_a, piece.edge_b  # type: ignore[attr-defined]
    return [a0 - b0, a1 - b1, b0 - a0, b1 - a1]


@pytest.mark.parametrize("seed", SMALL)
def test_what_a_plan_claims_is_confirmed_or_said_to_rest_on_a_search(seed: int) -> None:
    try:
        job, result = _nested(odd(seed))
    except NoPlan:
        return
    assert result.certificate is not None
    (report,) = verify_bounds(job, result)
    assert report.state == "confirmed" or (report.state == "unconfirmed" and report.kind == "search")
    (again,) = verify_by_other_solver(job, result, (report,), Search(left_s=lambda: 10.0))
    assert again.state in ("confirmed", "again") or (again.state == "unconfirmed" and report.kind == "search")


@pytest.mark.parametrize("seed", range(6))
def test_bounds_of_plant_like_jobs_carry_as_far_as_their_numbers_say(seed: int) -> None:
    for data in (plant_like(seed), several_lengths(seed)):
        job, result = _nested(data, 2.0)
        (report,) = verify_bounds(job, decode(NestResult, encode(result, unit=job.unit), name="$", unit=job.unit))
        assert report.state != "refuted"
        assert report.proved is not None and report.proved <= (result.cost or 0) * (1 + 1e-9)


@pytest.mark.parametrize("seed", list(SMALL))
def test_a_forged_bound_is_not_confirmed_and_the_other_solver_finds_a_better_plan(
    seed: int,
) -> None:
    job = decode(NestJob, odd(seed), name="$")
    best = best_cost(build_model(job))
    if best is None or best <= 0:
        return
    _, result = _nested(odd(seed))
    forged = replace(result, cost=float(best * 2), lower_bound=float(best * Fraction(3, 2)), status="feasible")
    (report,) = verify_bounds(job, forged)
    assert report.state == ("unconfirmed" if forged.certificate and forged.certificate.kind == "search" else "refuted")
    (without,) = verify_bounds(job, replace(forged, certificate=None))
    assert without.state == "unconfirmed"
    (again,) = verify_by_other_solver(job, replace(forged, certificate=None), (without,), Search(left_s=lambda: 10.0))
    assert again.state == ("refuted" if BoundInstance(job, Certificate(kind="lengths")).square else "unconfirmed")


def test_a_rent_too_low_for_cheap_limited_stock_proves_nothing_false() -> None:
    """One bar at 10, others at 100, two pieces as long as a bar: 110 by hand. A piece worth 100 asks a rent of 90."""
    stock = [{"id": "few", "length": 100, "cost": 10, "count": 1}, {"id": "many", "length": 100, "cost": 100}]
    job = decode(NestJob, {"unit": "mm", "stock": stock, "pieces": [{"id": "A", "length": 100, "count": 2}]}, name="$")
    for rent, proved in ((90, 110), (45, Fraction(10, 55) * 155)):
        assert BoundInstance(job, Certificate(kind="worths", worths={"A": 100}, rents={"few": rent})).dual_bound() == proved
