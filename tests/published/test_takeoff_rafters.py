"""Roof planes and panel cuts against carpenters' rafter tables and compound mitre tables.

Rafter table: per 12 in of run, pitches 2/12 to 18/12, computed, with anchors read in the US Navy builder manual (7/12: 13.89
common, 9 ft 3 1/8 in for 8 ft of run; 8/12: hip 18.76, side cut of jacks 10 on 12), the US Army carpentry manual (16/12: 20.00,
13/12: 17.69), Griffith, Carpentry (12/12: 16.97) and Radford (10/12: jack 12 and 15 7/12, hip 17 and 19 3/4). Engraved squares
round to 1/8 or 1/16, so lengths are asserted within 1/32 in of the exact figure.
Mitre table: n sides pitched P, M = atan(tan(180/n) cos P), B = asin(sin(180/n) sin P); a printed bench-saw chart agrees in 139
of 140 legible cells to 0.01 degrees (its n = 7, P = 25 is a misprint).
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from solver.domain.building import Building, Point3, RoofPlane
from solver.domain.piece import Piece
from solver.domain.plant import Plant
from solver.reading.read_order import read_order
from solver.takeoff.roof_cuts import tilt_of_vertical_cut
from solver.takeoff.roof_space import to_space
from solver.takeoff.roofs import roof_pieces
from solver.units import INCH, Nm
from tests.orders import box, plant

ROWS = {  # pitch: common, hip, jack difference at 16 in, jack side cut, hip side cut, hip degrees, backing degrees
    2: (12.17, 17.09, 16.221, 11.837, 11.918, 6.721, 6.676),
    3: (12.37, 17.23, 16.492, 11.642, 11.817, 10.025, 9.875),
    4: (12.65, 17.44, 16.865, 11.384, 11.680, 13.263, 12.921),
    5: (13.00, 17.69, 17.333, 11.077, 11.511, 16.416, 15.781),
    6: (13.42, 18.00, 17.889, 10.733, 11.314, 19.471, 18.435),
    7: (13.89, 18.36, 18.523, 10.365, 11.093, 22.415, 20.873),
    8: (14.42, 18.76, 19.230, 9.985, 10.854, 25.239, 23.093),
    9: (15.00, 19.21, 20.000, 9.600, 10.601, 27.938, 25.104),
    10: (15.62, 19.70, 20.827, 9.219, 10.339, 30.509, 26.916),
    11: (16.28, 20.22, 21.705, 8.846, 10.070, 32.951, 28.542),
    12: (16.97, 20.78, 22.627, 8.485, 9.798, 35.264, 30.000),
    13: (17.69, 21.38, 23.589, 8.139, 9.526, 37.453, 31.304),
    14: (18.44, 22.00, 24.585, 7.809, 9.257, 39.521, 32.471),
    15: (19.21, 22.65, 25.612, 7.496, 8.991, 41.473, 33.515),
    16: (20.00, 23.32, 26.667, 7.200, 8.731, 43.314, 34.450),
    17: (20.81, 24.02, 27.745, 6.920, 8.478, 45.050, 35.288),
    18: (21.63, 24.74, 28.844, 6.656, 8.232, 46.686, 36.040),
}
RUN_FT = 10  # a hip roof 30 x 20 ft


@cache
def hip_roof(rise: int) -> Building:
    """A hip roof on a rectangle, read from an order."""
    order = box() | {"unit": "in", "openings": []}
    for corner, at in zip(order["outlines"]["o"]["corners"], [(0, 0), (30, 0), (30, 20), (0, 20)], strict=True):
        corner["at"] = [f"{at[0]} ft", f"{at[1]} ft"]
    order["levels"][0] |= {"top": "roof"}
    order["roofs"] = [{"id": "R", "kind": "hip", "over": "L1", "pitch": f"{rise}/12", "eave_z": "9 ft"}]
    order["deliveries"][0]["parts"].append("R")
    return read_order(order, plant())


def wide_plant(cover_in: int = 16) -> Plant:
    """A plant whose panels are as wide as jack rafters are apart, without growth or gap, and whose saw reaches all."""
    family = replace(
        plant().family("R6"),
        cover_nm=Nm(cover_in * INCH),
        narrowest_rip_nm=Nm(INCH),
        joint_growth_nm=Nm(0),
        ridge_gap_nm=Nm(0),
    )
    saw = replace(plant().saw, swing_udeg=85_000_000, tilt_udeg=60_000_000, depth_nm=Nm(20 * INCH))
    others = tuple(item for item in plant().families if item.id != "R6")
    return replace(plant(), families=(*others, family), saw=saw)


def edge_ends(item: RoofPlane, kind: str) -> tuple[Point3, Point3]:
    n = item.edges.index(kind)
    return to_space(item, item.outline[n]), to_space(item, item.outline[(n + 1) % len(item.outline)])


def inches(length_nm: float) -> float:
    return length_nm / INCH


@pytest.mark.parametrize("rise", ROWS)
def test_common_rafter_length_is_the_depth_of_a_plane(rise: int) -> None:
    end = hip_roof(rise).roof[1]
    depth = max(y for _, y in end.outline)
    assert inches(depth) / RUN_FT == pytest.approx(math.hypot(12, rise), abs=1 / 32 / RUN_FT)
    assert inches(depth) / RUN_FT == pytest.approx(ROWS[rise][0], abs=0.005)


@pytest.mark.parametrize("rise", ROWS)
def test_hip_length_and_slope_are_the_tables(rise: int) -> None:
    start, end = edge_ends(hip_roof(rise).roof[1], "hip")
    size = math.dist(start, end)
    assert inches(size) / RUN_FT == pytest.approx(ROWS[rise][1], abs=0.005)
    assert math.degrees(math.asin(abs(end[2] - start[2]) / size)) == pytest.approx(ROWS[rise][5], abs=0.0005)


@cache
def end_panels(rise: int) -> tuple[Piece, ...]:
    building = hip_roof(rise)
    return roof_pieces(building.roof[1], building, wide_plant())


@pytest.mark.parametrize("rise", ROWS)
def test_neighbouring_panels_differ_as_jack_rafters_16_inches_apart(rise: int) -> None:
    second = end_panels(rise)[1]
    assert inches(second.edge_b[1] - second.edge_a[1]) == pytest.approx(ROWS[rise][2], abs=1 / 32)
    assert inches(second.edge_b[1] - second.edge_a[1]) == pytest.approx(ROWS[rise][2], abs=0.0006)


@pytest.mark.parametrize("rise", ROWS)
def test_saw_swing_is_the_side_cut_of_jacks_and_its_tilt_the_backing_of_hips(rise: int) -> None:
    """A jack's side cut, x on 12, lies along the roof's surface: the panel's hip cut is 12 on x from square."""
    head = end_panels(rise)[1].head
    assert 12 / math.tan(math.radians(head.swing_udeg / 1e6)) == pytest.approx(ROWS[rise][3], abs=0.0006)
    assert head.tilt_udeg / 1e6 == pytest.approx(ROWS[rise][6], abs=0.0006)


