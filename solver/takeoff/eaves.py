"""Square wall tops under a roof that rises inward from them: how long, and how high the wedge of air is on the inside."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from solver.domain.building import Building, RoofPlane, Wall
from solver.domain.plant import Plant
from solver.takeoff.high_tops import inward_normal, plan_point_on_wall, plane_height_at
from solver.takeoff.panels import top_bevel

CLOSE_NM = 1_000  # heights of a plane and of the top that it makes, each rounded once


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelEave:
    """A level stretch of a wall's top under a roof plane, and how much higher the roof is over the wall's inside face.

    `rise_nm` is below nothing where the roof falls inward, and nothing where the wall's top is bevelled to it.
    """

    wall: Wall
    plane: RoofPlane
    length_nm: int
    rise_nm: int


def level_eaves(building: Building, plant: Plant) -> list[LevelEave]:
    """Return every level stretch of a wall's top that follows a roof plane, wall by wall, left to right."""
    found = []
    for wall in building.walls:
        thickness = plant.family(wall.family).thickness_nm
        bevelled = top_bevel(building, plant, wall) is not None
        for (u0, z0), (u1, z1) in pairwise(wall.top):
            plane = _over(building, wall, Fraction(u0 + u1, 2), z0) if u0 < u1 and z0 == z1 else None
            if plane is None:
                continue
            here, inward = plan_point_on_wall(wall, (u0 + u1) / 2), inward_normal(wall.a, wall.b)
            inside = here[0] + inward[0] * thickness, here[1] + inward[1] * thickness
            rise = round(plane_height_at(plane, inside) - plane_height_at(plane, here))
            found.append(LevelEave(wall=wall, plane=plane, length_nm=u1 - u0, rise_nm=0 if bevelled else rise))
    return found


def _over(building: Building, wall: Wall, u: Fraction, z: int) -> RoofPlane | None:
    here = plan_point_on_wall(wall, float(u))
    planes = (plane for plane in building.roof if plane.id in wall.under_roof)
    return next((plane for plane in planes if abs(plane_height_at(plane, here) - wall.base_z_nm - z) < CLOSE_NM), None)
