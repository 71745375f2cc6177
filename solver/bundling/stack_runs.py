"""The order of standing cut into runs: fewest stacks, then least disorder, fewest mixed elevations, steadiest."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from solver.bundling.disorder import least_disordered_order
from solver.bundling.rules import is_too_heavy, longest_bundle_nm, may_lie_on, overhang_nm, timbers_needed
from solver.domain.bundle import BundleLimits, StackPiece
from solver.search import Search
from solver.units import MM

Cost = tuple[int, int, int, int, int]  # stacks, set aside, elevations in stacks, overhang, squares of heights
_NONE: Cost = (0, 0, 0, 0, 0)
UNTIMED = Search()
DISORDER_PIECES = 14  # stacks of more pieces keep their order: the search over orders doubles with each piece


@dataclass(frozen=True, slots=True)
class StackRun:
    """Pieces `first` to `last` (excluded) of the order of standing, and their places from top to bottom."""

    first: int
    last: int
    top_down: tuple[int, ...]
    set_aside: int


def partition_into_stacks(
    pieces: Sequence[StackPiece], limits: BundleLimits, search: Search = UNTIMED
) -> list[StackRun] | None:
    """Return the runs of least cost, in order of standing, or None when there is no way to cut.

    Once time is over no other order than that of standing is looked for within a stack.
    Exact: f(j) = min over allowed i of f(i) + c(i, j) (case S10), O(n x longest run). Costs are compared as tuples.
    """
    best: list[tuple[Cost, StackRun] | None] = [None] * (len(pieces) + 1)
    costs: list[Cost | None] = [_NONE] + [None] * len(pieces)
    for last in range(1, len(pieces) + 1):
        for run, cost in _runs_ending(pieces, last, limits, search):
            before = costs[run.first]
            if before is None:
                continue
            total = (before[0] + cost[0], before[1] + cost[1], before[2] + cost[2], before[3] + cost[3], before[4] + cost[4])
            known = costs[last]
            if known is None or total < known:
                costs[last], best[last] = total, (total, run)
    return _back(best, len(pieces))


def _back(best: Sequence[tuple[Cost, StackRun] | None], last: int) -> list[StackRun] | None:
    made = []
    while last:
        found = best[last]
        if found is None:
            return None
        made.append(found[1])
        last = found[1].first
    return made[::-1]


def _runs_ending(pieces: Sequence[StackPiece], last: int, limits: BundleLimits, search: Search) -> list[tuple[StackRun, Cost]]:
    """Return each allowed run that ends before `last`, with its cost; the bottom piece is the last to stand."""
    bottom = pieces[last - 1]
    weight = height = over = width = 0
    groups: set[str | None] = set()
    ordered, disorder = True, limits.set_aside > 0 and not search.over()
    made: list[tuple[StackRun, Cost]] = []
    for first in range(last - 1, -1, -1):
        piece = pieces[first]
        weight += piece.weight_g
        height += piece.thickness_nm
        width = max(width, piece.width_nm)
        if height + limits.dunnage_nm > limits.height_nm or is_too_heavy(weight, width, limits):
            break
        if piece.length_nm > longest_bundle_nm(limits) or (limits.width_nm is not None and width > limits.width_nm):
            break
        if first < last - 1:
            below = pieces[first + 1]
            ordered = ordered and may_lie_on(piece, below, limits)
            over += overhang_nm(piece, below)
        groups.add(piece.group)
        squares = (height // MM) ** 2
        if ordered and timbers_needed(weight, bottom, limits) is not None:
            run = StackRun(first, last, tuple(range(first, last)), 0)
            made.append((run, (1, 0, len(groups), over, squares)))
        elif disorder and 1 < last - first <= DISORDER_PIECES:
            found = least_disordered_order(pieces[first:last], limits, most=limits.set_aside, search=search)
            if found is not None:
                run = StackRun(first, last, tuple(first + place for place in found[2]), found[0])
                made.append((run, (1, found[0], len(groups), found[1], squares)))
        elif not disorder:
            break  # weight only grows, so neither order nor stress can come right again
    return made


def greedy_partition(pieces: Sequence[StackPiece], limits: BundleLimits, *, ordered: bool = True) -> int:
    """Return the stacks that closing one only when the next piece fails makes: the fewest for hereditary limits (S10).

    Foam stress under the bottom piece is left out, which is what makes the limits hereditary; so this is a lower bound.
    `ordered=False` leaves out what may lie on what too: a bound for stacks that need not keep the order.
    """
    count, first = 0, 0
    while first < len(pieces):
        count += 1
        first = _furthest(pieces, first, limits, ordered)
    return count


def _furthest(pieces: Sequence[StackPiece], first: int, limits: BundleLimits, ordered: bool) -> int:
    weight = height = width = 0
    for place in range(first, len(pieces)):
        piece = pieces[place]
        weight += piece.weight_g
        height += piece.thickness_nm
        width = max(width, piece.width_nm)
        too_big = height + limits.dunnage_nm > limits.height_nm or is_too_heavy(weight, width, limits)
        apart = ordered and place > first and not may_lie_on(pieces[place - 1], piece, limits)
        if (too_big or apart) and place > first:
            return place
    return len(pieces)
