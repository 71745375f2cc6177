"""Furring: strips on the inside faces of walls for boards, upright or level, on centre (common practice, no source).

A wall is taken apart in zones along the strips, from opening edge to opening edge. In each zone the free width has a strip
at either end, for the board's edge, strips on centre between, and one halfway where the strip on centre would foul an end's;
strips at one place in zones that touch are one. Under a sloping top strips end square, below it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Literal

from solver.domain.building import Building, Furring, RoofPlane, Wall
from solver.domain.ids import GroupId
from solver.domain.piece import Piece
from solver.domain.plant import Plant, Profile
from solver.takeoff.high_tops import fall_nm
from solver.takeoff.linear_runs import run_pieces
from solver.takeoff.piece_drafts import profile_for
from solver.takeoff.wall_ends import HALF_TURN, inside_corner_nm, vector_from_corner
from solver.takeoff.wall_tops import Pair, top_points
from solver.units import Nm

Stretch = tuple[int, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class FurredFace:
    """A wall's inside face: from where to where along the wall, its top there, its openings, and how it is furred."""

    wall: Wall
    left: int
    right: int
    top: tuple[Pair, ...]  # from left to right
    furring: Furring
    width_nm: int  # of a strip
    least_nm: int
    from_left: bool  # strips on centre count from the end where the crew starts


@dataclass(frozen=True, slots=True, kw_only=True)
class StripZone:
    """A stretch along the strips: the widths free of openings there; the last end of a width may lie under a slope."""

    low: int
    high: int
    free: tuple[Stretch, ...]
    slope_above: bool = False


def furring_pieces(building: Building, plant: Plant) -> list[Piece]:
    """Return the strips of all walls that are furred, left to right or foot up."""
    walls = {wall.id: wall for wall in building.walls}
    pieces: list[Piece] = []
    for wall in building.walls:
        if wall.furring is None:
            continue
        profile = profile_for(plant, "furring", plant.family(wall.family).thickness_nm)
        face = _face(building, plant, wall, walls, profile, wall.furring)
        note = f"inside face, {wall.furring.runs}, on centre"
        for start, end in strip_centre_lines(face):
            ends = (Nm(start[0]), Nm(start[1])), (Nm(end[0]), Nm(end[1]))
            pieces += run_pieces("furring", profile, *ends, building, group=wall.id, part=wall.level, notes=(note,))
    return pieces


def _face(
    building: Building, plant: Plant, wall: Wall, walls: Mapping[GroupId, Wall], profile: Profile, furring: Furring
) -> FurredFace:
    left, right = _inside_end(wall, "left", walls, plant), wall.length_nm - _inside_end(wall, "right", walls, plant)
    thickness = plant.family(wall.family).thickness_nm
    planes = [plane for plane in building.roof if plane.id in wall.under_roof]
    return FurredFace(
        wall=wall,
        left=left,
        right=right,
        top=tuple(_inside_top(wall, planes, thickness, left, right)),
        furring=furring,
        width_nm=profile.width_nm or profile.blank_nm,
        least_nm=plant.furring.least_nm,
        from_left=building.direction == "ccw",
    )


def _inside_end(wall: Wall, side: Literal["left", "right"], walls: Mapping[GroupId, Wall], plant: Plant) -> int:
    """How far from a wall's end its inside face meets the other wall's; negative at an inside corner."""
    corner = wall.left if side == "left" else wall.right
    if corner.neighbour is None or corner.joint == "free":
        return 0
    other = walls[corner.neighbour]
    return inside_corner_nm(
        plant.family(wall.family).thickness_nm,
        plant.family(other.family).thickness_nm,
        vector_from_corner(wall, side),
        vector_from_corner(other, "right" if side == "left" else "left"),
        inside_corner=corner.interior_udeg > HALF_TURN,
    )


def _inside_top(wall: Wall, planes: Sequence[RoofPlane], thickness: int, left: int, right: int) -> Iterator[Pair]:
    """The wall's top on its inside face, lower than outside where the roof falls inward."""
    for (u0, z0), (u1, z1) in pairwise(top_points(wall.top, left, right)):
        if u0 < u1:
            down = fall_nm(wall, planes, (u0 + u1) / 2, (z0 + z1) / 2, thickness)
            yield from ((u0, z0 - down), (u1, z1 - down))


