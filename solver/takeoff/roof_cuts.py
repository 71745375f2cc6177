"""How the two ends of a roof panel are cut: lengths on either long edge, swing and tilt of the saw, and what it reaches.

At a hip or valley, equal pitches or not, both slopes are cut by the one vertical plane through the line where their lower
faces meet, so the mitre closes; with pitch p a vertical cut puts the upper face t tan(p) further up the slope (case G12).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from solver.domain.building import Point, RoofPlane
from solver.domain.piece import Allowance, EndCut
from solver.domain.plant import PanelFamily, Saw
from solver.takeoff.roof_shapes import Kind, StripCell
from solver.units import MicroDeg, Nm, Unit, isqrt_nearest, round_half_up, show_angle, show_length

UDEG = 1_000_000


@dataclass(frozen=True, slots=True)
class Slope:
    """The pitch of a plane with what follows from it for panels of one thickness."""

    plane: RoofPlane
    family: PanelFamily

    @property
    def long_face_nm(self) -> Nm:
        """How much further up the slope a vertical cut leaves the upper face: t tan(pitch)."""
        return Nm(round_half_up(Fraction(self.family.thickness_nm * self.plane.rise, self.plane.run)))

    @property
    def gap_nm(self) -> Nm:
        """Half the level ridge gap, measured along the slope."""
        return along_slope(Fraction(self.family.ridge_gap_nm, 2), self.plane)

    def head_allowances(self, kind: Kind) -> tuple[Allowance, ...]:
        """Return what the cut shape has over the set shape at a head of this kind."""
        found = []
        if kind == "ridge" and self.gap_nm:
            found.append(Allowance(name="ridge_gap", edge="head", amount_nm=Nm(-self.gap_nm)))
        if self.is_vertical(kind):
            found.append(Allowance(name="long_face", edge="head", amount_nm=self.long_face_nm))
        return tuple(found)

    def is_vertical(self, kind: Kind) -> bool:
        """Return whether an end of this kind is cut by a vertical plane; else it is cut square through the thickness."""
        plumb = (kind == "ridge" and self.plane.ridge_cut == "plumb") or (kind == "eave" and self.plane.eave_cut == "plumb")
        return self.plane.rise > 0 and (plumb or kind in ("hip", "valley"))

    def end_cut(self, start: Point, end: Point, kind: Kind, *, head: bool) -> EndCut:
        """Return the saw's setting for one stretch of an end, left to right; angles are magnitudes."""
        dx, dy = end[0] - start[0], end[1] - start[1]
        swing = math.degrees(math.atan2(abs(dy), dx))
        if not self.is_vertical(kind):
            return EndCut(swing_udeg=MicroDeg(round(swing * UDEG)))
        tilt = tilt_of_vertical_cut(dx, dy, self.plane.rise, self.plane.run)
        return EndCut(
            swing_udeg=MicroDeg(round(swing * UDEG)),
            tilt_udeg=MicroDeg(round(tilt * UDEG)),
            long_face="outside" if head else "inside",
        )


def along_slope(level_nm: int | Fraction, plane: RoofPlane) -> Nm:
    """Return a level distance measured along the slope: divided by cos(pitch), to the nearest nanometre."""
    level = Fraction(level_nm)
    grown = level.numerator**2 * (plane.rise**2 + plane.run**2) * 4  # twice the length, squared: keeps half nanometres
    return Nm(round_half_up(Fraction(isqrt_nearest(grown), 2 * level.denominator * plane.run)))


def tilt_of_vertical_cut(dx: int, dy: int, rise: int, run: int) -> float:
    """Return the blade's tilt in degrees for a vertical cut along (dx, dy) in a plane of pitch rise over run.

    The cut's horizontal normal against the in-plane normal of the edge; for a hip on a square plan it is the table's
    bevel B = asin(sin 45 sin p), the backing angle.
    """
    length = math.hypot(dx, dy)
    along, up = dx / length, dy / length
    cos_pitch = run / math.hypot(rise, run)
    cos_tilt = cos_pitch / math.hypot(along, up * cos_pitch)
    return math.degrees(math.acos(min(1.0, cos_tilt)))


def panel_end_cuts(cell: StripCell, slope: Slope) -> tuple[list[EndCut], list[EndCut]]:
    """Return the cuts of the foot and of the head, left to right; a stretch straight up the slope is no saw cut."""
    foot = [slope.end_cut(*stretch, head=False) for stretch in _stretches(cell.low, cell.low_kinds)]
    head = [slope.end_cut(*stretch, head=True) for stretch in _stretches(cell.high, cell.high_kinds)]
    return foot, head


def _stretches(points: tuple[Point, ...], kinds: tuple[Kind, ...]) -> Iterator[tuple[Point, Point, Kind]]:
    for start, end, kind in zip(points, points[1:], kinds, strict=False):
        if start[0] < end[0]:
            yield start, end, kind


def why_saw_cannot_cut(cut: EndCut, saw: Saw, thickness_nm: int, unit: Unit) -> str | None:
    """Return why the saw cannot make a cut, or nothing where it can."""
    if cut.swing_udeg > saw.swing_udeg:
        return f"a cut {show_angle(cut.swing_udeg)} from square is beyond the saw's swing of {show_angle(saw.swing_udeg)}"
    if cut.tilt_udeg > saw.tilt_udeg:
        return f"a bevel of {show_angle(cut.tilt_udeg)} is beyond the saw's tilt of {show_angle(saw.tilt_udeg)}"
    reach = thickness_nm / math.cos(math.radians(cut.tilt_udeg / UDEG))
    if reach > saw.depth_nm:
        return (
            f"a bevel of {show_angle(cut.tilt_udeg)} needs {show_length(math.ceil(reach), unit)} of blade, "
            f"the saw has {show_length(saw.depth_nm, unit)}"
        )
    return None
