"""Wall panels: the layout of each wall, and each panel's set and cut shape."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Literal

from solver.domain.building import Building, Wall
from solver.domain.ids import PieceId
from solver.domain.piece import Allowance, EdgeCut, EndCut, Piece
from solver.domain.plant import PanelFamily, Plant
from solver.domain.takeoff import BrokenRule
from solver.errors import FieldFault
from solver.takeoff.layout import Bay, Break, Gap, Layout, Run, lay_out
from solver.takeoff.openings import Storey, cutouts, field_notes, net_area, storeys
from solver.takeoff.parts import panel_material, panel_weight
from solver.takeoff.tops import bends, highest
from solver.takeoff.wall_ends import WallEnd
from solver.units import MicroDeg, Nm

CLOSING_NOTE = "check before standing: closes the loop; lowered from above or inner lip relieved, trimmed to the gap"

Side = Literal["left", "right"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Panelled:
    """A wall with its panels as drafts, left to right and foot up, its joints and the soft rules broken."""

    wall: Wall
    start_nm: int
    end_nm: int
    pieces: tuple[Piece, ...] = ()
    joints: tuple[int, ...] = ()  # set positions along u, ends left out
    broken: tuple[BrokenRule, ...] = ()
    faults: tuple[FieldFault, ...] = ()


def panel_wall(
    building: Building, plant: Plant, wall: Wall, ends: tuple[WallEnd, WallEnd], closes: Literal["no", "before_last", "last"]
) -> Panelled:
    """Return a wall's panels, laid from the end nearest the start corner in the direction of standing."""
    family = plant.family(wall.family)
    start, end = ends[0].stop_nm, wall.length_nm - ends[1].stop_nm
    bare = Panelled(wall=wall, start_nm=start, end_nm=end)
    ccw = building.direction == "ccw"
    run = _run(wall, ends, start, end, ccw=ccw, closes=closes)
    layout = lay_out(run, family, plant.layout, lambda bay: _told(wall, family, *_place(bay, start, end, ccw=ccw), bay.cut_nm))
    if layout is None:
        fault = FieldFault(
            f"walls[{wall.id}]",
            f"no row of {family.id} panels with a joint between each pair fits its length",
            "another length, or lapped corners",
        )
        return _with(bare, faults=(fault,))
    bays = sorted(((*_place(bay, start, end, ccw=ccw), bay) for bay in layout.bays), key=lambda item: item[0])
    pieces: list[Piece] = []
    for n, (u0, u1, bay) in enumerate(bays):
        edges = _edges(family, bay.cut_nm, ends[0] if n == 0 else None, ends[1] if n == len(bays) - 1 else None)
        grown = _allowances(family, bay, n, len(bays), ccw=ccw)
        for storey in storeys(wall.openings, u0, u1):
            piece = _panel(building, wall, family, storey, u0, u1, edges, grown, bay)
            if piece is not None:
                pieces.append(piece)
    return _with(
        bare,
        pieces=tuple(pieces),
        joints=tuple(u1 for _, u1, _ in bays[:-1]),
        broken=tuple(_broken(wall, layout, pieces, start, end, ccw=ccw)),
        faults=tuple(_faults(wall, plant, family, pieces)),
    )


def longest_panel_nm(family: PanelFamily, plant: Plant) -> int:
    """Return the longest panel that can be made, handled by two forks and bundled."""
    return min(family.longest_nm, family.handled_nm, plant.bundle.length_nm)


def single_panel(building: Building, plant: Plant, wall: Wall, ends: tuple[WallEnd, WallEnd]) -> bool:
    """Return whether one panel makes the whole wall."""
    run = _run(wall, ends, ends[0].stop_nm, wall.length_nm - ends[1].stop_nm, ccw=building.direction == "ccw", closes="no")
    layout = lay_out(run, plant.family(wall.family), plant.layout)
    return layout is not None and len(layout.bays) == 1


