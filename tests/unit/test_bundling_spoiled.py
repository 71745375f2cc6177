"""The check of bundles against good bundles spoiled on purpose: each is caught, in words that say what is wrong."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from solver.bundling.check import check
from solver.bundling.stack import stack
from solver.domain.bundle import Bundle, Lay, LooseItem, StackJob, StackResult
from solver.domain.ids import PieceId
from solver.search import Search
from solver.units import INCH, Grams, Nm
from tests.generators.stacks import LIMITS, piece

LIMITED = replace(LIMITS, forklift_g=Grams(2_267_962), tiers=2)


def good() -> tuple[StackJob, StackResult]:
    panels = [piece(number, length) for number, length in enumerate((96, 96, 108, 108, 120, 144, 144, 144, 192, 192), 1)]
    trims = [replace(piece(number, 120, 6, 2, pounds=12), kind="trim") for number in range(11, 31)]
    smalls = [replace(piece(number, 10, 4, 2, pounds=1), kind="small") for number in range(31, 36)]
    job = StackJob(unit="in", limits=LIMITED, pieces=(*panels, *trims, *smalls), company_prefix="952")
    return job, stack(job, Search())


def with_bundle(result: StackResult, kind: str, change: Callable[[Bundle], Bundle]) -> StackResult:
    place = next(place for place, bundle in enumerate(result.bundles) if bundle.kind == kind)
    bundles = list(result.bundles)
    bundles[place] = change(bundles[place])
    return replace(result, bundles=tuple(bundles))


def lays(bundle: Bundle, change: Callable[[list[Lay]], list[Lay]]) -> Bundle:
    return replace(bundle, pieces=tuple(change(list(bundle.pieces))))


def first(bundle: Bundle, **changes: object) -> Bundle:
    return lays(bundle, lambda items: [replace(items[0], **changes), *items[1:]])  # type: ignore[arg-type]


def last(bundle: Bundle, **changes: object) -> Bundle:
    return lays(bundle, lambda items: [*items[:-1], replace(items[-1], **changes)])  # type: ignore[arg-type]


def swapped_in_column(items: list[Lay]) -> list[Lay]:
    """The lowest trim of a column and the one above it change places."""
    low = next(item for item in items if not item.up_nm)
    above = min((item for item in items if item.across_nm == low.across_nm and item.up_nm), key=lambda item: item.up_nm)
    names = {low.piece: above.piece, above.piece: low.piece}
    return [replace(item, piece=names.get(item.piece, item.piece)) for item in items]


def swapped(items: list[Lay]) -> list[Lay]:
    low, high = items[0], items[-1]
    return [replace(low, piece=high.piece), *items[1:-1], replace(high, piece=low.piece)]


START: dict[str, tuple[Callable[[StackResult], StackResult], str]] = {
    "a line left out": (lambda r: spoiled_box(r, items=r.bundles[0].items[1:]), "is packed 0 times"),
    "a line twice": (lambda r: spoiled_box(r, items=(*r.bundles[0].items, r.bundles[0].items[0])), "is packed 2 times"),
    "another quantity": (
        lambda r: spoiled_box(r, items=(replace(r.bundles[0].items[0], quantity=9), *r.bundles[0].items[1:])),
        "is not hardware of the job",
    ),
    "a wrong weight": (lambda r: spoiled_box(r, weight_g=Grams(20_000)), "weighs"),
    "another delivery": (lambda r: spoiled_box(r, delivery="D9"), "another order or delivery"),
    "not wanted first": (lambda r: spoiled_box(r, first_stands=3), "is no start box"),
    "listed last": (lambda r: replace(r, bundles=(*r.bundles[1:], r.bundles[0])), "comes after other bundles"),
    "no timbers": (lambda r: spoiled_box(r, dunnage_nm=()), "no dunnage"),
    "empty": (lambda r: spoiled_box(r, items=()), "is empty"),
}


def spoiled_box(result: StackResult, **changes: object) -> StackResult:
    return replace(result, bundles=(replace(result.bundles[0], **changes), *result.bundles[1:]))  # type: ignore[arg-type]


@pytest.mark.parametrize("name", START)
def test_a_spoiled_start_box_is_caught(name: str) -> None:
    job, _ = good()
    items = tuple(LooseItem(item=item, quantity=5, weight_g=Grams(1_000)) for item in ("nut", "tube"))
    job = replace(job, loose=items, limits=replace(job.limits, box_tare_g=Grams(20_000)))
    result = stack(job, Search())
    assert check(job, result).faults == ()
    change, said = START[name]
    faults = check(job, change(result)).faults
    assert any(said in str(fault) for fault in faults), faults


Spoil = Callable[[StackResult], StackResult]
PANELS: dict[str, tuple[Callable[[Bundle], Bundle], str]] = {
    "a piece left out": (lambda b: lays(b, lambda items: items[:-1]), "lies in no bundle"),
    "a piece twice": (lambda b: lays(b, lambda items: [*items, items[0]]), "too"),
    "a piece of nowhere": (
        lambda b: first(b, piece=PieceId("X")),
        "no such piece",
    ),
    "order within the bundle turned": (lambda b: lays(b, swapped), "comes off before one that stands earlier"),
    "weight misstated": (lambda b: replace(b, weight_g=Grams(b.weight_g - 1)), "weighs"),
    "height misstated": (lambda b: replace(b, height_nm=Nm(b.height_nm - 1)), "more than stated"),
    "too high": (lambda b: replace(b, height_nm=Nm(47 * INCH)), "is higher than"),
    "too long": (lambda b: replace(b, length_nm=Nm(300 * INCH)), "is longer than"),
    "hanging over": (lambda b: last(b, at_nm=Nm(200 * INCH)), "hangs over"),
    "over the side": (
        lambda b: last(b, across_nm=Nm(20 * INCH)),
        "the side of",
    ),
    "floating": (lambda b: last(b, up_nm=Nm(45 * INCH)), "lies at"),
    "no timbers": (lambda b: replace(b, dunnage_nm=()), "stands on no dunnage"),
    "too few timbers": (lambda b: replace(b, dunnage_nm=(b.dunnage_nm[0], b.dunnage_nm[-1])), "too far apart"),
    "timbers in one another": (lambda b: replace(b, dunnage_nm=tuple(sorted((*b.dunnage_nm, b.dunnage_nm[0])))), "overlap"),
    "foam pressed too hard": (lambda b: replace(b, may_carry_g=Grams(9_000_000)), "into the foam"),
    "centre of mass misstated": (lambda b: replace(b, centre_nm=Nm(b.centre_nm + INCH)), "centre of mass along"),
    "lifted off centre": (lambda b: replace(b, lift_nm=(Nm(0), Nm(1))), "tip off the forks"),
    "serial mistyped": (lambda b: replace(b, serial=b.serial[:-1] + str((int(b.serial[-1]) + 1) % 10)), "check digit"),
    "serial too short": (lambda b: replace(b, serial=b.serial[1:]), "18 digits"),
    "first to stand misstated": (lambda b: replace(b, first_stands=99), "first_stands"),
    "set aside for nothing": (lambda b: replace(b, set_aside=(b.pieces[0].piece,)), "need not be"),
}


@pytest.mark.parametrize("name", PANELS)
def test_a_spoiled_bundle_of_panels_is_caught(name: str) -> None:
    job, result = good()
    change, words = PANELS[name]
    faults = check(job, with_bundle(result, "panels", change)).faults
    assert any(words in fault.problem for fault in faults), faults


OTHERS: dict[str, tuple[Spoil, str]] = {
    "a trim among panels": (
        lambda r: with_bundle(r, "panels", lambda b: lays(b, lambda items: [*items, Lay(piece=PieceId("P11"))])),
        "is trim, not for panels",
    ),
    "trims overlapping": (
        lambda r: with_bundle(r, "trim", lambda b: first(b, across_nm=b.pieces[1].across_nm, up_nm=b.pieces[1].up_nm)),
        "overlap",
    ),
    "the first trim to stand below another": (
        lambda r: with_bundle(r, "trim", lambda b: lays(b, swapped_in_column)),
        "comes off before one that stands earlier",
    ),
    "a trim on nothing": (
        lambda r: with_bundle(r, "trim", lambda b: first(b, across_nm=Nm(42 * INCH), up_nm=Nm(INCH))),
        "on nothing",
    ),
    "a trim past the edge of the one below": (
        lambda r: with_bundle(r, "trim", lambda b: last(b, across_nm=Nm(b.pieces[-1].across_nm + INCH))),
        "hangs over the side",
    ),
    "a trim with timbers at one end only": (
        lambda r: with_bundle(r, "trim", lambda b: replace(b, dunnage_nm=b.dunnage_nm[-1:])),
        "tips off the timbers",
    ),
    "trims past the side": (
        lambda r: with_bundle(r, "trim", lambda b: last(b, across_nm=Nm(47 * INCH))),
        "past the width",
    ),
    "bundles out of order": (lambda r: replace(r, bundles=r.bundles[::-1]), "is wanted before"),
    "a bound above the bundles": (lambda r: replace(r, lower_bound=99), "is above"),
    "optimal without proof": (lambda r: replace(r, lower_bound=r.lower_bound - 1), "the bound is lower"),
    "an empty bundle": (lambda r: replace(r, bundles=(*r.bundles, replace(r.bundles[-1], pieces=()))), "is empty"),
    "a serial twice": (
        lambda r: replace(r, bundles=(r.bundles[0], replace(r.bundles[1], serial=r.bundles[0].serial), *r.bundles[2:])),
        "given twice",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", OTHERS)
def test_a_spoiled_result_is_caught(name: str) -> None:
    job, result = good()
    spoil, words = OTHERS[name]
    faults = check(job, spoil(result)).faults
    assert any(words in fault.problem for fault in faults), faults


def test_a_longer_or_wider_trim_on_a_shorter_or_narrower_one_is_caught() -> None:
    job, result = good()
    trims = next(bundle for bundle in result.bundles if bundle.kind == "trim")
    top = max(trims.pieces, key=lambda lay: lay.up_nm).piece
    for length, width, words in ((130, 6, "is longer than"), (120, 7, "hangs over the side")):
        pieces = tuple(
            replace(one, length_nm=Nm(length * INCH), width_nm=Nm(width * INCH)) if one.id == top else one for one in job.pieces
        )
        assert any(words in fault.problem for fault in check(replace(job, pieces=pieces), result).faults)


def test_base_channel_among_other_trims_is_caught() -> None:
    job, result = good()
    other = replace(job, pieces=tuple(replace(one, lot="base") if one.id == "P11" else one for one in job.pieces))
    assert any("of another lot" in fault.problem for fault in check(other, result).faults)


def test_the_good_bundles_are_sound() -> None:
    job, result = good()
    assert check(job, result).faults == ()
    assert {bundle.kind for bundle in result.bundles} == {"panels", "trim", "box"}


LIMITS_TIGHTENED = {
    "weight": (replace(LIMITED, weight_g=Grams(50_000)), "is over"),
    "forklift": (replace(LIMITED, forklift_g=Grams(50_000)), "load moment"),
    "overhang": (replace(LIMITED, overhang_nm=Nm(0), overhang_across_nm=Nm(0)), "hangs over"),
    "foam": (replace(LIMITED, core_stress_pa=1_000), "into the foam"),
    "dunnage spacing": (replace(LIMITED, dunnage_every_nm=Nm(12 * INCH)), "too far apart"),
    "ends": (replace(LIMITED, dunnage_from_end_nm=Nm(2 * INCH)), "past its outer timbers"),
}


@pytest.mark.parametrize("name", LIMITS_TIGHTENED)
def test_bundles_made_for_wider_limits_fail_the_tighter_ones(name: str) -> None:
    panels = tuple(piece(number, length) for number, length in enumerate((114, 114, 120, 110), 1))
    job = StackJob(limits=LIMITED, pieces=panels)
    result = stack(job, Search())
    limits, words = LIMITS_TIGHTENED[name]
    faults = check(replace(job, limits=limits), result).faults
    assert any(words in fault.problem for fault in faults), faults


def test_what_may_not_carry_is_caught_below_another() -> None:
    panels = tuple(piece(number, 96) for number in range(1, 5))
    job = StackJob(limits=LIMITED, pieces=panels)
    result = stack(job, Search())
    spoiled = replace(job, pieces=(*panels[:2], replace(panels[2], carries=False), panels[3]))
    assert any("may not carry" in fault.problem for fault in check(spoiled, result).faults)
    split = replace(job, pieces=(*panels[:2], replace(panels[2], delivery="D2"), panels[3]))
    assert any("delivery" in fault.problem for fault in check(split, result).faults)
