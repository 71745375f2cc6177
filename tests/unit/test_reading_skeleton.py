"""Roofs of equal pitch by straight skeleton: proved by area, by shared corners, and by heights from each eave."""

from __future__ import annotations

import math
import random
from collections import Counter
from fractions import Fraction
from typing import Any

import pytest

from solver.domain.building import Building, Point, RoofPlane
from solver.reading.read_order import read_order
from solver.reading.skeleton import SkeletonError, SkeletonPlane, skeleton_planes
from solver.takeoff.check import check
from solver.takeoff.roof_space import to_space
from solver.takeoff.take_off import take_off
from solver.units import MM, Nm
from tests.orders import box, faults_of, plant

Plan = list[tuple[float, float]]
RECTANGLE: Plan = [(0, 0), (10, 0), (10, 6), (0, 6)]
ELL: Plan = [(0, 0), (10, 0), (10, 5), (6, 5), (6, 12), (0, 12)]
TEE: Plan = [(0, 0), (5, 0), (5, -3), (9, -3), (9, 0), (14, 0), (14, 8), (0, 8)]
YOU: Plan = [(0, 0), (15, 0), (15, 12), (10, 12), (10, 5), (5, 5), (5, 12), (0, 12)]
CROSS: Plan = [(4, 0), (8, 0), (8, 4), (12, 4), (12, 8), (8, 8), (8, 12), (4, 12), (4, 8), (0, 8), (0, 4), (4, 4)]
SKEW: Plan = [(0, 0), (10, -2), (13, 2), (11, 9), (6, 10), (4, 5), (0, 6.5), (-2, 4)]
SHAPES = {"rectangle": RECTANGLE, "L": ELL, "T": TEE, "U": YOU, "cross": CROSS, "skew": SKEW}


def metres(plan: Plan) -> list[Point]:
    return [(Nm(round(x * 1000 * MM)), Nm(round(y * 1000 * MM))) for x, y in plan]


def twice_area(points: Any) -> Fraction:
    ring = list(points)
    return sum((Fraction(a[0] * b[1] - a[1] * b[0]) for a, b in zip(ring, [*ring[1:], ring[0]], strict=True)), Fraction(0))


def eave_area(planes: tuple[SkeletonPlane, ...], walls: int) -> Fraction:
    """Twice the area within the eaves, from the eave edges alone, by the walls' numbers."""
    edges = {}
    for item in planes:
        eaves = [n for n, kind in enumerate(item.edges) if kind == "eave"]
        for wall, n in zip(item.walls, eaves, strict=True):
            edges[wall] = (item.plan[n], item.plan[(n + 1) % len(item.plan)])
    assert sorted(edges) == list(range(walls))
    return twice_area([edges[wall][0] for wall in sorted(edges)])


def assert_covers_once(planes: tuple[SkeletonPlane, ...], walls: int) -> None:
    """Areas add up to the outline's, and every edge but an eave is shared by exactly two planes, run the other way."""
    tiny = len(planes) * 40 * 10**9  # vertices are given to a millionth of a nanometre, over tens of metres
    assert abs(sum(twice_area(item.plan) for item in planes) - eave_area(planes, walls)) < tiny
    sides = Counter(
        (*item.plan[n], *item.plan[(n + 1) % len(item.plan)])
        for item in planes
        for n, kind in enumerate(item.edges)
        if kind != "eave"
    )
    for (ax, ay, bx, by), count in sides.items():
        assert count == 1
        assert sides[(bx, by, ax, ay)] == 1


@pytest.mark.parametrize("overhang", [0, 450])
@pytest.mark.parametrize("name", SHAPES)
def test_planes_cover_the_outline_once(name: str, overhang: int) -> None:
    planes = skeleton_planes(metres(SHAPES[name]), overhang_nm=overhang * MM)
    assert_covers_once(planes, len(SHAPES[name]))


def kinds(plan: Plan) -> Counter[str]:
    return Counter(kind for item in skeleton_planes(metres(plan), overhang_nm=0) for kind in item.edges)