def _with(
    bare: Panelled,
    *,
    pieces: tuple[Piece, ...] = (),
    joints: tuple[int, ...] = (),
    broken: tuple[BrokenRule, ...] = (),
    faults: tuple[FieldFault, ...] = (),
) -> Panelled:
    return Panelled(
        wall=bare.wall, start_nm=bare.start_nm, end_nm=bare.end_nm, pieces=pieces, joints=joints, broken=broken, faults=faults
    )


def _run(
    wall: Wall, ends: tuple[WallEnd, WallEnd], start: int, end: int, *, ccw: bool, closes: Literal["no", "before_last", "last"]
) -> Run:
    first, last = ends if ccw else (ends[1], ends[0])
    gaps = [
        Gap(id=item.id, start_nm=item.u0_nm - start, end_nm=item.u1_nm - start)
        if ccw
        else Gap(id=item.id, start_nm=end - item.u1_nm, end_nm=end - item.u0_nm)
        for item in wall.openings
    ]
    return Run(
        length_nm=end - start, first_inner_nm=first.inner_nm, last_inner_nm=last.inner_nm, gaps=tuple(gaps), closes=closes
    )


def _place(bay: Bay, start: int, end: int, *, ccw: bool) -> tuple[int, int]:
    """A bay's set extent along the wall, from its left end."""
    return (start + bay.start_nm, start + bay.end_nm) if ccw else (end - bay.end_nm, end - bay.start_nm)


def _told(wall: Wall, family: PanelFamily, u0: int, u1: int, cut: int) -> tuple[int, int]:
    """How many pieces a bay makes, and the blank's area that its rip wastes, in square micrometres."""
    parts = storeys(wall.openings, u0, u1)
    length = sum((part.head_nm if part.head_nm is not None else highest(wall.top, u0, u1)) - part.foot_nm for part in parts)
    return len(parts), (family.cover_nm - cut) * length // 10**6


def _edges(family: PanelFamily, cut: int, left: WallEnd | None, right: WallEnd | None) -> tuple[EdgeCut, EdgeCut]:
    """The joint kept or the cut made on either long edge; a panel cut on both keeps to the left of its blank."""
    if left is None and right is None:
        return EdgeCut(kind="joint"), EdgeCut(kind="joint")
    spare = family.cover_nm - cut
    if left is not None and right is None:
        kept = EdgeCut(kind="joint")
        return _edge(left, spare, spare - left.inner_nm), kept
    assert right is not None
    shift = max(0, left.inner_nm) if left is not None else 0
    near = EdgeCut(kind="joint") if left is None else _edge(left, shift, shift - left.inner_nm)
    return near, _edge(right, spare - shift, spare - shift - right.inner_nm)


def _edge(end: WallEnd, outside: int, inside: int) -> EdgeCut:
    return EdgeCut(kind=end.kind, bevel_udeg=end.bevel_udeg, outside_nm=Nm(outside), inside_nm=Nm(inside))


def _allowances(family: PanelFamily, bay: Bay, n: int, count: int, *, ccw: bool) -> tuple[Allowance, ...]:
    """What a panel's cut is wider (or, for the growth of the joint set before it, narrower) than its set shape."""
    edge: Side = "right" if ccw else "left"
    found = []
    last = n == (count - 1 if ccw else 0)
    if family.joint_growth_nm and not last:
        found.append(Allowance(name="joint_growth", edge=edge, amount_nm=Nm(-family.joint_growth_nm)))
    if bay.closing:
        found.append(Allowance(name="closing", edge=edge, amount_nm=family.closing_nm))
    return tuple(found)


