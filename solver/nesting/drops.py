"""Drops as stock: what fell out of openings or was put away, and the small pieces that it can still give."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from solver.domain.cut_plan import DropUse, Remnant, SmallPiece
from solver.highs import highs_infinity, new_silent_solver, require_ok_status


def piece_fits_drop(drop: Remnant, piece: SmallPiece) -> bool:
    """Return whether a drop has the joints, the width and the length that a piece needs.

    A piece with both joints needs a drop with both, of the very width that they span; one with a single joint a drop that
    has it. A drop with no width named is a whole panel's.
    """
    if piece.length_nm > drop.length_nm:
        return False
    if piece.joints == "both":
        return drop.joints == "both" and drop.width_nm in (None, piece.width_nm)
    wide = drop.width_nm is None or piece.width_nm <= drop.width_nm
    return (wide and piece.joints in ("none", drop.joints)) or (wide and drop.joints == "both")


def cut_from_drops(
    pieces: Sequence[SmallPiece], drops: Sequence[Remnant], *, kerf_nm: int, seconds: float = 1.0
) -> tuple[tuple[DropUse, ...], tuple[str, ...]]:
    """Return which pieces come from which drop, so that the most length does, and the ids of those left for whole bars.

    Pieces lie one behind the other along a drop, a kerf between. A knapsack for each drop in one program; of several
    best answers any. Where time ends, the best found: every piece it names fits.
    """
    pairs = [(p, d) for p, piece in enumerate(pieces) for d, drop in enumerate(drops) if piece_fits_drop(drop, piece)]
    if not pairs:
        return (), tuple(piece.id for piece in pieces)
    given = _program(pieces, drops, pairs, kerf_nm, seconds)
    uses = []
    for d, drop in enumerate(drops):
        mine = sorted((p for p, at in given if at == d), key=lambda p: -pieces[p].length_nm)
        while mine and sum(pieces[p].length_nm + kerf_nm for p in mine) > drop.length_nm + kerf_nm:
            mine.pop()  # whole numbers judge the program's tolerance
        if mine:
            uses.append(DropUse(drop=drop.id, pieces=tuple(pieces[p].id for p in mine)))
    used = {name for use in uses for name in use.pieces}
    return tuple(uses), tuple(piece.id for piece in pieces if piece.id not in used)


def _program(
    pieces: Sequence[SmallPiece], drops: Sequence[Remnant], pairs: Sequence[tuple[int, int]], kerf_nm: int, seconds: float
) -> list[tuple[int, int]]:
    import highspy

    solver, inf = new_silent_solver(), highs_infinity()
    unit = float(max(drop.length_nm for drop in drops) + kerf_nm)
    for n, (p, _) in enumerate(pairs):
        require_ok_status(solver.addVar(0.0, 1.0))
        require_ok_status(solver.changeColCost(n, -pieces[p].length_nm / unit))
        require_ok_status(solver.changeColIntegrality(n, highspy.HighsVarType.kInteger))
    for p in dict.fromkeys(p for p, _ in pairs):
        mine = [n for n, pair in enumerate(pairs) if pair[0] == p]
        require_ok_status(solver.addRow(-inf, 1.0, len(mine), np.array(mine, dtype=np.int32), np.ones(len(mine))))
    for d in dict.fromkeys(d for _, d in pairs):
        mine = [n for n, pair in enumerate(pairs) if pair[1] == d]
        sizes = np.array([(pieces[pairs[n][0]].length_nm + kerf_nm) / unit for n in mine])
        room = (drops[d].length_nm + kerf_nm) / unit
        require_ok_status(solver.addRow(-inf, room, len(mine), np.array(mine, dtype=np.int32), sizes))
    require_ok_status(solver.setOptionValue("time_limit", seconds))
    solver.run()
    values = solver.getSolution().col_value
    return [pair for pair, value in zip(pairs, values, strict=True) if value > 0.5] if len(values) == len(pairs) else []
