"""Inner loops over orders of jobs on one machine with weighted tardiness: an iterated local search by exchanges of blocks.

Every change exchanges two blocks of neighbours. A block that keeps its inner order is only earlier or later as a whole, and its
cost is a convex function of that shift: its tangent, known from sums over the order at hand, is a bound in a few steps,
and most changes are refused by it. Evaluation by blocks: Subramanian, Battarra and Potts 2014, International Journal of
Production Research 52: 2729-2742; the tangent as a filter is ours. After a kick only jobs beside a changed neighbour are looked
at again (Bentley 1992, ORSA Journal on Computing 4: 387-411, "don't-look bits", for tours).

`line` is a tuple: `step[job, job]` (set-up and work of the second behind the first; the last row is for the job that begins),
`due` and `weight` by job, and `tie`, what a unit of any job's end costs beside: 1 where weights are so large that ends only
decide between equal tardiness (shorter set-ups lead on where most jobs are in time), else 0. `sums` has a row more than jobs:
of all jobs before a place their last end, their cost, and what it costs that all end a unit later.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from solver.jit import jit_compiled
from solver.random_numbers import random_below

Array = Any
END, COST, SLOPE = range(3)
LONGEST_MOVED, LONGEST_KICKED = 13, 8  # jobs of a block; sizes from 4 to 20 were tried on five instances
HEAT, HEAT_OF_JOB = 0.006, 0.04  # of the cost of all jobs, and of a mean step late at a mean weight


@jit_compiled
def write_prefix_sums(line: Any, order: Array, sums: Array, low: int) -> int:
    """Write the sums of an order from a place on; return its cost."""
    step, due, weight, tie = line
    size = order.shape[0]
    before = order[low - 1] if low > 0 else size
    for k in range(low, size):
        job = order[k]
        end = sums[k, END] + step[before, job]
        late = end - due[job]
        sums[k + 1, END] = end
        sums[k + 1, COST] = sums[k, COST] + tie * end + (weight[job] * late if late > 0 else 0)
        sums[k + 1, SLOPE] = sums[k, SLOPE] + tie + (weight[job] if late > 0 else 0)
        before = job
    return int(sums[size, COST])


@jit_compiled
def tangent_bound(sums: Array, start: int, end: int, shift: int) -> int:
    """Return a cost that the jobs of a block do not fall below when all end that much later (or earlier)."""
    return int(max(0, sums[end, COST] - sums[start, COST] + shift * (sums[end, SLOPE] - sums[start, SLOPE])))


@jit_compiled
def shifted_block_cost(line: Any, order: Array, sums: Array, start: int, end: int, shift: int, most: int) -> int:
    """Return the cost of the jobs of a block that all end that much later (or earlier); above `most` it may be less."""
    _, due, weight, tie = line
    if shift == 0:
        return int(sums[end, COST] - sums[start, COST])
    cost = 0
    for k in range(start, end):
        job = order[k]
        at = sums[k + 1, END] + shift
        cost += tie * at
        if at > due[job]:
            cost += weight[job] * (at - due[job])
            if cost > most:
                return int(cost)
    return int(cost)


@jit_compiled
def exchanged_blocks_cost(line: Any, order: Array, sums: Array, a: int, b: int, c: int, d: int, limit: int) -> int:
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
        tangent_bound(sums, a, b, one),
        tangent_bound(sums, c, d, two),
        tangent_bound(sums, b, c, middle),
        tangent_bound(sums, d, size, rest),
    )
    cost = bounds[0] + bounds[1] + bounds[2] + bounds[3]
    if cost > room:
        return int(sums[a, COST] + cost)
    cost += shifted_block_cost(line, order, sums, a, b, one, room) - bounds[0]
    if cost <= room:
        cost += shifted_block_cost(line, order, sums, c, d, two, room) - bounds[1]
    if cost <= room:
        cost += shifted_block_cost(line, order, sums, b, c, middle, room) - bounds[2]
    if cost <= room:
        cost += shifted_block_cost(line, order, sums, d, size, rest, room) - bounds[3]
    return int(sums[a, COST] + cost)


@jit_compiled
def best_move_later(line: Any, order: Array, sums: Array, a: int, b: int, limit: int) -> tuple[int, int]:
    """Return the least cost with the block from a to b moved behind a later place, and the end of what it is moved behind.

    Only costs up to `limit` count; where there is none, the limit and one more is returned, and 0. Jobs between become earlier
    by the same however far the block goes, so their cost is added up on the way.
    """
    step, due, weight, tie = line
    size = order.shape[0]
    first, last, least, far = order[a], order[b - 1], limit + 1, 0
    before = order[a - 1] if a > 0 else size
    two = sums[a, END] + step[before, order[b]] - sums[b + 1, END]
    passed = sums[a, COST]
    for d in range(b + 1, size + 1):
        job = order[d - 1]
        at = sums[d, END] + two
        passed += tie * at + (weight[job] * (at - due[job]) if at > due[job] else 0)
        if passed >= least:
            break
        one, rest = at + step[job, first] - sums[a + 1, END], 0
        if d < size:
            rest = sums[b, END] + one + step[last, order[d]] - sums[d + 1, END]
        moved, tail = tangent_bound(sums, a, b, one), tangent_bound(sums, d, size, rest)
        cost = passed + moved + tail
        if cost < least:
            cost += shifted_block_cost(line, order, sums, a, b, one, least) - moved
        if cost < least:
            cost += shifted_block_cost(line, order, sums, d, size, rest, least) - tail
        if cost < least:
            least, far = cost, d
    return int(least), int(far)


@jit_compiled
def best_move_earlier(line: Any, order: Array, sums: Array, c: int, d: int, limit: int) -> tuple[int, int]:
    """Return the least cost with the block from c to d moved to an earlier place, and that place.

    Only costs up to `limit` count; where there is none, the limit and one more is returned, and 0.
    """
    step = line[0]
    size = order.shape[0]
    first, last, least, far = order[c], order[d - 1], limit + 1, 0
    closed = sums[c, END] + step[order[c - 1], order[d]] - sums[d + 1, END] if d < size else 0
    for a in range(c - 1, -1, -1):
        before = order[a - 1] if a > 0 else size
        two = sums[a, END] + step[before, first] - sums[c + 1, END]
        one = sums[d, END] + two + step[last, order[a]] - sums[a + 1, END]
        rest = closed + one if d < size else 0
        moved, passed, tail = tangent_bound(sums, c, d, two), tangent_bound(sums, a, c, one), tangent_bound(sums, d, size, rest)
        cost = sums[a, COST] + moved + passed + tail
        if cost < least:
            cost += shifted_block_cost(line, order, sums, c, d, two, least) - moved
        if cost < least:
            cost += shifted_block_cost(line, order, sums, a, c, one, least) - passed
        if cost < least:
            cost += shifted_block_cost(line, order, sums, d, size, rest, least) - tail
        if cost < least:
            least, far = cost, a
    return int(least), int(far)


@jit_compiled
def exchange_blocks(order: Array, a: int, b: int, c: int, d: int) -> None:
    """Exchange the blocks from a to b and from c to d, a < b <= c < d; what lies between stays in order."""
    old = order[a:d].copy()
    for k in range(d - c):
        order[a + k] = old[c - a + k]
    for k in range(c - b):
        order[a + d - c + k] = old[b - a + k]
    for k in range(b - a):
        order[a + d - b + k] = old[k]


@jit_compiled
def wake_neighbours(order: Array, awake: Array, a: int, b: int, c: int, d: int) -> None:
    """Mark the jobs beside the places where blocks from a to b and from c to d, just exchanged, now meet others."""
    for cut in (a, a + d - c, a + d - b, d):
        if cut > 0:
            awake[order[cut - 1]] = True
        if cut < order.shape[0]:
            awake[order[cut]] = True


@jit_compiled
def best_exchange(line: Any, order: Array, sums: Array, at: int, limit: int) -> tuple[int, int, int, int, int]:
    """Return the least cost by moving a block that begins at a place, or by exchanging its job, and the blocks to exchange.

    Only costs up to `limit` count; where there is none, the limit and one more is returned.
    """
    size = order.shape[0]
    least, best = limit + 1, (0, 0, 0, 0)
    for end in range(at + 1, min(at + LONGEST_MOVED, size) + 1):
        if end < size:
            cost, far = best_move_later(line, order, sums, at, end, least - 1)
            if cost < least:
                least, best = cost, (at, end, end, far)
        if at > 0:
            cost, far = best_move_earlier(line, order, sums, at, end, least - 1)
            if cost < least:
                least, best = cost, (far, at, at, end)
    for other in range(size):
        one, two = min(at, other), max(at, other)
        if two - one > 1:  # neighbours were exchanged above
            cost = exchanged_blocks_cost(line, order, sums, one, one + 1, two, two + 1, least - 1)
            if cost < least:
                least, best = cost, (one, one + 1, two, two + 1)
    return int(least), best[0], best[1], best[2], best[3]


@jit_compiled
def descend_by_block_exchange(line: Any, order: Array, sums: Array, cost: int, dice: Array, awake: Array) -> int:
    """Exchange blocks at jobs that are awake while that betters an order; return its cost, all jobs asleep."""
    size = order.shape[0]
    idle, at = 0, random_below(dice, size)
    while idle < size:
        at = (at + 1) % size
        job = order[at]
        idle += 1
        if not awake[job]:
            continue
        awake[job] = False
        least, a, b, c, d = best_exchange(line, order, sums, at, cost - 1)
        if least < cost:
            exchange_blocks(order, a, b, c, d)
            cost = write_prefix_sums(line, order, sums, a)
            wake_neighbours(order, awake, a, b, c, d)
            awake[job] = True
            idle = 0
    return int(cost)


@jit_compiled
def iterated_local_search(line: Any, home: Array, best: Array, values: Array, dice: Array, kicks: int) -> None:
    """Exchange two blocks near each other and descend, so many times; go on from a worse end now and then, as annealing does.

    Iterated local search. The heat grows with the cost and has a least, or nothing worse would be kept where the cost is
    nearly 0. `values` holds the costs of `home` and `best`. The first descent looks at all jobs.
    """
    size = home.shape[0]
    sums, walk_sums = np.zeros((size + 1, 3), np.int64), np.zeros((size + 1, 3), np.int64)
    awake = np.ones(size, np.bool_)
    longest = min(LONGEST_KICKED, size // 2)
    warm = HEAT_OF_JOB * line[0].mean() * line[2].mean()
    walk = home.copy()
    write_prefix_sums(line, home, sums, 0)
    for _ in range(kicks):
        walk[:] = home
        walk_sums[:] = sums
        one, two = 1 + random_below(dice, longest), 1 + random_below(dice, longest)
        spare = size - one - two
        a = random_below(dice, spare + 1)
        c = a + one + random_below(dice, min(LONGEST_KICKED, spare - a) + 1)
        exchange_blocks(walk, a, a + one, c, c + two)
        wake_neighbours(walk, awake, a, a + one, c, c + two)
        value = descend_by_block_exchange(line, walk, walk_sums, write_prefix_sums(line, walk, walk_sums, a), dice, awake)
        heat = warm + HEAT * values[0]
        if value <= values[0] + int(-heat * np.log((random_below(dice, 1_000_000) + 1) / 1_000_001)):
            home[:] = walk
            sums[:] = walk_sums
            values[0] = value
        if value < values[1]:
            best[:] = walk
            values[1] = value
