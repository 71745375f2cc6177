"""Whether polygons tile a face exactly: a scan by vertical slabs, in exact fractions.

Between two neighbouring x of all corners every edge is one straight line, so that a face and its tiles are stacks of
trapezoids: they tile the slab when each one's upper line is the next one's lower line at both ends of the slab.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

Spot = tuple[int, int]
SLACK = 1  # nanometres between a tile's corner and the face's edge, for rounding


@dataclass(frozen=True, slots=True)
class CoverTile:
    """A named polygon, counter-clockwise, with holes; `void` ones are openings: places that must stay free."""

    name: str
    outline: tuple[Spot, ...]
    holes: tuple[tuple[Spot, ...], ...] = ()
    void: bool = False


@dataclass(frozen=True, slots=True)
class CoveredSpan:
    """What a polygon covers of a slab: its lower and upper line at the slab's two ends."""

    name: str
    low: tuple[Fraction, Fraction]
    high: tuple[Fraction, Fraction]
    void: bool = False


@dataclass(frozen=True, slots=True)
class CoverageFlaw:
    """Where tiles fail: a gap, an overlap or an overrun, with what lies on either side."""

    kind: str  # gap, overlap, outside, crossing
    first: str
    second: str
    at: tuple[int, int]
    size: int
    of_void: bool = False


def twice_area(outline: Sequence[Spot]) -> int:
    """Return twice a polygon's signed area."""
    return sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(outline, [*outline[1:], outline[0]], strict=True))


def coverage_flaws(face: Sequence[Spot], tiles: Sequence[CoverTile]) -> Iterator[CoverageFlaw]:
    """Yield every place where tiles and openings do not cover a face exactly once; none for a sound one."""
    xs = sorted({x for x, _ in face} | {x for tile in tiles for ring in (tile.outline, *tile.holes) for x, _ in ring})
    reach = [[x for ring in (tile.outline, *tile.holes) for x, _ in ring] for tile in tiles]
    spans = [(min(places), max(places)) for places in reach]
    steep = [sorted((a[0], b[0])) for a, b in zip(face, [*face[1:], face[0]], strict=True) if 0 < abs(a[0] - b[0]) <= 2 * SLACK]
    for left, right in pairwise(xs):
        if right - left <= 2 * SLACK and any(low <= left and right <= high for low, high in steep):
            continue  # an upright edge of the face, leaning by the rounding of its ends
        room = _parts("", face, left, right)
        parts: list[CoveredSpan] = []
        for tile, (low, high) in zip(tiles, spans, strict=True):
            if low < right and left < high:
                solid, bad = _solid(tile, left, right)
                parts += solid
                if bad:
                    yield CoverageFlaw("crossing", tile.name, bad, (left, 0), 0)
        yield from _stack(room, parts, left, right)


def _parts(name: str, ring: Sequence[Spot], left: int, right: int, *, void: bool = False) -> list[CoveredSpan]:
    lines = []
    for a, b in zip(ring, [*ring[1:], ring[0]], strict=True):
        (x0, y0), (x1, y1) = (a, b) if a[0] <= b[0] else (b, a)
        if x0 <= left and x1 >= right and x0 < x1:
            slope = Fraction(y1 - y0, x1 - x0)
            lines.append((y0 + slope * (left - x0), y0 + slope * (right - x0)))
    lines.sort(key=lambda line: line[0] + line[1])
    return [CoveredSpan(name, low, high, void) for low, high in zip(lines[::2], lines[1::2], strict=False)]


def _solid(tile: CoverTile, left: int, right: int) -> tuple[list[CoveredSpan], str]:
    """A tile's parts in a slab less its holes, and what is wrong with a hole that leaves the tile."""
    solid, bad = _parts(tile.name, tile.outline, left, right, void=tile.void), ""
    for ring in tile.holes:
        for hole in _parts(tile.name, ring, left, right):
            host = next((part for part in solid if _below(part.low, hole.low) and _below(hole.high, part.high)), None)
            if host is None:
                bad = "a cutout that leaves the panel, or two that overlap"
                continue
            solid.remove(host)
            solid += [
                part
                for part in (
                    CoveredSpan(tile.name, host.low, hole.low, tile.void),
                    CoveredSpan(tile.name, hole.high, host.high, tile.void),
                )
                if part.low != part.high
            ]
    return solid, bad


def _below(one: tuple[Fraction, Fraction], other: tuple[Fraction, Fraction]) -> bool:
    return one[0] <= other[0] and one[1] <= other[1]


def _stack(room: Sequence[CoveredSpan], parts: Sequence[CoveredSpan], left: int, right: int) -> Iterator[CoverageFlaw]:
    """Compare the stack of parts in a slab with the room that the face gives."""
    waiting = sorted(parts, key=lambda part: (sum(part.low), sum(part.high)))
    for space in room:
        inside = [part for part in waiting if _mid(part, space)]
        waiting = [part for part in waiting if part not in inside]
        edge, name, void = space.low, "the face's edge", False
        slack = SLACK
        for part in inside:
            yield from _meet(edge, part.low, slack, (name, part.name), left, right, void=void or part.void)
            if sum(part.high) >= sum(edge) or name == "the face's edge":
                edge, name, void = part.high, part.name, part.void
            slack = 0
        yield from _meet(edge, space.high, SLACK, (name, "the face's edge"), left, right, void=void)
    for part in waiting:
        size = max(abs(part.high[0] - part.low[0]), abs(part.high[1] - part.low[1]))
        if size > SLACK:
            yield CoverageFlaw("outside", part.name, "the face's edge", (left, int(part.low[0])), int(size), part.void)


def _mid(part: CoveredSpan, space: CoveredSpan) -> bool:
    middle = sum(part.low) + sum(part.high)
    return 2 * sum(space.low) <= middle <= 2 * sum(space.high)


def _meet(
    edge: tuple[Fraction, Fraction],
    line: tuple[Fraction, Fraction],
    slack: int,
    names: tuple[str, str],
    left: int,
    right: int,
    *,
    void: bool,
) -> Iterator[CoverageFlaw]:
    """Yield a flaw where one part's upper line is not the next one's lower line, at either end of the slab."""
    apart = line[0] - edge[0], line[1] - edge[1]
    worst = max(apart, key=abs)
    if abs(worst) > slack:
        at = left if abs(apart[0]) >= abs(apart[1]) else right
        kind = "gap" if worst > 0 else "overlap"
        if kind == "overlap" and "the face's edge" in names:
            kind = "outside"
        yield CoverageFlaw(kind, names[0], names[1], (at, int(edge[0])), int(abs(worst)), void)
