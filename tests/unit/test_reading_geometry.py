"""What an order says becomes exact geometry: walls, tops, planes, and dock times."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Any

import pytest

from solver.codec import schema
from solver.domain.building import Building
from solver.domain.order import Order
from solver.reading.geometry import divided_by_root, rounded_root, slope_length
from solver.reading.read_order import order_schema, read_order
from solver.units import FOOT, INCH, MM
from tests.orders import box, demo, demo_building, plant, with_gable
from tests.shared import case


def built(order: Any) -> Building:
    return read_order(order, plant())


def test_walls_run_from_left_to_right_seen_from_outside() -> None:
    walls = {str(wall.id): wall for wall in built(box()).walls}
    assert [wall.length_nm // MM for wall in walls.values()] == [8000, 6000, 8000, 6000]
    assert walls["L1.S"].left.id == "a"
    assert walls["L1.S"].right.neighbour == "L1.E"
    assert walls["L1.S"].left.neighbour == "L1.W"
    assert all(wall.left.interior_udeg == 90_000_000 for wall in walls.values())


def test_the_inside_corner_of_an_l_is_270_degrees() -> None:
    walls = {str(wall.id): wall for wall in demo_building("ell-12").walls}
    assert walls["L1.E1"].right.interior_udeg == 270_000_000
    assert walls["L1.S2"].left.interior_udeg == 270_000_000


def test_the_fzk_gable_follows_case_g8() -> None:
    """Case G8: gable wall 10 m, eave 3,200 mm at the outside face, pitch 30: peak 6,086.75 mm."""
    order = box()
    for corner, at in zip(order["outlines"]["o"]["corners"], [[0, 0], [12000, 0], [12000, 10000], [0, 10000]], strict=True):
        corner["at"] = at
    order = with_gable(order, eave_z=3200, overhang={"eave": 500, "rake": 500})
    building = built(order)
    east = next(wall for wall in building.walls if wall.id == "L1.E")
    peak = next(item for item in case("G8")["expected"] if "peak" in item)["peak"]
    assert [u // MM for u, _ in east.top] == [0, 5000, 10000]
    assert east.top[0][1] == east.top[2][1] == 3200 * MM
    assert east.top[1][1] / MM == pytest.approx(peak, abs=0.005)
    assert east.under_roof == ("R.S", "R.N")


def test_the_fzk_plane_has_the_lower_face_of_case_g10() -> None:
    """Case G10: run 5,000, overhang 500, pitch 30, no ridge gap: lower face 6,350.85 mm; wall line 577.35 from the eave."""
    order = box()
    for corner, at in zip(order["outlines"]["o"]["corners"], [[0, 0], [12000, 0], [12000, 10000], [0, 10000]], strict=True):
        corner["at"] = at
    plane = built(with_gable(order, overhang={"eave": 500, "rake": 500})).roof[0]
    low, high = plane.outline[0][1], plane.outline[2][1]
    assert (high - low) / MM == pytest.approx(6350.85, abs=0.005)
    assert -low / MM == pytest.approx(577.35, abs=0.005)
    assert plane.outline[1][0] - plane.outline[0][0] == 13_000 * MM
    assert plane.edges == ("eave", "rake", "ridge", "rake")


def test_a_shed_has_both_overhangs_as_in_case_g10() -> None:
    """Case G10: shed, run 6,000, overhangs 500 and 300, pitch 10: 6,904.9 mm."""
    order = with_gable(box(), kind="shed", low="S", pitch="10 deg", overhang={"low": 500, "high": 300})
    del order["roofs"][0]["ridge"]
    plane = built(order).roof[0]
    assert (plane.outline[2][1] - plane.outline[0][1]) / MM == pytest.approx(6904.9, abs=0.05)
    assert plane.edges == ("eave", "rake", "open", "rake")


def test_a_pitch_in_degrees_is_a_fraction_to_1e_12() -> None:
    plane = built(with_gable(box())).roof[0]
    assert abs(Fraction(plane.rise, plane.run) - Fraction(math.tan(math.radians(30)))) < Fraction(1, 10**12)
    assert plane.pitch_shown == "30 deg"


def test_rakes_may_differ_by_wall() -> None:
    building = built(with_gable(box(), overhang={"rake": {"E": 300, "W": 100}}))
    south, north = building.roof
    assert (south.outline[0][0], south.outline[1][0]) == (-100 * MM, 8300 * MM)  # seen from outside, west is left
    assert (north.outline[0][0], north.outline[1][0]) == (-300 * MM, 8100 * MM)


def test_a_roof_makes_tops_over_the_level_that_it_names_only() -> None:
    order = with_gable(box(), eave_z=3200)
    order["levels"][0]["top"] = 2700
    order["levels"].append({"id": "L2", "outline": "o", "base": 2700, "top": "roof"})
    order["roofs"][0]["over"] = "L2"
    order["deliveries"][0]["parts"].append("L2")
    walls = {str(wall.id): wall for wall in built(order).walls}
    assert walls["L1.E"].top == ((0, 2700 * MM), (6000 * MM, 2700 * MM))
    assert walls["L2.S"].top == ((0, 500 * MM), (8000 * MM, 500 * MM))
    assert walls["L1.S"].on_slab
    assert not walls["L2.S"].on_slab


def test_an_l_of_explicit_planes_has_its_valleys_hips_and_tops() -> None:
    building = demo_building("ell-12")
    edges = {str(plane.id): plane.edges for plane in building.roof}
    assert edges["R.S"] == ("eave", "rake", "ridge", "rake", "valley", "valley")
    assert edges["R.WE"] == ("eave", "valley", "ridge", "rake")
    west = next(wall for wall in building.walls if wall.id == "L1.W")
    assert [(u // INCH, z // INCH) for u, z in west.top] == [(0, 96), (144, 168), (288, 96), (480, 96)]
    assert west.under_roof == ("R.N", "R.S", "R.WW")


def test_a_porch_plane_leans_on_its_wall_and_makes_no_top() -> None:
    order = box()
    plane = {"id": "P1", "line": [[2000, -2000], [6000, -2000]], "z": 2000, "pitch": "2/12"}
    plan = [[2000, -2000], [6000, -2000], [6000, 0], [2000, 0]]
    order["roofs"] = [{"id": "P", "kind": "planes", "planes": [plane | {"plan": plan}]}]
    order["deliveries"][0]["parts"].append("P")
    building = built(order)
    assert building.roof[0].edges == ("eave", "rake", "wall", "rake")
    assert all(wall.under_roof == () for wall in building.walls)


def test_explicit_planes_of_a_pyramid_meet_at_hips() -> None:
    order = with_gable(box())
    order["outlines"]["o"]["corners"][1]["at"] = [6000, 0]
    order["outlines"]["o"]["corners"][2]["at"] = [6000, 6000]
    order["openings"] = []
    corners, top = [[0, 0], [6000, 0], [6000, 6000], [0, 6000]], [3000, 3000]
    planes = [
        {"id": f"P{n}", "line": [corners[n], corners[(n + 1) % 4]], "z": 2700, "pitch": "6/12"}
        | {"plan": [corners[n], corners[(n + 1) % 4], top]}
        for n in range(4)
    ]
    order["roofs"] = [{"id": "R", "kind": "planes", "over": "L1", "planes": planes}]
    building = built(order)
    assert {plane.edges for plane in building.roof} == {("eave", "hip", "hip")}
    assert all(wall.top == ((0, 2700 * MM), (6000 * MM, 2700 * MM)) for wall in building.walls)


def test_a_wall_with_a_base_of_its_own_keeps_the_level_of_its_top() -> None:
    order = box()
    order["levels"][0]["walls"] = {"N": {"base": -500}}
    walls = {str(wall.id): wall for wall in built(order).walls}
    assert walls["L1.N"].base_z_nm == -500 * MM
    assert walls["L1.N"].top[0][1] == 3200 * MM


def test_a_lapped_corner_names_who_runs_through() -> None:
    order = box()
    order["outlines"]["o"]["corners"][1]["joint"] = {"kind": "lapped", "through": "E"}
    walls = {str(wall.id): wall for wall in built(order).walls}
    assert walls["L1.E"].left.joint == "lapped_through"
    assert walls["L1.S"].right.joint == "lapped_between"


def test_the_dock_is_due_before_the_site_by_the_transit() -> None:
    order = box()
    order["site"]["transit_minutes"] = 240
    delivery = built(order).deliveries[0]
    assert delivery.need_by == "2031-05-12T07:00:00-06:00"
    assert delivery.dock_due == "2031-05-12T03:00:00-06:00"


def test_transit_over_a_change_of_clocks_is_true_time() -> None:
    """Clocks in the US go forward at 02:00 on the second Sunday of March (15 U.S.C. 260a): 9 March 2031."""
    order = box()
    order["deliveries"][0]["need_by"] = "2031-03-09T07:00"
    order["site"]["transit_minutes"] = 600
    assert built(order).deliveries[0].dock_due == "2031-03-08T20:00:00-07:00"


def test_defaults_come_from_the_plant() -> None:
    building = built(box())
    assert building.walls[0].family == plant().default_families["wall"]
    assert building.trim_colour == plant().default_colours["trim"]
    assert (building.start_corner, building.direction) == ("a", "ccw")


def test_measured_bolts_count_from_the_left_end_of_their_wall() -> None:
    order = box()
    bolts = [{"id": "m1", "on": "L1.S", "along": 300, "across": 76}, {"id": "m2", "on": "L1.W", "along": 300, "across": 76}]
    order["anchors"] = {"holes": "as_measured", "measured_from": "a", "measured": bolts}
    assert [bolt.along_nm // MM for bolt in built(order).measured] == [300, 5700]


def test_a_corner_window_of_two_linked_openings_reads() -> None:
    walls = {str(wall.id): wall for wall in demo_building("cottage-7").walls}
    ends = {opening.id: (opening.u0_nm, opening.u1_nm) for wall in walls.values() for opening in wall.openings}
    assert ends["corner-s"][1] == walls["L1.S"].length_nm == 36 * FOOT
    assert ends["corner-e"][0] == 0


def test_the_schema_is_the_order_types_own() -> None:
    made = order_schema()
    assert made == schema(Order)
    assert made["$defs"]["Order"]["additionalProperties"] is False
    assert {"format", "id", "unit", "outlines", "levels", "site", "deliveries"} == set(made["$defs"]["Order"]["required"])


def test_a_demo_written_again_in_millimetres_is_the_same_building() -> None:
    order = demo("workshop-3")
    order["unit"] = "mm"
    assert built(order).walls == demo_building("workshop-3").walls


@pytest.mark.parametrize("value", [0, 1, 2, 3, 4, 99, 10**18, Fraction(1, 4), Fraction(9, 4), Fraction(25, 4)])
def test_roots_round_to_the_nearest_whole(value: int | Fraction) -> None:
    found = rounded_root(value)
    assert (found - Fraction(1, 2)) ** 2 <= value or found == 0
    assert value < (found + Fraction(1, 2)) ** 2


def test_slopes_keep_their_sign() -> None:
    assert slope_length(-4, 3, 4) == -5
    assert divided_by_root(-10, 4) == -5
