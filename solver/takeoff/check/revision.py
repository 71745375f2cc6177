"""Revisions: marks that fell away stay away, and what is kept over a revision is made as it was."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

from solver.domain.ids import PieceId, short_name
from solver.domain.piece import Piece
from solver.domain.takeoff import Takeoff
from solver.takeoff.check.proof import TakeoffProof


def check_revision(proof: TakeoffProof, before: Takeoff | None) -> None:
    """Judge retired marks and what is told of a revision; against the takeoff before it where that is at hand."""
    takeoff = proof.takeoff
    retired = set(takeoff.retired)
    for piece in takeoff.pieces:
        if piece.mark in retired:
            proof.add_fault(piece.mark, "is a mark that fell away in an earlier revision", "a number never used before")
    told = takeoff.revised
    if told is not None:
        lists = (told.kept, told.changed, told.new)
        if Counter(name for names in lists for name in names) != Counter(piece.id for piece in takeoff.pieces):
            proof.add_fault("revised", "does not tell of every piece once", "kept, changed or new: each piece once")
        for name in told.obsolete:
            if short_name(name) not in retired:
                proof.add_fault(name, "is obsolete, and its mark is not retired", "its mark among those never used again")
    if before is not None and told is not None:
        _against(proof, before, takeoff)
        proof.checked.append(f"{len(retired)} retired marks stay away; {len(told.kept)} pieces kept as they were made")


def _against(proof: TakeoffProof, before: Takeoff, takeoff: Takeoff) -> None:
    was = {piece.id: piece for piece in before.pieces}
    now = {piece.id: piece for piece in takeoff.pieces}
    used = {piece.mark for piece in before.pieces} | set(before.retired)
    for name, piece in now.items():
        if name in was:
            different = [what for (what, a), (_, b) in zip(_made(was[name]), _made(piece), strict=True) if a != b]
            if different:
                proof.add_fault(
                    piece.mark, f"keeps its mark and differs in its {different[0]}", "a new mark for what is cut anew"
                )
        elif piece.mark in used:
            proof.add_fault(piece.mark, "is a new piece under a mark that was used before", "a number never used before")
    gone: Sequence[PieceId] = sorted(was.keys() - now.keys())
    lost = {was[name].mark for name in gone} | set(before.retired)
    if not lost <= set(takeoff.retired):
        proof.add_fault(
            "retired", f"lacks the marks {', '.join(sorted(lost - set(takeoff.retired))[:5])}", "every mark that fell away"
        )
    told = takeoff.revised
    if told is not None and told.since == before.building.revision and sorted(told.obsolete) != gone:
        proof.add_fault("revised.obsolete", "are not the pieces that fell away", "each piece of before that nothing needs now")
    spare = Counter(repr(_made(was[name])) for name in gone)
    for piece in takeoff.pieces:
        if piece.id not in was and spare[repr(_made(piece))] > 0:
            spare[repr(_made(piece))] -= 1
            proof.add_fault(piece.mark, "is made anew though a piece alike fell away", "the piece that may be cut already")


def _made(piece: Piece) -> list[tuple[str, Any]]:
    """What the plant makes of a piece, by name, wherever in its wall it stands."""
    u, z = min(x for x, _ in piece.outline), min(y for _, y in piece.outline)
    return [
        ("group", str(piece.group)),
        ("material", (piece.role, piece.material)),
        ("set shape", [(x - u, y - z) for x, y in piece.outline]),
        ("lengths", (piece.edge_a, piece.edge_b, piece.peak_nm)),
        ("cuts", (piece.left, piece.right, piece.foot, piece.head, piece.foot_cuts, piece.head_cuts)),
        ("openings", [[(x - u, y - z) for x, y in cut.outline] for cut in piece.cutouts]),
        ("heads", [cut.field_head for cut in piece.cutouts]),
        ("holes", [(hole.kind, hole.along_nm, hole.across_nm, hole.across_size_nm) for hole in piece.holes]),
        ("allowances", [(item.name, item.edge, item.amount_nm) for item in piece.allowances]),
        ("place in its loop", (piece.closing, piece.hand)),
    ]
