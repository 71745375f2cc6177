"""Where order and stability conflict: the order within one stack that makes a crew set aside the fewest pieces."""

from __future__ import annotations

import heapq
from collections.abc import Sequence

from solver.bundling.rules import may_lie_on, overhang_nm, timbers_needed
from solver.domain.bundle import BundleLimits, StackPiece
from solver.search import Search

LOOKS = 500  # steps between two looks at the clock


def least_disordered_order(
    run: Sequence[StackPiece], limits: BundleLimits, *, most: int, search: Search
) -> tuple[int, int, tuple[int, ...]] | None:
    """Return the fewest pieces set aside, the overhang, and the places of `run` from top to bottom.

    None if over `most`, or where time ended first.
    `run` is in order of standing. A piece is set aside when it is taken off before one that stands earlier: whenever
    the piece taken next is not the earliest of those left. Shortest path over (pieces left, piece taken last).
    """
    size = len(run)
    weight = sum(piece.weight_g for piece in run)
    full = (1 << size) - 1
    may_lie = [[may_lie_on(upper, lower, limits) for lower in run] for upper in run]
    hang = [[overhang_nm(upper, lower) for lower in run] for upper in run]
    is_bottom = [timbers_needed(weight, piece, limits) is not None for piece in run]
    queue: list[tuple[int, int, int, int]] = [(0, 0, full, -1)]
    came: dict[tuple[int, int], tuple[int, int]] = {}
    best: dict[tuple[int, int], tuple[int, int]] = {(full, -1): (0, 0)}
    steps = 0
    while queue:
        steps += 1
        if steps % LOOKS == 0 and search.over():
            return None
        aside, over, left, last = heapq.heappop(queue)
        if best[(left, last)] < (aside, over):
            continue
        if not left:
            return aside, over, _path(came, left, last)
        first = (left & -left).bit_length() - 1
        rest = left
        while rest:
            low = rest & -rest
            rest ^= low
            piece = low.bit_length() - 1
            if last >= 0 and not may_lie[last][piece]:
                continue
            after = left ^ low
            if not after and not is_bottom[piece]:
                continue
            cost = (aside + (piece != first), over + (hang[last][piece] if last >= 0 else 0))
            if cost[0] <= most and cost < best.get((after, piece), (size + 1, 0)):
                best[(after, piece)] = cost
                came[(after, piece)] = (left, last)
                heapq.heappush(queue, (*cost, after, piece))
    return None


def _path(came: dict[tuple[int, int], tuple[int, int]], left: int, last: int) -> tuple[int, ...]:
    made = []
    while last >= 0:
        made.append(last)
        left, last = came[(left, last)]
    return tuple(reversed(made))
