"""Strips that openings leave below their sills and above their heads: told where one is lower than a leg may be narrow."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise

from solver.domain.building import Building, Opening, RoofPlane, Wall
from solver.domain.plant import Plant
from solver.domain.takeoff import BrokenRule
from solver.takeoff.wall_tops import top_points
from solver.units import Nm, round_half_up


def strip_breaks(building: Building, plant: Plant) -> list[BrokenRule]:
    """Return a broken rule for each strip between an opening and the foot, the top or a roof's edge that is too low to handle.

    No layout changes them. A strip between two openings is a leg, which the layout judges.
    """
    found = []
    for wall in building.walls:
        least = plant.family(wall.family).min_leg_nm
        found += [_break(item.id, least, size) for item in wall.openings for size in _on_wall(wall, item) if size < least]
    for plane in building.roof:
        least = plant.family(plane.family).min_leg_nm
        for item in plane.openings:
            found += [_break(f"{plane.id} {item.id}", least, size) for size in _on_plane(plane, item) if size < least]
    return found


def _break(where: str, wanted: Nm, got: int) -> BrokenRule:
    return BrokenRule(rule="strip", where=where, wanted_nm=wanted, got_nm=Nm(got))


def _on_wall(wall: Wall, item: Opening) -> Iterator[int]:
    if item.z0_nm > 0:
        yield item.z0_nm
    yield min(z for _, z in top_points(wall.top, item.u0_nm, item.u1_nm)) - item.z1_nm


def _on_plane(plane: RoofPlane, item: Opening) -> Iterator[int]:
    """The least distance down to the plane's lower edges and up to its upper ones, over the opening's width."""
    ring: Sequence[tuple[int, int]] = (*plane.outline, plane.outline[0])
    middle = Fraction(item.z0_nm + item.z1_nm, 2)
    below: list[int] = []
    above: list[int] = []
    for one, other in pairwise(ring):
        (x0, y0), (x1, y1) = sorted((one, other))
        low, high = max(x0, item.u0_nm), min(x1, item.u1_nm)
        if low >= high:
            continue
        ends = [y0 + Fraction((y1 - y0) * (x - x0), x1 - x0) for x in (low, high)]
        if sum(ends) < 2 * middle:
            below.append(round_half_up(item.z0_nm - max(ends)))
        else:
            above.append(round_half_up(min(ends) - item.z1_nm))
    yield from (min(side) for side in (below, above) if side)
