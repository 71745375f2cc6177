"""Judges the cut shapes of wall panels by the roof planes in space and the catalog: shares no code with takeoff or its proof.

What a panel's figures say is rebuilt as it lies in its wall: the blank between its joints, the head line from edge to edge
of the blank. That cut shape, less the growth of its joint and the closing allowance on the side away from the start, must be
the set shape, and its head must lie in the roof's plane over the whole width of the blank.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

from solver.domain.building import Building, RoofPlane, Wall
from solver.domain.piece import Piece
from solver.domain.plant import PanelFamily, Plant
from solver.domain.takeoff import Takeoff

Line = tuple[float, float]  # height at the wall's left end, rise for one along


def wrong_cuts(building: Building, plant: Plant, takeoff: Takeoff) -> list[str]:
    """Return what is wrong with the cut shapes of the wall panels under roofs of a takeoff."""
    return [fault for wall in building.walls for fault in _wall(building, plant, takeoff, wall)]


def closing_under_slope(building: Building, takeoff: Takeoff) -> list[Piece]:
    """Return the closing panels whose heads slope."""
    return [piece for piece in takeoff.pieces if piece.closing and len({z for _, z in _head(piece)}) > 1]


def _wall(building: Building, plant: Plant, takeoff: Takeoff, wall: Wall) -> Iterator[str]:
    family = plant.family(wall.family)
    panels = [piece for piece in takeoff.pieces if piece.group == wall.id and piece.role == "wall_panel"]
    planes = [plane for plane in building.roof if plane.id in wall.under_roof]
    far = max(u for piece in panels for u, _ in piece.outline) if building.direction == "ccw" else 0
    for piece in panels:
        us = [u for u, _ in piece.outline]
        away = max(us) if building.direction == "ccw" else min(us)
        last = away == (far if building.direction == "ccw" else min(u for one in panels for u, _ in one.outline))
        more = (family.closing_nm if piece.closing else 0) - (0 if last else family.joint_growth_nm)
        low, high = (
            min(us) - (0 if building.direction == "ccw" else more),
            max(us) + (more if building.direction == "ccw" else 0),
        )
        yield from (f"{piece.mark}: {fault}" for fault in _piece(piece, family, wall, planes, low, high))


def _piece(piece: Piece, family: PanelFamily, wall: Wall, planes: list[RoofPlane], low: int, high: int) -> Iterator[str]:
    cover = family.cover_nm
    blank = (high - cover, high) if piece.left.kind != "joint" else (low, low + cover)
    if piece.left.kind != "joint" and piece.right.kind != "joint":
        blank = (low - piece.left.outside_nm, low - piece.left.outside_nm + cover)
    if (blank[0] + piece.left.outside_nm, blank[1] - piece.right.outside_nm) != (low, high):
        yield f"is cut from {blank[0] + piece.left.outside_nm} to {blank[1] - piece.right.outside_nm}, not {low} to {high}"
    head, foot = _head(piece), min(z for _, z in piece.outline)
    slack = 3 + 3 * cover / (max(u for u, _ in piece.outline) - min(u for u, _ in piece.outline))
    lines = [_line(a, b, wall, planes) for a, b in pairwise(head) if b[0] - a[0] > 1000]
    lap = sum(item.amount_nm for item in piece.allowances if item.name == "end_lap")

    def height(u: float, n: int) -> float:
        return lines[n][0] + lines[n][1] * u - foot + lap

    bends = [z - foot + lap for u, z in head if low < u < high]
    if piece.peak_nm is not None:
        most = max(height(low, 0), height(high, -1), *bends)
        if abs(piece.peak_nm - most) > slack:
            yield f"is nested square at {piece.peak_nm}, its cut is {most:.0f} high"
        places = [(low, 0, piece.edge_a[1]), (high, -1, piece.edge_b[1])]
    else:
        places = [(blank[0], 0, piece.edge_a[1]), (blank[1], -1, piece.edge_b[1])]
        lean = math.degrees(math.atan2(piece.edge_b[1] - piece.edge_a[1], cover))
        pitch = math.degrees(math.atan(lines[0][1]))
        if abs(lean - pitch) > 1e-4:
            yield f"its head is cut at {lean:.4f} degrees, the roof lies at {pitch:.4f}"
    for u, n, got in places:
        if abs(got - max(0.0, height(u, n))) > slack:
            yield f"is cut {got} long at {u}, the roof there is {height(u, n):.0f} up"


def _head(piece: Piece) -> list[tuple[int, int]]:
    """The head of a set shape, left to right: of all points at a place the highest, the foot left out between."""
    foot = min(z for _, z in piece.outline)
    left, right = min(u for u, _ in piece.outline), max(u for u, _ in piece.outline)
    ends = {u: max(z for v, z in piece.outline if v == u) for u in (left, right)}
    inner = sorted((u, z) for u, z in piece.outline if left < u < right and z > foot)
    return [(left, ends[left]), *inner, (right, ends[right])]


def _line(a: tuple[int, int], b: tuple[int, int], wall: Wall, planes: list[RoofPlane]) -> Line:
    """The roof's lower face over a stretch of head, along the outside face; a level line of its own under an opening."""
    middle = (a[0] + b[0]) / 2, (a[1] + b[1]) / 2
    for plane in planes:
        start = _over(plane, wall, 0.0)
        line = start, (_over(plane, wall, float(wall.length_nm)) - start) / wall.length_nm
        if abs(line[0] + line[1] * middle[0] - middle[1]) < 1000:
            return line
    return float(a[1]), 0.0 if a[1] == b[1] else math.nan


def _over(plane: RoofPlane, wall: Wall, u: float) -> float:
    """Height of a plane above the wall's base, over a place of its outside face."""
    part = u / wall.length_nm
    x, y = (p + (q - p) * part for p, q in zip(wall.a, wall.b, strict=True))
    dx, dy = plane.b[0] - plane.a[0], plane.b[1] - plane.a[1]
    inward = (dx * (y - plane.a[1]) - dy * (x - plane.a[0])) / math.hypot(dx, dy)
    return plane.z_nm + inward * plane.rise / plane.run - wall.base_z_nm
