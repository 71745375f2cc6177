"""Tops under a roof that falls inward from its wall, as at the high side of a shed: cut by the roof's own plane.

A square top would stand above the roof's lower face on the inside by t tan(pitch). The blade is tilted so that the outside face
keeps its height and the inside one comes down to the roof; where the top slopes along the wall too, the cut is compound: tilt
asin(N n), with N the roof plane's normal and n the wall's.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import partial
from itertools import pairwise

from solver.domain.building import Building, Point, RoofPlane, Wall
from solver.domain.piece import Piece
from solver.domain.plant import Plant
from solver.errors import FieldFault
from solver.takeoff.wall_ends import reach_fault
from solver.units import MicroDeg

CLOSE_NM = 1_000  # heights of a plane and of the top that it makes, each rounded once
STEEP = 1e-9  # falls below this are the rounding of level lines


def cut_to_high_sides(
    building: Building, plant: Plant, wall: Wall, pieces: Sequence[Piece]
) -> tuple[tuple[Piece, ...], tuple[FieldFault, ...]]:
    """Return a wall's panels with their heads tilted where the roof falls inward, and a fault where the saw can't make it."""
    planes = [plane for plane in building.roof if plane.id in wall.under_roof]
    made, faults = [], []
    for piece in pieces:
        tilts = _tilts(wall, planes, piece)
        if max(tilts, default=0) == 0:
            made.append(piece)
            continue
        path, what = f"walls[{wall.id}].top", "the bevel of a top under a roof that falls inward"
        fault = reach_fault(path, max(tilts), plant.family(wall.family), plant, what, "a lower pitch")
        if len(tilts) > 1:
            fault = FieldFault(path, "two slopes of roof meet over one panel, and one falls inward", "a joint or corner there")
        if fault is not None:
            faults.append(fault)
        tilted = partial(replace, tilt_udeg=max(tilts), long_face="outside")
        made.append(replace(piece, head=tilted(piece.head), head_cuts=tuple(tilted(cut) for cut in piece.head_cuts)))
    return tuple(made), tuple(dict.fromkeys(faults))


def fall_nm(wall: Wall, planes: Sequence[RoofPlane], u: float, z: float, inward_nm: int) -> int:
    """Return how much lower the roof over a place of a wall's top is so far inside of it, rounded up; 0 where it rises."""
    here = plan_point_on_wall(wall, u)
    inward = inward_normal(wall.a, wall.b)
    inside = here[0] + inward[0] * inward_nm, here[1] + inward[1] * inward_nm
    over = [plane for plane in planes if abs(plane_height_at(plane, here) - wall.base_z_nm - z) < CLOSE_NM]
    falls = [plane_height_at(plane, here) - plane_height_at(plane, inside) for plane in over]
    most = max(falls, default=0.0)
    return math.ceil(most) if most > STEEP * inward_nm else 0


def _tilts(wall: Wall, planes: Sequence[RoofPlane], piece: Piece) -> set[MicroDeg]:
    """The tilts that a panel's head needs, a straight stretch each; 0 where the roof does not fall inward."""
    found = set()
    for end, start in pairwise((*piece.outline[2:], piece.outline[0])):
        if start[0] >= end[0]:
            continue
        u, z = (start[0] + end[0]) / 2, wall.base_z_nm + (start[1] + end[1]) / 2
        here = plan_point_on_wall(wall, u)
        over = [plane for plane in planes if abs(plane_height_at(plane, here) - z) < CLOSE_NM]
        found |= {_tilt(wall, plane) for plane in over}
    return found


def plan_point_on_wall(wall: Wall, u: float) -> tuple[float, float]:
    """Return the place in plan that lies so far along a wall's outside face."""
    part = u / wall.length_nm
    return wall.a[0] + (wall.b[0] - wall.a[0]) * part, wall.a[1] + (wall.b[1] - wall.a[1]) * part


def inward_normal(a: Point, b: Point) -> tuple[float, float]:
    """Return the unit vector to the left of a line in plan: into the house, or up a roof plane."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    size = math.hypot(dx, dy)
    return -dy / size, dx / size


def plane_height_at(plane: RoofPlane, at: tuple[float, float]) -> float:
    """Return the absolute height of a plane's lower face over a place in plan."""
    up = inward_normal(plane.a, plane.b)
    return plane.z_nm + ((at[0] - plane.a[0]) * up[0] + (at[1] - plane.a[1]) * up[1]) * plane.rise / plane.run


def _tilt(wall: Wall, plane: RoofPlane) -> MicroDeg:
    up, inward = inward_normal(plane.a, plane.b), inward_normal(wall.a, wall.b)
    fall = -(up[0] * inward[0] + up[1] * inward[1]) * plane.rise / math.hypot(plane.rise, plane.run)
    return MicroDeg(round(math.degrees(math.asin(min(1.0, fall))) * 1e6) if fall > STEEP else 0)
