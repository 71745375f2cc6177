"""Where points of a roof plane are in space, to the nanometre."""

from __future__ import annotations

import math
from fractions import Fraction

from solver.domain.building import Point, Point3, RoofPlane
from solver.units import MicroDeg, Nm, isqrt_nearest, round_half_up

_FINE = 10**15  # scale of direction cosines: errors stay under a nanometre over 10 km


def to_space(plane: RoofPlane, point: Point) -> Point3:
    """Return where a point of the plane's lower face is: plan position and height, each to the nearest nanometre."""
    along = plane.b[0] - plane.a[0], plane.b[1] - plane.a[1]
    size = isqrt_nearest((along[0] ** 2 + along[1] ** 2) * _FINE**2)
    slope = isqrt_nearest((plane.rise**2 + plane.run**2) * _FINE**2)
    x = point[0]
    level = Fraction(point[1] * plane.run * _FINE, slope)
    up = Fraction(point[1] * plane.rise * _FINE, slope)
    east = plane.a[0] + (x * along[0] - level * along[1]) * _FINE / size
    north = plane.a[1] + (x * along[1] + level * along[0]) * _FINE / size
    return Nm(round_half_up(Fraction(east))), Nm(round_half_up(Fraction(north))), Nm(plane.z_nm + round_half_up(up))


def same_line(one: tuple[Point3, Point3], other: tuple[Point3, Point3], within_nm: int = 1000) -> bool:
    """Return whether two segments have the same ends, in either order, but for the rounding of planes met at an angle."""
    return (_near(one[0], other[0], within_nm) and _near(one[1], other[1], within_nm)) or (
        _near(one[0], other[1], within_nm) and _near(one[1], other[0], within_nm)
    )


def _near(one: Point3, other: Point3, within_nm: int) -> bool:
    return all(abs(a - b) <= within_nm for a, b in zip(one, other, strict=True))


def pitch_udeg(plane: RoofPlane) -> MicroDeg:
    """Return the plane's pitch, for saw settings."""
    return MicroDeg(round(math.degrees(math.atan2(plane.rise, plane.run)) * 1_000_000))
