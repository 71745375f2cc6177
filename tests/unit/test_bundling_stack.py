"""What bundling refuses, what it says, and how it lays pieces out."""

from __future__ import annotations

from dataclasses import replace

import pytest

from solver.bundling.check import check
from solver.bundling.stack import stack, validate
from solver.codec import decode, encode, schema
from solver.domain.bundle import LooseItem, StackJob, StackResult
from solver.domain.ids import OrderId, PieceId
from solver.errors import InputError, NoPlan
from solver.search import Search
from solver.units import INCH, Grams, Nm
from tests.generators.stacks import LIMITS, piece


def stacked(*pieces: object, **limits: object) -> StackResult:
    job = StackJob(limits=replace(LIMITS, **limits), pieces=pieces)  # type: ignore[arg-type]
    result = stack(job, Search())
    assert check(job, result).faults == ()
    return result


def test_an_empty_job_gives_an_empty_optimal_result() -> None:
    result = stack(StackJob(limits=LIMITS, pieces=()), Search())
    assert (result.status, result.bundles, result.lower_bound) == ("optimal", (), 0)


def test_the_first_to_stand_lies_on_top_and_the_bundle_wanted_first_is_listed_first() -> None:
    result = stacked(*(piece(number, 96) for number in range(1, 11)))
    assert [[lay.piece for lay in bundle.pieces] for bundle in result.bundles] == [
        ["P05", "P04", "P03", "P02", "P01"],
        ["P10", "P09", "P08", "P07", "P06"],
    ]
    assert [bundle.id for bundle in result.bundles] == ["B01", "B02"]


def test_pieces_may_be_given_in_any_order() -> None:
    pieces = [piece(number, 96 + number) for number in range(1, 9)]
    assert stacked(*pieces) == stacked(*pieces[::-1])


def test_orders_and_deliveries_never_share_a_bundle() -> None:
    a = [replace(piece(number, 96), order=OrderId("a"), delivery="D1" if number < 3 else "D2") for number in range(1, 5)]
    b = [replace(piece(number, 96), id=PieceId(f"Q{number}"), order=OrderId("b")) for number in range(1, 3)]
    result = stacked(*a, *b)
    assert [bundle.id for bundle in result.bundles] == ["a/B01", "a/B02", "b/B01"]
    assert [bundle.delivery for bundle in result.bundles] == ["D1", "D2", None]


def test_feet_are_flush_where_heads_may_hang_over_and_else_pieces_are_centred() -> None:
    flush = stacked(piece(1, 108), piece(2, 96)).bundles[0]
    assert [lay.at_nm for lay in flush.pieces] == [0, 0]
    centred = stacked(piece(1, 118), piece(2, 96)).bundles[0]
    assert [lay.at_nm / INCH for lay in centred.pieces] == [11, 0]
    assert centred.centre_nm == 59 * INCH


def test_the_pair_to_blame_is_named_with_what_setting_aside_would_save() -> None:
    pieces = [piece(1, 192), piece(2, 96), piece(3, 192)]
    strict = stacked(*pieces)
    assert len(strict.bundles) == 2
    assert strict.notes[0] == "P01 stands before P02 but can't lie on it: it is too long for it"
    assert strict.notes[1] == "setting aside 1 pieces (at most 1 a bundle) would make 1 fewer bundles"
    freer = stacked(*pieces, set_aside=1)
    assert len(freer.bundles) == 1
    assert freer.bundles[0].set_aside == ("P02",)


def test_a_piece_that_may_not_carry_lies_on_top() -> None:
    result = stacked(piece(1, 96), piece(2, 96, carries=False), piece(3, 96))
    assert [[lay.piece for lay in bundle.pieces] for bundle in result.bundles] == [["P01"], ["P03", "P02"]]
    assert result.bundles[1].may_carry_g == 0


def test_elevations_stay_together_where_that_costs_no_bundle() -> None:
    south = [piece(number, 96, group="L1.S") for number in range(1, 6)]
    east = [piece(number, 96, group="L1.E") for number in range(6, 12)]
    assert [bundle.groups for bundle in stacked(*south, *east).bundles] == [("L1.S",), ("L1.E",)]
    more = [piece(number, 96, group="L1.N") for number in range(12, 15)]
    result = stacked(*south, *east, *more)  # 14 pieces, 7 a stack: together would cost a third bundle
    assert len(result.bundles) == 2


def test_over_24_ft_a_spreader_lifts_or_the_piece_is_named() -> None:
    with pytest.raises(NoPlan) as refused:
        stacked(piece(1, 300))
    assert refused.value.faults[0].path == "P01"
    bundle = stacked(piece(1, 300), spreader_length_nm=Nm(480 * INCH)).bundles[0]
    assert any("spreader" in note for note in bundle.notes)