def test_shapes_have_the_hips_valleys_and_ridges_that_a_carpenter_counts() -> None:
    """Each line but an eave is counted from both sides. An L: one ridge a wing, a hip at each outside corner, one valley, and
    one hip more where the lower ridge dies into the higher slope. A T: two hips at the stem, four at the bar, two valleys.
    """
    assert kinds(RECTANGLE) == {"eave": 4, "hip": 8, "ridge": 2}
    assert kinds(ELL) == {"eave": 6, "hip": 12, "valley": 2, "ridge": 4}
    assert kinds(TEE) == {"eave": 8, "hip": 12, "valley": 4, "ridge": 4}
    assert kinds(CROSS) == {"eave": 12, "hip": 16, "valley": 8, "ridge": 8}


def test_walls_that_come_to_lie_in_one_line_share_a_plane() -> None:
    planes = skeleton_planes(metres(TEE), overhang_nm=0)
    assert [item.walls for item in planes if len(item.walls) > 1] == [(0, 4)]


def test_collinear_neighbours_share_a_plane_and_an_eave() -> None:
    planes = skeleton_planes(metres([(0, 0), (4, 0), (10, 0), (10, 6), (0, 6)]), overhang_nm=500 * MM)
    assert planes[0].walls == (0, 1)
    assert planes[0].edges == ("eave", "hip", "ridge", "hip")
    assert sum(twice_area(item.plan) for item in planes) == 2 * 11 * 7 * (1000 * MM) ** 2


def rectilinear(corners: int, seed: int) -> Plan:
    """A rectilinear outline with an even number of corners: a rectangle, notches and bays added where they stay simple."""
    rng = random.Random(seed)
    plan: Plan = [(0, 0), (rng.randint(10, 20), 0)]
    plan += [(plan[1][0], rng.randint(8, 16)), (0, 0)]
    plan[3] = (0, plan[2][1])
    while len(plan) < corners:
        n = rng.randrange(len(plan))
        (ax, ay), (bx, by) = plan[n], plan[(n + 1) % len(plan)]
        length = abs(bx - ax) + abs(by - ay)
        if length < 4:
            continue
        start = rng.randint(1, int(length) - 3)
        end = rng.randint(start + 1, int(length) - 1)
        dx, dy = (bx - ax) / length, (by - ay) / length
        out = rng.choice((-1, 1)) * rng.randint(1, 3)
        bay = [
            (ax + dx * s + dy * out * t, ay + dy * s - dx * out * t) for s, t in ((start, 0), (start, 1), (end, 1), (end, 0))
        ]
        trial = [*plan[: n + 1], *bay, *plan[n + 1 :]]
        if simple(trial):
            plan = trial
    return plan


def simple(plan: Plan) -> bool:
    from shapely.geometry import Polygon

    return bool(Polygon(plan).buffer(-0.2).geom_type == "Polygon" and Polygon(plan).is_valid)


@pytest.mark.parametrize("seed", range(40))
def test_random_rectilinear_outlines_are_covered_once(seed: int) -> None:
    plan = rectilinear(4 + 4 * (seed % 5), seed)
    assert_covers_once(skeleton_planes(metres(plan), overhang_nm=0), len(plan))


def star(corners: int, seed: int) -> Plan:
    rng = random.Random(seed)
    angles = sorted((n + rng.uniform(-0.35, 0.35)) * 2 * math.pi / corners for n in range(corners))
    return [(12 * math.cos(a) * (r := rng.uniform(0.5, 1.2)), 12 * math.sin(a) * r) for a in angles]


@pytest.mark.parametrize("seed", range(40))
def test_random_crooked_outlines_are_covered_once(seed: int) -> None:
    plan = star(4 + seed % 17, seed)
    assert_covers_once(skeleton_planes(metres(plan), overhang_nm=0), len(plan))


def hipped(plan: Plan, **more: Any) -> dict[str, Any]:
    order = box()
    names = [f"w{n}" for n in range(len(plan))]
    order["outlines"]["o"] = {
        "corners": [{"id": f"c{n}", "at": [round(x * 1000), round(y * 1000)]} for n, (x, y) in enumerate(plan)],
        "walls": names,
    }
    order["openings"] = []
    order["levels"][0]["top"] = "roof"
    roof = {"id": "R", "kind": "skeleton", "over": "L1", "pitch": "6/12", "eave_z": 2700, "overhang": {"eave": 400}}
    order["roofs"] = [roof | more]
    order["deliveries"][0]["parts"].append("R")
    return order


def built(plan: Plan, **more: Any) -> Building:
    return read_order(hipped(plan, **more), plant())


