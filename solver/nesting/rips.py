"""Two rips from one panel: one keeps the left joint, the other the right (case G7)."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from solver.domain.cut_plan import Rip, RipPair
from solver.errors import FieldFault, NoPlan
from solver.highs import ProgramError, highs_infinity, new_silent_solver, require_ok_status
from solver.nesting.shapes import gap_nm
from solver.units import Nm


def panel_width_needed(left: Rip, right: Rip, *, thickness_nm: int, kerf_nm: int) -> Nm:
    """Return the panel width that two rips take side by side: the wider face, and the kerf at the steeper bevel.

    Bevels that run alike share one cut; those that run apart leave a V between two passes. Either way the blade takes
    kerf / cos(bevel) where the pieces are nearest.
    """
    lean = max(abs(rip.outside_nm - rip.inside_nm) for rip in (left, right))
    both = max(left.outside_nm + right.outside_nm, left.inside_nm + right.inside_nm)
    return Nm(both + gap_nm(kerf_nm, thickness_nm, lean))


def length_saved(left: Rip, right: Rip) -> int:
    """Return the panel length that two rips save by sharing a blank; below 0 where it costs some."""
    alone = sum(rip.length_nm if rip.alone_nm is None else rip.alone_nm for rip in (left, right))
    return alone - max(left.length_nm, right.length_nm)


def pair_rips(rips: Sequence[Rip], *, cover_nm: int, thickness_nm: int, kerf_nm: int) -> tuple[RipPair, ...]:
    """Return the blanks that take the least panel length in all, proved: a pair shares one as long as its longer rip.

    What pairing saves is what both take alone less the longer rip's length, so this is an assignment of greatest saving
    between those that keep the left joint and those that keep the right; its linear program has whole corners (Birkhoff
    1946). Pairs that save nothing are left apart.
    Raises NoPlan for a rip that is wider than the panel.
    """
    wide = [rip for rip in rips if max(rip.outside_nm, rip.inside_nm) > cover_nm]
    if wide:
        raise NoPlan(*(FieldFault("rips", f"{rip.id!r} is wider than the panel", "a panel that covers it") for rip in wide))
    lefts = [rip for rip in rips if rip.keeps == "left"]
    rights = [rip for rip in rips if rip.keeps == "right"]
    pairs = [
        (left, right)
        for left in lefts
        for right in rights
        if length_saved(left, right) > 0
        and panel_width_needed(left, right, thickness_nm=thickness_nm, kerf_nm=kerf_nm) <= cover_nm
    ]
    chosen = _most_saved(pairs)
    paired = {rip.id for pair in chosen for rip in pair}
    made = [RipPair(left=a.id, right=b.id, length_nm=max(a.length_nm, b.length_nm)) for a, b in chosen]
    for rip in rips:
        if rip.id not in paired:
            alone = rip.id if rip.keeps == "left" else None
            made.append(RipPair(left=alone, right=None if alone else rip.id, length_nm=rip.length_nm))
    return tuple(made)


def _most_saved(pairs: Sequence[tuple[Rip, Rip]]) -> list[tuple[Rip, Rip]]:
    if not pairs:
        return []
    solver, inf = new_silent_solver(), highs_infinity()
    most = float(max(length_saved(a, b) for a, b in pairs))
    for a, b in pairs:
        require_ok_status(solver.addVar(0.0, inf))
        require_ok_status(solver.changeColCost(solver.getNumCol() - 1, -length_saved(a, b) / most))
    for name in dict.fromkeys(rip.id for pair in pairs for rip in pair):
        mine = [n for n, pair in enumerate(pairs) if name in (pair[0].id, pair[1].id)]
        require_ok_status(solver.addRow(-inf, 1.0, len(mine), np.array(mine, dtype=np.int32), np.ones(len(mine))))
    require_ok_status(solver.run())
    if solver.getModelStatus().name != "kOptimal":
        raise ProgramError("the pairing ended without an optimum")
    return [pair for pair, share in zip(pairs, solver.getSolution().col_value, strict=True) if share > 0.5]
