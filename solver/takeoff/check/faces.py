"""Each wall and roof plane covered exactly once by the set shapes of its panels, each opening free."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

from solver.domain.building import Opening, RoofPlane, Wall
from solver.domain.piece import Piece
from solver.takeoff.check.coverage_scan import CoverageFlaw, CoverTile, Spot, coverage_flaws, twice_area
from solver.takeoff.check.plan_geometry import panel_ends
from solver.takeoff.check.proof import TakeoffProof
from solver.units import round_half_up

WORDS = {
    "gap": "a gap of {size} between {first} and {second}",
    "overlap": "{first} and {second} overlap by {size}",
    "outside": "{first} and {second}: the panel runs {size} outside the face",
    "crossing": "{first} has {second}",
}


def check_faces(proof: TakeoffProof) -> None:
    """Judge that panels cover every wall and roof plane once."""
    for wall in proof.building.walls:
        panels = proof.pieces_of(wall.id, "wall_panel")
        face = wall_face(proof, wall)
        low, high = min(u for u, _ in face), max(u for u, _ in face)
        free = [_void(opening, max(low, opening.u0_nm), min(high, opening.u1_nm)) for opening in wall.openings]
        _scan(proof, str(wall.id), face, panels, [void for void in free if void is not None])
    for plane in proof.building.roof:
        _scan_plane(proof, plane)
    proof.checked.append(
        f"{len(proof.building.walls)} walls and {len(proof.building.roof)} roof planes covered exactly once, openings free"
    )


def _scan_plane(proof: TakeoffProof, plane: RoofPlane) -> None:
    free = [_void(opening, opening.u0_nm, opening.u1_nm) for opening in plane.openings]
    panels = proof.pieces_of(plane.id, "roof_panel")
    _scan(proof, str(plane.id), plane.outline, panels, [void for void in free if void is not None])


def wall_face(proof: TakeoffProof, wall: Wall) -> list[Spot]:
    """Return a wall's outside face between the places where its panels must end, counter-clockwise."""
    left, right = panel_ends(proof.building, proof.plant, wall)
    start, end = round_half_up(left.outside), round_half_up(right.outside)
    inner = [(u, z) for u, z in wall.top if start < u < end]
    top = [(start, _height(wall.top, start, after=True)), *inner, (end, _height(wall.top, end, after=False))]
    return [(start, 0), (end, 0), *reversed(top)]


def _height(top: Sequence[Spot], u: int, *, after: bool) -> int:
    """Height of a top at a place, just to its right or left; its end lines run on past the wall's ends."""
    lines = [(a, b) for a, b in pairwise(top) if a[0] < b[0]]
    if after:
        line = next((line for line in lines if line[1][0] > u), lines[-1])
    else:
        line = next((line for line in reversed(lines) if line[0][0] < u), lines[0])
    (u0, z0), (u1, z1) = line
    return round_half_up(z0 + Fraction((z1 - z0) * (u - u0), u1 - u0))


def plant_cut_height(opening: Opening) -> int:
    """Return how high an opening is cut at the plant: to its spring line where its head is finished in the field."""
    head = opening.head
    if head is None:
        return opening.z1_nm
    if head.kind == "round":
        return opening.z0_nm + (opening.z1_nm - opening.z0_nm) // 2
    if head.kind == "arch":
        return opening.z1_nm - (head.rise_nm or 0)
    return opening.z0_nm + min(head.left_nm or 0, head.right_nm or 0)


def _void(opening: Opening, u0: int, u1: int) -> CoverTile | None:
    z0, z1 = int(opening.z0_nm), plant_cut_height(opening)
    if opening.head is not None and opening.head.kind == "round":  # the square in the circle: what is round waits for the field
        wide = opening.u1_nm - opening.u0_nm
        aside = (wide - math.isqrt(wide * wide // 2) + 1) // 2
        u0, u1 = max(u0, opening.u0_nm + aside), min(u1, opening.u1_nm - aside)
        z0, z1 = opening.z0_nm + aside, opening.z1_nm - aside
    if u0 >= u1 or z0 >= z1:
        return None
    return CoverTile(f"opening {opening.id}", ((u0, z0), (u1, z0), (u1, z1), (u0, z1)), void=True)


def _scan(proof: TakeoffProof, where: str, face: Sequence[Spot], panels: Sequence[Piece], free: Sequence[CoverTile]) -> None:
    tiles = list(free)
    for piece in panels:
        if len(piece.outline) < 3 or twice_area(piece.outline) <= 0:
            proof.add_fault(piece.mark, "its set shape is no counter-clockwise polygon", "a polygon with an area")
            continue
        tiles.append(CoverTile(piece.mark, piece.outline, tuple(cutout.outline for cutout in piece.cutouts)))
    told: set[tuple[str, str, str]] = set()
    for flaw in coverage_flaws(face, tiles):
        key = (flaw.kind, flaw.first, flaw.second)
        if key not in told:
            told.add(key)
            _tell(proof, where, flaw)


def _tell(proof: TakeoffProof, where: str, flaw: CoverageFlaw) -> None:
    place = f"at {proof.shown(flaw.at[0])} along, {proof.shown(flaw.at[1])} up"
    said = WORDS[flaw.kind].format(first=flaw.first, second=flaw.second, size=proof.shown(flaw.size))
    if flaw.of_void and flaw.kind == "overlap":
        said = f"an opening is not free: {said}"
    proof.add_fault(where, f"{said}, {place}", "set shapes that cover the face exactly once and leave openings free")