def test_every_piece_that_no_bundle_can_hold_is_named_with_why() -> None:
    with pytest.raises(NoPlan) as refused:
        stacked(piece(1, 96, 48, 50), piece(2, 96, pounds=5_000), piece(3, 96), replace(piece(4, 96, 60, 2), kind="trim"))
    assert [(fault.path, fault.problem.split(" than")[0]) for fault in refused.value.faults] == [
        ("P01", "is thicker"),
        ("P02", "is heavier"),
        ("P04", "fits no trim bundle, even alone"),
    ]


def test_a_faulty_job_gets_every_fault_at_once() -> None:
    pieces = (piece(1, 96), piece(1, 96), replace(piece(3, 96), stands=1))
    job = StackJob(limits=replace(LIMITS, dunnage_nm=Nm(50 * INCH)), pieces=pieces)
    assert [fault.path for fault in validate(job)] == [
        "limits.dunnage",
        "pieces[1].id",
        "pieces[1].stands",
        "pieces[2].stands",
    ]
    with pytest.raises(InputError):
        stack(job, Search())


def test_job_and_result_go_through_json_and_back() -> None:
    job = StackJob(unit="in", limits=LIMITS, pieces=tuple(piece(number, 96.4) for number in range(1, 20)), company_prefix="952")
    result = stack(job, Search())
    assert decode(StackJob, encode(job), name="$") == job
    assert decode(StackResult, encode(result, unit="in"), name="$", unit="in") == result
    assert "pieces" in schema(StackJob)["$defs"]["StackJob"]["properties"]


def test_hardware_goes_into_a_start_box_that_is_wanted_before_all() -> None:
    order = OrderId("a")
    loose = (
        LooseItem(item="nut", quantity=70, packs=2, weight_g=Grams(4_600), order=order, delivery="D1"),
        LooseItem(item="tube", quantity=30, packs=3, weight_g=Grams(16_000), order=order, delivery="D1"),
        LooseItem(item="nut", quantity=5, packs=1, weight_g=Grams(2_300), order=order, delivery="D2"),
    )
    pieces = tuple(replace(piece(n, 96), order=order, delivery=f"D{1 + n // 3}") for n in range(1, 5))
    job = StackJob(limits=replace(LIMITS, box_tare_g=Grams(20_000)), pieces=pieces, loose=loose)
    result = stack(job, Search())
    assert check(job, result).faults == ()
    assert [(bundle.id, bundle.delivery, bundle.weight_g) for bundle in result.bundles[:2]] == [
        ("a/S01", "D1", 40_600),
        ("a/S02", "D2", 22_300),
    ]
    assert [bundle.items for bundle in result.bundles] == [loose[:2], loose[2:], (), ()]
    assert (result.status, result.lower_bound) == ("optimal", 4)
    assert decode(StackJob, encode(job), name="$") == job


def test_a_start_box_that_grows_too_heavy_is_followed_by_another() -> None:
    loose = tuple(LooseItem(item=f"i{n}", quantity=1, weight_g=Grams(900_000)) for n in range(5))
    job = StackJob(limits=replace(LIMITS, box_tare_g=Grams(20_000)), pieces=(), loose=loose)
    result = stack(job, Search())
    assert check(job, result).faults == ()
    assert [len(bundle.items) for bundle in result.bundles] == [1, 1, 1, 1, 1]
    light = stack(replace(job, loose=tuple(replace(item, weight_g=Grams(890_000)) for item in loose)), Search())
    assert [len(bundle.items) for bundle in light.bundles] == [2, 2, 1]
    wrong = replace(job, loose=(*loose, replace(loose[0], weight_g=Grams(1_800_000))))
    assert [fault.path for fault in validate(wrong)] == ["loose[5].weight_g"]


def test_pieces_set_aside_are_named_with_what_one_more_bundle_would_save() -> None:
    """Others stand before a piece that may not carry: it goes on top and is set aside, or a bundle is closed."""
    opening = replace(piece(3, 96), carries=False)
    made = stacked(piece(1, 96), piece(2, 96), opening, piece(4, 96), set_aside=1)
    assert len(made.bundles) == 1
    assert made.bundles[0].set_aside == (opening.id,)
    assert made.notes[0] == "1 pieces are set aside; 1 more bundles would leave 0 (at most 0 a bundle)"
    pieces = (piece(1, 96), piece(2, 96), opening, piece(4, 96))
    none_aside = StackJob(limits=LIMITS, pieces=pieces)
    assert [fault.problem for fault in check(none_aside, made).faults] == ["1 pieces are set aside"]
    strict = stacked(*pieces)
    assert len(strict.bundles) == 2
    assert any("would make 1 fewer bundles" in told for told in strict.notes)


def test_forks_go_as_far_apart_as_the_catalog_says() -> None:
    near, far = (stacked(piece(1, 280), fork_spread_nm=Nm(feet * 12 * INCH)).bundles[0].lift_nm for feet in (5, 10))
    assert far[1] - far[0] > near[1] - near[0]
