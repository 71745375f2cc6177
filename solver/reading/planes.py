"""Explicit roof planes: outlines lifted from plan, and the kind of each edge told from what meets it there."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from solver.domain.building import Point, RoofEdge
from solver.domain.ids import GroupId
from solver.domain.order import ExplicitPlane, PlanesRoof
from solver.reading.draft import PlaneDraft, Reading
from solver.reading.geometry import (
    Spot,
    crossing_edges,
    divided_by_root,
    polygon_edges,
    rounded_root,
    twice_area,
    twice_triangle_area,
)
from solver.reading.levels import CLOSE_NM, HIGHEST_NM
from solver.reading.outlines import WIDEST_NM, note_repeat
from solver.reading.pitches import read_pitch
from solver.reading.snap_outline import snap_outline
from solver.units import Nm


def draft_planes(reading: Reading, roof: PlanesRoof, path: str) -> None:
    """Draft a roof given plane by plane."""
    seen: dict[str, str] = {}
    for n, plane in enumerate(roof.planes):
        where = f"{path}.planes[{n}]"
        note_repeat(reading, seen, plane.id, f"{where}.id")
        draft = _draft(reading, roof, plane, where)
        if draft is not None:
            reading.planes.append(draft)


def _draft(reading: Reading, roof: PlanesRoof, plane: ExplicitPlane, path: str) -> PlaneDraft | None:
    pitch = read_pitch(reading, plane.pitch, f"{path}.pitch")
    (ax, ay), (bx, by) = plane.line
    square = (bx - ax) ** 2 + (by - ay) ** 2
    before = len(reading.faults.found)
    if abs(plane.z_nm) > HIGHEST_NM:
        reading.faults.add(f"{path}.z", f"{reading.show(plane.z_nm)} is over 100 m", "a height of the building")
    places = [(f"{path}.line[{n}]", at) for n, at in enumerate(plane.line)]
    places += [(f"{path}.plan[{n}]", at) for n, at in enumerate(plane.plan)]
    for where, at in places:
        if max(abs(at[0]), abs(at[1])) > WIDEST_NM:
            reading.faults.add(where, "is over 500 m away", "a place on the building's plot")
    if square < CLOSE_NM**2:
        reading.faults.add(f"{path}.line", "has no length", "two points along the eave, left to right seen from outside")
    crossing = crossing_edges(plane.plan)
    if crossing:
        reading.faults.add(f"{path}.plan", f"edges {crossing[0]} and {crossing[1]} cross or touch", "a simple outline")
    elif twice_area(plane.plan) <= 0:
        reading.faults.add(f"{path}.plan", "runs clockwise or encloses nothing", "points counter-clockwise, seen from above")
    if len(reading.faults.found) > before or pitch is None:
        return None
    exact = math.isqrt(square)
    rise, run, shown = pitch
    return PlaneDraft(
        id=GroupId(f"{roof.id}.{plane.id}"),
        roof=roof.id,
        path=path,
        a=plane.line[0],
        b=plane.line[1],
        z_nm=plane.z_nm,
        rise=rise,
        run=run,
        pitch_shown=shown,
        plan=list(plane.plan),
        edges=[],
        cut=roof.cut,
        line=Fraction(exact) if exact * exact == square else Fraction(math.isqrt(square * 10**24), 10**12),
    )


@dataclass(frozen=True, slots=True)
class _Run:
    """A stretch of a plane's edge, as fractions of the edge, of one kind."""

    start: Fraction
    end: Fraction
    kind: RoofEdge


def resolve_planes(reading: Reading) -> None:
    """Tell the edges of explicit planes apart, and lift every plane's outline into its own plane, rounded once."""
    for plane in reading.planes:
        if not plane.edges:
            plan: list[Spot] = []
            for start, end in polygon_edges(plane.plan):
                for stretch in _runs(reading, plane, start, end):
                    plan.append(_between(start, end, stretch.start))
                    plane.edges.append(stretch.kind)
            plane.plan = plan
        plane.outline, kinds = snap_outline([_lift(plane, at) for at in plane.plan], plane.edges)
        plane.edges = list(kinds)


