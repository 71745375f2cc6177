"""Top caps at corners: mitred in one plane only, level or the roof's over bevelled eaves; else square, to butt (case G13)."""

from __future__ import annotations

import math
from fractions import Fraction
from itertools import pairwise

from solver.domain.building import Wall
from solver.domain.piece import Piece
from solver.takeoff.check.coverage_scan import Spot
from solver.takeoff.check.plan_geometry import PlanLine, Side, panel_ends, panel_thickness
from solver.takeoff.check.proof import TakeoffProof

CLOSE_NM = 1_000
NEAR_NM = 2
SLACK_UDEG = 2_000


def check_caps(proof: TakeoffProof) -> None:
    """Judge the width of every cap and the cut of its ends at corners."""
    count = 0
    for wall in proof.building.walls:
        caps = proof.pieces_of(wall.id, "top_cap")
        spots = [u for piece in caps for u, _ in piece.outline]
        for piece in caps:
            count += 1
            (u0, z0), (u1, z1) = piece.outline[0], piece.outline[-1]
            steep = math.hypot(u1 - u0, z1 - z0) / (u1 - u0)
            width = math.hypot(panel_thickness(proof.plant, wall), _bevel_rise(proof, wall))
            if abs(piece.width_nm - width) > NEAR_NM:
                proof.add_fault(
                    piece.mark, f"is {proof.shown(piece.width_nm)} wide", f"{proof.shown(round(width))}, as its top"
                )
            shifts = (
                _shift(proof, wall, "left") * steep if u0 == min(spots) else 0.0,
                _shift(proof, wall, "right") * steep if u1 == max(spots) else 0.0,
            )
            _ends(proof, piece, shifts, width)
    if count:
        proof.checked.append(f"{count} top caps as wide as their tops, mitred where two meet in one plane, else square")


def _ends(proof: TakeoffProof, piece: Piece, shifts: tuple[float, float], width: float) -> None:
    """The inside edge reaches past the outside one by the mitre, and the saw is set to that angle in the plane of the web."""
    got = piece.edge_a[0] - piece.edge_b[0], piece.edge_b[1] - piece.edge_a[1]
    for have, want, cut in zip(got, shifts, (piece.foot, piece.head), strict=True):
        swing = math.degrees(math.atan2(abs(want), width)) * 1e6
        if abs(have - want) > NEAR_NM or abs(cut.swing_udeg - swing) > SLACK_UDEG:
            proof.add_fault(
                piece.mark,
                f"its edges differ by {proof.shown(have)} at a corner, cut at {cut.swing_udeg / 1e6:.2f} degrees",
                f"{proof.shown(round(want))}, {swing / 1e6:.2f} degrees from square",
            )


def _shift(proof: TakeoffProof, wall: Wall, side: Side) -> float:
    """How much farther the inside edge of a cap reaches at a corner, level: as the wall's faces, or nothing where it butts."""
    corner = wall.left if side == "left" else wall.right
    left, right = panel_ends(proof.building, proof.plant, wall)
    faces = left.outside - left.inside if side == "left" else right.inside - right.outside
    other = next((one for one in proof.building.walls if one.id == corner.neighbour), None)
    if corner.joint != "mitred" or other is None:
        return float(faces)
    ours, theirs = _line_at(wall, side), _line_at(other, "right" if side == "left" else "left")
    level = ours[0][1] == ours[1][1] and theirs[0][1] == theirs[1][1]
    same = wall.base_z_nm + _z_at(ours, side) == other.base_z_nm + _z_at(theirs, "right" if side == "left" else "left")
    return float(faces) if (level and same) or in_one_plane(proof, wall, side, other) else 0.0


def _line_at(wall: Wall, side: Side) -> tuple[Spot, Spot]:
    """The straight stretch of a wall's top at one of its ends."""
    lines = [(a, b) for a, b in pairwise(wall.top) if a[0] < b[0]]
    return lines[0] if side == "left" else lines[-1]


def _z_at(line: tuple[Spot, Spot], side: Side) -> int:
    return line[0][1] if side == "left" else line[1][1]


def in_one_plane(proof: TakeoffProof, wall: Wall, side: Side, other: Wall) -> bool:
    """Return whether a level top bevelled to a roof plane and a sloping one meet at a square corner, both in that plane."""
    theirs: Side = "right" if side == "left" else "left"
    pairs = [(wall, _line_at(wall, side)), (other, _line_at(other, theirs))]
    level = [one for one, line in pairs if line[0][1] == line[1][1]]
    corner = wall.left if side == "left" else wall.right
    if len(level) != 1 or corner.interior_udeg not in (90_000_000, 270_000_000) or not _bevel_rise(proof, level[0]):
        return False
    for plane in proof.building.roof:
        if plane.id not in wall.under_roof or plane.id not in other.under_roof:
            continue
        ground = PlanLine.of_points(plane.a, plane.b)
        apart = [
            plane.z_nm + ground.where(PlanLine.of(one).place(u, 0))[1] * Fraction(plane.rise, plane.run) - one.base_z_nm - z
            for one, line in pairs
            for u, z in line
        ]
        if all(abs(value) <= CLOSE_NM for value in apart):
            return True
    return False


def _bevel_rise(proof: TakeoffProof, wall: Wall) -> int:
    """How much higher the inside of a wall's top is, by the tilt that all its panels' heads are cut to; 0 if square."""
    highest = max(z for _, z in wall.top)
    heads = [piece for piece in proof.pieces_of(wall.id, "wall_panel") if max(z for _, z in piece.outline) == highest]
    tilted = {piece.head.tilt_udeg for piece in heads if piece.head.long_face == "inside"}
    if len(tilted) != 1 or any(piece.head.long_face != "inside" for piece in heads):
        return 0
    return round(panel_thickness(proof.plant, wall) * math.tan(math.radians(tilted.pop() / 1e6)))
