"""Which of the pieces that are alike is cut from which bar: the one that can be stacked when that bar is cut."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import replace

from solver.domain.cut_plan import Bar, BarPiece
from solver.domain.ids import PieceId
from solver.domain.piece import Piece

Key = tuple[object, ...]


def rebind_like_pieces(
    bars: Sequence[Bar], stacks: Sequence[Sequence[PieceId]], pieces: Mapping[PieceId, Piece]
) -> tuple[Bar, ...]:
    """Return the bars, given in cut order, with pieces of one shape bound anew to their slots; the slots stay.

    At each slot the piece that lies on its stack at once, else the one that is missing fewest below it. Rips that share
    a blank, panels whose openings give smaller pieces, and those pieces stay where they are.
    """
    level = {piece: (stack, n) for stack, mine in enumerate(stacks) for n, piece in enumerate(mine)}
    hosts = {item.host for bar in bars for item in bar.pieces if item.host is not None}
    waiting: dict[Key, list[PieceId]] = defaultdict(list)
    for bar in bars:
        for item in bar.pieces:
            if (key := _key(bar, item, hosts, pieces)) is not None:
                waiting[key].append(item.piece)
    laid, height = [set[int]() for _ in stacks], [0] * len(stacks)
    made = []
    for bar in bars:
        items = []
        for item in bar.pieces:
            key = _key(bar, item, hosts, pieces)
            if key is not None:
                pick = min(waiting[key], key=lambda piece: _gap(piece, level, height, laid))
                waiting[key].remove(pick)
                items.append(replace(item, piece=pick))
            else:
                items.append(item)
            _lay(items[-1].piece, level, height, laid)
        made.append(replace(bar, pieces=tuple(items)))
    return tuple(made)


def _key(bar: Bar, item: BarPiece, hosts: set[PieceId], pieces: Mapping[PieceId, Piece]) -> Key | None:
    """What pieces must have alike to change places: all that the saw and the bar know of them."""
    if item.way != "whole" or item.piece in hosts:
        return None
    piece = pieces[item.piece]
    if piece.peak_nm is not None:
        return (bar.material, "peak", piece.length_nm, piece.turns)
    low = min(piece.edge_a[0], piece.edge_b[0])
    return (bar.material, *(at - low for at in (*piece.edge_a, *piece.edge_b)), piece.turns)


def _gap(
    piece: PieceId, level: Mapping[PieceId, tuple[int, int]], height: Sequence[int], laid: Sequence[set[int]]
) -> tuple[int, int, int, int]:
    """How many pieces below it are missing; then stacks begun, and those wanted first."""
    if piece not in level:
        return (0, 0, 0, 0)
    stack, at = level[piece]
    missing = sum(1 for below in range(height[stack], at) if below not in laid[stack])
    return (missing, 0 if laid[stack] else 1, stack, at)


def _lay(piece: PieceId, level: Mapping[PieceId, tuple[int, int]], height: list[int], laid: Sequence[set[int]]) -> None:
    if piece in level:
        stack, at = level[piece]
        laid[stack].add(at)
        while height[stack] in laid[stack]:
            height[stack] += 1
