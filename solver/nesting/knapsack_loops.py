"""Inner loops of knapsacks and pattern walks, on plain arrays."""

from __future__ import annotations

from typing import Any

import numpy as np

from solver.jit import jit_compiled

Array = Any


@jit_compiled
def fill_knapsack_rows(table: Array, sizes: Array, duals: Array, top: int) -> None:
    """Fill row n + 1 from row n: an item of this size and worth may be taken once."""
    for part in range(sizes.shape[0]):
        size, worth = sizes[part], duals[part]
        for used in range(min(size, top + 1)):
            table[part + 1, used] = table[part, used]
        for used in range(size, top + 1):
            taken = table[part, used - size] + worth
            left = table[part, used]
            table[part + 1, used] = taken if taken > left else left


@jit_compiled
def add_item_in_place(row: Array, size: int, worth: Any, top: int) -> None:
    """Let an item of this size and worth be taken once, in the row itself: the full bar first, so that none is taken twice."""
    for used in range(top, size - 1, -1):
        row[used] = max(row[used], row[used - size] + worth)


@jit_compiled
def fill_completion_rows(table: Array, sizes: Array, duals: Array, most: Array, room: int) -> None:
    """Fill row j (kinds from j on) from row j + 1: each kind up to `most` times; table[j, u]: the most still to come."""
    for kind in range(sizes.shape[0] - 1, -1, -1):
        size, worth = sizes[kind], duals[kind]
        for used in range(room + 1):
            table[kind, used] = table[kind + 1, used]
        left, times = most[kind], 1
        while left > 0:
            step = min(times, left)
            jump, gain = size * step, worth * step
            for used in range(room + 1 - jump):
                other = table[kind, used + jump] + gain
                table[kind, used] = max(table[kind, used], other)
            left -= step
            times *= 2


@jit_compiled
def most_pieces(sizes: Array, most: Array, room: int) -> int:
    """Return a number of pieces that no pattern exceeds."""
    at_most, total = 0, 0
    for kind in range(sizes.shape[0]):
        total += min(most[kind], room // sizes[kind])
        if most[kind] > 0:
            at_most = max(at_most, room // sizes[kind])
    return min(at_most, total)


@jit_compiled
def is_maximal(sizes: Array, most: Array, taken: Array, free: int) -> bool:
    """Return whether no further piece fits the free room."""
    for kind in range(sizes.shape[0]):  # noqa: SIM110 - no generators in compiled code
        if sizes[kind] <= free and taken[kind] < most[kind]:
            return False
    return True


@jit_compiled
def enumerate_patterns(
    sizes: Array, duals: Array, most: Array, room: int, table: Array, need: int, maximal: bool, found: Array, nodes: int
) -> int:
    """Write every pattern whose dual prices and end reach `need` into the rows of `found` (counts of kinds).

    `table[j, u]`: the most that kinds from j on can add to a bar of which u is used, end included. Depth first, kinds in
    order; returns how many were found, or -1 when rows or nodes ran out.
    """
    kinds = sizes.shape[0]
    deepest = most_pieces(sizes, most, room) + 1
    stack = np.zeros(deepest + 1, np.int64)  # the next kind to try at each depth
    taken = np.zeros(kinds, np.int64)
    picks = np.zeros(deepest + 1, np.int64)
    used, worth, depth, count = 0, 0, 0, 0
    while depth >= 0:
        nodes -= 1
        if nodes < 0:
            return -1
        kind = stack[depth]
        while kind < kinds:
            after = used + sizes[kind]
            if taken[kind] < most[kind] and after <= room and worth + duals[kind] + table[kind, after] >= need:
                break
            kind += 1
        if kind < kinds:
            stack[depth], picks[depth] = kind + 1, kind
            taken[kind] += 1
            used += sizes[kind]
            worth += duals[kind]
            depth += 1
            stack[depth] = kind
            if worth + table[kinds, used] >= need and (not maximal or is_maximal(sizes, most, taken, room - used)):
                if count >= found.shape[0]:
                    return -1
                found[count, :] = taken
                count += 1
            continue
        depth -= 1
        if depth >= 0:
            last = picks[depth]
            taken[last] -= 1
            used -= sizes[last]
            worth -= duals[last]
    return count
