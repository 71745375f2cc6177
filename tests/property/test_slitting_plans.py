"""Slitting of random small jobs: never below the linear optimum found by other means, set-ups by trying every choice."""

from __future__ import annotations

from itertools import combinations, product
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from solver.codec import decode
from solver.domain.slit_plan import SlitJob
from solver.search import Search
from solver.slitting.check import check
from solver.slitting.slit import slit
from solver.units import MM

Strips = dict[int, int]
STRIPS = st.dictionaries(st.integers(15, 60), st.integers(1, 40), min_size=1, max_size=4)
COIL = 100


def all_patterns(strips: Strips, knives: int) -> list[tuple[int, ...]]:
    """Every way to lay strips across the coil, by plain counting."""
    ranges = [range(COIL // width + 1) for width in strips]
    fits = (counts for counts in product(*ranges) if any(counts) and sum(counts) <= knives)
    return [counts for counts in fits if sum(width * n for width, n in zip(strips, counts, strict=True)) <= COIL]


def least_steel(patterns: list[tuple[int, ...]], wanted: list[int]) -> float | None:
    """The linear optimum over given patterns, by another library."""
    found = linprog(
        [1.0] * len(patterns), A_ub=[[-p[n] for p in patterns] for n in range(len(wanted))], b_ub=[-w for w in wanted]
    )
    return float(found.fun) if found.status == 0 else None


def job_of(strips: Strips, **rules: Any) -> SlitJob:
    wanted = [{"id": f"s{width}", "width": width, "length": length} for width, length in strips.items()]
    return decode(SlitJob, {"unit": "mm", "coil_width": COIL, "strips": wanted, **rules}, name="job")


@settings(deadline=None, max_examples=20)
@given(STRIPS, st.integers(2, 5))
def test_steel_is_the_linear_optimum_and_setups_are_fewest(strips: Strips, knives: int) -> None:
    job = job_of({width: 1000 * n for width, n in strips.items()}, max_strips=knives)
    result = slit(job, Search())
    assert check(job, result).sound, check(job, result).faults
    wanted, patterns = [1000 * n for n in strips.values()], all_patterns(strips, knives)
    best = least_steel(patterns, wanted)
    assert best is not None
    assert result.status == "optimal"
    assert abs(result.lower_bound_nm / MM - best) <= 1e-7 * best
    assert result.setups == result.setups_lower_bound
    if len(patterns) <= 20 and result.setups > 1:
        fewer = combinations(patterns, result.setups - 1)
        steels = (least_steel(list(choice), wanted) for choice in fewer)
        assert not any(steel is not None and steel <= best * (1 + 9e-7) for steel in steels)


@settings(deadline=None, max_examples=25)
@given(STRIPS, st.integers(2, 5))
def test_whole_runs_are_never_below_the_linear_optimum_and_proved(strips: Strips, knives: int) -> None:
    job = job_of(strips, max_strips=knives, whole_runs=True)
    result = slit(job, Search())
    assert check(job, result).sound, check(job, result).faults
    best = least_steel(all_patterns(strips, knives), list(strips.values()))
    assert best is not None
    assert result.status == "optimal"
    assert result.steel_nm is not None
    assert best - 1e-6 <= result.steel_nm / MM <= best + len(strips)
