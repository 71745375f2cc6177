"""Odd heads: cut at the plant to what surely goes, finished in the field, framed by channel of the right length."""

from __future__ import annotations

import math

import pytest

from solver.domain.building import Head, Opening
from solver.domain.piece import Piece
from solver.takeoff.check import check
from solver.takeoff.opening_heads import arc_nm, plant_cut_box
from solver.takeoff.take_off import take_off
from solver.units import MM
from tests.generators.walls import box, building_of, metric_plant, mm, opening, walls_of

ARCH = Head(kind="arch", rise_nm=mm(400))
SLOPED = Head(kind="trapezoid", left_nm=mm(900), right_nm=mm(1500))
ROUND = Head(kind="round")


def framed(*openings: Opening) -> tuple[list[Piece], list[str]]:
    building = building_of(walls_of(box(8000, 6000), openings={0: openings}))
    taken = take_off(building, metric_plant())
    assert [str(fault) for fault in check(building, metric_plant(), taken).faults] == []
    return [p for p in taken.pieces if p.role == "opening_channel"], [n for p in taken.pieces for n in p.notes]


def test_arched_and_sloped_heads_are_cut_square_to_the_spring_line() -> None:
    """Common practice, no source."""
    arched, sloped = (
        plant_cut_box(opening("a", 1000, 2000, 900, 2300, head=ARCH)),
        plant_cut_box(opening("s", 1000, 2000, 900, 2400, head=SLOPED)),
    )
    assert arched is not None and (arched.u0, arched.u1, arched.z0, arched.z1) == (mm(1000), mm(2000), mm(900), mm(1900))
    assert sloped is not None and (sloped.z0, sloped.z1) == (mm(900), mm(1800))
    lunette = opening("l", 1000, 2000, 900, 1400, head=Head(kind="arch", rise_nm=mm(500)))
    assert plant_cut_box(lunette) is None  # a half circle from the sill up: all of it waits for the field


def test_of_a_round_opening_the_square_within_the_circle_is_cut() -> None:
    cut = plant_cut_box(opening("r", 1000, 2000, 900, 1900, head=ROUND))
    assert cut is not None and cut.u1 - cut.u0 == cut.z1 - cut.z0
    assert (cut.u1 - cut.u0) / MM == pytest.approx(1000 / math.sqrt(2), abs=1e-5)
    corner = math.hypot(cut.u1 - mm(1500), cut.z1 - mm(1400))
    assert mm(500) - 2 <= corner <= mm(500)  # its corners lie on the circle, never beyond


@pytest.mark.parametrize(("width", "rise", "expect"), [(1000, 500, math.pi * 500), (1000, 100, 1026.479), (2000, 268, 2094.5)])
def test_length_of_a_bent_head_is_its_arc(width: float, rise: float, expect: float) -> None:
    """A half circle; 1000 over 100 by hand (radius 1300, 45.24 degrees); a rise of 0.134 widths is 60 degrees of arc."""
    assert arc_nm(mm(width), mm(rise)) / MM == pytest.approx(expect, abs=0.6)


def test_frames_of_odd_heads_go_all_the_way_round() -> None:
    pieces, notes = framed(
        opening("a", 1000, 2000, 900, 2300, head=ARCH),
        opening("s", 3000, 4000, 900, 2400, head=SLOPED),
        opening("r", 5000, 6000, 900, 1900, head=ROUND),
    )
    assert len(pieces) == 4 + 4 + 2
    named = {piece.notes[0]: piece for piece in pieces}
    lengths = {name: (piece.edge_a[1] - piece.edge_a[0], piece.edge_b[1] - piece.edge_b[0]) for name, piece in named.items()}
    flange = 50.8 * MM
    assert lengths["sill of s"] == pytest.approx((mm(1000) + 2 * flange, mm(1000)))
    lean = math.atan2(600, 1000)
    right = flange / math.tan(math.radians(45) - lean / 2)
    assert lengths["right jamb of s"] == pytest.approx((mm(1500) + flange + right, mm(1500)), abs=2)
    assert lengths["head of s"][1] == pytest.approx(math.hypot(600, 1000) * MM, abs=2)
    assert lengths["left jamb of a"] == pytest.approx((mm(1000) + flange, mm(1000)), abs=2)
    assert lengths["upper half of r"][1] == pytest.approx(math.pi * 500 * MM, abs=2)
    for name in ("arch of a", "trapezoid of s", "round of r"):
        assert any(note.startswith(f"{name}: finish in the field") for note in notes)


def test_openings_one_above_the_other_leave_three_pieces_of_a_panel() -> None:
    low, high = opening("low", 1000, 3500, 600, 1000), opening("high", 1000, 3500, 1600, 2200)
    building = building_of(walls_of(box(6000, 5000), openings={0: [low, high]}))
    taken = take_off(building, metric_plant())
    row = [p for p in taken.pieces if p.role == "wall_panel" and p.group == "L1.0"]
    bays = {
        u: sorted((p.outline[0][1] // MM, p.length_nm // MM) for p in row if p.outline[0][0] == u)
        for u in {p.outline[0][0] for p in row}
    }
    assert [parts for parts in bays.values() if len(parts) > 1] == [[(0, 600), (1000, 600), (2200, 500)]]
    assert check(building, metric_plant(), taken).sound


def test_what_falls_out_at_an_opening_is_listed_with_its_joints() -> None:
    """Case G18's drops beside the full-width panel; a window inside one panel gives a drop with no joint."""
    joints = {0: ("lapped_between", "lapped_through"), 1: ("lapped_through", "lapped_between")}
    openings = [opening("wide", 1000, 2600, 900, 2100), opening("small", 4000, 4600, 900, 2100)]
    plant = metric_plant(narrowest_rip_nm=mm(100))
    taken = take_off(building_of(walls_of(box(6000, 5000), openings={0: openings}, joints=joints)), plant)
    found = [(drop.opening, drop.width_nm // MM, drop.length_nm // MM, drop.joints) for drop in taken.drops]
    assert found == [("wide", 200, 1200, "right"), ("wide", 200, 1200, "left"), ("small", 600, 1200, "none")]
    holders = {piece.id for piece in taken.pieces if piece.cutouts}
    assert {drop.piece for drop in taken.drops} == holders


def test_a_side_longer_than_its_stock_is_butted_of_even_lengths() -> None:
    """7 m of sill, stock of 20 ft at most: two lengths, mitred at the outer ends only."""
    pieces, _ = framed(opening("long", 500, 7500, 900, 2100))
    sill = [piece for piece in pieces if piece.notes[0] == "sill of long"]
    assert [piece.outline for piece in sill] == [
        ((mm(500), mm(900)), (mm(4000), mm(900))),
        ((mm(4000), mm(900)), (mm(7500), mm(900))),
    ]
    assert [(piece.foot.swing_udeg, piece.head.swing_udeg) for piece in sill] == [(45_000_000, 0), (0, 45_000_000)]
    assert [piece.edge_a[1] - piece.edge_b[1] + piece.edge_b[0] for piece in sill] == [mm(50.8), mm(50.8)]
    assert len(pieces) == 6
