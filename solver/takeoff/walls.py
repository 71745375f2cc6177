"""Wall panels: the layout of each wall, and each panel's set and cut shape."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from solver.domain.building import Building, Wall
from solver.domain.piece import Allowance, EdgeCut, Piece
from solver.domain.plant import PanelFamily, Plant
from solver.domain.takeoff import BrokenRule
from solver.errors import FieldFault
from solver.takeoff.high_tops import cut_to_high_sides
from solver.takeoff.openings import height_bands
from solver.takeoff.panels import PanelSlot, make_panel, top_bevel
from solver.takeoff.piece_drafts import longest_panel_made
from solver.takeoff.tall_walls import cut_at_planned_joints
from solver.takeoff.wall_ends import WallEnd
from solver.takeoff.wall_layout import Bay, BrokenSoftRule, OpeningGap, WallLayout, WallRun, lay_out_wall
from solver.takeoff.wall_tops import highest_nm
from solver.units import Nm, show_length

Side = Literal["left", "right"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelledWall:
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
) -> PanelledWall:
    """Return a wall's panels, laid from the end nearest the start corner in the direction of standing."""
    family = plant.family(wall.family)
    start, end = ends[0].stop_nm, wall.length_nm - ends[1].stop_nm
    bare = PanelledWall(wall=wall, start_nm=start, end_nm=end)
    ccw = building.direction == "ccw"
    run = _run(wall, ends, start, end, ccw=ccw, closes=closes)
    layout = lay_out_wall(
        run, family, plant.layout, lambda bay: _told(wall, family, *_place(bay, start, end, ccw=ccw), bay.cut_nm)
    )
    if layout is None:
        fault = FieldFault(
            f"walls[{wall.id}]",
            f"no row of {family.id} panels with a joint between each pair fits its length",
            "another length, or lapped corners",
        )
        return _with(bare, faults=(fault,))
    bays = sorted(((*_place(bay, start, end, ccw=ccw), bay) for bay in layout.bays), key=lambda item: item[0])
    slots = [
        PanelSlot(
            u0=u0,
            u1=u1,
            edges=_edges(family, bay.cut_nm, ends[0] if n == 0 else None, ends[1] if n == len(bays) - 1 else None),
            grown=_allowances(family, bay, n, len(bays), ccw=ccw),
            closing=bay.closing,
        )
        for n, (u0, u1, bay) in enumerate(bays)
    ]
    parts = [(slot, storey) for slot in slots for storey in height_bands(wall.openings, slot.u0, slot.u1)]
    bevel = top_bevel(building, plant, wall)
    made = [
        make_panel(building, wall, family, storey, slot, bevel)
        for slot, storey in cut_at_planned_joints(parts, wall, family, plant)
    ]
    square = [piece for piece in made if piece is not None]
    pieces, steep = cut_to_high_sides(building, plant, wall, square)
    return _with(
        bare,
        pieces=pieces,
        joints=tuple(u1 for _, u1, _ in bays[:-1]),
        broken=tuple(_broken(wall, layout, pieces, start, end, ccw=ccw)),
        faults=(*_faults(wall, plant, family, pieces), *steep),
    )


def is_single_panel(building: Building, plant: Plant, wall: Wall, ends: tuple[WallEnd, WallEnd]) -> bool:
    """Return whether one panel makes the whole wall."""
    run = _run(wall, ends, ends[0].stop_nm, wall.length_nm - ends[1].stop_nm, ccw=building.direction == "ccw", closes="no")
    layout = lay_out_wall(run, plant.family(wall.family), plant.layout)
    return layout is not None and len(layout.bays) == 1


def _with(
    bare: PanelledWall,
    *,
    pieces: tuple[Piece, ...] = (),
    joints: tuple[int, ...] = (),
    broken: tuple[BrokenRule, ...] = (),
    faults: tuple[FieldFault, ...] = (),
) -> PanelledWall:
    return PanelledWall(
        wall=bare.wall, start_nm=bare.start_nm, end_nm=bare.end_nm, pieces=pieces, joints=joints, broken=broken, faults=faults
    )


def _run(
    wall: Wall, ends: tuple[WallEnd, WallEnd], start: int, end: int, *, ccw: bool, closes: Literal["no", "before_last", "last"]
) -> WallRun:
    first, last = ends if ccw else (ends[1], ends[0])
    gaps = [
        OpeningGap(id=item.id, start_nm=item.u0_nm - start, end_nm=item.u1_nm - start, low_nm=item.z0_nm, high_nm=item.z1_nm)
        if ccw
        else OpeningGap(id=item.id, start_nm=end - item.u1_nm, end_nm=end - item.u0_nm, low_nm=item.z0_nm, high_nm=item.z1_nm)
        for item in wall.openings
    ]
    return WallRun(
        length_nm=end - start, first_inner_nm=first.inner_nm, last_inner_nm=last.inner_nm, gaps=tuple(gaps), closes=closes
    )


def _place(bay: Bay, start: int, end: int, *, ccw: bool) -> tuple[int, int]:
    """A bay's set extent along the wall, from its left end."""
    return (start + bay.start_nm, start + bay.end_nm) if ccw else (end - bay.end_nm, end - bay.start_nm)


def _told(wall: Wall, family: PanelFamily, u0: int, u1: int, cut: int) -> tuple[int, int]:
    """How many pieces a bay makes, and the blank's area that its rip wastes, in square micrometres."""
    parts = height_bands(wall.openings, u0, u1)
    length = sum((part.head_nm if part.head_nm is not None else highest_nm(wall.top, u0, u1)) - part.foot_nm for part in parts)
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


def _broken(wall: Wall, layout: WallLayout, pieces: Sequence[Piece], start: int, end: int, *, ccw: bool) -> list[BrokenRule]:
    """The soft rules that gave, each at its opening, or at every piece of the bay that is too narrow."""

    def where(item: BrokenSoftRule) -> list[str]:
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
    longest, (limit, why) = max((piece.length_nm for piece in pieces), default=0), longest_panel_made(family, plant)
    if longest > limit:
        found.append(
            FieldFault(
                f"walls[{wall.id}].top",
                f"a panel of {show_length(longest, plant.unit)} is longer than the {show_length(limit, plant.unit)} that {why}",
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
