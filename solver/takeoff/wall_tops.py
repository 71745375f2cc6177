"""The top of a wall as a polyline: its height at a place, from either side of a step, and its bends between two places."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from solver.units import Nm

Pair = tuple[int, int]


def height_after(top: Sequence[Pair], u: int) -> int:
    """Return the height just right of `u`, to the nearest nanometre; beyond the ends the first or last line runs on."""
    for (u0, z0), (u1, z1) in pairwise(top):
        if u < u1:
            return _on_line(u0, z0, u1, z1, u)
    return _end_line(top, u, last=True)


def height_before(top: Sequence[Pair], u: int) -> int:
    """Return the height just left of `u`, to the nearest nanometre; beyond the ends the first or last line runs on."""
    for (u0, z0), (u1, z1) in zip(reversed(top[:-1]), reversed(top[1:]), strict=True):
        if u > u0:
            return _on_line(u0, z0, u1, z1, u)
    return _end_line(top, u, last=False)


def top_points(top: Sequence[Pair], u0: int, u1: int) -> list[Pair]:
    """Return the top between two places, left to right: heights at both, and every bend or step between."""
    inner = [(u, z) for u, z in top if u0 < u < u1]
    line = [(u0, height_after(top, u0)), *inner, (u1, height_before(top, u1))]
    return [point for n, point in enumerate(line) if n == 0 or point != line[n - 1]]


def highest_nm(top: Sequence[Pair], u0: int, u1: int) -> int:
    """Return the greatest height between two places."""
    return max(z for _, z in top_points(top, u0, u1))


def straight_lines(top: Sequence[Pair]) -> list[tuple[Pair, Pair]]:
    """Return the straight lines of a top, left to right, lines that go on in one direction joined; steps left out."""
    lines: list[tuple[Pair, Pair]] = []
    for first, second in pairwise(top):
        if first[0] == second[0]:
            continue
        if lines and lines[-1][1] == first and _same_slope(lines[-1], (first, second)):
            lines[-1] = (lines[-1][0], second)
        else:
            lines.append((first, second))
    return lines


def _same_slope(one: tuple[Pair, Pair], two: tuple[Pair, Pair]) -> bool:
    (a, b), (c, d) = one, two
    return (b[1] - a[1]) * (d[0] - c[0]) == (d[1] - c[1]) * (b[0] - a[0])


def _on_line(u0: int, z0: int, u1: int, z1: int, u: int) -> int:
    rise, run = (z1 - z0) * (u - u0), u1 - u0
    return Nm(z0 + (2 * rise + run) // (2 * run))


def _end_line(top: Sequence[Pair], u: int, *, last: bool) -> int:
    lines = straight_lines(top)
    (u0, z0), (u1, z1) = lines[-1] if last else lines[0]
    return _on_line(u0, z0, u1, z1, u)
