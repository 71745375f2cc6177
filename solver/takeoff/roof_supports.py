"""Where an end lap of roof panels may lie: over walls that cross the plane level, under at least half of the panel's width.

That half is enough is common practice, no source; a panel at the rake reaches past the last wall by its overhang.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from solver.domain.building import BearingWall, Building, Point, RoofPlane, Wall
from solver.takeoff.roof_cuts import along_slope
from solver.units import Nm, isqrt_nearest, round_half_up


@dataclass(frozen=True, slots=True)
class Support:
    """A wall under a plane: how high up the slope it crosses, and from where to where along the eave."""

    y_nm: Nm
    left_nm: Nm
    right_nm: Nm

    def carries(self, left_nm: Nm, right_nm: Nm) -> bool:
        """Return whether at least half of a panel between two joints bears on it."""
        borne = min(self.right_nm, right_nm) - max(self.left_nm, left_nm)
        return 2 * borne >= right_nm - left_nm


def support_lines(plane: RoofPlane, building: Building) -> tuple[Support, ...]:
    """Return the walls that cross a plane level, above its wall line, from the eave up."""
    found = set()
    walls: tuple[Wall | BearingWall, ...] = (*building.walls, *building.bearing)
    for wall in walls:
        line = _in_plane(plane, wall)
        if line is not None and line[1] > 0:
            (left, right), y = line
            found.add(Support(along_slope(y, plane), Nm(left), Nm(right)))
    return tuple(sorted(found, key=lambda line: (line.y_nm, line.left_nm, line.right_nm)))


def _in_plane(plane: RoofPlane, wall: Wall | BearingWall) -> tuple[tuple[int, int], int] | None:
    """Where a wall lies under the plane: from and to along x, and level distance from the wall line; none if not level."""
    along = plane.b[0] - plane.a[0], plane.b[1] - plane.a[1]
    size = isqrt_nearest(along[0] ** 2 + along[1] ** 2)
    ends = [_place(plane.a, along, size, point) for point in (wall.a, wall.b)]
    if abs(ends[0][1] - ends[1][1]) > 1:
        return None
    xs = sorted(end[0] for end in ends)
    return (xs[0], xs[1]), ends[0][1]


def _place(origin: Point, along: tuple[int, int], size: int, point: Point) -> tuple[int, int]:
    dx, dy = point[0] - origin[0], point[1] - origin[1]
    x = Fraction(dx * along[0] + dy * along[1], size)
    y = Fraction(dy * along[0] - dx * along[1], size)
    return round_half_up(x), round_half_up(y)
