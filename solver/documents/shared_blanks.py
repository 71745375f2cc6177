"""How a piece comes out of its bar where that is not simply by a cut of its own: words for sheets, pages and tables."""

from __future__ import annotations

from collections.abc import Mapping

from solver.domain.cut_plan import Bar, BarPiece
from solver.domain.ids import PieceId


def shared_blank_note(bar: Bar, item: BarPiece, marks: Mapping[PieceId, str]) -> str:
    """Return the note of a rip that shares its blank, or of a piece from an opening's drop; empty for any other."""
    if item.way == "drop" and item.host is not None:
        host = marks.get(item.host, item.host)  # of a bar that is begun the host may be cut, and no more be on it
        return f"from the drop of {item.opening} in {host}, once that is routed"
    if item.way == "whole":
        return ""
    mates = (piece for piece in bar.pieces if piece.way in ("left_rip", "right_rip") and _mates(piece, item))
    other = next(mates, None)
    if other is None:  # parted already
        return ""
    return f"one blank with {marks[other.piece]}: rip apart, then each to its own length"


def _mates(one: BarPiece, item: BarPiece) -> bool:
    return one.piece != item.piece and one.edge_a == item.edge_a
