"""Where an end lap of roof panels may lie: over walls that cross a plane level, under its whole width."""

from __future__ import annotations

from fractions import Fraction

from solver.domain.building import BearingWall, Building, Point, RoofPlane, Wall
from solver.takeoff.roof_cuts import along_slope
from solver.units import Nm, isqrt_nearest, round_half_up


def support_lines(plane: RoofPlane, building: Building) -> tuple[Nm, ...]:
    """Return the heights y, along the slope, of the walls that carry the plane level and from side to side, upward."""
    first, last = min(x for x, _ in plane.outline), max(x for x, _ in plane.outline)
    found = set()
    walls: tuple[Wall | BearingWall, ...] = (*building.walls, *building.bearing)
    for wall in walls:
        line = _in_plane(plane, wall)
        if line is None:
            continue
        (x0, x1), y = line
        overhang = max(0, -min(height for _, height in plane.outline))  # a rake may pass its last support by as much
        if x0 <= first + overhang and x1 >= last - overhang and y > 0:
            found.add(along_slope(y, plane))
    return tuple(sorted(found))


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