def strip_centre_lines(face: FurredFace) -> list[tuple[Pair, Pair]]:
    """Return the centre line of each strip, from its left or lower end."""
    upright = face.furring.runs == "upright"
    held: dict[int, list[Stretch]] = {}
    for zone in _upright_zones(face) if upright else _level_zones(face):
        for stretch in zone.free:
            for place in _places(face, stretch, zone, upright=upright):
                low, high = _under_top(face, place, zone, upright=upright)
                if low < high:
                    _add(held.setdefault(place, []), low, high)
    lines = [(place, low, high) for place in sorted(held) for low, high in held[place] if high - low >= face.least_nm]
    if upright:
        return [((place, low), (place, high)) for place, low, high in lines]
    return [((low, place), (high, place)) for place, low, high in lines]


def _add(parts: list[Stretch], low: int, high: int) -> None:
    if parts and parts[-1][1] == low:
        parts[-1] = (parts[-1][0], high)
    else:
        parts.append((low, high))


def _upright_zones(face: FurredFace) -> Iterator[StripZone]:
    highest = max(z for _, z in face.top)
    boxes: list[tuple[int, int, int, int]] = [(o.u0_nm, o.u1_nm, o.z0_nm, o.z1_nm) for o in face.wall.openings]
    level = [(a, b) for a, b in pairwise(face.top) if a[1] == b[1] < highest]
    boxes += [(a[0], b[0], a[1], highest) for a, b in level]  # beside a step: an edge like an opening's
    cuts = sorted({0, highest} | {z for box in boxes for z in box[2:] if 0 < z < highest})
    for low, high in pairwise(cuts):
        free = _less(face.left, face.right, [box[:2] for box in boxes if box[2] < high and box[3] > low])
        yield StripZone(low=low, high=high, free=tuple(free))


def _level_zones(face: FurredFace) -> Iterator[StripZone]:
    boxes = [(item.u0_nm, item.u1_nm, item.z0_nm, item.z1_nm) for item in face.wall.openings]
    cuts = {face.left, face.right, *(u for u, _ in face.top)} | {u for box in boxes for u in box[:2]}
    for low, high in pairwise(sorted(u for u in cuts if face.left <= u <= face.right)):
        ends = [z for _, z in top_points(face.top, low, high)]
        free = _less(0, max(ends), [box[2:] for box in boxes if box[0] < high and box[1] > low])
        yield StripZone(low=low, high=high, free=tuple(free), slope_above=min(ends) < max(ends))


def _less(low: int, high: int, gaps: Sequence[tuple[int, ...]]) -> Iterator[Stretch]:
    """What gaps leave of a stretch."""
    for start, end in sorted((gap[0], gap[1]) for gap in gaps):
        if start > low:
            yield low, min(start, high)
        low = max(low, end)
    if low < high:
        yield low, high


def _places(face: FurredFace, stretch: Stretch, zone: StripZone, *, upright: bool) -> list[int]:
    """Centres of the strips across a free width: at both ends (not under a slope), on centre, halfway where one is missing."""
    (a, b), width, spacing = stretch, face.width_nm, face.furring.spacing_nm
    half = width // 2
    if b - a < width:
        return []
    sloped = zone.slope_above and b == max(end for _, end in zone.free)
    if b - a < 2 * width and not sloped:
        return [(a + b) // 2]
    last = b if sloped else b - half
    ends = [a + half] if sloped else [a + half, last]
    first = 0 if not upright else face.left if face.from_left else face.right
    grid = range(first - (first - a) // spacing * spacing, b + 1, spacing)
    most = last if sloped else last - width
    places = sorted({*ends, *(place for place in grid if a + half + width <= place <= most)})
    between = [(near + far) // 2 for near, far in pairwise(places) if far - near > spacing]
    return sorted([*places, *between])


def _under_top(face: FurredFace, place: int, zone: StripZone, *, upright: bool) -> Stretch:
    """How much of a zone a strip takes below the top of the wall."""
    half = face.width_nm // 2
    if upright:
        left, right = max(face.left, place - half), min(face.right, place + half)
        return zone.low, min(zone.high, *(z for _, z in top_points(face.top, left, right)))
    (u0, z0), *_, (u1, z1) = top_points(face.top, zone.low, zone.high)
    need = place + half
    if min(z0, z1) >= need:
        return zone.low, zone.high
    if max(z0, z1) <= need:
        return zone.low, zone.low
    cross = u0 + Fraction((need - z0) * (u1 - u0), z1 - z0)
    return (int(-(-cross // 1)), u1) if z1 > z0 else (u0, int(cross // 1))
