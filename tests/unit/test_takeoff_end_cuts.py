"""Ends of panels that are no single line: every cut of the saw is told, left to right, and proved."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from solver.domain.building import Building
from solver.domain.piece import Piece
from solver.domain.takeoff import Takeoff
from solver.takeoff.check import check
from solver.takeoff.take_off import take_off
from solver.units import MicroDeg
from tests.generators.walls import box, building_of, metric_plant, walls_of
from tests.orders import demo_building, plant


def gable() -> tuple[Building, Takeoff]:
    """A wall of 5 m whose peak lies over the middle of a panel: 30 degrees up, 45 down."""
    top = [(0, 2700), (3000, 2700 + 3000 * math.tan(math.radians(30))), (5000, 2700 + 3000 * math.tan(math.radians(30)) - 2000)]
    building = building_of(walls_of(box(5000, 4000), tops={0: top}))
    return building, take_off(building, metric_plant())


def peaked(taken: Takeoff) -> Piece:
    return next(piece for piece in taken.pieces if piece.head_cuts)


def test_both_slopes_of_a_peaked_panel_are_told_left_to_right() -> None:
    building, taken = gable()
    piece = peaked(taken)
    assert [cut.swing_udeg / 1e6 for cut in piece.head_cuts] == pytest.approx([30, 45], abs=1e-4)
    assert piece.head.swing_udeg == max(cut.swing_udeg for cut in piece.head_cuts)
    assert check(building, metric_plant(), taken).faults == ()
    assert all(not p.head_cuts for p in taken.pieces if p.group == "L1.1")


def test_a_slope_that_is_left_out_or_wrong_is_noticed() -> None:
    building, taken = gable()
    piece = peaked(taken)
    first, second = piece.head_cuts
    for cuts in ((first,), (second, first), (), (first, replace(second, swing_udeg=MicroDeg(second.swing_udeg - 5_000_000)))):
        spoiled = replace(piece, head_cuts=cuts)
        made = replace(taken, pieces=tuple(spoiled if p is piece else p for p in taken.pieces))
        assert any("head's cuts" in fault.problem for fault in check(building, metric_plant(), made).faults), cuts


def test_every_cut_of_a_roof_panel_that_meets_a_valley_is_told() -> None:
    building = demo_building("ell-12")
    taken = take_off(building, plant())
    split = [p for p in taken.pieces if p.role == "roof_panel" and (p.foot_cuts or p.head_cuts)]
    assert split
    for piece in split[:3]:
        made = replace(taken, pieces=tuple(replace(p, foot_cuts=(), head_cuts=()) if p is piece else p for p in taken.pieces))
        assert any("not every cut" in fault.problem for fault in check(building, plant(), made).faults)
