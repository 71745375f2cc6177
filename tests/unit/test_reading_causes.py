"""One cause, one fault, and no fault that hides another: units, corner ids, names of planes, seams."""

from __future__ import annotations

import copy
import math
import tomllib
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest

from service.catalog import plant_from_json
from solver.domain.building import RoofPlane
from solver.errors import InputError, NoPlan
from solver.reading.read_order import read_order
from solver.takeoff.check import check
from solver.takeoff.take_off import take_off
from solver.units import MM
from tests.orders import DATA, box, faults_of, plant, with_gable

TEE = [(0, 0), (12000, 0), (12000, 5000), (7500, 5000), (7500, 9000), (4500, 9000), (4500, 5000), (0, 5000)]


def outlined(points: Sequence[tuple[float, float]], **roof: Any) -> dict[str, Any]:
    """The box's order over another outline, under a skeleton roof."""
    order = box()
    corners = [{"id": f"c{n}", "at": list(at)} for n, at in enumerate(points)]
    order["outlines"]["o"] = {"corners": corners, "walls": [f"w{n}" for n in range(len(points))]}
    order["openings"], order["levels"][0]["top"] = [], "roof"
    order["roofs"] = [{"id": "R", "kind": "skeleton", "over": "L1", "pitch": "4/12", "eave_z": 2700} | roof]
    order["deliveries"][0]["parts"] = ["L1", "R"]
    return order


def test_a_missing_unit_is_one_fault_and_hides_none_that_needs_no_unit() -> None:
    order = with_gable(box(), pitch="95 deg", over="L9")
    order["openings"][0]["on"] = "L1.nowhere"
    order["start"] = {"corner": "z"}
    with_unit = set(faults_of(order))
    del order["unit"]
    told = faults_of(order)
    assert set(told) == with_unit | {"unit"}
    assert {"roofs[0].pitch", "roofs[0].over", "openings[0].on", "start.corner"} <= set(told)
    numbers = 4 * 2 + 1 + 4 + 3 + 1  # corners, a level's base, a window, a door, an eave
    assert f"is missing; {numbers} lengths given as numbers hang on it" in told["unit"]


def test_a_missing_unit_makes_up_no_fault_of_size() -> None:
    """8,000 by 6,000 is a box in millimetres and over 500 ft in inches: neither is told where nobody knows."""
    order = box()
    order["levels"][0]["top"] = 2700.5
    del order["unit"]
    assert set(faults_of(order)) == {"unit"}
    order["unit"] = "furlong"
    assert set(faults_of(order)) == {"unit"}


def test_a_wrong_unit_of_a_catalog_is_one_fault_with_what_hangs_on_it() -> None:
    catalog = tomllib.loads((DATA / "plant.toml").read_text(encoding="utf-8"))
    for change in ("furlong", None):
        spoiled = copy.deepcopy(catalog)
        spoiled.pop("unit")
        if change:
            spoiled["unit"] = change
        spoiled["families"][0]["cover"] = -1
        with pytest.raises(InputError) as refusal:
            plant_from_json(spoiled)
        paths = {fault.path: fault.problem for fault in refusal.value.faults}
        assert set(paths) == {"plant.unit", "plant.families[0].cover"}
        count = int(paths["plant.unit"].split(";")[1].split()[0])
        assert 100 < count < 400


def test_two_outlines_may_not_share_a_corner_id() -> None:
    order = box()
    order["outlines"]["p"] = copy.deepcopy(order["outlines"]["o"])
    order["levels"].append({"id": "L2", "outline": "p", "base": 2700, "top": 2500})
    order["deliveries"][0]["parts"].append("L2")
    told = faults_of(order)
    assert set(told) == {f"outlines.p.corners[{n}].id" for n in range(4)}
    assert "first at outlines.o.corners[0].id" in told["outlines.p.corners[0].id"]


def test_a_plane_over_two_walls_in_line_has_both_their_names() -> None:
    """A T plan: w2 and w6 lie in one line and share a plane; 1 m from w6's left end is 8.5 m from w2's (12 - 4.5 + 1)."""
    order = outlined(TEE)
    order["openings"] = [
        {"id": "sky", "on": "R.w6", "kind": "skylight", "from_left": 1000, "up": 600, "width": 500, "height": 500}
    ]
    building = read_order(order, plant())
    (plane,) = (plane for plane in building.roof if plane.openings)
    assert plane.id == "R.w2"
    assert (plane.openings[0].u0_nm, plane.openings[0].u1_nm) == (8500 * MM, 9000 * MM)
    takeoff = take_off(building, plant())
    assert check(building, plant(), takeoff).faults == ()
    order["openings"][0]["on"] = "R.w9"
    assert "R.w9" in faults_of(order)["openings[0].on"]


def coplanar() -> dict[str, Any]:
    """A lean-to roof given as two planes side by side that lie in one plane."""
    order = box()
    order["levels"][0]["top"], order["openings"] = "roof", []
    order["roofs"] = [
        {
            "id": "P",
            "kind": "planes",
            "over": "L1",
            "planes": [
                {
                    "id": name,
                    "line": [[x, 0], [z, 0]],
                    "z": 2700,
                    "pitch": "3/12",
                    "plan": [[x, 0], [z, 0], [z, 6000], [x, 6000]],
                }
                for name, x, z in (("A", 0, 3500), ("B", 3500, 8000))
            ],
        }
    ]
    order["deliveries"][0]["parts"] = ["L1", "P"]
    return order


def test_planes_in_one_plane_meet_in_a_seam_without_trim() -> None:
    building = read_order(coplanar(), plant())
    assert [plane.edges.count("seam") for plane in building.roof] == [1, 1]
    takeoff = take_off(building, plant())
    assert check(building, plant(), takeoff).faults == ()
    assert not [piece for piece in takeoff.pieces if piece.role in ("valley_trim", "hip_trim", "ridge_trim")]


def test_a_valley_between_planes_in_one_plane_is_noticed() -> None:
    building = read_order(coplanar(), plant())

    def valley(plane: RoofPlane) -> RoofPlane:
        return replace(plane, edges=tuple("valley" if kind == "seam" else kind for kind in plane.edges))

    false = replace(building, roof=tuple(valley(plane) for plane in building.roof))
    faults = check(false, plant(), take_off(false, plant())).faults
    assert any("lie in one plane" in fault.problem for fault in faults)


def test_a_tower_of_thirty_sides_is_refused_for_its_cuts_not_for_an_overhang_that_it_has_not() -> None:
    """Corners rounded to 0.00001 mm keep thirty eaves from meeting in one point.

    The saw swings 60 degrees; these hips ask for atan(tan 84 / cos(atan 4/12)) = 84.3 (the table's rule of case G12).
    """
    round_plan = [(6096 * math.cos(n * math.pi / 15), 6096 * math.sin(n * math.pi / 15)) for n in range(30)]
    order = outlined([(round(x, 5), round(y, 5)) for x, y in round_plan])
    building = read_order(order, plant())
    assert len(building.roof) == 30
    with pytest.raises(NoPlan) as refusal:
        take_off(building, plant())
    assert {fault.problem for fault in refusal.value.faults} == {"a cut 84.3° from square is beyond the saw's swing of 60.0°"}