@pytest.mark.parametrize("name", SHAPES)
def test_planes_meet_in_space_within_rounding(name: str) -> None:
    """Every corner of a plane is a corner of a neighbour too, at the same height, though each plane rounds its own."""
    roof = built(SHAPES[name]).roof
    held = {item.id: [to_space(item, point) for point in item.outline] for item in roof}
    for item in roof:
        others = [spot for plane_id, spots in held.items() if plane_id != item.id for spot in spots]
        for spot in held[item.id]:
            assert any(max(abs(a - b) for a, b in zip(spot, other, strict=True)) <= 3 for other in others)


def level(item: RoofPlane, n: int) -> bool:
    return item.outline[n][1] == item.outline[(n + 1) % len(item.outline)][1]


@pytest.mark.parametrize("name", SHAPES)
def test_eaves_and_ridges_are_level_to_the_nanometre(name: str) -> None:
    for item in built(SHAPES[name]).roof:
        assert all(level(item, n) for n, kind in enumerate(item.edges) if kind in ("eave", "ridge"))


def test_walls_under_a_hip_are_level_at_the_eave() -> None:
    building = built(RECTANGLE, kind="hip")
    assert {z for wall in building.walls for _, z in wall.top} == {2700 * MM}
    assert [str(item.id) for item in building.roof] == ["R.w0", "R.w1", "R.w2", "R.w3"]
    assert {str(name) for wall in building.walls for name in wall.under_roof} == {"R.w0", "R.w1", "R.w2", "R.w3"}


def test_a_hip_roof_over_an_l_is_a_fault_with_a_way_out() -> None:
    faults = faults_of(hipped(ELL, kind="hip"))
    assert "no rectangle" in faults["roofs[0].over"]


def test_walls_that_close_no_ring_are_a_fault() -> None:
    faults = faults_of(hipped(RECTANGLE, over=["L1.w0", "L1.w1", "L1.w2"]))
    assert "do not close a ring" in faults["roofs[0].over"]


def test_eaves_that_would_cross_over_a_narrow_yard_are_a_fault() -> None:
    narrow: Plan = [(0, 0), (6, 0), (6, 6), (3.4, 6), (3.4, 3), (3, 3), (3, 6), (0, 6)]
    with pytest.raises(SkeletonError):
        skeleton_planes(metres(narrow), overhang_nm=300 * MM)
    assert "overhang" in faults_of(hipped(narrow))["roofs[0].overhang"]


def test_a_missing_wall_would_be_noticed() -> None:
    """The test of coverage itself: without one plane, it fails."""
    planes = skeleton_planes(metres(ELL), overhang_nm=0)
    with pytest.raises(AssertionError):
        assert_covers_once(planes[1:], len(ELL))


def turned(plan: Plan, degrees: float) -> Plan:
    cos, sin = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return [(x * cos - y * sin, x * sin + y * cos) for x, y in plan]


@pytest.mark.parametrize("name", [name for name in SHAPES if name != "skew"])
@pytest.mark.parametrize("degrees", [17.3, 71.9])
def test_a_turned_plan_has_the_planes_of_the_straight_one(name: str, degrees: float) -> None:
    """Corners are rounded to the nanometre, so nothing meets quite at once; still no sliver of a hip or ridge is left."""
    straight = skeleton_planes(metres(SHAPES[name]), overhang_nm=300 * MM)
    crooked = skeleton_planes(metres(turned(SHAPES[name], degrees)), overhang_nm=300 * MM)
    assert [item.walls for item in crooked] == [item.walls for item in straight]
    assert [item.edges for item in crooked] == [item.edges for item in straight]
    assert_covers_once(crooked, len(SHAPES[name]))


@pytest.mark.parametrize("seed", range(6))
def test_a_turned_building_is_taken_off_and_proved(seed: int) -> None:
    plan = turned([(0.7 * x, 0.7 * y) for x, y in rectilinear(8 + 4 * (seed % 3), seed)], 11 + 13 * seed)
    order = hipped(plan, overhang={"eave": 200})
    for corner, (x, y) in zip(order["outlines"]["o"]["corners"], plan, strict=True):
        corner["at"] = [round(x * 1000, 6), round(y * 1000, 6)]
    building = read_order(order, plant())
    assert check(building, plant(), take_off(building, plant())).faults == ()
