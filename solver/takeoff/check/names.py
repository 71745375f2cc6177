"""Marks, parts and the order of standing; and the panel that closes each loop."""

from __future__ import annotations

import re
from collections import Counter

from solver.domain.building import Wall
from solver.domain.ids import GroupId
from solver.domain.piece import Piece
from solver.takeoff.check.finding import Finding


def check_names(finding: Finding) -> None:
    """Judge that every piece has one mark, one place in the order of standing, and a group of the building."""
    building, pieces = finding.building, finding.takeoff.pieces
    levels = {str(wall.id): wall.level for wall in building.walls} | {str(wall.id): wall.level for wall in building.bearing}
    parts = levels | {str(plane.id): plane.roof for plane in building.roof}
    for mark, count in Counter(piece.mark for piece in pieces).items():
        if count > 1:
            finding.wrong(mark, f"{count} pieces have this mark", "every mark once")
    for piece in pieces:
        if not re.fullmatch(re.escape(str(piece.group)) + r"-\d{2,}", piece.mark):
            finding.wrong(piece.mark, "is no mark of its group", f"{piece.group}- and a number")
        if piece.id != f"{building.order}/{piece.mark}" or piece.order != building.order:
            finding.wrong(piece.mark, f"its id is {piece.id!r}", f"{building.order}/{piece.mark}")
        if piece.revision > building.revision:
            finding.wrong(
                piece.mark, f"is of revision {piece.revision}", f"revision {building.revision}, or one it was kept from"
            )
        if parts.get(str(piece.group)) != piece.part:
            finding.wrong(piece.mark, f"belongs to part {piece.part!r}", f"the part of {piece.group}")
        if piece.weight_g <= 0:
            finding.wrong(piece.mark, "weighs nothing", "its weight")
    if [piece.stands for piece in pieces] != list(range(1, len(pieces) + 1)):
        finding.wrong("pieces", "their order of standing is not 1, 2, 3 ...", "every place in the order once, in order")
    _first_stand(finding)
    _closing(finding)
    finding.checked.append(f"{len(pieces)} marks, each once, and the order of standing from the start corner")


def _first_stand(finding: Finding) -> None:
    """Both panels of the start corner stand before the others of their level."""
    building = finding.building
    bases: dict[str, int] = {}
    for wall in building.walls:
        bases[wall.level] = min(bases.get(wall.level, wall.base_z_nm), wall.base_z_nm)
    for level in bases:
        held = [wall for wall in building.walls if wall.level == level]
        corner = [
            *(wall for wall in held if wall.left.id == building.start_corner),
            *(wall for wall in held if wall.right.id == building.start_corner),
        ]
        if len(corner) != 2:
            continue
        wanted = {_foot_panel(finding, corner[0], left=True), _foot_panel(finding, corner[1], left=False)} - {""}
        panels = [piece for wall in held for piece in finding.of(wall.id, "wall_panel")]
        panels.sort(key=lambda piece: piece.stands)
        bays: list[tuple[GroupId, int]] = []
        for piece in panels:
            bay = (piece.group, piece.outline[0][0])
            if bay not in bays:
                bays.append(bay)
        first = {f"{group}@{u}" for group, u in bays[: len(wanted)]}
        if first != wanted:
            shown = " and ".join(str(group) for group, _ in bays[: len(wanted)])
            finding.wrong(level, f"the first panels to stand, of {shown}, are not those of corner {building.start_corner}",
                          "both panels of the start corner first")  # fmt: skip


def _foot_panel(finding: Finding, wall: Wall, *, left: bool) -> str:
    places = sorted({piece.outline[0][0] for piece in finding.of(wall.id, "wall_panel")})
    return f"{wall.id}@{places[0 if left else -1]}" if places else ""


def _closing(finding: Finding) -> None:
    """Each closed loop of mitred walls has one closing panel, never at the start corner, marked to be checked (case S5)."""
    for loop in _loops(finding):
        mitred = all(wall.left.joint == "mitred" == wall.right.joint for wall in loop)
        panels = [piece for wall in loop for piece in finding.of(wall.id, "wall_panel")]
        closing = [piece for piece in panels if piece.closing]
        bays = {(piece.group, piece.outline[0][0]) for piece in closing}
        name = loop[0].level
        if mitred and len(bays) != 1:
            finding.wrong(name, f"its loop has {len(bays)} closing panels", "one, which can't be pushed in sideways")
        if not mitred and closing:
            finding.wrong(name, "a loop with a lapped corner has a closing panel", "none: it closes at the lap")
        for piece in closing:
            if not any("check before standing" in note for note in piece.notes):
                finding.wrong(piece.mark, "closes the loop and does not say so", 'the note "check before standing"')
            if _at_start(finding, piece):
                finding.wrong(piece.mark, "the closing panel stands at the start corner", "a panel further along")
        for piece in panels:
            held = [item.name for item in piece.allowances]
            if ("closing" in held) != piece.closing and any(family.closing_nm for family in finding.plant.families):
                finding.wrong(
                    piece.mark, "its closing allowance and its place differ", "the allowance on the closing panel only"
                )


def _at_start(finding: Finding, piece: Piece) -> bool:
    for wall in finding.building.walls:
        if wall.id == piece.group:
            places = [one.outline[0][0] for one in finding.of(wall.id, "wall_panel")]
            here = piece.outline[0][0]
            start = finding.building.start_corner
            return (wall.left.id == start and here == min(places)) or (wall.right.id == start and here == max(places))
    return False


def _loops(finding: Finding) -> list[list[Wall]]:
    """Closed loops of walls, each from any of its walls, left to right."""
    walls = {wall.id: wall for wall in finding.building.walls}
    loops, seen = [], set()
    for wall in finding.building.walls:
        chain, here = [], wall
        while here.id not in seen:
            seen.add(here.id)
            chain.append(here)
            onward = here.right.neighbour
            if onward is None or onward not in walls:
                break
            here = walls[onward]
        if chain and chain[-1].right.neighbour == chain[0].id:
            loops.append(chain)
    return loops
