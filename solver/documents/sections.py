"""What the sections of a house show: each kind of foot, corner and ridge that it has, with the parts that the catalog names."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

from solver.domain.building import Building, RoofPlane, Wall, point_in_space
from solver.domain.document import BaseSection, CornerSection, RidgeSection, RidgeSide, SectionPart
from solver.domain.plant import Plant, Profile
from solver.domain.takeoff import Takeoff
from solver.units import Nm

_NEAR_NM = 1_000_000  # a millimetre: two planes whose ends are no farther apart share them


def base_sections(takeoff: Takeoff, plant: Plant) -> tuple[BaseSection, ...]:
    """Return a section for each thickness of the walls on the slab."""
    on_slab: dict[Nm, list[Wall]] = {}
    for wall in takeoff.building.walls:
        if wall.on_slab:
            on_slab.setdefault(plant.family(wall.family).thickness_nm, []).append(wall)
    return tuple(
        _base(takeoff, plant, thick, walls, channel)
        for thick, walls in on_slab.items()
        if (channel := _profile(plant, "base_channel", thick)) is not None
    )


def _base(takeoff: Takeoff, plant: Plant, thick: Nm, walls: list[Wall], channel: Profile) -> BaseSection:
    names = {wall.id for wall in walls}
    across = next((anchor.across_nm for anchor in takeoff.anchors if anchor.wall in names), Nm(thick // 2))
    return BaseSection(
        at=tuple(wall.id for wall in walls),
        wall_nm=thick,
        flange_nm=channel.flange_nm,
        gauge=channel.gauge,
        bolt_nm=plant.anchors.diameter_nm,
        across_nm=across,
        projection_nm=plant.anchors.projection_nm,
        pocket_nm=plant.anchors.pocket_nm,
        parts=(
            SectionPart(part="channel"),
            *_items(plant, "sealant", "base_channel_m"),
            *_items(plant, "bolt", "anchor"),
            SectionPart(part="panel"),
            *_items(plant, "screws", "base_line"),
        ),
    )


def corner_sections(building: Building, plant: Plant) -> tuple[CornerSection, ...]:
    """Return a section for each way in which two walls of the building meet, with the corners that are so."""
    walls = {wall.id: wall for wall in building.walls}
    found: dict[CornerSection, list[str]] = {}
    for wall in building.walls:
        corner = wall.left
        if corner.neighbour is None or corner.interior_udeg == 180_000_000 or corner.joint == "free":
            continue
        before = walls[corner.neighbour]
        thick = plant.family(before.family).thickness_nm, plant.family(wall.family).thickness_nm
        angle = _profile(plant, "corner_angle", thick[1])
        parts = [SectionPart(part="joint")]
        if angle is not None:
            parts += [SectionPart(part="angle_out"), SectionPart(part="angle_in"), *_items(plant, "screws", "corner_line")]
        section = CornerSection(
            at=(),
            interior_udeg=corner.interior_udeg,
            walls_nm=thick,
            joint=before.right.joint,
            leg_nm=Nm(0) if angle is None else Nm(angle.blank_nm // 2),
            parts=tuple(parts),
        )
        names = found.setdefault(section, [])
        if corner.id not in names:
            names.append(corner.id)
    return tuple(replace(section, at=tuple(names)) for section, names in found.items())


def ridge_sections(building: Building, plant: Plant) -> tuple[RidgeSection, ...]:
    """Return a section for each kind of ridge: two planes that meet at their tops and shed water apart."""
    ridges = [(plane, ends) for plane in building.roof for ends in _ridges(plane)]
    found: dict[tuple[RidgeSide, RidgeSide], list[RoofPlane]] = {}
    for n, (plane, ends) in enumerate(ridges):
        for other, others in ridges[n + 1 :]:
            if other.id != plane.id and _same(ends, others):
                sides = _side(plane, plant), _side(other, plant)
                found.setdefault(sides if sides in found or sides[::-1] not in found else sides[::-1], []).extend(
                    (plane, other)
                )
    trim = next((profile for profile in plant.profiles if profile.use == "ridge_trim"), None)
    return tuple(
        RidgeSection(
            at=tuple(dict.fromkeys(plane.id for plane in planes)),
            sides=sides,
            gap_nm=plant.family(planes[0].family).ridge_gap_nm,
            leg_nm=Nm(trim.blank_nm // 2),
            parts=(
                SectionPart(part="panel"),
                *_filled(plant),
                SectionPart(part="trim"),
                *_items(plant, "screws", "trim_line"),
            ),
        )
        for sides, planes in found.items()
        if trim is not None
    )


def _side(plane: RoofPlane, plant: Plant) -> RidgeSide:
    return RidgeSide(rise=plane.rise, run=plane.run, roof_nm=plant.family(plane.family).thickness_nm, cut=plane.ridge_cut)


def _ridges(plane: RoofPlane) -> Iterator[tuple[tuple[float, float, float], tuple[float, float, float]]]:
    """Yield both ends of each ridge of a plane in space: plan position and height, nanometres."""
    corners = [*plane.outline, plane.outline[0]]
    for kind, (start, end) in zip(plane.edges, pairwise(corners), strict=True):
        if kind == "ridge":
            yield point_in_space(plane, *start), point_in_space(plane, *end)


def _same(
    one: tuple[tuple[float, float, float], tuple[float, float, float]],
    other: tuple[tuple[float, float, float], tuple[float, float, float]],
) -> bool:
    return all(math.dist(a, b) < _NEAR_NM for a, b in zip(one, other[::-1], strict=True))


def _filled(plant: Plant) -> Iterator[SectionPart]:
    """Yield what fills the gap and closes the trim's edges, as one part."""
    items = [rule.item for rule in plant.hardware if rule.per == "ridge_m"]
    if items:
        yield SectionPart(part="foam", item="; ".join(items))


def _profile(plant: Plant, use: str, thick: Nm) -> Profile | None:
    """The profile for a use that fits a panel's thickness."""
    fitting = [item for item in plant.profiles if item.use == use and item.for_thickness_nm in (None, thick)]
    return next((item for item in fitting if item.for_thickness_nm is not None), fitting[0] if fitting else None)


def _items(plant: Plant, part: str, per: str) -> Iterator[SectionPart]:
    """Yield what the catalog asks for at such a place."""
    for rule in plant.hardware:
        if rule.per == per:
            yield SectionPart(part=part, item=rule.item, spacing_nm=rule.spacing_nm)  # type: ignore[arg-type]
