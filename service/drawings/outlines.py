"""Outlines that several drawings share: openings with their heads, arcs as short straight lines, boxes."""

from __future__ import annotations

import math
from collections.abc import Sequence

from service.drawings.shapes import At
from solver.domain.building import Opening

_STEPS = 24  # straight lines in an arc: under a sixteenth of an inch off for any head


def box_corners(left: float, bottom: float, right: float, top: float) -> tuple[At, ...]:
    """Return a rectangle's corners, counter-clockwise."""
    return (left, bottom), (right, bottom), (right, top), (left, top)


def opening_outline(opening: Opening) -> tuple[At, ...]:
    """Return an opening's clear outline with its head: square, arched (circular, by its rise), trapezoid or round."""
    u0, u1, z0, z1 = opening.u0_nm, opening.u1_nm, opening.z0_nm, opening.z1_nm
    head = opening.head
    if head is None:
        return box_corners(u0, z0, u1, z1)
    if head.kind == "trapezoid":
        return (u0, z0), (u1, z0), (u1, z0 + (head.right_nm or 0)), (u0, z0 + (head.left_nm or 0))
    if head.kind == "round":
        radius, x, y = (u1 - u0) / 2, (u0 + u1) / 2, (z0 + z1) / 2
        turns = [2 * math.pi * n / (2 * _STEPS) for n in range(2 * _STEPS)]
        return tuple((x + radius * math.cos(turn), y + radius * math.sin(turn)) for turn in turns)
    return (u0, z0), (u1, z0), *arc_points(u1, u0, z1 - (head.rise_nm or 0), head.rise_nm or 0)


def arc_points(right: float, left: float, spring: float, rise: float) -> tuple[At, ...]:
    """Return points of a circular arc from its right foot over its top to its left foot."""
    half = (right - left) / 2
    if rise <= 0:
        return (right, spring), (left, spring)
    radius = (half * half + rise * rise) / (2 * rise)
    middle, centre = (left + right) / 2, spring + rise - radius
    reach = math.asin(min(1.0, half / radius)) if rise <= radius else math.pi - math.asin(min(1.0, half / radius))
    turns = [reach - 2 * reach * n / _STEPS for n in range(_STEPS + 1)]
    return tuple((middle + radius * math.sin(turn), centre + radius * math.cos(turn)) for turn in turns)


def bounding_box(points: Sequence[At]) -> tuple[float, float, float, float]:
    """Return left, bottom, right and top of points."""
    xs, ys = [x for x, _ in points], [y for _, y in points]
    return min(xs), min(ys), max(xs), max(ys)


def vertical_span_at(points: Sequence[At], x: float) -> tuple[float, float] | None:
    """Return the lowest and highest y of an outline at x, or None beside it."""
    found: list[float] = []
    for (ax, ay), (bx, by) in zip(points, (*points[1:], points[0]), strict=True):
        if min(ax, bx) <= x <= max(ax, bx):
            found += [ay, by] if ax == bx else [ay + (by - ay) * (x - ax) / (bx - ax)]
    return (min(found), max(found)) if found else None
