"""Rows of the anchor plan: bolts as the slab crew finds them from the corner where it starts."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator

from solver.documents.index import PlanIndex
from solver.domain.building import Building, Point, Wall
from solver.domain.document import AnchorRow, AnchorSheet, CornerCheck, WallRun
from solver.domain.takeoff import Anchor, Takeoff
from solver.units import Nm


def anchor_sheets(index: PlanIndex) -> tuple[AnchorSheet, ...]:
    """Return the anchor plan of every order that has anchors, walls and bolts from the corner where the crew starts."""
    return tuple(_sheet(index, takeoff) for takeoff in index.plan.takeoffs if takeoff.anchors)


def _sheet(index: PlanIndex, takeoff: Takeoff) -> AnchorSheet:
    building, rules = takeoff.building, index.plant.anchors
    walls = walls_in_turn(building)
    place = _axes(building, walls)
    bolts = {anchor.id for anchor in takeoff.anchors}
    return AnchorSheet(
        building=building,
        runs=wall_runs(building, takeoff.anchors),
        corners=tuple(_corners(building, walls, place)),
        to_measure=building.anchor_holes == "as_measured" and any(anchor.why != "measured" for anchor in takeoff.anchors),
        thickness_nm=tuple((family.id, family.thickness_nm) for family in index.plant.families),
        diameter_nm=rules.diameter_nm,
        projection_nm=rules.projection_nm,
        hole_nm=Nm(rules.diameter_nm + rules.hole_over_nm),
        broken=tuple(rule for rule in takeoff.broken if rule.rule == "spacing"),
        warnings=tuple(text for text in takeoff.warnings if bolts & {word.strip(",.:;") for word in text.split()}),
    )


def wall_runs(building: Building, anchors: tuple[Anchor, ...] = ()) -> tuple[WallRun, ...]:
    """Return the walls on the slab in turn, each from the corner that the crew comes to first, with its bolts."""
    walls = walls_in_turn(building)
    return tuple(_runs(building, walls, anchors, _axes(building, walls))) if walls else ()


def storey_runs(building: Building, walls: Iterable[Wall], start: str) -> tuple[WallRun, ...]:
    """Return a storey's walls in turn from a corner, each from the corner that the crew comes to first; no bolts."""
    turn = _in_turn(building, walls, start)
    return tuple(_runs(building, turn, (), _axes(building, turn))) if turn else ()


def walls_in_turn(building: Building) -> tuple[Wall, ...]:
    """Return the walls on the slab in the order's direction of standing, from the start corner.

    Walls that no chain of corners reaches follow in the order given.
    """
    return _in_turn(building, (wall for wall in building.walls if wall.on_slab), building.start_corner)


def _in_turn(building: Building, walls: Iterable[Wall], start: str) -> tuple[Wall, ...]:
    left, corner = list(walls), start
    found = []
    while left:
        wall = next((one for one in left if corners_of_wall(building, one)[0] == corner), left[0])
        left.remove(wall)
        found.append(wall)
        corner = corners_of_wall(building, wall)[1]
    return tuple(found)


def corners_of_wall(building: Building, wall: Wall) -> tuple[str, str]:
    """Return a wall's corners: the one that the crew comes to first, and the other."""
    return (wall.left.id, wall.right.id) if building.direction == "ccw" else (wall.right.id, wall.left.id)


def _axes(building: Building, walls: tuple[Wall, ...]) -> Callable[[float, float], tuple[Nm, Nm]]:
    """Return what says a plan position from the start corner: along the first wall, and square to it into the building."""
    ccw = building.direction == "ccw"
    (ox, oy), (px, py) = (walls[0].a, walls[0].b) if ccw else (walls[0].b, walls[0].a)
    length = math.hypot(px - ox, py - oy)
    ux, uy = (px - ox) / length, (py - oy) / length
    side = 1 if ccw else -1

    def place(x: float, y: float) -> tuple[Nm, Nm]:
        dx, dy = x - ox, y - oy
        return Nm(round(dx * ux + dy * uy)), Nm(round(side * (dy * ux - dx * uy)))

    return place


def _runs(
    building: Building, walls: tuple[Wall, ...], anchors: tuple[Anchor, ...], place: Callable[[float, float], tuple[Nm, Nm]]
) -> Iterator[WallRun]:
    start = 0
    for wall in walls:
        first, last = corners_of_wall(building, wall)
        rows = []
        for anchor in (anchor for anchor in anchors if anchor.wall == wall.id):
            along = anchor.along_nm if building.direction == "ccw" else wall.length_nm - anchor.along_nm
            x, y = place(*_at(wall, anchor))
            rows.append(AnchorRow(anchor=anchor, along_nm=Nm(along), from_start_nm=Nm(start + along), x_nm=x, y_nm=y))
        yield WallRun(
            wall=wall.id,
            first=first,
            last=last,
            length_nm=wall.length_nm,
            from_start_nm=Nm(start),
            rows=tuple(sorted(rows, key=lambda row: (row.along_nm, row.anchor.id))),
        )
        start += wall.length_nm


def _at(wall: Wall, anchor: Anchor) -> tuple[float, float]:
    """Return a bolt's place in plan: along its wall from the left end, inward from the outside face."""
    (ax, ay), (bx, by) = wall.a, wall.b
    ux, uy = (bx - ax) / wall.length_nm, (by - ay) / wall.length_nm
    return ax + ux * anchor.along_nm - uy * anchor.across_nm, ay + uy * anchor.along_nm + ux * anchor.across_nm


def _corners(
    building: Building, walls: tuple[Wall, ...], place: Callable[[float, float], tuple[Nm, Nm]]
) -> Iterator[CornerCheck]:
    told = {building.start_corner}
    for wall in walls:
        for name, (x, y) in zip(corners_of_wall(building, wall), _points(building, wall), strict=True):
            if name not in told:
                told.add(name)
                along, across = place(x, y)
                yield CornerCheck(id=name, x_nm=along, y_nm=across, straight_nm=Nm(round(math.hypot(along, across))))


def _points(building: Building, wall: Wall) -> tuple[Point, Point]:
    return (wall.a, wall.b) if building.direction == "ccw" else (wall.b, wall.a)
