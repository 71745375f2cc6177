"""One wall panel: its set shape between two joints and two heights, and its cut shape on the blank."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from solver.domain.building import Building, Wall
from solver.domain.cut_shape import height_on_line, refit_line_ends
from solver.domain.ids import PieceId
from solver.domain.piece import Allowance, Cutout, EdgeCut, EndCut, Piece
from solver.domain.plant import PanelFamily, Plant
from solver.takeoff.openings import HeightBand, cutouts, field_finish_notes, net_area
from solver.takeoff.piece_drafts import panel_material, panel_weight
from solver.takeoff.wall_ends import reach_fault
from solver.takeoff.wall_tops import straight_lines, top_points
from solver.units import MicroDeg, Nm, round_half_up

CLOSING_NOTE = "check before standing: closes the loop; lowered from above or inner lip relieved, trimmed to the gap"
LAP_NOTE = "laps over the panel below: hold it until both are fastened to the support at the joint"


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelSlot:
    """A panel's place in a wall: set extent, the cuts of its long edges, what its width is cut more or less by."""

    u0: int
    u1: int
    edges: tuple[EdgeCut, EdgeCut]
    grown: tuple[Allowance, ...]
    closing: bool

    @property
    def side_growths_nm(self) -> tuple[int, int]:
        """How much wider than it stands the panel is cut on its left and on its right."""
        left, right = (sum(item.amount_nm for item in self.grown if item.edge == edge) for edge in ("left", "right"))
        return left, right


@dataclass(frozen=True, slots=True, kw_only=True)
class TopBevel:
    """A top bevelled to the roof: the blade's tilt, and how much higher the inside face is."""

    tilt_udeg: MicroDeg
    rise_nm: int


def top_bevel(building: Building, plant: Plant, wall: Wall) -> TopBevel | None:
    """Return the bevel of a level wall top under a roof that rises inward from it, where the plant makes one (case G13)."""
    family = plant.family(wall.family)
    planes = [plane for plane in building.roof if plane.id in wall.under_roof]
    level = len({z for _, z in wall.top}) == 1
    if not family.bevel_top or not planes or not level:
        return None
    along = (wall.b[0] - wall.a[0], wall.b[1] - wall.a[1])
    slopes = {Fraction(plane.rise, plane.run) for plane in planes}
    for plane in planes:
        line = (plane.b[0] - plane.a[0], plane.b[1] - plane.a[1])
        size = math.isqrt((along[0] ** 2 + along[1] ** 2) * (line[0] ** 2 + line[1] ** 2))
        if along[0] * line[0] + along[1] * line[1] <= 0 or abs(along[0] * line[1] - along[1] * line[0]) * 10**6 > size:
            return None
    if len(slopes) > 1:
        return None
    slope = slopes.pop()
    tilt = MicroDeg(round(math.degrees(math.atan(slope)) * 1e6))
    if reach_fault("", tilt, family, plant, "", "") is not None:
        return None
    return TopBevel(tilt_udeg=tilt, rise_nm=round_half_up(slope * family.thickness_nm))


def make_panel(
    building: Building, wall: Wall, family: PanelFamily, storey: HeightBand, slot: PanelSlot, bevel: TopBevel | None
) -> Piece | None:
    """Return the draft of a panel in a slot between two heights, or nothing where no height is left."""
    u0, u1, foot, head = slot.u0, slot.u1, storey.foot_nm, storey.head_nm
    line = top_points(wall.top, u0, u1) if head is None else [(u0, head), (u1, head)]
    line = [(u, max(z, foot)) for u, z in line]
    highest_z = max(z for _, z in line)
    if highest_z <= foot:
        return None
    outline = _outline(u0, u1, foot, line)
    holes = cutouts(wall.openings, u0, u1, foot, highest_z)
    more = slot.side_growths_nm
    at_cut = [(u, max(z, foot)) for u, z in refit_line_ends(line, u0 - more[0], u1 + more[1])]
    cut, lines = _cut_heads(family, line, at_cut, foot, slot.edges), straight_lines(line)
    notes = ((CLOSING_NOTE,) if slot.closing else ()) + field_finish_notes(wall.openings, u0, u1, foot, highest_z)
    if storey.over is not None:
        notes = (*notes, f"over {storey.over}, full width: the engineer's header carries the load")
    piece = Piece(
        id=PieceId(f"{wall.id}@{u0}+{foot}"),
        order=building.order,
        revision=building.revision,
        mark="",
        part=wall.level,
        group=wall.id,
        role="wall_panel",
        stands=1,
        material=panel_material(family, wall.finish),
        width_nm=family.cover_nm,
        thickness_nm=family.thickness_nm,
        edge_a=(Nm(0), Nm(cut.left)),
        edge_b=(Nm(0), Nm(cut.right)),
        turns=family.turns(faces_alike=wall.finish.outside == wall.finish.inside),
        outline=tuple((Nm(u), Nm(z)) for u, z in outline),
        weight_g=panel_weight(family, _mean_area(at_cut, foot, holes, slot.edges)),
        peak_nm=Nm(cut.peak) if cut.peak is not None else None,
        left=slot.edges[0],
        right=slot.edges[1],
        head=EndCut(swing_udeg=cut.swing),
        head_cuts=tuple(EndCut(swing_udeg=_slope(a, b)) for a, b in lines) if len(lines) > 1 else (),
        cutouts=holes,
        allowances=slot.grown,
        closing=slot.closing,
        lip_nm=family.tongue_nm if slot.closing else Nm(0),
        notes=notes,
    )
    if storey.lap_nm:
        piece = _longer(piece, Allowance(name="end_lap", edge="foot", amount_nm=Nm(storey.lap_nm)), LAP_NOTE)
    if bevel is not None and head is None:
        piece = _longer(piece, Allowance(name="long_face", edge="head", amount_nm=Nm(bevel.rise_nm)))
        piece = replace(piece, head=EndCut(tilt_udeg=bevel.tilt_udeg, long_face="inside"))
    return piece


