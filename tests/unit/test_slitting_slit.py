"""Slitting: small jobs that can be followed by hand, limits, impossible jobs and faults."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from solver.codec import decode, encode
from solver.domain.slit_plan import SlitJob, SlitResult
from solver.errors import InputError, NoPlan
from solver.search import Search
from solver.slitting.check import check
from solver.slitting.slit import slit, validate
from solver.units import MM


def job_of(strips: dict[int, float], **rules: Any) -> SlitJob:
    """A job from {width in mm: length in mm}; a strip's id is its width."""
    wanted = [{"id": f"s{width}", "width": width, "length": length} for width, length in strips.items()]
    return decode(SlitJob, {"coil_width": 1250, "strips": wanted, "unit": "mm", **rules}, name="job")


def solved(job: SlitJob) -> SlitResult:
    result = slit(job, Search())
    assert check(job, result).sound, check(job, result).faults
    return result


def test_an_empty_job_is_optimal_and_empty() -> None:
    result = solved(job_of({}))
    assert (result.status, result.patterns, result.steel_nm, result.lower_bound_nm, result.setups) == ("optimal", (), 0, 0, 0)


def test_one_width_fills_the_coil_between_its_trims() -> None:
    """1250 less 2 x 5 holds six strips of 203, so 480 m of strip takes 80 m of coil."""
    result = solved(job_of({203: 480_000}, edge_trim=5, max_strips=12))
    assert (result.status, result.steel_nm, result.lower_bound_nm, result.setups) == ("optimal", 80_000 * MM, 80_000 * MM, 1)


def test_knives_limit_the_strips_across() -> None:
    assert solved(job_of({203: 480_000}, edge_trim=5, max_strips=4)).steel_nm == 120_000 * MM


def test_two_widths_that_complement_each_other_share_one_pattern() -> None:
    result = solved(job_of({750: 1000, 250: 2000}))
    assert (result.steel_nm, result.setups, result.setups_lower_bound, result.status) == (1000 * MM, 1, 1, "optimal")


def test_edge_trim_is_lost_on_both_sides() -> None:
    """1250 less 2 x 1 does not hold five strips of 250."""
    assert solved(job_of({250: 5000})).steel_nm == 1000 * MM
    assert solved(job_of({250: 5000}, edge_trim=1)).steel_nm == 1250 * MM


def test_setups_are_fewest_at_least_steel_not_before_it() -> None:
    """600 + 400 + 250 fill the coil, and 2 x 625; each must run by itself, so two set-ups are needed at least steel."""
    result = solved(job_of({600: 1000, 400: 1000, 250: 1000, 625: 2000}))
    assert (result.steel_nm, result.setups, result.setups_lower_bound) == (2000 * MM, 2, 2)


def test_whole_runs_are_whole_and_counts_come_back_as_counts() -> None:
    job = job_of({500: 5}, whole_runs=True)
    result = solved(job)
    assert encode(result, unit="mm")["patterns"] == [{"strips": {"s500": 2}, "length": 3}]
    assert encode(result, unit="mm")["overrun"] == {"s500": 1}
    assert (result.status, result.objective_nm) == ("optimal", 3 * MM)


def test_whole_runs_in_inches_are_counts_too() -> None:
    wanted = [{"id": "a", "width": 20, "length": 5}]
    job = decode(SlitJob, {"unit": "in", "coil_width": 48, "strips": wanted, "whole_runs": True}, name="job")
    assert encode(solved(job), unit="in")["steel"] == 3


def test_fewer_patterns_are_run_where_only_one_is_allowed() -> None:
    """700 and 500 fill 1200; alone 1 x 700 and 2 x 500: with one pattern both run for the longer of the two."""
    two = solved(job_of({700: 1000, 500: 3000}))
    one = solved(job_of({700: 1000, 500: 3000}, max_patterns=1))
    assert (two.steel_nm, two.setups) == (2000 * MM, 2)
    assert (one.steel_nm, one.setups, one.status) == (3000 * MM, 1, "optimal")


def test_a_strip_wider_than_the_coil_between_its_trims_is_impossible_and_named() -> None:
    with pytest.raises(NoPlan, match="'s1245'"):
        slit(job_of({1245: 10, 200: 10}, edge_trim=5), Search())


def test_a_width_that_no_pattern_can_use_is_impossible_and_named() -> None:
    with pytest.raises(NoPlan, match="'s700'"):
        slit(job_of({700: 10, 400: 10}, min_used=1200), Search())


def test_too_few_patterns_for_all_strips_are_impossible() -> None:
    with pytest.raises(NoPlan, match="max_patterns"):
        slit(job_of({700: 10, 800: 10}, whole_runs=True, max_patterns=1), Search())


def test_every_fault_is_reported_at_once() -> None:
    job = job_of({200: 1.5, 300: 2}, whole_runs=True, edge_trim=700, setup_costs=[])
    job = replace(job, strips=(*job.strips, job.strips[1]))
    paths = [fault.path for fault in validate(job)]
    assert paths == ["edge_trim", "strips[0].length", "strips[2].id", "setup_costs"]
    with pytest.raises(InputError):
        slit(job, Search())


def test_without_time_a_plan_and_an_honest_bound_are_given() -> None:
    job = job_of({203: 480_000, 310: 90_000, 127: 33_000, 411: 70_000}, max_strips=9)
    result = slit(job, Search(left_s=lambda: 0.0))
    assert check(job, result).sound
    assert result.steel_nm is not None
    assert result.steel_nm >= solved(job).lower_bound_nm
