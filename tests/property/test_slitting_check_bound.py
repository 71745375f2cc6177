"""Bounds of slitting plans verified: prices prove no more than the linear optimum of another library, forgeries are noticed."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from solver.codec import decode, encode
from solver.domain.certificate import Certificate
from solver.domain.slit_plan import SlitResult
from solver.search import Search
from solver.slitting.check_again import verify_by_other_solver
from solver.slitting.check_bound import verify_bounds
from solver.slitting.slit import slit
from solver.units import MM, Nm
from tests.property.test_slitting_plans import Strips, all_patterns, job_of, least_steel

SEEDS = range(10)


def _strips(seed: int, per: int = 1000) -> tuple[Strips, int]:
    dice = random.Random(seed)
    return {dice.randrange(15, 61): per * dice.randrange(1, 41) for _ in range(dice.randrange(1, 5))}, dice.randrange(2, 6)


@pytest.mark.parametrize("seed", SEEDS)
def test_whatever_the_prices_they_prove_no_more_than_the_linear_optimum(seed: int) -> None:
    strips, knives = _strips(seed)
    job, dice = job_of(strips, max_strips=knives), random.Random(seed)
    best = least_steel(all_patterns(strips, knives), list(strips.values()))
    assert best is not None
    result = slit(job, Search())
    for _ in range(20):
        prices = {strip.id: dice.randrange(-10, 10**6) for strip in job.strips}
        forged = replace(result, certificate=Certificate(kind="worths", scale=dice.randrange(1, 10**6), worths=prices))
        steel, _ = verify_bounds(job, forged)
        assert steel.proved is not None and steel.proved <= best * (1 + 1e-9)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_least_steel_of_a_plan_is_confirmed_exactly_and_a_raised_one_refuted(seed: int) -> None:
    strips, knives = _strips(seed)
    job = job_of(strips, max_strips=knives)
    result = decode(SlitResult, encode(slit(job, Search()), unit="mm"), name="$", unit="mm")
    steel, setups = verify_bounds(job, result)
    assert steel.state == "confirmed" and setups.state in ("confirmed", "unconfirmed")
    assert result.steel_nm is not None
    more = Nm(result.lower_bound_nm + result.lower_bound_nm // 1000)
    assert verify_bounds(job, replace(result, lower_bound_nm=more))[0].state == "refuted"
    without = replace(result, lower_bound_nm=Nm(2 * more), certificate=None)
    told = verify_bounds(job, without)
    assert told[0].state == "unconfirmed"
    assert verify_by_other_solver(job, without, told[:1], Search())[0].state == "refuted"


@pytest.mark.parametrize("seed", SEEDS)
def test_set_ups_that_a_search_proved_are_proved_again_and_one_more_is_refuted(seed: int) -> None:
    strips, knives = _strips(seed)
    job = job_of(strips, max_strips=knives)
    result = slit(job, Search())
    claimed = replace(result, setups_lower_bound=result.setups)
    again = verify_by_other_solver(job, claimed, verify_bounds(job, claimed), Search(left_s=lambda: 20.0))
    assert again[1].state in ("confirmed", "again")
    more = replace(result, setups_lower_bound=result.setups + 1)
    refuted = verify_by_other_solver(job, more, verify_bounds(job, more), Search(left_s=lambda: 20.0))[1]
    assert refuted.state == "refuted", refuted


@pytest.mark.parametrize("seed", SEEDS)
def test_whole_runs_are_confirmed_or_proved_again(seed: int) -> None:
    strips, knives = _strips(seed, per=1)
    job = job_of(strips, max_strips=knives, whole_runs=True)
    result = slit(job, Search())
    again = verify_by_other_solver(job, result, verify_bounds(job, result), Search(left_s=lambda: 20.0))
    assert again[0].state in ("confirmed", "again")
    raised = replace(result, lower_bound_nm=Nm(result.lower_bound_nm + MM), certificate=None)
    told = verify_by_other_solver(job, raised, verify_bounds(job, raised), Search(left_s=lambda: 20.0))[0]
    assert told.state == "refuted", told
