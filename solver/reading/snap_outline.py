"""What the rounding of corners leaves crooked, made straight: eaves and rakes of a turned plan are level and upright."""

from __future__ import annotations

from collections.abc import Sequence

from solver.domain.building import Point, RoofEdge
from solver.units import Nm

SNAP_NM = 100  # far under any length that is meant, far over what rounding a few corners adds up to


def snap_outline(outline: Sequence[Point], kinds: Sequence[RoofEdge]) -> tuple[tuple[Point, ...], tuple[RoofEdge, ...]]:
    """Return an outline whose coordinates within 100 nm of each other are one, and the kinds of the edges that are left."""
    xs, ys = _merged([x for x, _ in outline]), _merged([y for _, y in outline])
    points = [(xs[x], ys[y]) for x, y in outline]
    count = len(points)
    kept = [n for n in range(count) if points[n] != points[(n + 1) % count]]
    return tuple(points[n] for n in kept), tuple(kinds[n] for n in kept)


def _merged(values: Sequence[Nm]) -> dict[Nm, Nm]:
    """Each value with the least of those that it is within 100 nm of, neighbour by neighbour."""
    found: dict[Nm, Nm] = {}
    first = last = None
    for value in sorted(set(values)):
        if first is None or last is None or value - last > SNAP_NM:
            first = value
        last = value
        found[value] = first
    return found