def _lift(plane: PlaneDraft, at: Spot) -> Point:
    (ax, ay), (bx, by) = plane.a, plane.b
    square = (bx - ax) ** 2 + (by - ay) ** 2
    along = (at[0] - ax) * (bx - ax) + (at[1] - ay) * (by - ay)
    up = twice_triangle_area(plane.a, plane.b, at)
    slope = Fraction(plane.rise**2 + plane.run**2, plane.run**2)
    size = rounded_root(Fraction(up) ** 2 * slope / square)
    return divided_by_root(along, square), Nm(-size if up < 0 else size)


def _between(start: Spot, end: Spot, part: Fraction) -> Spot:
    return start[0] + (end[0] - start[0]) * part, start[1] + (end[1] - start[1]) * part


def _runs(reading: Reading, plane: PlaneDraft, start: Spot, end: Spot) -> list[_Run]:
    """Return the stretches of one edge by kind, neighbours of one kind joined."""
    square = Fraction((end[0] - start[0]) ** 2 + (end[1] - start[1]) ** 2)
    lines = [(c, d) for other in reading.planes if other is not plane for c, d in polygon_edges(other.plan)]
    lines += [(wall.a, wall.b) for wall in reading.walls]
    cuts = {Fraction(0), Fraction(1)}
    for line in lines:
        if _along(start, end, line, square):
            cuts |= {part for part in (_part(start, end, spot, square) for spot in line) if 0 < part < 1}
    made: list[_Run] = []
    places = sorted(cuts)
    for low, high in pairwise(places):
        if (high - low) ** 2 * square < CLOSE_NM**2 and made:
            made[-1] = _Run(made[-1].start, high, made[-1].kind)
            continue
        kind = _kind(reading, plane, start, end, (low + high) / 2)
        if made and made[-1].kind == kind:
            made[-1] = _Run(made[-1].start, high, kind)
        else:
            made.append(_Run(low, high, kind))
    return made


def _part(start: Spot, end: Spot, spot: Spot, square: Fraction) -> Fraction:
    along = (spot[0] - start[0]) * (end[0] - start[0]) + (spot[1] - start[1]) * (end[1] - start[1])
    return Fraction(along) / square


def _along(start: Spot, end: Spot, line: tuple[Spot, Spot], square: Fraction) -> bool:
    """Return whether a line lies along an edge, within a millimetre."""
    return all(Fraction(twice_triangle_area(start, end, spot)) ** 2 <= square * CLOSE_NM**2 for spot in line)


def _touching(start: Spot, end: Spot, part: Fraction, line: tuple[Spot, Spot], square: Fraction) -> bool:
    if not _along(start, end, line, square):
        return False
    first, second = (_part(start, end, spot, square) for spot in line)
    return min(first, second) <= part <= max(first, second)


def _kind(reading: Reading, plane: PlaneDraft, start: Spot, end: Spot, part: Fraction) -> RoofEdge:
    square = Fraction((end[0] - start[0]) ** 2 + (end[1] - start[1]) ** 2)
    middle = _between(start, end, part)
    level = abs(plane.height(start) - plane.height(end)) <= CLOSE_NM
    for other in reading.planes:
        if other is plane or abs(other.height(middle) - plane.height(middle)) > CLOSE_NM:
            continue
        if any(_touching(start, end, part, side, square) for side in polygon_edges(other.plan)):
            beside = _aside(start, end, middle, square)
            if abs(other.height(beside) - plane.height(beside)) * 1000 <= CLOSE_NM:
                return "seam"  # within a micrometre over 100 mm: one plane goes on in the other
            convex = other.height(beside) < plane.height(beside)
            return ("ridge" if level else "hip") if convex else "valley"
    if level and plane.height(_aside(start, end, middle, square)) < plane.height(middle):
        return "eave"
    for wall in reading.walls:
        ahead = (wall.b[0] - wall.a[0]) * (end[0] - start[0]) + (wall.b[1] - wall.a[1]) * (end[1] - start[1])
        if ahead < 0 and _touching(start, end, part, (wall.a, wall.b), square):
            return "wall"  # the plane lies outside a wall that it leans on: the two run opposite ways
    return "open" if level else "rake"


def _aside(start: Spot, end: Spot, middle: Spot, square: Fraction) -> Spot:
    """Return a place some 100 mm to the right of an edge: outside its counter-clockwise polygon."""
    size = Fraction(100 * CLOSE_NM, max(1, math.isqrt(math.floor(square))))
    return middle[0] + (end[1] - start[1]) * size, middle[1] - (end[0] - start[0]) * size
