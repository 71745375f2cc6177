"""The check of loads against good loads spoiled on purpose: each is caught, in words that say what is wrong."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import pytest

from solver.domain.ids import BundleId, LoadId
from solver.domain.load import Load, LoadBundle, LoadJob, LoadResult, LoadRules, PlacedBundle, Tiedowns
from solver.loading.check import check
from solver.loading.load import load
from solver.search import Search
from solver.units import INCH, Grams, Nm, grams_from_pounds
from tests.generators.loads import flatbed


@cache
def good() -> tuple[LoadJob, LoadResult]:
    """Two stops, two lanes, two tiers, with a heavy bundle: one truck."""
    bundles = tuple(
        LoadBundle(
            id=BundleId(f"B{number}"),
            length_nm=Nm(240 * INCH),
            width_nm=Nm(49 * INCH),
            height_nm=Nm(91 * INCH // 2),
            weight_g=Grams(int(grams_from_pounds(1_300 if number else 2_000))),
            rank=number,
            stop=number // 4,
            dunnage_nm=tuple(Nm(place * INCH) for place in (24, 72, 120, 168, 216)),
        )
        for number in range(8)
    )
    job = LoadJob(unit="in", decks=(flatbed(48, cost=100.0, count=1),), bundles=bundles)
    return job, load(job, Search())


def placed(result: LoadResult, number: int) -> PlacedBundle:
    return next(item for item in result.loads[0].placed if item.bundle == f"B{number}")


def with_load(result: LoadResult, **changes: object) -> LoadResult:
    return replace(result, loads=(replace(result.loads[0], **changes), *result.loads[1:]))  # type: ignore[arg-type]


def moved(result: LoadResult, number: int, **changes: object) -> LoadResult:
    spots = tuple(
        replace(item, **changes) if item.bundle == f"B{number}" else item  # type: ignore[arg-type]
        for item in result.loads[0].placed
    )
    return with_load(result, placed=spots)


def on_top(result: LoadResult) -> int:
    """A bundle of the upper tier."""
    return next(int(item.bundle[1:]) for item in result.loads[0].placed if item.z_nm > 0)


def below(result: LoadResult) -> int:
    """A bundle that another stands on."""
    top = placed(result, on_top(result))
    return next(
        int(item.bundle[1:]) for item in result.loads[0].placed if (item.x_nm, item.y_nm, item.z_nm) == (top.x_nm, top.y_nm, 0)
    )


def straps(result: LoadResult, **changes: object) -> LoadResult:
    tied = result.loads[0].tiedowns
    assert tied is not None
    return with_load(result, tiedowns=replace(tied, **changes))  # type: ignore[arg-type]


def swapped(result: LoadResult) -> LoadResult:
    """The upper and the lower bundle of a column change places, and so does the order of loading."""
    top, low = placed(result, on_top(result)), placed(result, below(result))
    names = {top.bundle: low.bundle, low.bundle: top.bundle}
    return with_load(
        result, placed=tuple(replace(item, bundle=names.get(item.bundle, item.bundle)) for item in result.loads[0].placed)
    )


def slid(result: LoadResult) -> LoadResult:
    """An upper bundle, timbers and all, 5 ft further back than the one that it stands on."""
    top = placed(result, on_top(result))
    lines = tuple(Nm(line + 60 * INCH) for line in top.supports_nm)
    return moved(result, on_top(result), x_nm=Nm(top.x_nm + 60 * INCH), supports_nm=lines)


def axle(result: LoadResult, **changes: object) -> LoadResult:
    rows = result.loads[0].axles
    return with_load(result, axles=(replace(rows[0], **changes), *rows[1:]))  # type: ignore[arg-type]


SPOILED: dict[str, tuple[Callable[[LoadResult], LoadResult], str]] = {
    "a bundle left behind": (lambda r: with_load(r, placed=r.loads[0].placed[1:]), "is on no truck"),
    "a bundle twice": (lambda r: with_load(r, placed=(*r.loads[0].placed, r.loads[0].placed[0])), "too"),
    "a bundle of nowhere": (lambda r: moved(r, 0, bundle=BundleId("X")), "no bundle of the job"),
    "a deck of nowhere": (lambda r: with_load(r, deck="raft"), "is no deck"),
    "an empty load": (lambda r: with_load(r, placed=(), id=LoadId("L9")), "carries nothing"),
    "more decks than there are": (lambda r: replace(r, loads=r.loads * 2), "is used 2 times"),
    "one load's id twice": (lambda r: replace(r, loads=r.loads * 2), "an id is given twice"),
    "past the front": (lambda r: moved(r, 0, x_nm=Nm(-INCH)), "past the deck's end"),
    "past the rear": (lambda r: moved(r, 0, x_nm=Nm(400 * INCH)), "past the deck's end"),
    "past the side": (lambda r: moved(r, 0, y_nm=Nm(60 * INCH)), "past the width"),
    "too high": (lambda r: moved(r, on_top(r), z_nm=Nm(60 * INCH)), "stands higher"),
    "in one another": (lambda r: moved(r, on_top(r), z_nm=Nm(20 * INCH)), "overlap"),
    "floating": (lambda r: moved(r, on_top(r), z_nm=Nm(50 * INCH)), "is not supported"),
    "half on nothing": (slid, "is not supported"),
    "the first wanted at the bottom": (swapped, "lies on"),
    "loaded in order of need": (lambda r: with_load(r, placed=r.loads[0].placed[::-1]), "reverse order of need"),
    "a timber missing": (lambda r: moved(r, 0, supports_nm=placed(r, 0).supports_nm[1:]), "lacks its own timber"),
    "timbers not in line": (lambda r: moved(r, below(r), supports_nm=(placed(r, below(r)).supports_nm[0],)), "in line"),
    "timbers in one another": (
        lambda r: moved(r, 0, supports_nm=tuple(sorted((*placed(r, 0).supports_nm, Nm(placed(r, 0).supports_nm[0] + INCH))))),
        "overlap",
    ),
    "weight misstated": (lambda r: with_load(r, weight_g=Grams(r.loads[0].weight_g + 1)), "weighs"),
    "an axle misstated": (lambda r: axle(r, weight_g=Grams(1)), "is not stated"),
    "an axle's limit misstated": (lambda r: axle(r, limit_g=Grams(99_000_000)), "is stated to carry"),
    "an axle of nowhere": (lambda r: axle(r, group="front"), "of no group"),
    "axles after a drop left out": (lambda r: with_load(r, axles=r.loads[0].axles[:3]), "is not stated"),
    "centre of mass misstated": (lambda r: with_load(r, centre_nm=Nm(0)), "centre of mass is not as stated"),
    "height misstated": (lambda r: with_load(r, height_nm=Nm(0)), "height is stated"),
    "no tie-downs": (lambda r: with_load(r, tiedowns=None), "has no tie-downs"),
    "a tie-down too few over a bundle": (lambda r: straps(r, positions_nm=(Nm(INCH),) * 9), "tie-downs lie over"),
    "too few for the weight": (lambda r: straps(r, positions_nm=(Nm(100 * INCH),)), "less than half the weight"),
    "tie-downs counted wrong": (lambda r: straps(r, by_load=9, required=9), "by working load"),
    "required counted wrong": (lambda r: straps(r, required=1), "required"),
    "cost misstated": (lambda r: replace(r, cost=1.0), "is 100.0, not 1.0"),
    "trucks misstated": (lambda r: replace(r, trucks=2), "is 1, not 2"),
    "a bound above the trucks": (lambda r: replace(r, trucks_lower_bound=2), "is above what was done"),
    "optimal without proof": (lambda r: replace(r, status="optimal", trucks_lower_bound=0), "the bound on trucks is lower"),
    "tiers misstated": (lambda r: with_load(r, tiers=1), "1 tiers are stated"),
    "height of the centre misstated": (lambda r: with_load(r, centre_up_nm=Nm(0)), "above the road, not as stated"),
    "named as late without being it": (lambda r: with_load(r, out_of_order=(BundleId("B3"),)), "named as wanted earlier"),
}  # fmt: skip


@pytest.mark.parametrize("name", SPOILED)
def test_a_spoiled_load_is_caught(name: str) -> None:
    job, result = good()
    spoil, words = SPOILED[name]
    faults = check(job, spoil(result)).faults
    assert any(words in fault.problem for fault in faults), faults


def test_the_good_load_is_sound() -> None:
    job, result = good()
    assert check(job, result).faults == ()
    assert (result.trucks, result.status) == (1, "optimal")
    assert isinstance(result.loads[0].tiedowns, Tiedowns)


HEAVY = Grams(int(grams_from_pounds(30_000)))
JOBS: dict[str, tuple[Callable[[LoadJob], LoadJob], str]] = {
    "payload": (lambda j: replace(j, decks=(replace(j.decks[0], payload_g=Grams(1_000_000)),)), "over the payload"),
    "height limit": (lambda j: replace(j, rules=replace(j.rules, height_limit_nm=Nm(120 * INCH))), "stands higher"),
    "width limit": (lambda j: replace(j, rules=replace(j.rules, width_limit_nm=Nm(90 * INCH))), "past the width"),
    "foam under the upper tier": (
        lambda j: replace(j, bundles=tuple(replace(b, may_carry_g=Grams(1_000)) for b in j.bundles)),
        "carries",
    ),
    "axles": (lambda j: replace(j, bundles=(*j.bundles[:-1], replace(j.bundles[-1], weight_g=HEAVY))), "carries"),
    "whole vehicle": (lambda j: replace(j, rules=replace(j.rules, gross_limit_g=Grams(14_000_000))), "the vehicle weighs"),
    "balance": (
        lambda j: replace(j, bundles=tuple(replace(b, centre_across_nm=Nm(0)) for b in j.bundles)),
        "off the middle",
    ),
    "side of the site": (lambda j: replace(j, rules=replace(j.rules, unload_from=("right",))), "can't come off"),
    "working load": (lambda j: replace(j, rules=replace(j.rules, tiedown_wll_g=Grams(400_000))), "less than half the weight"),
    "order of need": (
        lambda j: replace(j, bundles=tuple(replace(b, rank=8 - b.rank, stop=0) for b in j.bundles)),
        "reverse order of need",
    ),
    "trips": (
        lambda j: replace(j, bundles=tuple(replace(b, trip="D1" if b.rank else "D2") for b in j.bundles)),
        "carries bundles of two trips",
    ),
    "no timber under what is heavier": (
        lambda j: replace(j, rules=replace(j.rules, core_stress_pa=3_000)),
        "carries",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", JOBS)
def test_a_load_made_for_another_job_is_caught(name: str) -> None:
    job, result = good()
    change, words = JOBS[name]
    faults = check(change(job), result).faults
    assert any(words in fault.problem for fault in faults), faults


def test_overweight_passes_only_under_a_permit() -> None:
    job, result = good()
    low = replace(job, rules=replace(LoadRules(), gross_limit_g=Grams(14_000_000)))
    raised = replace(low, rules=replace(low.rules, permit="P-1, route 40", permit_gross_g=Grams(40_000_000)))
    assert any("vehicle weighs" in fault.problem for fault in check(low, result).faults)
    assert not any("vehicle weighs" in fault.problem for fault in check(raised, result).faults)
    assert isinstance(result.loads[0], Load)


def two_trucks() -> tuple[LoadJob, LoadResult]:
    """What rides on the first truck of two is wanted first."""
    job, _ = good()
    bundles = tuple(replace(bundle, height_nm=Nm(60 * INCH), stop=0) for bundle in job.bundles)
    job = replace(job, bundles=bundles, decks=(replace(job.decks[0], count=None),))
    result = load(job, Search())
    assert check(job, result).faults == ()
    assert [len(item.placed) for item in result.loads] == [4, 4]
    return job, result


def test_what_is_wanted_first_on_a_later_truck_is_caught() -> None:
    """The ranks of one bundle on each truck change places, so the first wanted rides later: unsaid, that is a fault."""
    job, result = two_trucks()
    first, later = (item.placed[-1].bundle for item in result.loads)
    ranks = {bundle.id: bundle.rank for bundle in job.bundles}
    swapped_ranks = {first: ranks[later], later: ranks[first]}
    other = replace(job, bundles=tuple(replace(b, rank=swapped_ranks.get(b.id, b.rank)) for b in job.bundles))
    problems = [fault.problem for fault in check(other, result).faults]
    assert any("wanted before all on an earlier load" in problem for problem in problems)
    turned = replace(result, loads=result.loads[::-1])
    assert any("wanted before one on an earlier truck" in fault.problem for fault in check(job, turned).faults)
