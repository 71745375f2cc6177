"""Inner loops over orders of jobs on one machine with weighted tardiness: an iterated local search by exchanges of blocks.

Every change exchanges two blocks of neighbours. A block that keeps its inner order is only earlier or later as a whole, and its
tardiness is a convex function of that shift: its tangent, known from sums over the order at hand, is a bound in a few steps,
and most changes are refused by it. Evaluation by blocks: Subramanian, Battarra and Potts 2014, International Journal of
Production Research 52: 2729-2742; the tangent as a filter is ours.

`line` is a tuple of arrays: `step[job, job]` (set-up and work of the second behind the first; the last row is for the job that
begins), `due` and `weight` by job. `sums` has a row more than jobs: of all jobs before a place their last end, their cost, and
the weight of the late ones.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from solver.jit import compiled
from solver.scheduling.orders import roll

Array = Any
END, COST, LATE = range(3)


@compiled
def remember(line: Any, order: Array, sums: Array, low: int) -> int:
    """Write the sums of an order from a place on; return its cost."""
    step, due, weight = line
    size = order.shape[0]
    before = order[low - 1] if low > 0 else size
    for k in range(low, size):
        job = order[k]
        end = sums[k, END] + step[before, job]
        late = end - due[job]
        sums[k + 1, END] = end
        sums[k + 1, COST] = sums[k, COST] + (weight[job] * late if late > 0 else 0)
        sums[k + 1, LATE] = sums[k, LATE] + (weight[job] if late > 0 else 0)
        before = job
    return int(sums[size, COST])


@compiled
def tangent(sums: Array, start: int, end: int, shift: int) -> int:
    """Return a cost that the jobs of a block do not fall below when all end that much later (or earlier)."""
    return int(max(0, sums[end, COST] - sums[start, COST] + shift * (sums[end, LATE] - sums[start, LATE])))


@compiled
def shifted(line: Any, order: Array, sums: Array, start: int, end: int, shift: int, most: int) -> int:
    """Return the cost of the jobs of a block that all end that much later (or earlier); above `most` it may be less."""
    _, due, weight = line
    if shift == 0:
        return int(sums[end, COST] - sums[start, COST])
    cost = 0
    for k in range(start, end):
        job = order[k]
        late = sums[k + 1, END] + shift - due[job]
        if late > 0:
            cost += weight[job] * late
            if cost > most:
                return int(cost)
    return int(cost)


@compiled
def exchanged(line: Any, order: Array, sums: Array, a: int, b: int, c: int, d: int, limit: int) -> int:
    """Return the cost of the order with its blocks from a to b and from c to d exchanged; above `limit` it may be less."""
    step = line[0]
    size = order.shape[0]
    before = order[a - 1] if a > 0 else size
    two = sums[a, END] + step[before, order[c]] - sums[c + 1, END]
    at, before, middle = sums[d, END] + two, order[d - 1], 0
    if b < c:
        middle = at + step[before, order[b]] - sums[b + 1, END]
        at, before = sums[c, END] + middle, order[c - 1]
    one = at + step[before, order[a]] - sums[a + 1, END]
    rest = 0
    if d < size:
        rest = sums[b, END] + one + step[order[b - 1], order[d]] - sums[d + 1, END]
    room = limit - sums[a, COST]
    bounds = (
        tangent(sums, a, b, one),
        tangent(sums, c, d, two),
        tangent(sums, b, c, middle),
        tangent(sums, d, size, rest),
    )
    cost = bounds[0] + bounds[1] + bounds[2] + bounds[3]
    if cost > room:
        return int(sums[a, COST] + cost)
    cost += shifted(line, order, sums, a, b, one, room) - bounds[0]
    if cost <= room:
        cost += shifted(line, order, sums, c, d, two, room) - bounds[1]
    if cost <= room:
        cost += shifted(line, order, sums, b, c, middle, room) - bounds[2]
    if cost <= room:
        cost += shifted(line, order, sums, d, size, rest, room) - bounds[3]
    return int(sums[a, COST] + cost)


@compiled
def exchange(order: Array, a: int, b: int, c: int, d: int) -> None:
    """Exchange the blocks from a to b and from c to d, a < b <= c < d; what lies between stays in order."""
    old = order[a:d].copy()
    for k in range(d - c):
        order[a + k] = old[c - a + k]
    for k in range(c - b):
        order[a + d - c + k] = old[b - a + k]
    for k in range(b - a):
        order[a + d - b + k] = old[k]


@compiled
def descend_one(line: Any, order: Array, sums: Array, cost: int, dice: Array) -> int:
    """Exchange blocks while that betters an order: one to three neighbours with what is beside them, and two jobs."""
    size = order.shape[0]
    idle, at = 0, roll(dice, size)
    while idle < size:
        at = (at + 1) % size
        least = cost
        best = (0, 0, 0, 0)
        for many in range(1, min(4, size - at)):
            for far in range(at + many + 1, size + 1):
                found = exchanged(line, order, sums, at, at + many, at + many, far, least - 1)
                if found < least:
                    least, best = found, (at, at + many, at + many, far)
            for far in range(at):
                found = exchanged(line, order, sums, far, at, at, at + many, least - 1)
                if found < least:
                    least, best = found, (far, at, at, at + many)
        for far in range(at + 2, size):
            found = exchanged(line, order, sums, at, at + 1, far, far + 1, least - 1)
            if found < least:
                least, best = found, (at, at + 1, far, far + 1)
        idle += 1
        if least < cost:
            exchange(order, best[0], best[1], best[2], best[3])
            cost = remember(line, order, sums, best[0])
            idle = 0
    return int(cost)


@compiled
def kick_one(line: Any, home: Array, best: Array, values: Array, dice: Array, kicks: int) -> None:
    """Exchange two blocks of up to eight jobs and descend, so many times; go on from what is no worse.

    Iterated local search; to keep worse ends now and then, as annealing does, was measured and was no better.
    `values` holds the costs of `home` and `best`.
    """
    size = home.shape[0]
    sums = np.zeros((size + 1, 3), np.int64)
    longest = min(8, size // 2)
    for _ in range(kicks):
        walk = home.copy()
        one, two = 1 + roll(dice, longest), 1 + roll(dice, longest)
        a = roll(dice, size - one - two + 1)
        c = a + one + roll(dice, size - a - one - two + 1)
        exchange(walk, a, a + one, c, c + two)
        value = descend_one(line, walk, sums, remember(line, walk, sums, 0), dice)
        if value <= values[0]:
            home[:] = walk
            values[0] = value
        if value < values[1]:
            best[:] = walk
            values[1] = value
