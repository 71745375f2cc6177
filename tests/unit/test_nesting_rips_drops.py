"""Rips that share a panel, small pieces from drops, and a new plan around a flaw."""

from __future__ import annotations

import itertools
import random
from dataclasses import replace
from typing import Any

import pytest

from service.catalog import read_plant
from service.usecases.make.stages import answer_stage_job as answer_of
from service.usecases.make.stages import check_stage_result
from solver.codec import decode, encode
from solver.domain.cut_plan import NestJob, Remnant, Rip, SmallPiece
from solver.domain.ids import MaterialId, StockId
from solver.errors import InputError, NoPlan
from solver.nesting.check import check
from solver.nesting.drops import cut_from_drops, piece_fits_drop
from solver.nesting.nest import nest, renest
from solver.nesting.rips import pair_rips, panel_width_needed
from solver.search import Search
from solver.units import MM, Nm
from tests.generators.nesting import plant_like


def mm(value: float) -> Nm:
    return Nm(round(value * MM))


def rip(name: str, keeps: str, outside: float, inside: float, length: float = 3000) -> Rip:
    side = "left" if keeps == "left" else "right"
    return Rip(id=name, keeps=side, outside_nm=mm(outside), inside_nm=mm(inside), length_nm=mm(length))  # type: ignore[arg-type]


A = rip("A", "left", 600, 450)
B = rip("B", "right", 500, 350)
C = rip("C", "right", 550, 700)


@pytest.mark.parametrize(
    ("right", "needs"),
    [(B, 1104.525), (C, 1154.525)],
)
def test_two_mitred_rips_take_the_width_of_case_g7(right: Rip, needs: float) -> None:
    assert panel_width_needed(A, right, thickness_nm=150 * MM, kerf_nm=3_200_000) / MM == pytest.approx(needs, abs=0.001)


def test_square_rips_of_case_g7_fit_or_do_not_by_a_kerf() -> None:
    wide = [rip("L", "left", 700, 700), rip("R", "right", 500, 500)]
    slim = [rip("L", "left", 700, 700), rip("R", "right", 496, 496)]
    rules = {"cover_nm": 1200 * MM, "thickness_nm": 150 * MM, "kerf_nm": 3_200_000}
    assert len(pair_rips(wide, **rules)) == 2
    assert len(pair_rips(slim, **rules)) == 1


def test_two_rips_that_keep_the_same_joint_never_share_a_panel() -> None:
    rules = {"cover_nm": 1200 * MM, "thickness_nm": 150 * MM, "kerf_nm": 3_200_000}
    assert len(pair_rips([rip("L", "left", 300, 300), rip("M", "left", 300, 300)], **rules)) == 2


def test_a_rip_wider_than_the_panel_is_refused() -> None:
    with pytest.raises(NoPlan, match="'W'"):
        pair_rips([rip("W", "left", 1201, 1201)], cover_nm=1200 * MM, thickness_nm=150 * MM, kerf_nm=0)


@pytest.mark.parametrize("seed", range(12))
def test_pairing_takes_as_little_panel_as_trying_every_pairing(seed: int) -> None:
    dice = random.Random(seed)
    lefts = [rip(f"L{n}", "left", w := dice.randrange(200, 900), w, dice.randrange(1000, 4000)) for n in range(4)]
    rights = [rip(f"R{n}", "right", w := dice.randrange(200, 900), w, dice.randrange(1000, 4000)) for n in range(4)]
    made = pair_rips([*lefts, *rights], cover_nm=1200 * MM, thickness_nm=150 * MM, kerf_nm=3_200_000)
    everything = sum(item.length_nm for item in [*lefts, *rights])
    best = Nm(everything)
    for order in itertools.permutations(rights):
        saved = sum(
            min(a.length_nm, b.length_nm)
            for a, b in zip(lefts, order, strict=True)
            if panel_width_needed(a, b, thickness_nm=150 * MM, kerf_nm=3_200_000) <= 1200 * MM
        )
        best = min(best, Nm(everything - saved))
    assert sum(pair.length_nm for pair in made) == best
    assert sorted(name for pair in made for name in (pair.left, pair.right) if name) == sorted(i.id for i in [*lefts, *rights])


def drop(name: str, length: float, width: float, joints: str) -> Remnant:
    return Remnant(
        id=StockId(name),
        material=MaterialId("W"),
        length_nm=mm(length),
        width_nm=mm(width),
        joints=joints,  # type: ignore[arg-type]
    )


def small(name: str, length: float, width: float, joints: str) -> SmallPiece:
    return SmallPiece(id=name, length_nm=mm(length), width_nm=mm(width), joints=joints)  # type: ignore[arg-type]


def test_drops_of_case_g18_give_only_pieces_whose_joints_they_have() -> None:
    right, both, left = drop("r", 1200, 200, "right"), drop("b", 1200, 1200, "both"), drop("l", 1200, 200, "left")
    inner = drop("n", 1200, 900, "none")
    head = small("head", 600, 1200, "both")
    strip = small("strip", 1000, 180, "left")
    assert [piece_fits_drop(d, head) for d in (right, both, left, inner)] == [False, True, False, False]
    assert [piece_fits_drop(d, strip) for d in (right, both, left, inner)] == [False, True, True, False]
    assert [piece_fits_drop(d, small("plain", 1000, 180, "none")) for d in (right, both, left, inner)] == [True] * 4