def _panel(
    building: Building,
    wall: Wall,
    family: PanelFamily,
    storey: Storey,
    u0: int,
    u1: int,
    edges: tuple[EdgeCut, EdgeCut],
    grown: tuple[Allowance, ...],
    bay: Bay,
) -> Piece | None:
    foot, head = storey.foot_nm, storey.head_nm
    line = bends(wall.top, u0, u1) if head is None else [(u0, head), (u1, head)]
    line = [(u, max(z, foot)) for u, z in line]
    highest_z = max(z for _, z in line)
    if highest_z <= foot:
        return None
    outline = _outline(u0, u1, foot, line)
    holes = cutouts(wall.openings, u0, u1, foot, highest_z)
    cut = _cut_heads(family, line, foot, edges)
    notes = ((CLOSING_NOTE,) if bay.closing else ()) + field_notes(wall.openings, u0, u1, foot, highest_z)
    if storey.over is not None:
        notes = (*notes, f"over {storey.over}, full width: the engineer's header carries the load")
    return Piece(
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
        weight_g=panel_weight(family, net_area(outline, holes)),
        peak_nm=Nm(cut.peak) if cut.peak is not None else None,
        left=edges[0],
        right=edges[1],
        head=EndCut(swing_udeg=cut.swing),
        cutouts=holes,
        allowances=grown,
        closing=bay.closing,
        notes=notes,
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


def _cut_heads(family: PanelFamily, line: Sequence[tuple[int, int]], foot: int, edges: tuple[EdgeCut, EdgeCut]) -> HeadCut:
    """One straight head goes across the whole blank where its long side is a joint; any other is nested square."""
    (u0, z0), (u1, z1) = line[0], line[-1]
    left, right, peak = z0 - foot, z1 - foot, max(z for _, z in line) - foot
    swing = max((_slope(a, b) for a, b in pairwise(line) if a[0] != b[0]), default=MicroDeg(0))
    if left == right == peak:
        return HeadCut(left=left, right=right, peak=None, swing=swing)
    if len(line) > 2:
        return HeadCut(left=left, right=right, peak=peak, swing=swing)
    whole = edges[0].kind == "joint" and edges[1].kind == "joint"
    if whole:
        return HeadCut(left=left, right=right, peak=None if min(left, right) > 0 else peak, swing=swing)
    long_side = edges[0] if left > right else edges[1]
    short = max(left, right) - math.floor(Fraction(abs(left - right) * family.cover_nm, u1 - u0))
    if long_side.kind != "joint" or short <= 0:
        return HeadCut(left=left, right=right, peak=peak, swing=swing)
    return HeadCut(left=left if left > right else short, right=right if right > left else short, peak=None, swing=swing)


def _slope(a: tuple[int, int], b: tuple[int, int]) -> MicroDeg:
    return MicroDeg(round(math.degrees(math.atan2(abs(b[1] - a[1]), abs(b[0] - a[0]))) * 1e6))


def _broken(wall: Wall, layout: Layout, pieces: Sequence[Piece], start: int, end: int, *, ccw: bool) -> list[BrokenRule]:
    """The soft rules that gave, each at its opening, or at every piece of the bay that is too narrow."""

    def where(item: Break) -> list[str]:
        if item.gap:
            return [item.gap]
        u0, _ = _place(layout.bays[item.bay], start, end, ccw=ccw)
        return [str(piece.id) for piece in pieces if piece.outline[0][0] == u0]

    return [
        BrokenRule(rule=item.rule, where=name, wanted_nm=Nm(item.wanted_nm), got_nm=Nm(item.got_nm))
        for item in layout.broken
        for name in where(item)
    ]


def _faults(wall: Wall, plant: Plant, family: PanelFamily, pieces: Sequence[Piece]) -> list[FieldFault]:
    """Hard limits that no layout changes: the longest panel that can be made, and the saw's swing."""
    found = []
    longest, limit = max((piece.length_nm for piece in pieces), default=0), longest_panel_nm(family, plant)
    if longest > limit:
        found.append(
            FieldFault(
                f"walls[{wall.id}].top",
                f"a panel of {longest / 25.4e6:.2f} in is longer than the {limit / 25.4e6:.2f} in"
                " that can be made, handled and bundled",
                "a floor line between two levels, or a lower wall",
            )
        )
    steepest = max((piece.head.swing_udeg for piece in pieces), default=0)
    if steepest > plant.saw.swing_udeg:
        found.append(
            FieldFault(
                f"walls[{wall.id}].top",
                f"a slope of {steepest / 1e6:.1f} degrees is beyond the saw's swing of {plant.saw.swing_udeg / 1e6:.1f}",
                "a lower slope, or steps",
            )
        )
    return found
