"""Explicit roof planes that would stand in each other: exact, by triangles of their plans and the heights over them.

Two planes may lie over one place, as a porch below an eave does, where one is clear of the other by a panel's thickness; the
height between two planes is linear, so that over what two triangles share it is least and greatest at corners.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from solver.domain.order import PlanesRoof
from solver.reading.draft import PlaneDraft, Reading
from solver.reading.geometry import Exact, Spot, polygon_edges, twice_area, twice_triangle_area
from solver.reading.levels import CLOSE_NM

Triangle = tuple[Spot, Spot, Spot]


def note_overlapping_planes(reading: Reading) -> None:
    """Note every explicit plane that overlaps another plane, given or made, without being clear of it."""
    explicit = {f"roofs[{n}]" for n, roof in enumerate(reading.parts.roofs) if isinstance(roof, PlanesRoof)}
    shapes = [(plane, list(_triangles(plane.plan))) for plane in reading.planes]
    thick = reading.roof_family.thickness_nm if reading.roof_family else 0
    for n, (plane, mine) in enumerate(shapes):
        for other, theirs in shapes[:n]:
            given = [one for one in (plane, other) if one.path.split(".")[0] in explicit]
            if given and _near(plane, other) and _collide(plane, mine, other, theirs, thick):
                twin = other if given[0] is plane else plane
                reading.faults.add(
                    f"{given[0].path}.plan",
                    f"overlaps plane {twin.id}, and neither is a panel's thickness above the other there",
                    "planes that meet at their edges, or one clear above the other",
                )


def _near(one: PlaneDraft, other: PlaneDraft) -> bool:
    """Whether the boxes round two plans overlap."""
    return all(
        min(p[k] for p in one.plan) < max(p[k] for p in other.plan)
        and min(p[k] for p in other.plan) < max(p[k] for p in one.plan)
        for k in (0, 1)
    )


def _collide(one: PlaneDraft, mine: list[Triangle], other: PlaneDraft, theirs: list[Triangle], thick: int) -> bool:
    apart: list[Fraction] = []
    for a in mine:
        for b in theirs:
            shared = _shared(a, b)
            if _wider_than_rounding(shared):
                apart += [one.height(spot) - other.height(spot) for spot in shared]
    if not apart:
        return False
    return not (min(apart) >= _upright(other, thick) or max(apart) <= -_upright(one, thick))


def _upright(plane: PlaneDraft, thick: int) -> int:
    """A panel's thickness measured upright, of the plane that lies below: t / cos(pitch), not more than a nanometre short."""
    square = Fraction(thick * thick * (plane.rise**2 + plane.run**2), plane.run**2)
    low, high = thick, 100 * thick + 1
    while low < high:
        middle = (low + high + 1) // 2
        low, high = (middle, high) if middle * middle <= square else (low, middle - 1)
    return low


def _wider_than_rounding(shared: list[Spot]) -> bool:
    """Whether a shared part is more than a sliver of rounded corners: its area over its extent is a millimetre or more."""
    if len(shared) < 3:
        return False
    extent = max(max(p[k] for p in shared) - min(p[k] for p in shared) for k in (0, 1))
    return Fraction(twice_area(shared)) / 2 > extent * CLOSE_NM


def _shared(one: Triangle, other: Triangle) -> list[Spot]:
    """What two counter-clockwise triangles share, exact."""
    ring: list[Spot] = list(one)
    for a, b in polygon_edges(other):
        kept: list[Spot] = []
        for p, q in polygon_edges(ring):
            here, there = twice_triangle_area(a, b, p), twice_triangle_area(a, b, q)
            if here >= 0:
                kept.append(p)
            if (here > 0 > there) or (here < 0 < there):
                part = Fraction(here) / (here - there)
                kept.append((p[0] + (q[0] - p[0]) * part, p[1] + (q[1] - p[1]) * part))
        ring = kept
        if len(ring) < 3:
            return []
    return ring


def _triangles(plan: list[Spot]) -> Iterator[Triangle]:
    """A simple counter-clockwise polygon cut into triangles, ear by ear. O(n^3)."""
    ring = list(plan)
    while len(ring) > 3:
        count = len(ring)
        turns: list[Exact] = [twice_triangle_area(ring[n - 1], ring[n], ring[(n + 1) % count]) for n in range(count)]
        ear = next((n for n in range(count) if turns[n] > 0 and _empty(ring, n)), None)
        flat = next((n for n in range(count) if turns[n] == 0), None)
        if ear is None and flat is None:
            return  # no simple polygon: told already
        if ear is not None:
            yield ring[ear - 1], ring[ear], ring[(ear + 1) % count]
        del ring[ear if ear is not None else flat or 0]
    if len(ring) == 3 and twice_area(ring) > 0:
        yield ring[0], ring[1], ring[2]


def _empty(ring: list[Spot], n: int) -> bool:
    """Whether no other corner lies in the triangle at a corner."""
    a, b, c = ring[n - 1], ring[n], ring[(n + 1) % len(ring)]
    return not any(
        twice_triangle_area(a, b, p) >= 0 and twice_triangle_area(b, c, p) >= 0 and twice_triangle_area(c, a, p) >= 0
        for p in ring
        if p not in (a, b, c)
    )
