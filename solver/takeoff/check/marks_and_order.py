"""Marks, parts and the order of standing; and the panel that closes each loop."""

from __future__ import annotations

import re
from collections import Counter

from solver.domain.building import Wall
from solver.domain.ids import GroupId, piece_id
from solver.domain.material import Material
from solver.domain.piece import Piece
from solver.takeoff.check.proof import TakeoffProof


def check_marks_and_order(proof: TakeoffProof) -> None:
    """Judge that every piece has one mark, one place in the order of standing, and a group of the building."""
    building, pieces = proof.building, proof.takeoff.pieces
    levels = {str(wall.id): wall.level for wall in building.walls} | {str(wall.id): wall.level for wall in building.bearing}
    parts = levels | {str(plane.id): plane.roof for plane in building.roof}
    for mark, count in Counter(piece.mark for piece in pieces).items():
        if count > 1:
            proof.add_fault(mark, f"{count} pieces have this mark", "every mark once")
    for piece in pieces:
        if not re.fullmatch(re.escape(str(piece.group)) + r"-\d{2,}", piece.mark):
            proof.add_fault(piece.mark, "is no mark of its group", f"{piece.group}- and a number")
        if piece.id != piece_id(building.order, piece.mark) or piece.order != building.order:
            proof.add_fault(piece.mark, f"its id is {piece.id!r}", piece_id(building.order, piece.mark))
        if piece.revision > building.revision:
            proof.add_fault(
                piece.mark, f"is of revision {piece.revision}", f"revision {building.revision}, or one it was kept from"
            )
        if parts.get(str(piece.group)) != piece.part:
            proof.add_fault(piece.mark, f"belongs to part {piece.part!r}", f"the part of {piece.group}")
        if piece.weight_g <= 0:
            proof.add_fault(piece.mark, "weighs nothing", "its weight")
    if [piece.stands for piece in pieces] != list(range(1, len(pieces) + 1)):
        proof.add_fault("pieces", "their order of standing is not 1, 2, 3 ...", "every place in the order once, in order")
    _first_stand(proof)
    _closing(proof)
    proof.checked.append(f"{len(pieces)} marks, each once, and the order of standing from the start corner")


def _first_stand(proof: TakeoffProof) -> None:
    """Both panels of the start corner stand before the others of their level."""
    building = proof.building
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
        wanted = {_foot_panel(proof, corner[0], left=True), _foot_panel(proof, corner[1], left=False)} - {""}
        panels = [piece for wall in held for piece in proof.pieces_of(wall.id, "wall_panel")]
        panels.sort(key=lambda piece: piece.stands)
        bays: list[tuple[GroupId, int]] = []
        for piece in panels:
            bay = (piece.group, piece.outline[0][0])
            if bay not in bays:
                bays.append(bay)
        first = {f"{group}@{u}" for group, u in bays[: len(wanted)]}
        if first != wanted:
            shown = " and ".join(str(group) for group, _ in bays[: len(wanted)])
            proof.add_fault(level, f"the first panels to stand, of {shown}, are not those of corner {building.start_corner}",
                          "both panels of the start corner first")  # fmt: skip


def _foot_panel(proof: TakeoffProof, wall: Wall, *, left: bool) -> str:
    """The wall's first or last bay, by where it starts; none where nothing of it reaches down to the foot."""
    panels = proof.pieces_of(wall.id, "wall_panel")
    places = sorted({piece.outline[0][0] for piece in panels})
    if not places:
        return ""
    place = places[0 if left else -1]
    down = any(piece.outline[0] == (place, 0) for piece in panels)
    return f"{wall.id}@{place}" if down else ""


def _closing(proof: TakeoffProof) -> None:
    """Each closed loop of mitred walls has one closing panel, never at the start corner, marked to be checked (case S5)."""
    for loop in _loops(proof):
        mitred = all(wall.left.joint == "mitred" == wall.right.joint for wall in loop)
        panels = [piece for wall in loop for piece in proof.pieces_of(wall.id, "wall_panel")]
        closing = [piece for piece in panels if piece.closing]
        bays = {(piece.group, piece.outline[0][0]) for piece in closing}
        name = loop[0].level
        if mitred and len(bays) != 1:
            proof.add_fault(name, f"its loop has {len(bays)} closing panels", "one, which can't be pushed in sideways")
        if not mitred and closing:
            proof.add_fault(name, "a loop with a lapped corner has a closing panel", "none: it closes at the lap")
        for piece in closing:
            if not any("check before standing" in note for note in piece.notes):
                proof.add_fault(piece.mark, "closes the loop and does not say so", 'the note "check before standing"')
            family = proof.family(Material.parse(piece.material).item)
            if family is not None and piece.lip_nm != family.tongue_nm:
                shown = proof.shown(piece.lip_nm)
                proof.add_fault(piece.mark, f"its inside lip is relieved {shown}", "as deep as the tongue that passes it")
            if _at_start(proof, piece):
                proof.add_fault(piece.mark, "the closing panel stands at the start corner", "a panel further along")
        for piece in panels:
            held = [item.name for item in piece.allowances]
            if ("closing" in held) != piece.closing and any(family.closing_nm for family in proof.plant.families):
                proof.add_fault(
                    piece.mark, "its closing allowance and its place differ", "the allowance on the closing panel only"
                )


def _at_start(proof: TakeoffProof, piece: Piece) -> bool:
    for wall in proof.building.walls:
        if wall.id == piece.group:
            places = [one.outline[0][0] for one in proof.pieces_of(wall.id, "wall_panel")]
            here = piece.outline[0][0]
            start = proof.building.start_corner
            return (wall.left.id == start and here == min(places)) or (wall.right.id == start and here == max(places))
    return False


def _loops(proof: TakeoffProof) -> list[list[Wall]]:
    """Closed loops of walls, each from any of its walls, left to right."""
    walls = {wall.id: wall for wall in proof.building.walls}
    loops, seen = [], set()
    for wall in proof.building.walls:
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