def _mean_area(line: Sequence[tuple[int, int]], foot: int, holes: Sequence[Cutout], edges: tuple[EdgeCut, EdgeCut]) -> Fraction:
    """The mean of the areas of both faces as cut: a mitre makes the inside one narrower or wider by a strip along its edge."""
    heights = (line[0][1] - foot, line[-1][1] - foot)
    strips = sum((edge.outside_nm - edge.inside_nm) * height for edge, height in zip(edges, heights, strict=True))
    return net_area(_outline(line[0][0], line[-1][0], foot, line), holes) + Fraction(strips, 2)


def _longer(piece: Piece, allowance: Allowance, *notes: str) -> Piece:
    """A piece cut longer along the bar than it stands, by an allowance."""
    more = allowance.amount_nm
    return replace(
        piece,
        edge_a=(piece.edge_a[0], Nm(piece.edge_a[1] + more)),
        edge_b=(piece.edge_b[0], Nm(piece.edge_b[1] + more)),
        peak_nm=None if piece.peak_nm is None else Nm(piece.peak_nm + more),
        allowances=(*piece.allowances, allowance),
        notes=(*piece.notes, *notes),
    )


def _outline(u0: int, u1: int, foot: int, line: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    """Counter-clockwise from the lower left; points that fall together are given once."""
    points = [(u0, foot), (u1, foot), *reversed(line)]
    return [point for n, point in enumerate(points) if point != points[n - 1]]


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadCut:
    """Lengths along the blank's long edges, the square blank of a head that is no one line, and the swing of the saw."""

    left: int
    right: int
    peak: int | None
    swing: MicroDeg


def _cut_heads(
    family: PanelFamily,
    line: Sequence[tuple[int, int]],
    at_cut: Sequence[tuple[int, int]],
    foot: int,
    edges: tuple[EdgeCut, EdgeCut],
) -> HeadCut:
    """One straight head goes across the whole blank where its long side is a joint; any other is nested square.

    `line`: the head as it stands; `at_cut`: carried on at its own pitch, or cut short, to the edges that the saw leaves.
    """
    left, right, peak = at_cut[0][1] - foot, at_cut[-1][1] - foot, max(z for _, z in at_cut) - foot
    swing = max((_slope(a, b) for a, b in pairwise(line) if a[0] != b[0]), default=MicroDeg(0))
    square = HeadCut(left=left, right=right, peak=peak, swing=swing)
    straight = [line[0], line[-1]] == [point for run in straight_lines(line) for point in run]
    if not straight:
        return square
    if line[0][1] == line[-1][1]:
        return HeadCut(left=left, right=right, peak=None, swing=swing)
    long_side = edges[0] if left > right else edges[1]
    if long_side.kind != "joint":
        return square
    blank = at_cut[0][0], at_cut[-1][0]
    if edges[0].kind != "joint":
        blank = blank[1] - family.cover_nm, blank[1]
    elif edges[1].kind != "joint":
        blank = blank[0], blank[0] + family.cover_nm
    left, right = (height_on_line(line[0], line[-1], u) - foot for u in blank)
    return HeadCut(left=left, right=right, peak=None, swing=swing) if min(left, right) > 0 else square


def _slope(a: tuple[int, int], b: tuple[int, int]) -> MicroDeg:
    return MicroDeg(round(math.degrees(math.atan2(abs(b[1] - a[1]), abs(b[0] - a[0]))) * 1e6))
