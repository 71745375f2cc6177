"""A piece along a bar in each of its turns, and the room that a cut takes between two neighbours.

All lengths are whole nanometres. `doubled` lengths are twice a mean of the two long edges: the sum over both edges,
which stays whole. In doubled lengths a bar is a path: each piece adds `la + lb`, each pair of facing ends adds
`2 gap + |difference of their leans|`, and the bar's own ends are square.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from solver.domain.cut_plan import TURNS, PieceKind, Turn
from solver.units import Nm


class Shape(NamedTuple):
    """A piece in one turn: lengths of both edges, and its leans (edge a less edge b) at the start and the end."""

    turn: Turn
    long_a: int
    long_b: int
    start: int
    end: int

    @property
    def doubled(self) -> int:
        """Sum of both edges."""
        return self.long_a + self.long_b


def edges_of(piece: PieceKind) -> tuple[tuple[int, int], tuple[int, int]]:
    """Return the extents on edge a and edge b; `length` alone is square at both ends."""
    if piece.edge_a is not None and piece.edge_b is not None:
        return piece.edge_a, piece.edge_b
    length = piece.length_nm or 0
    return (0, length), (0, length)


def is_square(piece: PieceKind) -> bool:
    """Return whether both ends are square."""
    edge_a, edge_b = edges_of(piece)
    return edge_a == edge_b


def allowed_turns(piece: PieceKind) -> tuple[Turn, ...]:
    """Return the turns that the job allows, `as_is` first: all when square at both ends, else `as_is`, unless stated."""
    if piece.turns is None:
        return TURNS if is_square(piece) else ("as_is",)
    return tuple(sorted(set(piece.turns), key=TURNS.index))


def shapes_of(piece: PieceKind) -> tuple[Shape, ...]:
    """Return the distinct shapes that the allowed turns give, the first turn of each (`as_is` before others)."""
    (a0, a1), (b0, b1) = edges_of(piece)
    made: dict[tuple[int, int, int, int], Shape] = {}
    for turn in allowed_turns(piece):
        if turn == "as_is":
            shape = Shape(turn, a1 - a0, b1 - b0, a0 - b0, a1 - b1)
        elif turn == "end_for_end":
            shape = Shape(turn, b1 - b0, a1 - a0, a1 - b1, a0 - b0)
        elif turn == "over":
            shape = Shape(turn, b1 - b0, a1 - a0, b0 - a0, b1 - a1)
        else:
            shape = Shape(turn, a1 - a0, b1 - b0, b1 - a1, b0 - a0)
        made.setdefault(shape[1:], shape)
    return tuple(made.values())


def gap_nm(kerf_nm: int, width_nm: int | None, lean_nm: int) -> Nm:
    """Return the least whole gap along the bar that a cut at this lean takes: kerf / cos(lean), rounded up (case G6)."""
    if lean_nm == 0 or kerf_nm == 0 or not width_nm:
        return Nm(kerf_nm)
    wanted = kerf_nm * kerf_nm * (width_nm * width_nm + lean_nm * lean_nm)
    gap = math.isqrt(wanted) // width_nm
    while gap * gap * width_nm * width_nm < wanted:
        gap += 1
    return Nm(gap)
