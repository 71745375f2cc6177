"""How a wall's panels end at its corners: where they stop, how the inside face differs, which bevel the saw is set to.

All lengths follow from the walls' plan vectors by whole-number roots, so that they are exact to the nanometre.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from solver.domain.building import Building, Corner, Wall
from solver.domain.ids import GroupId
from solver.domain.plant import PanelFamily, Plant
from solver.errors import FieldFault
from solver.units import MicroDeg, round_half_up, show_length

HALF_TURN = 180_000_000
SQUARE = 90_000_000
_SCALE = 10**12  # keeps roots of plan vectors exact far below a nanometre


@dataclass(frozen=True, slots=True, kw_only=True)
class WallEnd:
    """One end of a wall's panels: `stop_nm` is how far inside the wall's end they stop on the outside face.

    Negative where a through wall runs on past an inside corner. `inner_nm` is how much farther out the inside face reaches
    than the outside face there (negative at an outside mitre).
    """

    kind: Literal["mitre", "rip"]
    stop_nm: int = 0
    inner_nm: int = 0
    bevel_udeg: MicroDeg = MicroDeg(0)


def vector_from_corner(wall: Wall, side: Literal["left", "right"]) -> tuple[int, int]:
    """Return the plan vector along a wall, away from its corner on that side."""
    ax, ay = wall.a
    bx, by = wall.b
    return (bx - ax, by - ay) if side == "left" else (ax - bx, ay - by)


def mitre_nm(thickness_nm: int, first: tuple[int, int], second: tuple[int, int]) -> int:
    """Return t tan(half the turn) of two vectors that leave a corner: how much a mitred panel's faces differ (case G1)."""
    dot = first[0] * second[0] + first[1] * second[1]
    cross = abs(first[0] * second[1] - first[1] * second[0])
    if cross == 0:
        return 0
    return _rounded(thickness_nm * (_lengths(first, second) + dot * _SCALE), cross * _SCALE)


def wall_ends(building: Building, plant: Plant) -> tuple[dict[GroupId, tuple[WallEnd, WallEnd]], list[FieldFault]]:
    """Return the left and right end of every wall, and a fault for each corner that the saw can't make as asked."""
    walls = {wall.id: wall for wall in building.walls}
    faults: dict[str, FieldFault] = {}
    ends = {}
    for wall in building.walls:
        pair = []
        for side in ("left", "right"):
            corner = wall.left if side == "left" else wall.right
            end, fault = _end(wall, corner, side, walls, plant)
            pair.append(end)
            if fault is not None:
                faults.setdefault(fault.path, fault)
        ends[wall.id] = (pair[0], pair[1])
    return ends, list(faults.values())


def _end(
    wall: Wall, corner: Corner, side: Literal["left", "right"], walls: Mapping[GroupId, Wall], plant: Plant
) -> tuple[WallEnd, FieldFault | None]:
    if corner.joint == "free" or corner.neighbour is None:
        return WallEnd(kind="rip"), None
    other = walls[corner.neighbour]
    family, their = plant.family(wall.family), plant.family(other.family)
    ours, theirs = vector_from_corner(wall, side), vector_from_corner(other, "right" if side == "left" else "left")
    inside_corner = corner.interior_udeg > HALF_TURN
    if corner.joint == "mitred":
        bevel = abs(HALF_TURN - corner.interior_udeg) // 2
        differ = mitre_nm(family.thickness_nm, ours, theirs)
        end = WallEnd(kind="mitre", inner_nm=differ if inside_corner else -differ, bevel_udeg=MicroDeg(bevel))
        if family.thickness_nm != their.thickness_nm:
            return end, FieldFault(
                f"corners[{corner.id}].joint",
                f"walls {wall.id} and {other.id} differ in thickness, so they can't meet in a mitre",
                "one thickness for both, or a lapped corner",
            )
        return end, reach_fault(f"corners[{corner.id}].joint", bevel, family, plant, "a mitre", "a lapped corner")
    end = _lapped_end(wall, side, family, their, theirs)
    return end, reach_fault(
        f"corners[{corner.id}].joint", end.bevel_udeg, family, plant, "the bevel of a lapped end", "a corner nearer to square"
    )


