"""Wall tops as solids: no panel's inside edge stands above the lower face of the roof over it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise

from solver.domain.building import RoofPlane, Wall
from solver.domain.piece import Piece
from solver.takeoff.check.panels import SLACK_UDEG
from solver.takeoff.check.plan_geometry import PlanLine, panel_thickness
from solver.takeoff.check.proof import TakeoffProof

CLOSE_NM = 1_000
TOUCH_NM = 3


def check_tops(proof: TakeoffProof) -> None:
    """Compare each panel's head with the roof over its inside face: where it is lower there, the head is tilted to it."""
    planes = {str(plane.id): plane for plane in proof.building.roof}
    count = 0
    for wall in proof.building.walls:
        over = [planes[name] for name in wall.under_roof if name in planes]
        for piece in proof.pieces_of(wall.id, "wall_panel") if over else ():
            count += 1
            _head(proof, wall, over, piece)
    if count:
        proof.checked.append(f"{count} panels under roofs: no inside edge above the roof's lower face")


def _head(proof: TakeoffProof, wall: Wall, over: list[RoofPlane], piece: Piece) -> None:
    needed = list(_needed(proof, wall, over, piece))
    if not needed:
        return
    tilt, above = max(needed)
    falls = piece.head.long_face == "outside" and abs(piece.head.tilt_udeg - tilt) <= SLACK_UDEG
    if above > TOUCH_NM and not falls:
        proof.add_fault(
            piece.mark,
            f"the inside edge of its top stands {proof.shown(round(above))} above the roof's lower face",
            f"a head tilted {tilt / 1e6:.2f} degrees, its long face outside",
        )
    if above <= TOUCH_NM and piece.head.tilt_udeg and piece.head.long_face == "outside":
        proof.add_fault(
            piece.mark, "its head is tilted down inward, where the roof does not fall", "a square head, or one that rises"
        )


def _needed(proof: TakeoffProof, wall: Wall, over: list[RoofPlane], piece: Piece) -> Iterator[tuple[float, Fraction]]:
    """The tilt that each stretch of a head under a roof needs, and how far a square one would stand above the roof inside."""
    line, thick = PlanLine.of(wall), panel_thickness(proof.plant, wall)
    ring = [*piece.outline, piece.outline[0]]
    for end, start in pairwise(ring):
        if start[0] >= end[0]:
            continue
        middle = Fraction(start[0] + end[0], 2)
        top = wall.base_z_nm + Fraction(start[1] + end[1], 2)
        for plane in over:
            outside = _height(plane, line, middle, 0)
            if abs(outside - top) > CLOSE_NM:
                continue
            above = outside - _height(plane, line, middle, thick)
            slope = math.atan2(end[1] - start[1], end[0] - start[0])
            yield max(0.0, math.degrees(math.atan(float(above) * math.cos(slope) / thick)) * 1e6), above


def _height(plane: RoofPlane, line: PlanLine, along: Fraction, inward: int) -> Fraction:
    _, level = PlanLine.of_points(plane.a, plane.b).where(line.place(along, inward))
    return plane.z_nm + level * plane.rise / plane.run