@pytest.mark.parametrize("rise", ROWS)
def test_hip_side_cut_is_the_tables(rise: int) -> None:
    """Side cut of a hip, 12 x (its level run) / (its length) on 12: 12 x sqrt(288) / h."""
    start, end = edge_ends(hip_roof(rise).roof[1], "hip")
    level = math.dist(start[:2], end[:2])
    assert 12 * level / math.dist(start, end) == pytest.approx(ROWS[rise][4], abs=0.0006)


def test_the_navy_manuals_common_rafter_of_9_feet_3_and_an_eighth() -> None:
    """US Navy builder manual: pitch 7/12, span 16 ft, run 8 ft: 111.12 in = 9 ft 3 1/8 in."""
    order = box() | {"unit": "in", "openings": []}
    for corner, at in zip(order["outlines"]["o"]["corners"], [(0, 0), (30, 0), (30, 16), (0, 16)], strict=True):
        corner["at"] = [f"{at[0]} ft", f"{at[1]} ft"]
    order["levels"][0] |= {"top": "roof"}
    order["roofs"] = [{"id": "R", "kind": "gable", "ridge": "x", "over": "L1", "pitch": "7/12", "eave_z": "9 ft"}]
    order["deliveries"][0]["parts"].append("R")
    building = read_order(order, plant())
    panel = roof_pieces(building.roof[0], building, wide_plant())[0]
    assert inches(panel.length_nm) == pytest.approx(111.12, abs=1 / 32)


