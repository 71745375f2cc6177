"""The cut shape of a panel: its set shape less its named allowances, every slope at its own pitch over the whole width.

A panel that is cut wider than it stands (the closing one) or narrower (by the growth of a joint) keeps the lines of its head
and foot: they run on, or stop short, and are not drawn anew between other heights.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from solver.domain.building import Point
from solver.domain.piece import Piece
from solver.units import Nm, round_half_up

Pair = tuple[int, int]


def side_growths_nm(piece: Piece) -> tuple[int, int]:
    """Return how much wider than it stands a panel is cut on its left and on its right: less than nothing for joint growth."""
    left, right = (sum(item.amount_nm for item in piece.allowances if item.edge == edge) for edge in ("left", "right"))
    return left, right


def height_on_line(a: Pair, b: Pair, u: int) -> int:
    """Return the height, at a place, of the line through two points of different places, to the nearest nanometre."""
    return round_half_up(a[1] + Fraction((b[1] - a[1]) * (u - a[0]), b[0] - a[0]))


def refit_line_ends(line: Sequence[Pair], low: int, high: int) -> list[Pair]:
    """Return a line from left to right between other ends: its first and its last stretch run on there, or it stops short.

    Steps (two points at one place) are kept; a first or last stretch upright is left as it is. The line has two points or
    more, and is wider than nothing.
    """
    first = next(n for n in range(len(line) - 1) if line[n][0] < line[n + 1][0] > low)
    last = next(n for n in reversed(range(len(line) - 1)) if high > line[n][0] < line[n + 1][0])
    start = low, height_on_line(line[first], line[first + 1], low)
    end = high, height_on_line(line[last], line[last + 1], high)
    return [start, *(point for point in line[first + 1 : last + 1] if low < point[0] < high), end]


def cut_outline(piece: Piece) -> tuple[Point, ...]:
    """Return a wall panel's outside face as it leaves the plant, in its wall's coordinates, counter-clockwise.

    Its width, its head and what it laps over the panel below are as cut; openings and pockets lie as in the set shape.
    """
    more = side_growths_nm(piece)
    low, high = min(u for u, _ in piece.outline) - more[0], max(u for u, _ in piece.outline) + more[1]
    foot = min(z for _, z in piece.outline)
    lap = sum(item.amount_nm for item in piece.allowances if item.edge == "foot")
    head = [(u, max(z, foot)) for u, z in refit_line_ends(head_line(piece.outline), low, high)]
    ring = [(low, foot - lap), (high, foot - lap), *reversed(head)]
    return tuple((Nm(u), Nm(z)) for n, (u, z) in enumerate(ring) if (u, z) != ring[n - 1])


def head_line(outline: Sequence[Pair]) -> list[Pair]:
    """Return the head of a wall panel's set shape, whose foot is level, from left to right."""
    left, right, foot = min(u for u, _ in outline), max(u for u, _ in outline), min(z for _, z in outline)
    start = outline.index((right, foot))
    ring = [*outline[start + 1 :], *outline[:start]]
    head: list[Pair] = [point for point in reversed(ring) if point != (left, foot)]
    if not head or head[0][0] > left:
        head.insert(0, (left, foot))  # a head that comes down to the foot
    return head if head[-1][0] == right else [*head, (right, foot)]