def test_small_pieces_come_from_drops_with_a_kerf_between_and_the_rest_is_named() -> None:
    both = drop("b", 1200, 1200, "both")
    heads = [small(f"h{n}", 600, 1200, "both") for n in range(2)]
    uses, rest = cut_from_drops(heads, [both], kerf_nm=3_200_000)
    assert [len(use.pieces) for use in uses] == [1]
    assert len(rest) == 1
    uses, rest = cut_from_drops(heads, [drop("b", 1203.2, 1200, "both")], kerf_nm=3_200_000)
    assert [len(use.pieces) for use in uses] == [2]
    assert rest == ()


def job() -> NestJob:
    data = {
        "unit": "mm",
        "kerf": 3.2,
        "end_trim": 10,
        "stock": [{"id": "S", "length": 6000}],
        "pieces": [{"id": "A", "length": 1900, "count": 3}],
    }
    return decode(NestJob, data, name="$")


def test_a_flaw_behind_the_next_piece_costs_no_new_bar() -> None:
    made = nest(job(), Search())
    again = renest(job(), made.bars[0], done=1, flaw_nm=(mm(5700), mm(5800)), search=Search())
    assert check(again.job, again.result).faults == ()
    assert again.result.cost == 6000  # one piece no longer fits, so one new bar
    (old,) = [bar for bar in again.result.bars if bar.section is not None]
    assert old.section == (mm(10 + 1900 + 3.2), mm(5700))
    assert (old.stock, len(old.pieces)) == ("S", 1)
    assert old.pieces[0].edge_a[0] == old.section[0]  # where it lies on the bar itself


def test_a_flaw_in_the_drop_changes_nothing() -> None:
    made = nest(job(), Search())
    again = renest(job(), made.bars[0], done=2, flaw_nm=(mm(5750), mm(5760)), search=Search())
    assert again.result.cost == 0
    assert again.result.status == "optimal"


def test_a_half_cut_bar_is_a_field_of_the_job_and_survives_json() -> None:
    data: dict[str, Any] = encode(job(), unit="mm")
    data["half_cut"] = {
        "stock": "S",
        "done": [{"id": "A", "turn": "as_is", "edge_a": [10, 1910], "edge_b": [10, 1910]}],
        "flaw": [3000, 3010],
    }
    data["pieces"] = [{"id": "A", "length": 1900, "count": 2}]
    answer = answer_of("nest", data, plant=read_plant())
    assert answer.code == 0 and answer.result is not None
    sections = [bar["section"] for bar in answer.result["bars"] if "section" in bar]
    assert sections == [[3010, 5990]]
    report = check_stage_result({"stage": "nest", "job": data, "result": answer.result}, plant=read_plant())
    assert report.faults == ()
    data["half_cut"] |= {"stock": "T"}
    assert [fault.path for fault in answer_of("nest", data, plant=read_plant()).faults] == ["half_cut.stock"]
    data["half_cut"] |= {"stock": "S", "flaw": [5, 7000], "done": [{**data["half_cut"]["done"][0], "edge_a": [5, 6001]}]}
    faults = answer_of("nest", data, plant=read_plant()).faults
    assert sorted(fault.path for fault in faults) == ["half_cut.done[0].edge_a", "half_cut.flaw", "width"]


@pytest.mark.parametrize("seed", range(40))
def test_any_half_cut_bar_with_a_flaw_is_nested_anew_around_it(seed: int) -> None:
    dice = random.Random(seed)
    whole = decode(NestJob, plant_like(seed), name="$")
    bars = nest(whole, Search(left_s=lambda: 0.0)).bars
    bar = dice.choice(bars)
    length = next(item.length_nm for item in whole.stock if item.id == bar.stock)
    at = dice.randrange(length)
    flaw = (Nm(at), Nm(min(length, at + dice.randrange(1, 400) * MM)))
    again = renest(whole, bar, done=dice.randrange(len(bar.pieces) + 1), flaw_nm=flaw, search=Search(left_s=lambda: 0.0))
    assert check(again.job, again.result).faults == ()


@pytest.mark.parametrize(
    ("section", "says"),
    [
        ((1909, 5700), "cut, flawed"),
        ((1912, 5700), "begins in the last cut"),
        ((1913.2, 5701), "cut, flawed"),
        ((1913.2, 5995), "cut, flawed"),
    ],
)
def test_a_section_that_is_not_sound_is_caught(section: tuple[float, float], says: str) -> None:
    made = nest(job(), Search())
    again = renest(job(), made.bars[0], done=1, flaw_nm=(mm(5700), mm(5800)), search=Search())
    span = (mm(section[0]), mm(section[1]))
    bars = tuple(bar if bar.section is None else replace(bar, section=span) for bar in again.result.bars)
    faults = check(again.job, replace(again.result, bars=bars)).faults
    assert any(says in str(fault) for fault in faults)


def test_a_flaw_off_the_bar_is_refused() -> None:
    made = nest(job(), Search())
    with pytest.raises(InputError):
        renest(job(), made.bars[0], done=9, flaw_nm=(mm(7000), mm(6000)), search=Search())
