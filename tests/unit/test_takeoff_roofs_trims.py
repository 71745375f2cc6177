"""Roof trims: each edge once, laps by the published count of parts, ends cut to the pitch."""

from __future__ import annotations

from itertools import pairwise

import pytest

from solver.domain.piece import Piece
from solver.takeoff.linear_runs import lapped_spans
from solver.takeoff.roof_trims import roof_trims
from solver.units import INCH, Nm
from tests.generators.roof_planes import building_of, degrees, demo_plant, gable_plane, mm, plane


@pytest.mark.parametrize(("length", "parts"), [(120, 1), (234, 2), (235, 3), (480, 5)])
def test_lapped_parts_are_counted_with_their_laps(length: int, parts: int) -> None:
    """Case G14, computed: stock 120 in, lap 6 in; 480 in takes 5, not 4."""
    assert len(lapped_spans(Nm(length * INCH), Nm(120 * INCH), Nm(6 * INCH))) == parts


def test_a_ridge_of_13_metres_takes_five_parts() -> None:
    """Case G14, computed: 13,000 mm of ridge from 3,048 mm stock with 152.4 mm laps."""
    parts = lapped_spans(mm(13_000), mm(3048), mm(152.4))
    assert len(parts) == 5
    assert parts[0] == (0, mm(3048))
    assert parts[-1][1] == mm(13_000)
    assert all(high - low <= mm(3048) for low, high in parts)


def both_slopes() -> tuple[Piece, ...]:
    shape = {"length": 12_000, "run_mm": 5000, "eave": 500, "rake": 500}
    south = gable_plane(plane_id="R.S", a=(0, 0), b=(12_000, 0), **shape)
    north = gable_plane(plane_id="R.N", a=(12_000, 10_000), b=(0, 10_000), **shape)
    return roof_trims(building_of(south, north), demo_plant())


def run_mm(pieces: tuple[Piece, ...], role: str) -> float:
    chosen = [piece for piece in pieces if piece.role == role]
    return sum(piece.edge_a[1] - sum(item.amount_nm for item in piece.allowances) for piece in chosen) / 1e6


def test_the_ridge_is_trimmed_once_and_eaves_and_rakes_on_both_slopes() -> None:
    made = both_slopes()
    assert run_mm(made, "ridge_trim") == 13_000
    assert run_mm(made, "eave_trim") == 26_000
    assert run_mm(made, "rake_trim") == pytest.approx(4 * 6350.853, abs=0.01)
    assert {piece.group for piece in made if piece.role == "ridge_trim"} == {"R.S"}


def test_rake_trim_is_cut_plumb_at_the_ridge_only() -> None:
    """Case G13, computed: the ridge end is cut at the pitch, 30 degrees from square."""
    rakes = [piece for piece in both_slopes() if piece.role == "rake_trim" and piece.group == "R.S"]
    swings = sorted(round(degrees(cut.swing_udeg), 3) for piece in rakes for cut in (piece.foot, piece.head))
    assert swings == [0.0] * (2 * len(rakes) - 2) + [30.0, 30.0]


def test_laps_are_named_and_the_run_is_covered_once() -> None:
    ridge = [piece for piece in both_slopes() if piece.role == "ridge_trim"]
    assert [item.name for piece in ridge[:-1] for item in piece.allowances] == ["lap"] * (len(ridge) - 1)
    assert ridge[-1].allowances == ()
    assert all(one.outline[1] == next_.outline[0] for one, next_ in pairwise(ridge))


def test_eave_trims_meet_mitred_where_a_hip_comes_down() -> None:
    """Common practice, no source: 45 degree mitres at square corners."""
    up = 2000 * 1.25  # pitch 9/12: one over its cosine is exactly 15/12
    hip = plane([(0, 0), (4000, 0), (2000, up)], ("eave", "hip", "hip"), rise=9, run=12)
    eave = next(piece for piece in roof_trims(building_of(hip), demo_plant()) if piece.role == "eave_trim")
    assert (degrees(eave.foot.swing_udeg), degrees(eave.head.swing_udeg)) == (45.0, 45.0)


def test_the_high_edge_of_a_shed_is_trimmed_as_an_eave() -> None:
    shed = plane([(0, 0), (4000, 0), (4000, 3000), (0, 3000)], ("eave", "rake", "open", "rake"), rise=2, run=12)
    made = roof_trims(building_of(shed), demo_plant())
    assert sorted(piece.outline for piece in made if piece.role == "eave_trim") == [
        ((mm(0), mm(0)), (mm(4000), mm(0))),
        ((mm(4000), mm(3000)), (mm(0), mm(3000))),
    ]
