"""Cut orders of random small jobs against trying every order."""

from __future__ import annotations

from itertools import permutations

from hypothesis import given, settings
from hypothesis import strategies as st

from solver.domain.sequence import BarBundles, SequenceJob
from solver.search import Search
from solver.sequencing.check import check, most_open_bundles
from solver.sequencing.sequence import sequence

BARS = st.lists(st.sets(st.sampled_from("ABCDEFG"), max_size=4), max_size=6)


@settings(deadline=None, max_examples=150)
@given(BARS)
def test_no_order_of_a_small_job_opens_fewer_bundles(bars: list[set[str]]) -> None:
    job = SequenceJob(bars=tuple(BarBundles(id=f"b{n}", bundles=tuple(sorted(bar))) for n, bar in enumerate(bars)))
    result = sequence(job, Search())
    best = min(most_open_bundles([frozenset(bar) for bar in order]) for order in permutations(bars))
    assert check(job, result).sound
    assert (result.open, result.lower_bound, result.status) == (best, best, "optimal")


@settings(deadline=None, max_examples=60)
@given(st.lists(st.sets(st.integers(0, 30).map(str), max_size=5), max_size=40))
def test_a_larger_job_is_sound_with_and_without_time(bars: list[set[str]]) -> None:
    job = SequenceJob(bars=tuple(BarBundles(id=f"b{n}", bundles=tuple(sorted(bar))) for n, bar in enumerate(bars)))
    hurried, calm = sequence(job, Search(left_s=lambda: 0.0)), sequence(job, Search())
    assert check(job, hurried).sound
    assert check(job, calm).sound
    assert hurried.open is not None
    assert hurried.lower_bound <= calm.lower_bound == calm.open
    assert calm.open is not None
    assert calm.open <= hurried.open
