"""Walls taller than any panel, and tops bevelled to the roof."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from solver.domain.building import Building, Finish, RoofPlane
from solver.domain.ids import GroupId
from solver.domain.plant import Plant
from solver.errors import NoPlan
from solver.reading.read_order import read_order
from solver.takeoff.check import check
from solver.takeoff.take_off import take_off
from solver.units import FOOT, MM, Nm
from tests.generators.walls import box, building_of, metric_plant, mm, opening, walls_of
from tests.orders import box as order_box
from tests.orders import faults_of, plant


def test_a_wall_taller_than_any_panel_is_refused_by_its_path() -> None:
    with pytest.raises(NoPlan) as refusal:
        take_off(building_of(walls_of(box(5000, 4000), height=7600)), metric_plant())
    assert {fault.path for fault in refusal.value.faults} == {f"walls[L1.{n}].top" for n in range(4)}
    assert all("floor line" in fault.fix for fault in refusal.value.faults)


@pytest.mark.parametrize(("height", "rows"), [(7300, 1), (7600, 2), (14000, 2), (15000, 3)])
def test_a_family_that_may_be_lapped_gets_planned_joints(height: float, rows: int) -> None:
    """7315.2 (24 ft) is the longest that is handled; each joint laps 200."""
    plant = metric_plant(end_lap_nm=mm(200), closing_nm=mm(25), joint_growth_nm=mm(1))
    building = building_of(walls_of(box(5000, 4000), height=height, openings={0: [opening("w", 1500, 2500, 6500, 7250)]}))
    taken = take_off(building, plant)
    assert check(building, plant, taken).sound
    bay = [p for p in taken.pieces if p.role == "wall_panel" and p.group == "L1.1" and p.outline[0][0] == 0]
    assert len(bay) == rows
    assert max(piece.length_nm for piece in bay) <= mm(7315.2)
    assert sum(piece.length_nm for piece in bay) == mm(height + 200 * (rows - 1))
    with_window = [p for p in taken.pieces if p.group == "L1.0" and p.role == "wall_panel"]
    feet = {p.outline[0][1] for p in with_window} - {0}
    assert all(abs(foot - edge) >= mm(150) for foot in feet for edge in (mm(6500), mm(7250)))


def tall(family: str) -> dict[str, Any]:
    order = order_box() | {"families": {"wall": family}}
    order["levels"][0]["top"] = 13_000
    return order


def test_the_plants_six_inch_wall_may_be_lapped_and_its_four_inch_wall_may_not() -> None:
    """13 m is over the 40 ft that panels are made and lifted in: a planned joint, or a clear refusal."""
    building = read_order(tall("W6"), plant())
    taken = take_off(building, plant())
    assert check(building, plant(), taken).faults == ()
    assert max(piece.length_nm for piece in taken.pieces if piece.is_panel) <= 40 * FOOT
    found = faults_of(tall("W4"))
    assert "may not be lapped at a joint" in found["levels[0].top"]


def test_the_proof_notices_a_lap_that_is_missing() -> None:
    plant = metric_plant(end_lap_nm=mm(200), closing_nm=mm(25))
    building = building_of(walls_of(box(5000, 4000), height=7600))
    taken = take_off(building, plant)
    upper = next(piece for piece in taken.pieces if piece.role == "wall_panel" and piece.outline[0][1] > 0)
    bare = replace(upper, allowances=tuple(item for item in upper.allowances if item.name != "end_lap"))
    spoiled = replace(taken, pieces=tuple(bare if piece is upper else piece for piece in taken.pieces))
    assert any("lap" in fault.problem for fault in check(building, plant, spoiled).faults)


def test_a_gable_too_tall_at_its_ridge_is_jointed_below_its_eaves() -> None:
    gable = [(0, 5000), (4000, 8000), (8000, 5000)]
    plant = metric_plant(end_lap_nm=mm(200))
    building = building_of(walls_of(box(8000, 4000), height=5000, tops={0: gable, 2: gable}))
    taken = take_off(building, plant)
    assert [str(fault) for fault in check(building, plant, taken).faults] == []
    feet = {p.outline[0][1] for p in taken.pieces if p.group == "L1.0" and p.role == "wall_panel"}
    assert len(feet) == 2
    assert max(p.length_nm for p in taken.pieces if p.role == "wall_panel") <= mm(7315.2)


def roofed(pitch: tuple[int, int], plant: Plant) -> tuple[Building, Plant]:
    """A box whose wall 0 carries an eave; the plane itself takes no part here but for its pitch."""
    walls = walls_of(box(6000, 5000))
    plane = RoofPlane(
        id=GroupId("R.0"),
        roof="R",
        a=walls[0].a,
        b=walls[0].b,
        z_nm=mm(2700),
        rise=pitch[0],
        run=pitch[1],
        outline=((Nm(0), Nm(0)), (mm(6000), Nm(0)), (mm(6000), mm(2000)), (Nm(0), mm(2000))),
        edges=("eave", "rake", "ridge", "rake"),
        family="R6",
        finish=Finish(outside="slate", inside="white"),
    )
    return building_of([replace(walls[0], under_roof=("R.0",)), *walls[1:]], roof=(plane,)), plant


def test_an_eave_walls_top_is_bevelled_where_the_plant_does_that() -> None:
    """Case G13: under 30 degrees the inside face of a 150 panel stands 86.60 higher."""
    building, plant = roofed((577_350_269_190, 10**12), metric_plant(bevel_top=True, closing_nm=mm(25)))
    taken = take_off(building, plant)
    row = [p for p in taken.pieces if p.group == "L1.0" and p.role == "wall_panel"]
    for piece in row:
        assert (piece.head.tilt_udeg, piece.head.long_face) == (30_000_000, "inside")
        named = [item.amount_nm for item in piece.allowances if item.name == "long_face"]
        assert named[0] / MM == pytest.approx(86.60, abs=0.006)
        assert piece.length_nm == mm(2700) + named[0]
    walls_only = [fault for fault in check(building, plant, taken).faults if fault.path.startswith("L1")]
    assert walls_only == []
    assert {p.head.tilt_udeg for p in taken.pieces if p.group == "L1.1" and p.role == "wall_panel"} == {0}
    square, plain = roofed((577_350_269_190, 10**12), metric_plant())
    assert {p.head.tilt_udeg for p in take_off(square, plain).pieces if p.role == "wall_panel"} == {0}
