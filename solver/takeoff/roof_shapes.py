"""Roof planes cut into strips: the exact shapes that roof panels have as they stand.

A strip of a roof plane between two joints is one or more cells. A cell has a lower and an upper chain of points, each from
left to right; a chain may step where the outline has an edge straight up the slope. Cells of neighbouring strips share
their corners exactly, because where a joint crosses a sloping edge is rounded once, by one rule.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Literal

from solver.domain.building import Point, RoofEdge
from solver.units import Nm, round_half_up

Kind = RoofEdge | Literal["lap", "opening"]
Outline = tuple[Point, ...]


class StripForks(ValueError):
    """A strip that parts into two between its joints, which no single panel can follow."""


@dataclass(frozen=True, slots=True)
class StripCell:
    """One connected part of a strip: both chains from left to right, with the kind of each stretch."""

    low: tuple[Point, ...]
    low_kinds: tuple[Kind, ...]
    high: tuple[Point, ...]
    high_kinds: tuple[Kind, ...]

    @property
    def outline(self) -> Outline:
        """The cell as a counter-clockwise polygon."""
        ring: list[Point] = []
        for point in (*self.low, *reversed(self.high)):
            if not ring or ring[-1] != point:
                ring.append(point)
        return tuple(ring[:-1] if ring[0] == ring[-1] else ring)

    @property
    def span(self) -> tuple[Nm, Nm]:
        """Least and greatest x."""
        return self.low[0][0], self.low[-1][0]

    def split(self, y_nm: Nm, kind: Kind) -> tuple[StripCell, StripCell] | None:
        """Return what lies below and above a level line, or nothing where the line does not cross the whole cell."""
        if max(y for _, y in self.low) >= y_nm or min(y for _, y in self.high) <= y_nm:
            return None
        left, right = self.span
        line = ((left, y_nm), (right, y_nm))
        return StripCell(self.low, self.low_kinds, line, (kind,)), StripCell(line, (kind,), self.high, self.high_kinds)


@dataclass(frozen=True, slots=True)
class _Slope:
    """An edge of the outline that is not straight up the slope, from left to right."""

    left: Point
    right: Point
    kind: Kind

    def exact(self, x: int | Fraction) -> Fraction:
        """Height at `x`, exact."""
        run = self.right[0] - self.left[0]
        return self.left[1] + Fraction(self.right[1] - self.left[1]) * (x - self.left[0]) / run

    def at(self, x: int) -> Point:
        """Point at `x`, rounded to the nanometre."""
        return Nm(x), Nm(round_half_up(self.exact(x)))


@dataclass(slots=True)
class _Run:
    """A trapezoid chain while it is being followed from left to right."""

    low: list[tuple[_Slope, int, int]]
    high: list[tuple[_Slope, int, int]]


def strip_cells(outline: Outline, edges: tuple[RoofEdge, ...], x0: int, x1: int) -> tuple[StripCell, ...]:
    """Return the cells of the strip between two joints, from the eave up and left to right. Raises Fork."""
    slopes, steps = _edges(outline, edges)
    cuts = sorted({x0, x1} | {x for x, _ in outline if x0 < x < x1})
    open_runs: list[_Run] = []
    done: list[_Run] = []
    for left, right in pairwise(cuts):
        pairs = _pairs(slopes, left, right)
        still: list[_Run] = []
        reached = [(run, run.low[-1][0], run.high[-1][0]) for run in open_runs]
        for low, high in pairs:
            before = [run for run, bottom, top in reached if _touch(bottom, top, low, high, left)]
            if len(before) > 1 or any(run in still for run in before):
                raise StripForks(left)
            run = before[0] if before else _Run([], [])
            _extend(run.low, low, left, right)
            _extend(run.high, high, left, right)
            still.append(run)
        done += [run for run in open_runs if run not in still]
        open_runs = still
    cells = [_cell(run, steps) for run in (*done, *open_runs)]
    return tuple(sorted(cells, key=lambda cell: (min(y for _, y in cell.low), cell.low[0])))


def _edges(outline: Outline, edges: tuple[RoofEdge, ...]) -> tuple[list[_Slope], list[_Slope]]:
    slopes: list[_Slope] = []
    steps: list[_Slope] = []
    for n, (start, kind) in enumerate(zip(outline, edges, strict=True)):
        end = outline[(n + 1) % len(outline)]
        left, right = sorted((start, end))
        edge = _Slope(left, right, kind)
        (steps if start[0] == end[0] else slopes).append(edge)
    return slopes, steps


def _pairs(slopes: list[_Slope], left: int, right: int) -> list[tuple[_Slope, _Slope]]:
    across = [edge for edge in slopes if edge.left[0] <= left and edge.right[0] >= right]
    middle = Fraction(left + right, 2)
    across.sort(key=lambda edge: edge.exact(middle))
    return list(zip(across[::2], across[1::2], strict=True))


def _touch(bottom: _Slope, top: _Slope, low: _Slope, high: _Slope, x: int) -> bool:
    """Whether two parts of a strip, one left and one right of a place, share more than a point there."""
    return max(bottom.exact(x), low.exact(x)) < min(top.exact(x), high.exact(x))


def _extend(chain: list[tuple[_Slope, int, int]], edge: _Slope, left: int, right: int) -> None:
    if chain and chain[-1][0] is edge:
        chain[-1] = (edge, chain[-1][1], right)
    else:
        chain.append((edge, left, right))


def _cell(run: _Run, steps: list[_Slope]) -> StripCell:
    return StripCell(*_chain(run.low, steps), *_chain(run.high, steps))


def _chain(parts: list[tuple[_Slope, int, int]], steps: list[_Slope]) -> tuple[tuple[Point, ...], tuple[Kind, ...]]:
    points: list[Point] = [parts[0][0].at(parts[0][1])]
    kinds: list[Kind] = []
    for edge, left, right in parts:
        start = edge.at(left)
        if start != points[-1]:
            kinds.append(_step_kind(steps, left))
            points.append(start)
        points.append(edge.at(right))
        kinds.append(edge.kind)
    return tuple(points), tuple(kinds)


def _step_kind(steps: list[_Slope], x: int) -> Kind:
    return next((step.kind for step in steps if step.left[0] == x), "open")


def twice_area(outline: Outline) -> int:
    """Return twice the area of a polygon, in square nanometres, positive if counter-clockwise."""
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(outline, (*outline[1:], outline[0]), strict=True))
