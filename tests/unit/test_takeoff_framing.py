"""Interior bearing walls: track, studs on centre, jack and king studs, headers."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import pytest

from solver.domain.building import BearingOpening, BearingWall
from solver.domain.ids import GroupId
from solver.domain.piece import Piece
from solver.errors import NoPlan
from solver.takeoff.framing import frame_bearing_walls
from solver.units import FOOT, INCH, Nm
from tests.generators.roof_planes import building_of, demo_plant


def wall(length_in: int, *openings: BearingOpening) -> BearingWall:
    return BearingWall(
        id=GroupId("B1"),
        level="L1",
        a=(Nm(0), Nm(0)),
        b=(Nm(length_in * INCH), Nm(0)),
        length_nm=Nm(length_in * INCH),
        base_z_nm=Nm(0),
        top_nm=Nm(9 * FOOT),
        family="stud-6",
        openings=openings,
    )


def door(from_in: int, width_in: int = 36, height_in: int = 80) -> BearingOpening:
    return BearingOpening(id="bd1", from_nm=Nm(from_in * INCH), width_nm=Nm(width_in * INCH), height_nm=Nm(height_in * INCH))


def members(bearing: BearingWall) -> tuple[Piece, ...]:
    return frame_bearing_walls(building_of(bearing=(bearing,)), demo_plant())


def places(pieces: tuple[Piece, ...], note: str | None = None) -> list[float]:
    chosen = [piece for piece in pieces if piece.role == "stud" and (piece.notes == ((note,) if note else ()))]
    return [piece.outline[0][0] / INCH for piece in chosen]


def test_studs_stand_at_both_ends_and_at_16_inches() -> None:
    assert places(members(wall(96))) == [0.8125, 16, 32, 48, 64, 80, 95.1875]


def test_track_runs_below_and_above_and_studs_fit_between() -> None:
    made = members(wall(96))
    tracks = [piece for piece in made if piece.role == "track"]
    assert [piece.length_nm for piece in tracks] == [96 * INCH] * 2
    stud = next(piece for piece in made if piece.role == "stud")
    assert 0 < 9 * FOOT - stud.length_nm < INCH // 8


def test_an_opening_has_kings_jacks_a_double_header_and_no_bottom_track() -> None:
    made = members(wall(144, door(48)))
    assert places(made, "jack stud") == [48 - 0.8125, 84 + 0.8125]
    assert 48 - 1.625 - 0.8125 in places(made)
    assert 84 + 1.625 + 0.8125 in places(made)
    assert not [place for place in places(made) if 48 < place < 84]
    headers = [piece for piece in made if piece.role == "header"]
    assert [piece.length_nm for piece in headers] == [Nm(round((36 + 2 * 1.625) * INCH))] * 2
    bottom = [piece for piece in made if piece.notes == ("bottom track",)]
    assert [piece.length_nm / INCH for piece in bottom] == [48, 60]


def test_long_track_comes_in_stock_lengths_that_butt() -> None:
    made = members(wall(300))
    assert [piece.length_nm / INCH for piece in made if piece.notes == ("bottom track",)] == [240, 60]


def test_a_door_at_the_very_end_is_refused_by_name() -> None:
    with pytest.raises(NoPlan) as refusal:
        members(wall(144, door(0)))
    assert refusal.value.faults[0].path == "bearing_walls.B1.openings.bd1"


def test_a_door_without_room_for_its_header_is_refused() -> None:
    with pytest.raises(NoPlan) as refusal:
        members(replace(wall(144, door(48, height_in=105))))
    assert "header" in refusal.value.faults[0].problem


def test_a_stud_that_would_foul_a_king_stands_halfway_so_that_none_are_over_16_inches_apart() -> None:
    made = places(members(wall(276, door(120))))
    assert 160 not in made
    assert max(right - left for left, right in pairwise(made) if not left < 138 < right) <= 16
