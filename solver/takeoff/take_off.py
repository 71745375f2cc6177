"""Takeoff: from a building to all that its kit needs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from solver.domain.building import Building
from solver.domain.ids import GroupId
from solver.domain.material import Material
from solver.domain.piece import Piece
from solver.domain.plant import Plant
from solver.domain.takeoff import Anchor, BrokenRule, Takeoff
from solver.errors import FieldFault, NoPlan
from solver.takeoff.anchors import ChannelSection, add_bolt_pockets, measured_bolt_warnings, plan_anchors
from solver.takeoff.framing import frame_bearing_walls
from solver.takeoff.furring import furring_pieces
from solver.takeoff.hardware import count_hardware
from solver.takeoff.linear import base_channels, base_sections, corner_angles, top_caps
from solver.takeoff.marks import assign_marks
from solver.takeoff.narrow_strips import strip_breaks
from solver.takeoff.openings import opening_channels, opening_drops
from solver.takeoff.order_of_walls import wall_loops
from solver.takeoff.revise import keep_earlier_marks
from solver.takeoff.roof_trims import roof_trims
from solver.takeoff.roofs import roof_broken_rules, roof_pieces
from solver.takeoff.wall_ends import WallEnd, wall_ends
from solver.takeoff.walls import PanelledWall, is_single_panel, panel_wall

Closes = Literal["no", "before_last", "last"]


def take_off(building: Building, plant: Plant, before: Takeoff | None = None) -> Takeoff:
    """Return the pieces, anchors and hardware of a building, in order of standing, and each soft rule that had to give.

    `before`: an earlier takeoff of the order; pieces made alike keep its marks, and what changed is told. Raises NoPlan,
    naming every corner, wall or plane that no layout within the plant's hard limits makes, and InputError where `before` is
    of another order or a later revision.
    """
    faults: list[FieldFault] = []
    ends, found = wall_ends(building, plant)
    faults += found
    closing = closing_walls(building, plant, ends)
    panelled = {
        wall.id: panel_wall(building, plant, wall, ends[wall.id], closing.get(wall.id, "no")) for wall in building.walls
    }
    for item in panelled.values():
        faults += item.faults
    roofs: list[Piece] = []
    given: list[BrokenRule] = []
    for plane in building.roof:
        try:
            roofs += roof_pieces(plane, building, plant)
            given += roof_broken_rules(plane, plant)
        except NoPlan as refusal:
            faults += refusal.faults
    if faults:
        raise NoPlan(*faults)
    parts, anchors, broken = _wall_parts(building, plant, panelled, ends)
    broken += [*given, *strip_breaks(building, plant)]
    pieces = [
        *parts,
        *roofs,
        *roof_trims(building, plant),
        *frame_bearing_walls(building, plant),
        *furring_pieces(building, plant),
    ]
    marked, broken = assign_marks(building, pieces, broken)
    revised = keep_earlier_marks(before, building, marked, broken) if before is not None else None
    if revised is not None:
        marked, broken = list(revised.pieces), list(revised.broken)
    return Takeoff(
        building=building,
        pieces=tuple(marked),
        anchors=tuple(anchors),
        hardware=count_hardware(building, plant, marked, anchors),
        broken=tuple(broken),
        warnings=(*_warnings(marked, plant), *measured_bolt_warnings(building, plant, marked, anchors)),
        drops=opening_drops(marked),
        retired=revised.retired if revised else (),
        revised=revised.told if revised else None,
    )


def _wall_parts(
    building: Building,
    plant: Plant,
    panelled: dict[GroupId, PanelledWall],
    ends: dict[GroupId, tuple[WallEnd, WallEnd]],
) -> tuple[list[Piece], list[Anchor], list[BrokenRule]]:
    """All pieces of the walls, left to right within each role, and their anchors."""
    sections: list[ChannelSection] = []
    panels: list[Piece] = []
    broken: list[BrokenRule] = []
    framed: list[Piece] = []
    for wall in building.walls:
        sections += base_sections(building, plant, wall, ends[wall.id])
        panels += panelled[wall.id].pieces
        broken += panelled[wall.id].broken
        framed += opening_channels(building, plant, wall)
    anchors, short = plan_anchors(building, plant, sections)
    caps, unstaggered = top_caps(building, plant, panelled, ends)
    pieces = [
        *add_bolt_pockets(panels, anchors, plant),
        *framed,
        *base_channels(building, plant, sections, anchors),
        *caps,
        *corner_angles(building, plant),
    ]
    return pieces, anchors, [*broken, *short, *unstaggered]


def closing_walls(building: Building, plant: Plant, ends: dict[GroupId, tuple[WallEnd, WallEnd]]) -> dict[GroupId, Closes]:
    """Return, for each closed loop of mitred walls, the wall whose panel closes it (case S5), and which panel that is.

    It is the panel that stands last: before the one at the start corner, or the last of the wall before where that is alone.
    """
    found: dict[GroupId, Closes] = {}
    for loop in wall_loops(building):
        if not loop.is_fully_mitred or len(loop.walls) < 2:
            continue
        last = loop.walls[-1]
        if is_single_panel(building, plant, last, ends[last.id]):
            found[loop.walls[-2].id] = "last"
        else:
            found[last.id] = "before_last"
    return found


def _warnings(pieces: Sequence[Piece], plant: Plant) -> tuple[str, ...]:
    families = {family.id: family for family in plant.families}
    told = []
    for piece in pieces:
        family = families.get(Material.parse(piece.material).item)
        if piece.is_panel and family is not None and piece.length_nm > family.handled_nm:
            told.append(
                f"{piece.mark} is {piece.length_nm / 25.4e6:.1f} in long: over the"
                f" {family.handled_nm / 25.4e6:.0f} in that two forks handle, lift with a spreader"
            )
    return tuple(told)
