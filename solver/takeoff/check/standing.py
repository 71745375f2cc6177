"""What carries what: no panel stands before the panels on both sides and the head channel that hold it up."""

from __future__ import annotations

from solver.domain.building import Wall
from solver.domain.piece import Piece
from solver.takeoff.check.faces import plant_cut_height
from solver.takeoff.check.proof import TakeoffProof

Extent = tuple[int, int]


def check_standing(proof: TakeoffProof) -> None:
    """Judge the order of standing of every panel with nothing under it but an opening."""
    count = 0
    for wall in proof.building.walls:
        panels = proof.pieces_of(wall.id, "wall_panel")
        feet = [piece for piece in panels if min(z for _, z in piece.outline) > 0]
        for piece in feet:
            low, high, foot = *_across(piece), min(z for _, z in piece.outline)
            on = [panel for panel in panels if _across(panel) == (low, high) and max(z for _, z in panel.outline) == foot]
            below = [
                item for item in wall.openings if item.u0_nm <= low and high <= item.u1_nm and plant_cut_height(item) <= foot
            ]
            for one in on:
                if one.stands > piece.stands:
                    proof.add_fault(piece.mark, f"stands before {one.mark}, on which it stands", "from the foot up")
            if on or not below:
                continue
            count += 1
            for item in below:
                _carried(proof, wall, panels, piece, (item.u0_nm, item.u1_nm), foot)
    if count:
        proof.checked.append(f"{count} panels over full-width openings stand after both neighbours and the head channel")


def _across(piece: Piece) -> Extent:
    return min(u for u, _ in piece.outline), max(u for u, _ in piece.outline)


def _carried(proof: TakeoffProof, wall: Wall, panels: list[Piece], piece: Piece, span: Extent, foot: int) -> None:
    heads = [
        channel
        for channel in proof.pieces_of(wall.id, "opening_channel")
        if span[0] <= _across(channel)[0] < _across(channel)[1] <= span[1] and min(z for _, z in channel.outline) == foot
    ]
    beside = [
        panel
        for panel in panels
        if min(z for _, z in panel.outline) == 0 < foot < max(z for _, z in panel.outline)
    ]  # fmt: skip
    low, high = _across(piece)
    left = max((one for one in beside if _across(one)[1] <= low), key=_across, default=None)
    right = min((one for one in beside if _across(one)[0] >= high), key=_across, default=None)
    for one in (left, right, *heads):
        if one is not None and one.stands > piece.stands:
            proof.add_fault(
                piece.mark, f"stands before {one.mark}, which carries it", "both neighbours and the head channel first"
            )
