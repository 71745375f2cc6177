"""Rows of full-scale templates: each odd opening head of an order once, with its figures for a tape and a straightedge."""

from __future__ import annotations

import math
from collections.abc import Iterator

from solver.documents.index import PlanIndex
from solver.domain.building import Building, Head, Opening, RoofPlane, Wall
from solver.domain.document import HeadTemplate, Ordinate
from solver.domain.ids import GroupId
from solver.units import INCH, MM, Nm

_Key = tuple[Head, int, int]  # head, width, and height where the head is all of the opening


def head_templates(index: PlanIndex) -> tuple[HeadTemplate, ...]:
    """Return a template for every head of a wall or roof opening that the plant leaves square, alike ones of an order once."""
    return tuple(row for building in index.buildings.values() for row in _of(building))


def _of(building: Building) -> Iterator[HeadTemplate]:
    found: dict[_Key, list[tuple[GroupId, Opening]]] = {}
    groups: tuple[Wall | RoofPlane, ...] = (*building.walls, *building.roof)
    for group in groups:
        for opening in group.openings:
            if opening.head is not None:
                high = opening.z1_nm - opening.z0_nm if opening.head.kind == "round" else 0
                found.setdefault((opening.head, opening.u1_nm - opening.u0_nm, high), []).append((group.id, opening))
    for (head, width, _), where in found.items():
        first = where[0][1]
        radius = head_radius_nm(head, width)
        yield HeadTemplate(
            order=building.order,
            unit=building.unit,
            places=tuple((group, opening.id) for group, opening in where),
            head=head,
            width_nm=Nm(width),
            height_nm=Nm(head_rise_nm(head, first)),
            radius_nm=None if radius is None else Nm(round(radius)),
            ordinates=tuple(_ordinates(head, width, step=4 * INCH if building.unit == "in" else 100 * MM)),
        )


def head_rise_nm(head: Head, opening: Opening) -> int:
    """Return how far a head rises over its spring line (of a round opening: over its lowest point), in nanometres."""
    if head.kind == "round":
        return opening.z1_nm - opening.z0_nm
    if head.kind == "arch":
        return head.rise_nm or 0
    return abs((head.left_nm or 0) - (head.right_nm or 0))


def head_radius_nm(head: Head, width_nm: int) -> float | None:
    """Return the radius of a curved head in nanometres; None for a straight one."""
    if head.kind == "round":
        return width_nm / 2
    if head.kind == "trapezoid" or not head.rise_nm:
        return None
    return ((width_nm / 2) ** 2 + head.rise_nm**2) / (2 * head.rise_nm)


def _ordinates(head: Head, width: int, *, step: int) -> Iterator[Ordinate]:
    """Yield heights over the spring line (a round opening: over its centre), out from the centre line to the edge."""
    half = width / 2
    radius = head_radius_nm(head, width)
    if radius is None:
        return
    centre = 0.0 if head.kind == "round" else (head.rise_nm or 0) - radius  # of the circle, over the spring line
    stations = [at for at in range(0, int(half), step) if half - at > step / 4]
    for at in [*map(float, stations), half]:
        up = centre + math.sqrt(max(0.0, radius * radius - at * at))
        yield Ordinate(out_nm=Nm(round(at)), up_nm=Nm(round(up)))
