"""Exact plane geometry for reading: whole nanometres and fractions, each irrational length rounded once."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

from solver.units import Nm

Exact = int | Fraction
Spot = tuple[Exact, Exact]


def twice_triangle_area(a: Spot, b: Spot, c: Spot) -> Exact:
    """Return twice the area of the triangle a, b, c: positive when it turns left."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def twice_area(points: Sequence[Spot]) -> Exact:
    """Return twice the signed area of a polygon: positive when counter-clockwise."""
    return sum((p[0] * q[1] - q[0] * p[1] for p, q in polygon_edges(points)), 0)


def polygon_edges(points: Sequence[Spot]) -> list[tuple[Spot, Spot]]:
    """Return the edges of a closed polygon."""
    return [(point, points[(n + 1) % len(points)]) for n, point in enumerate(points)]


def _side(value: Exact) -> int:
    return (value > 0) - (value < 0)


def is_on_segment(a: Spot, b: Spot, point: Spot) -> bool:
    """Return whether a point lies on a closed segment."""
    return (
        min(a[0], b[0]) <= point[0] <= max(a[0], b[0])
        and min(a[1], b[1]) <= point[1] <= max(a[1], b[1])
        and twice_triangle_area(a, b, point) == 0
    )


def segments_meet(a: Spot, b: Spot, c: Spot, d: Spot) -> bool:
    """Return whether two closed segments share a point."""
    if max(a[0], b[0]) < min(c[0], d[0]) or max(c[0], d[0]) < min(a[0], b[0]):
        return False
    if max(a[1], b[1]) < min(c[1], d[1]) or max(c[1], d[1]) < min(a[1], b[1]):
        return False
    sides = (
        _side(twice_triangle_area(a, b, c)),
        _side(twice_triangle_area(a, b, d)),
        _side(twice_triangle_area(c, d, a)),
        _side(twice_triangle_area(c, d, b)),
    )
    if sides[0] * sides[1] < 0 and sides[2] * sides[3] < 0:
        return True
    return is_on_segment(a, b, c) or is_on_segment(a, b, d) or is_on_segment(c, d, a) or is_on_segment(c, d, b)


def crossing_edges(points: Sequence[Spot]) -> tuple[int, int] | None:
    """Return the first two edges of a polygon that cross, touch or fold back on each other, if any. O(n^2)."""
    sides = polygon_edges(points)
    for n, (a, b) in enumerate(sides):
        after = sides[(n + 1) % len(sides)][1]
        if twice_triangle_area(a, b, after) == 0 and (b[0] - a[0]) * (after[0] - b[0]) + (b[1] - a[1]) * (after[1] - b[1]) < 0:
            return n, (n + 1) % len(sides)
        for m in range(n + 2, len(sides)):
            if (n, m) != (0, len(sides) - 1) and segments_meet(a, b, *sides[m]):
                return n, m
    return None


def polygon_contains(points: Sequence[Spot], point: Spot) -> bool:
    """Return whether a closed polygon holds a point, its boundary included."""
    inside = False
    for a, b in polygon_edges(points):
        if is_on_segment(a, b, point):
            return True
        if (a[1] > point[1]) != (b[1] > point[1]):
            turn = twice_triangle_area(a, b, point)
            inside ^= (turn > 0) == (b[1] > a[1])
    return inside


def polygon_contains_box(points: Sequence[Spot], low: Spot, high: Spot) -> bool:
    """Return whether a closed rectangle lies in the inside of a polygon, clear of its boundary."""
    corners: list[Spot] = [low, (high[0], low[1]), high, (low[0], high[1])]
    if not polygon_contains(points, low):
        return False
    return not any(segments_meet(a, b, c, d) for a, b in polygon_edges(points) for c, d in polygon_edges(corners))


def rounded_root(square: Exact) -> Nm:
    """Return the whole number nearest to the square root of an exact number."""
    return Nm((math.isqrt(math.floor(4 * Fraction(square))) + 1) // 2)


def divided_by_root(value: Exact, square: Exact) -> Nm:
    """Return the whole number nearest to value / sqrt(square)."""
    size = rounded_root(Fraction(value) ** 2 / Fraction(square))
    return Nm(-size) if value < 0 else size


def slope_length(level: Exact, rise: int, run: int) -> Nm:
    """Return the length along a slope of a level distance, its sign kept, rounded once."""
    size = rounded_root(Fraction(level) ** 2 * Fraction(rise * rise + run * run, run * run))
    return Nm(-size) if level < 0 else size


def interior_udeg(before: Spot, at: Spot, after: Spot) -> int:
    """Return the inside angle at a corner of a counter-clockwise outline, in millionths of a degree, for showing."""
    ux, uy = float(at[0] - before[0]), float(at[1] - before[1])
    vx, vy = float(after[0] - at[0]), float(after[1] - at[1])
    turn = math.degrees(math.atan2(ux * vy - uy * vx, ux * vx + uy * vy))
    return round((180.0 - turn) * 1_000_000)


def height_at(profile: Sequence[Spot], along: Exact) -> tuple[Fraction, Fraction]:
    """Return the lower and upper height of a stepped line at a place along it: they differ only at a step."""
    found: list[Fraction] = []
    for (u, z), (v, w) in pairwise(profile):
        if u <= along <= v:
            if u == v:
                found += [Fraction(z), Fraction(w)]
            else:
                found.append(Fraction(z) + Fraction(w - z) * Fraction(along - u) / Fraction(v - u))
    return min(found), max(found)


def lowest_between(profile: Sequence[Spot], start: Exact, end: Exact) -> Fraction:
    """Return the least height of a stepped line over a closed stretch."""
    places = [start, end, *(u for u, _ in profile if start < u < end)]
    return min(height_at(profile, place)[0] for place in places)
