"""Hips and valleys in space: panels of both slopes meet in one upright plane; a wrong tilt or long face collides or gapes."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from solver.domain.building import Building
from solver.domain.piece import EndCut, Piece
from solver.domain.takeoff import Takeoff
from solver.reading.read_order import read_order
from solver.takeoff.check import check
from solver.takeoff.take_off import take_off
from solver.units import MicroDeg
from tests.orders import box, demo_building, plant


@cache
def hipped() -> tuple[Building, Takeoff]:
    order = box()
    order["levels"][0]["top"] = "roof"
    order["roofs"] = [{"id": "R", "kind": "hip", "over": "L1", "pitch": "4/12", "eave_z": 2700, "overhang": {"eave": 300}}]
    order["deliveries"][0]["parts"].append("R")
    building = read_order(order, plant())
    return building, take_off(building, plant())


@cache
def valleys() -> tuple[Building, Takeoff]:
    building = demo_building("ell-12")
    return building, take_off(building, plant())


def with_cut(piece: Piece, change: Any) -> Piece:
    """The piece with its steepest tilted cut changed, at its foot or its head."""

    def of(cuts: tuple[EndCut, ...]) -> tuple[EndCut, ...]:
        return tuple(change(cut) if cut.tilt_udeg else cut for cut in cuts)

    foot, head = of((piece.foot,))[0], of((piece.head,))[0]
    return replace(piece, foot=foot, head=head, foot_cuts=of(piece.foot_cuts), head_cuts=of(piece.head_cuts))


def said(made: tuple[Building, Takeoff], change: Any) -> list[str]:
    building, taken = made
    assert check(building, plant(), taken).faults == ()
    piece = next(p for p in taken.pieces if p.role == "roof_panel" and (p.foot.tilt_udeg or p.head.tilt_udeg))
    spoiled = replace(taken, pieces=tuple(with_cut(p, change) if p is piece else p for p in taken.pieces))
    return [fault.problem for fault in check(building, plant(), spoiled).faults if " and " in fault.path]


def turned(cut: EndCut) -> EndCut:
    return replace(cut, long_face="inside" if cut.long_face == "outside" else "outside")


@pytest.mark.parametrize("made", [hipped, valleys])
def test_a_square_cut_or_the_wrong_long_face_is_noticed_on_the_upper_face(made: Any) -> None:
    flat = said(made(), lambda cut: replace(cut, tilt_udeg=MicroDeg(0), long_face="both"))
    assert flat and all("on the upper face at the" in text for text in flat)
    assert said(made(), turned)


def test_one_degree_more_collides_and_one_less_gapes_at_a_hip() -> None:
    """On a 6 in panel a degree of tilt is some 2.8 mm on the upper face, over the 1/32 in of sealant."""
    more = said(hipped(), lambda cut: replace(cut, tilt_udeg=MicroDeg(cut.tilt_udeg + 1_000_000)))
    less = said(hipped(), lambda cut: replace(cut, tilt_udeg=MicroDeg(cut.tilt_udeg - 1_000_000)))
    assert more and all(text.startswith("collide") for text in more)
    assert less and all(text.startswith("gape") for text in less)


def test_a_hip_that_meets_no_other_slope_is_noticed() -> None:
    building, taken = hipped()
    bare = replace(building, roof=building.roof[1:])
    faults = check(bare, plant(), replace(taken, building=bare)).faults
    assert any("meets no other slope" in fault.problem for fault in faults)


def test_hips_and_valleys_are_compared_at_all() -> None:
    for building, taken in (hipped(), valleys()):
        assert any("sides of hips and valleys" in line for line in check(building, plant(), taken).checked)
