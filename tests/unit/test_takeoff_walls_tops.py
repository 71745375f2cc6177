"""Tops: gables of several peaks, sheds, steps at and between joints."""

from __future__ import annotations

import pytest

from solver.domain.piece import Piece
from solver.takeoff.check import check
from solver.takeoff.take_off import take_off
from solver.takeoff.wall_tops import height_after, height_before, straight_lines, top_points
from solver.units import MM
from tests.generators.walls import box, building_of, metric_plant, mm, walls_of

STEP = [(0, 10), (5, 10), (5, 20), (9, 20)]


def test_height_at_a_step_depends_on_the_side() -> None:
    assert (height_before(STEP, 5), height_after(STEP, 5)) == (10, 20)
    assert (height_before(STEP, 9), height_after(STEP, 0)) == (20, 10)
    assert top_points(STEP, 3, 5) == [(3, 10), (5, 10)]
    assert top_points(STEP, 5, 9) == [(5, 20), (9, 20)]
    assert top_points(STEP, 3, 7) == [(3, 10), (5, 10), (5, 20), (7, 20)]
    assert straight_lines([(0, 0), (2, 1), (4, 2), (6, 2)]) == [((0, 0), (4, 2)), ((4, 2), (6, 2))]


def test_height_beyond_a_top_is_on_its_last_line() -> None:
    assert height_after([(0, 0), (10, 5)], 12) == 6
    assert height_before([(0, 10), (10, 5)], -2) == 11


def row_of(top: list[tuple[float, float]]) -> list[Piece]:
    """The panels of a lapped 6 m wall, joints each 1200, whose top is given; the proof accepts them."""
    joints = {0: ("lapped_between", "lapped_through"), 1: ("lapped_through", "lapped_between")}
    plant = metric_plant()
    building = building_of(walls_of(box(6000, 5000), joints=joints, tops={0: top}))
    taken = take_off(building, plant)
    assert [str(fault) for fault in check(building, plant, taken).faults] == []
    row = [p for p in taken.pieces if p.group == "L1.0" and p.role == "wall_panel"]
    return sorted(row, key=lambda piece: piece.outline[0][0])


@pytest.mark.parametrize(
    ("at", "lengths"),
    [(2400, [2700, 2700, 3300, 3300, 3300]), (3000, [2700, 2700, 3300, 3300, 3300]), (3600, [2700, 2700, 2700, 3300, 3300])],
)
def test_a_step_at_a_joint_parts_two_panels_and_between_joints_notches_one(at: float, lengths: list[int]) -> None:
    row = row_of([(0, 2700), (at, 2700), (at, 3300), (6000, 3300)])
    assert [piece.length_nm // MM for piece in row] == lengths
    notched = [piece for piece in row if len(piece.outline) > 4]
    assert len(notched) == (at == 3000)
    assert all(piece.peak_nm == mm(3300) for piece in notched)


def test_each_peak_is_nested_square_and_each_slope_across_its_blank() -> None:
    row = row_of([(0, 2700), (1800, 3600), (3000, 3000), (4200, 3600), (6000, 2700)])
    assert [piece.peak_nm is not None for piece in row] == [False, True, True, True, False]
    assert [piece.length_nm // MM for piece in row] == [3300, 3600, 3300, 3600, 3300]
    assert row[2].outline[2:] == ((mm(3600), mm(3300)), (mm(3000), mm(3000)), (mm(2400), mm(3300)))  # a valley between peaks
    assert row[0].head.swing_udeg == pytest.approx(26_565_051, abs=1)  # atan(1/2)


def test_a_shed_top_gives_every_panel_a_left_and_a_right_height() -> None:
    row = row_of([(0, 2700), (6000, 3900)])
    assert [(piece.edge_a[1] // MM, piece.edge_b[1] // MM) for piece in row[:4]] == [
        (2700, 2940), (2940, 3180), (3180, 3420), (3420, 3660)
    ]  # fmt: skip
