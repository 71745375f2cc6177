"""Cut order: small cases that can be followed by hand, limits and faults."""

from __future__ import annotations

import pytest

from solver.codec import decode, encode
from solver.domain.sequence import BarBundles, SequenceJob, SequenceResult
from solver.errors import InputError, NoPlan
from solver.search import Search
from solver.sequencing.check import check
from solver.sequencing.sequence import sequence, validate


def job_of(*bars: str, open_max: int | None = None) -> SequenceJob:
    """A job of bars written as letters, a letter a bundle."""
    return SequenceJob(bars=tuple(BarBundles(id=f"b{n}", bundles=tuple(bar)) for n, bar in enumerate(bars)), open_max=open_max)


def solved(job: SequenceJob) -> SequenceResult:
    result = sequence(job, Search())
    assert check(job, result).sound, check(job, result).faults
    return result


def test_an_empty_job_has_an_empty_optimal_order() -> None:
    result = solved(SequenceJob(bars=()))
    assert (result.status, result.order, result.open, result.lower_bound) == ("optimal", (), 0, 0)


def test_bars_without_bundles_open_nothing() -> None:
    result = solved(job_of("", ""))
    assert (result.status, sorted(result.order), result.open) == ("optimal", ["b0", "b1"], 0)


def test_a_chain_of_bundles_given_shuffled_needs_two_open() -> None:
    assert solved(job_of("CD", "AB", "DE", "BC")).open == 2


def test_a_ring_of_bundles_needs_three_open() -> None:
    result = solved(job_of("AB", "BC", "CD", "DE", "EA"))
    assert (result.open, result.status) == (3, "optimal")


def test_separate_groups_are_cut_one_after_the_other() -> None:
    assert solved(job_of("AB", "PQ", "BC", "QR")).open == 2


def test_the_same_job_gives_the_same_order_twice() -> None:
    job = job_of("AB", "BC", "CD", "DA", "AC", "EF")
    assert solved(job) == solved(job)


def test_a_limit_below_the_widest_bar_is_impossible_and_names_the_bar() -> None:
    with pytest.raises(NoPlan, match="'b1' alone has pieces of 3 bundles"):
        sequence(job_of("AB", "ABC", open_max=2), Search())


def test_a_limit_below_what_was_proved_by_search_is_impossible() -> None:
    with pytest.raises(NoPlan, match="opens 3 bundles"):
        sequence(job_of("AB", "BC", "CD", "DE", "EA", open_max=2), Search())


def test_a_limit_that_can_be_kept_is_kept() -> None:
    assert solved(job_of("AB", "BC", "CD", "DE", "EA", open_max=3)).open == 3


def grid(side: int, open_max: int | None = None) -> SequenceJob:
    """A job whose bundles lie on a square grid and share a bar with each neighbour."""
    bars = [(f"{x}/{y}", f"{x + 1}/{y}") for x in range(side - 1) for y in range(side)]
    bars += [(f"{x}/{y}", f"{x}/{y + 1}") for x in range(side) for y in range(side - 1)]
    return SequenceJob(bars=tuple(BarBundles(id=f"b{n}", bundles=bar) for n, bar in enumerate(bars)), open_max=open_max)


def test_without_time_an_order_and_an_honest_bound_are_given() -> None:
    result = sequence(grid(9), Search(left_s=lambda: 0.0))
    assert check(grid(9), result).sound
    assert result.status == "feasible"
    assert result.open is not None
    assert result.lower_bound <= 10 <= result.open  # a 9 x 9 grid has pathwidth 9


def test_without_time_a_limit_that_was_not_met_gives_unknown_and_a_bound() -> None:
    job = grid(9, open_max=9)
    result = sequence(job, Search(left_s=lambda: 0.0))
    assert (result.status, result.order, result.open) == ("unknown", (), None)
    assert check(job, result).sound


def test_a_grid_needs_one_more_open_bundle_than_its_side() -> None:
    """Pathwidth of the n x n grid is n: Ellis and Warren 2008 (source from memory)."""
    assert [solved(grid(side)).open for side in (2, 3, 4, 5)] == [3, 4, 5, 6]


def test_every_fault_of_a_job_is_reported_at_once() -> None:
    job = SequenceJob(
        bars=(
            BarBundles(id="b", bundles=("A", "A")),
            BarBundles(id="b", bundles=("B",)),
            BarBundles(id="c", bundles=("A", "B", "A")),
        )
    )
    assert [fault.path for fault in validate(job)] == ["bars[0].bundles[1]", "bars[1].id", "bars[2].bundles[2]"]
    with pytest.raises(InputError):
        sequence(job, Search())


def test_the_contract_s_own_job_reads_and_its_result_writes() -> None:
    data = {"open_max": None, "bars": [{"id": "b0", "bundles": ["B1", "B4"]}], "time_limit_s": 10}
    result = sequence(decode(SequenceJob, data, name="job"), Search())
    written = encode(result)
    assert written.pop("certificate") == {"kind": "open", "steps": [["B1", "B1"], ["B1", "B4"]]}
    assert written == {"status": "optimal", "order": ["b0"], "open": 2, "lower_bound": 2, "seconds": 0.0}
