"""How a wall's panels end at its corners: where they stop, how the inside face differs, which bevel the saw is set to.

All lengths follow from the walls' plan vectors by whole-number roots, so that they are exact to the nanometre.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from solver.domain.building import Building, Corner, Wall
from solver.domain.ids import GroupId
from solver.domain.plant import PanelFamily, Plant
from solver.errors import FieldFault
from solver.units import MicroDeg

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


def away(wall: Wall, side: Literal["left", "right"]) -> tuple[int, int]:
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
    ours, theirs = away(wall, side), away(other, "right" if side == "left" else "left")
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
    end = _lapped_end(corner, family, their, ours, theirs)
    return end, reach_fault(
        f"corners[{corner.id}].joint", end.bevel_udeg, family, plant, "the bevel of a lapped end", "a corner nearer to square"
    )


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
            f"{what} of {bevel_udeg / 1e6:.1f} degrees through {family.id} needs {depth / 25.4e6:.2f} in of blade,"
            f" the saw has {plant.saw.depth_nm / 25.4e6:.2f} in",
            instead,
        )
    return None


def _lapped_end(
    corner: Corner, family: PanelFamily, their: PanelFamily, ours: tuple[int, int], theirs: tuple[int, int]
) -> WallEnd:
    """A through wall ends flush with the other's far face, a between wall against the through wall's near face (case G3)."""
    cross = abs(ours[0] * theirs[1] - ours[1] * theirs[0])
    if cross == 0:
        return WallEnd(kind="rip")
    dot = ours[0] * theirs[0] + ours[1] * theirs[1]
    inside_corner = corner.interior_udeg > HALF_TURN
    runs_over = _rounded(their.thickness_nm * _lengths(ours, theirs), cross * _SCALE)  # t / sin(interior)
    inner = -_rounded(family.thickness_nm * dot, -cross if inside_corner else cross)
    if corner.joint == "lapped_through":
        stop = -runs_over if inside_corner else 0
    else:
        stop = 0 if inside_corner else runs_over
    turned = corner.interior_udeg - HALF_TURN if inside_corner else corner.interior_udeg
    bevel = abs(SQUARE - turned)
    return WallEnd(kind="rip" if inner == 0 else "mitre", stop_nm=stop, inner_nm=inner, bevel_udeg=MicroDeg(bevel))


def _lengths(first: tuple[int, int], second: tuple[int, int]) -> int:
    """Product of two vectors' lengths, times the scale."""
    squares = (first[0] ** 2 + first[1] ** 2) * (second[0] ** 2 + second[1] ** 2)
    return math.isqrt(squares * _SCALE * _SCALE)


def _rounded(top: int, bottom: int) -> int:
    return (2 * top + bottom) // (2 * bottom)
