"""Inner loops of knapsacks and pattern walks, on plain arrays."""

from __future__ import annotations

from typing import Any

import numpy as np

from solver.jit import compiled

Array = Any


@compiled
def fill_rows(table: Array, sizes: Array, worths: Array, top: int) -> None:
    """Fill row n + 1 from row n: a part of this size and worth may be taken once."""
    for part in range(sizes.shape[0]):
        size, worth = sizes[part], worths[part]
        for used in range(min(size, top + 1)):
            table[part + 1, used] = table[part, used]
        for used in range(size, top + 1):
            taken = table[part, used - size] + worth
            left = table[part, used]
            table[part + 1, used] = taken if taken > left else left


@compiled
def complete_rows(table: Array, sizes: Array, worths: Array, most: Array, room: int) -> None:
    """Fill row j (kinds from j on) from row j + 1: each kind up to `most` times; table[j, u]: the most still to come."""
    for kind in range(sizes.shape[0] - 1, -1, -1):
        size, worth = sizes[kind], worths[kind]
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


@compiled
def walk(
    sizes: Array, worths: Array, most: Array, room: int, table: Array, need: int, maximal: bool, found: Array, nodes: int
) -> int:
    """Write every pattern whose worth and end reach `need` into the rows of `found` (counts of kinds).

    `table[j, u]`: the most that kinds from j on can add to a bar of which u is used, end included. Depth first, kinds in
    order; returns how many were found, or -1 when rows or nodes ran out.
    """
    kinds = sizes.shape[0]
    depth_most = 0
    least = room + 1
    for kind in range(kinds):
        if most[kind] > 0:
            depth_most = max(depth_most, room // sizes[kind])
            least = min(least, sizes[kind])
    total = 0
    for kind in range(kinds):
        total += min(most[kind], room // sizes[kind])
    depth_most = min(depth_most, total) + 1
    stack = np.zeros(depth_most + 1, np.int64)  # the next kind to try at each depth
    taken = np.zeros(kinds, np.int64)
    picks = np.zeros(depth_most + 1, np.int64)
    used, worth, depth, made = 0, 0, 0, 0
    while depth >= 0:
        nodes -= 1
        if nodes < 0:
            return -1
        kind = stack[depth]
        advanced = False
        while kind < kinds:
            size = sizes[kind]
            fits = taken[kind] < most[kind] and size <= room - used
            if fits and worth + worths[kind] + table[kind, used + size] >= need:
                stack[depth] = kind + 1
                picks[depth] = kind
                taken[kind] += 1
                used += size
                worth += worths[kind]
                depth += 1
                stack[depth] = kind
                advanced = True
                break
            kind += 1
        if advanced:
            if worth + table[kinds, used] >= need:
                whole = True
                if maximal and room - used >= least:
                    for other in range(kinds):
                        if sizes[other] <= room - used and taken[other] < most[other]:
                            whole = False
                            break
                if whole:
                    if made >= found.shape[0]:
                        return -1
                    for other in range(kinds):
                        found[made, other] = taken[other]
                    made += 1
            continue
        depth -= 1
        if depth >= 0:
            last = picks[depth]
            taken[last] -= 1
            used -= sizes[last]
            worth -= worths[last]
    return made