MITRES: dict[int, dict[int, tuple[float, float]]] = {  # pitch: sides: mitre along the eave, bevel
    5: {4: (44.89, 3.53), 5: (35.90, 2.94), 6: (29.91, 2.50), 8: (22.42, 1.91)},
    10: {4: (44.56, 7.05), 5: (35.58, 5.86), 6: (29.62, 4.98), 8: (22.19, 3.81)},
    15: {4: (44.01, 10.55), 5: (35.06, 8.75), 6: (29.15, 7.44), 8: (21.81, 5.68)},
    20: {4: (43.22, 14.00), 5: (34.32, 11.60), 6: (28.48, 9.85), 8: (21.27, 7.52)},
    25: {4: (42.19, 17.39), 5: (33.36, 14.38), 6: (27.62, 12.20), 8: (20.58, 9.31)},
    30: {4: (40.89, 20.70), 5: (32.18, 17.09), 6: (26.57, 14.48), 8: (19.73, 11.03)},
    35: {4: (39.32, 23.93), 5: (30.76, 19.70), 6: (25.31, 16.67), 8: (18.74, 12.68)},
    40: {4: (37.45, 27.03), 5: (29.10, 22.20), 6: (23.86, 18.75), 8: (17.60, 14.24)},
    45: {4: (35.26, 30.00), 5: (27.19, 24.56), 6: (22.21, 20.70), 8: (16.32, 15.70)},
    50: {4: (32.73, 32.80), 5: (25.03, 26.76), 6: (20.36, 22.52), 8: (14.91, 17.05)},
}


@cache
def pyramid(sides: int, pitch: int) -> tuple[Building, tuple[Piece, ...]]:
    """A roof over a regular outline of so many sides, 12 ft from its middle to its corners."""
    turns = [2 * math.pi * n / sides for n in range(sides)]
    corners = [
        {"id": f"c{n}", "at": [round(144 * math.cos(turn), 6), round(144 * math.sin(turn), 6)]} for n, turn in enumerate(turns)
    ]
    order: dict[str, Any] = box() | {"unit": "in", "openings": []}
    order["outlines"]["o"] = {"corners": corners, "walls": [f"w{n}" for n in range(sides)]}
    order["levels"][0] |= {"top": "roof"}
    order["roofs"] = [{"id": "R", "kind": "skeleton", "over": "L1", "pitch": f"{pitch} deg", "eave_z": "9 ft"}]
    order["deliveries"][0]["parts"].append("R")
    building = read_order(order, plant())
    return building, roof_pieces(building.roof[0], building, wide_plant(24))


@pytest.mark.parametrize("sides", [4, 5, 6, 8])
@pytest.mark.parametrize("pitch", MITRES)
def test_hip_cuts_of_regular_roofs_are_the_compound_mitre_tables(pitch: int, sides: int) -> None:
    """Panels run up the slope, so the saw swings 90 degrees less the table's mitre (case G12); the bevel is the table's."""
    mitre, bevel = MITRES[pitch][sides]
    building, panels = pyramid(sides, pitch)
    assert len(building.roof) == sides
    first = panels[0]
    assert first.head.swing_udeg / 1e6 == pytest.approx(90 - mitre, abs=0.006)
    assert first.head.tilt_udeg / 1e6 == pytest.approx(bevel, abs=0.006)


@pytest.mark.parametrize(
    ("spring", "corner", "mitre", "bevel"),
    [
        (38, 90, 31.619, 33.863),
        (45, 90, 35.264, 30.000),
        (52, 90, 38.238, 25.807),
        (38, 120, 19.568, 23.204),
        (38, 135, 14.306, 17.551),
        (45, 120, 22.208, 20.705),
        (45, 135, 16.325, 15.700),
        (52, 1, 89.36550, 37.99830),
        (52, 6, 86.19507, 37.93868),
        (38, 1, 89.18790, 51.99721),
    ],
)
def test_crown_tables_agree_with_the_vertical_cut(spring: int, corner: int, mitre: float, bevel: float) -> None:
    """Published crown moulding tables: a moulding that springs S from the wall is a roof of pitch 90 - S over corner C.

    Its mitre runs along the eave: the edge (cos M, sin M) of the moulding's face, cut by the vertical plane that halves C.
    """
    pitch = math.radians(90 - spring)
    rise, run = round(math.tan(pitch) * 10**9), 10**9
    across = math.radians(corner / 2)
    dx, dy = math.cos(across), math.sin(across) / math.cos(pitch)
    assert 90 - math.degrees(math.atan2(dy, dx)) == pytest.approx(mitre, abs=0.001)
    assert tilt_of_vertical_cut(round(dx * 10**12), round(dy * 10**12), rise, run) == pytest.approx(bevel, abs=0.001)