def butt_lap_nm(wall: Wall, side: Literal["left", "right"], their_thickness_nm: int, theirs: tuple[int, int]) -> int:
    """Return t / sin(angle): how far along a wall's outside face the other wall reaches, straight through its thickness.

    Rounded so that the place along the wall, from its left end, is the nearest nanometre to the exact one.
    """
    ours = vector_from_corner(wall, side)
    return _from_end(wall, side, _lap(their_thickness_nm, ours, theirs))


def _lap(thickness_nm: int, ours: tuple[int, int], theirs: tuple[int, int]) -> Fraction:
    cross = abs(ours[0] * theirs[1] - ours[1] * theirs[0])
    return Fraction(thickness_nm * _lengths(ours, theirs), cross * _SCALE) if cross else Fraction(0)


def _from_end(wall: Wall, side: Literal["left", "right"], distance: Fraction) -> int:
    """A distance from a wall's end, rounded where it lies along the wall."""
    if side == "left":
        return round_half_up(distance)
    dx, dy = vector_from_corner(wall, "left")
    exact = Fraction(math.isqrt((dx * dx + dy * dy) * _SCALE * _SCALE), _SCALE)
    return wall.length_nm - round_half_up(exact - distance)


def inside_corner_nm(
    thickness_nm: int, their_thickness_nm: int, ours: tuple[int, int], theirs: tuple[int, int], *, inside_corner: bool
) -> int:
    """Return where along a wall, from its corner, the two walls' inside faces meet; negative at an inside corner."""
    cross = abs(ours[0] * theirs[1] - ours[1] * theirs[0])
    if cross == 0:
        return 0
    dot = ours[0] * theirs[0] + ours[1] * theirs[1]
    place = _rounded(their_thickness_nm * _lengths(ours, theirs) + thickness_nm * dot * _SCALE, cross * _SCALE)
    return -place if inside_corner else place


def reach_fault(path: str, bevel_udeg: int, family: PanelFamily, plant: Plant, what: str, instead: str) -> FieldFault | None:
    """Return a fault if the saw's tilt or depth (t / cos(bevel), case G1) does not reach a bevel."""
    if bevel_udeg > plant.saw.tilt_udeg:
        return FieldFault(
            path,
            f"{what} of {bevel_udeg / 1e6:.1f} degrees tilts the blade beyond its {plant.saw.tilt_udeg / 1e6:.1f} degrees",
            instead,
        )
    depth = family.thickness_nm / math.cos(math.radians(bevel_udeg / 1e6))
    if depth > plant.saw.depth_nm + 0.5:
        return FieldFault(
            path,
            f"{what} of {bevel_udeg / 1e6:.1f} degrees through {family.id} needs "
            f"{show_length(math.ceil(depth), plant.unit)} of blade, the saw has {show_length(plant.saw.depth_nm, plant.unit)}",
            instead,
        )
    return None


def _lapped_end(
    wall: Wall, side: Literal["left", "right"], family: PanelFamily, their: PanelFamily, theirs: tuple[int, int]
) -> WallEnd:
    """A through wall ends flush with the other's far face, a between wall against the through wall's near face (case G3)."""
    corner, ours = wall.left if side == "left" else wall.right, vector_from_corner(wall, side)
    cross = abs(ours[0] * theirs[1] - ours[1] * theirs[0])
    if cross == 0:
        return WallEnd(kind="rip")
    dot = ours[0] * theirs[0] + ours[1] * theirs[1]
    inside_corner = corner.interior_udeg > HALF_TURN
    inner = -_rounded(family.thickness_nm * dot, -cross if inside_corner else cross)
    stop = 0
    if (corner.joint == "lapped_through") == inside_corner:
        over = _lap(their.thickness_nm, ours, theirs)
        stop = _from_end(wall, side, -over if inside_corner else over)
    turned = corner.interior_udeg - HALF_TURN if inside_corner else corner.interior_udeg
    bevel = abs(SQUARE - turned)
    return WallEnd(kind="rip" if inner == 0 else "mitre", stop_nm=stop, inner_nm=inner, bevel_udeg=MicroDeg(bevel))


def _lengths(first: tuple[int, int], second: tuple[int, int]) -> int:
    """Product of two vectors' lengths, times the scale."""
    squares = (first[0] ** 2 + first[1] ** 2) * (second[0] ** 2 + second[1] ** 2)
    return math.isqrt(squares * _SCALE * _SCALE)


def _rounded(top: int, bottom: int) -> int:
    return (2 * top + bottom) // (2 * bottom)
