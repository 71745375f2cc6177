"""A full-scale template: the lines of an odd head in nanometres, cut into tiles the size of a page, to be taped together."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from service.drawings.outlines import bounding_box, box_corners
from service.drawings.shapes import At, Style
from solver.domain.document import HeadTemplate
from solver.units import MM

SAG_NM = 10_000.0  # a curve's straight lines stay within 0.01 mm of it
AROUND_NM = 12.0 * MM  # paper around the lines
OVERLAP_NM = 10.0 * MM  # what neighbouring tiles both show


@dataclass(frozen=True, slots=True)
class TemplateLine:
    """One line of a template: `edge` is where the opening ends, `cut` what the plant cut; the others help to set it out."""

    points: tuple[At, ...]
    style: Style


@dataclass(frozen=True, slots=True)
class Tile:
    """One page of a template: its column from the left and row from the top, from 0, and what it shows, in nanometres."""

    column: int
    row: int
    left: float
    bottom: float
    right: float
    top: float

    @property
    def name(self) -> str:
        """The tile's name: its row as a letter, its column as a number."""
        return tile_name(self.column, self.row)


def tile_name(column: int, row: int) -> str:
    """Return "A1" for the tile at the upper left; rows after Z go on with AA."""
    letters = ""
    row += 1
    while row:
        row, left = divmod(row - 1, 26)
        letters = chr(65 + left) + letters
    return f"{letters}{column + 1}"


def template_lines(template: HeadTemplate) -> tuple[TemplateLine, ...]:
    """Return a head's lines: zero is on the centre line, at the spring line (a round opening: at its centre)."""
    half, kind = template.width_nm / 2, template.head.kind
    if kind == "round":
        corner = half / math.sqrt(2)
        return (
            TemplateLine((*_arc(half, 0.0, math.pi),), "edge"),
            TemplateLine((*box_corners(-corner, -corner, corner, corner), (-corner, -corner)), "cut"),
            TemplateLine(((-half, 0.0), (half, 0.0)), "thin"),
            TemplateLine(((0.0, -half), (0.0, half)), "thin"),
        )
    if kind == "trapezoid":
        left, right = template.head.left_nm or 0, template.head.right_nm or 0
        low = min(left, right)
        edge: tuple[At, ...] = ((-half, float(left - low)), (half, float(right - low)))
    else:
        radius = float(template.radius_nm or half)
        edge = tuple(_arc(radius, template.height_nm - radius, math.asin(min(1.0, half / radius))))
    rise = float(template.height_nm)
    return (
        TemplateLine(((-half, 0.0), *edge, (half, 0.0)) if kind == "trapezoid" else edge, "edge"),
        TemplateLine(((-half, 0.0), (half, 0.0)), "cut"),
        TemplateLine(((0.0, 0.0), (0.0, rise)), "thin"),
        TemplateLine(((-half, 0.0), (-half, rise)), "hidden"),
        TemplateLine(((half, 0.0), (half, rise)), "hidden"),
    )


def _arc(radius: float, centre_y: float, reach: float) -> Iterator[At]:
    """Yield points from right to left over the top, `reach` radians to either side of it."""
    step = 2 * math.acos(max(0.0, 1 - SAG_NM / radius))
    count = max(2, math.ceil(2 * reach / step))
    for n in range(count + 1):
        turn = reach - 2 * reach * n / count
        yield radius * math.sin(turn), centre_y + radius * math.cos(turn)


def template_tiles(lines: Sequence[TemplateLine], window_nm: tuple[float, float]) -> tuple[Tile, ...]:
    """Return the tiles that the opening's edge crosses, row by row from the top; `window_nm` is what a page can show.

    The edge joins them all; straight lines between its ends are snapped with a chalk line.
    """
    left, bottom, right, top = _around(lines)
    wide, high = (side - OVERLAP_NM for side in window_nm)
    columns = max(1, math.ceil((right - left - OVERLAP_NM) / wide))
    rows = max(1, math.ceil((top - bottom - OVERLAP_NM) / high))
    made = []
    for row in range(rows):
        for column in range(columns):
            x, y = left + column * wide, top - row * high
            tile = Tile(column, row, x, y - window_nm[1], x + window_nm[0], y)
            half = OVERLAP_NM / 2  # a line that only brushes what the neighbour shows too is the neighbour's
            own = Tile(column, row, tile.left + half, tile.bottom + half, tile.right - half, tile.top - half)
            if any(line.style == "edge" and any(clip_to_tile(line.points, own)) for line in lines):
                made.append(tile)
    return tuple(made)


def _around(lines: Sequence[TemplateLine]) -> tuple[float, float, float, float]:
    left, bottom, right, top = bounding_box([point for line in lines for point in line.points])
    return left - AROUND_NM, bottom - AROUND_NM, right + AROUND_NM, top + AROUND_NM


def register_marks(tile: Tile, others: Sequence[Tile]) -> tuple[At, ...]:
    """Return where a tile's register marks lie: in the middle of what it shows along with a neighbour, the same on both."""
    places = {(other.column, other.row) for other in others}
    half = OVERLAP_NM / 2
    sides = {
        (-1, 0): ((tile.left + half, tile.bottom + 4 * half), (tile.left + half, tile.top - 4 * half)),
        (1, 0): ((tile.right - half, tile.bottom + 4 * half), (tile.right - half, tile.top - 4 * half)),
        (0, -1): ((tile.left + 4 * half, tile.top - half), (tile.right - 4 * half, tile.top - half)),
        (0, 1): ((tile.left + 4 * half, tile.bottom + half), (tile.right - 4 * half, tile.bottom + half)),
    }
    return tuple(at for (dx, dy), ends in sides.items() if (tile.column + dx, tile.row + dy) in places for at in ends)


def clip_to_tile(points: Sequence[At], tile: Tile) -> Iterator[tuple[At, ...]]:
    """Yield the runs of a line that lie within a tile."""
    run: list[At] = []
    for a, b in pairwise(points):
        part = _clip(a, b, tile)
        if part is None:
            continue
        if run and run[-1] != part[0]:
            yield tuple(run)
            run = []
        run += part if not run else part[1:]
    if run:
        yield tuple(run)


def _clip(a: At, b: At, tile: Tile) -> tuple[At, At] | None:
    """Return the part of a straight line within a tile (Liang and Barsky, 1984), or None."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    first, last = 0.0, 1.0
    for step, room in ((-dx, a[0] - tile.left), (dx, tile.right - a[0]), (-dy, a[1] - tile.bottom), (dy, tile.top - a[1])):
        if step == 0:
            if room < 0:
                return None
            continue
        part = room / step
        if step < 0:
            first = max(first, part)
        else:
            last = min(last, part)
    if first >= last:
        return None
    start = a if first == 0.0 else (a[0] + dx * first, a[1] + dy * first)
    return start, b if last == 1.0 else (a[0] + dx * last, a[1] + dy * last)
