"""Shops by tabu search from a critical path, in compiled loops.

In a block of a critical path an operation moves to either end or from an end inwards (N7 of Zhang, Li, Guan and Rao 2007,
Computers and Operations Research 34(11): 3229-3242); where set-ups depend on the sequence, behind or before any other of the
block. An operation with a choice of machines also moves to any place of another machine's line where no path leads back
(after Mastrolilli and Gambardella 2000, Journal of Scheduling 3(1): 3-20; we judge with the paths as they are before it is
taken out, as Gonzalez, Vela and Varela 2015 do). Moves are judged by estimates; what a move reversed is tabu for a while.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from solver.jit import compiled
from solver.random_numbers import roll
from solver.scheduling.graphs.critical import (
    backward,
    critical_path,
    forward,
    gap,
    later,
    line_up,
    longest_paths,
    put_in,
    ready,
    rest,
    sooner,
    take_out,
)

Array = Any
MOST_MOVES = 20_000


@compiled
def goes_later(shop: Any, one: int, two: int, work: Array, tails: Array) -> bool:
    """Return whether `one` may come right after `two` for sure: no path leads from its job's next step to `two`."""
    if shop[0][one] == 1:
        return True
    return bool(tails[two] > tails[one + 1] or (tails[two] == tails[one + 1] and work[one + 1] > 0))


@compiled
def goes_sooner(shop: Any, one: int, two: int, work: Array, heads: Array) -> bool:
    """Return whether `two` may come right before `one` for sure: no path leads from `one` to its job's step before."""
    if two == 0 or shop[0][two - 1] == 1:
        return True
    mine, its = heads[one] + work[one], heads[two - 1] + work[two - 1]
    return bool(mine > its or (mine == its and work[two - 1] > 0))


@compiled
def forbidden(later_move: bool, one: int, two: int, after: Array, tabu: Array, step: int) -> bool:
    """Return whether a move within a line restores a pair that was reversed not long ago."""
    at = one
    while at != two:
        if later_move:
            at = after[at]
            if tabu[at, one] > step:
                return True
        else:
            if tabu[two, at] > step:
                return True
            at = after[at]
    return False


@compiled
def block_moves(
    shop: Any, path: Array, low: int, high: int, tails: Array, work: Array, heads: Array, moves: Array, many: int
) -> int:
    """Write the moves within one block, path[low] to path[high], into `moves` from `many` on; return how many there are."""
    every = shop[4].shape[0] > 0
    starts = heads[path[low]] == 0 and not every  # nothing is gained by another first one
    ends = tails[path[high]] == work[path[high]] and not every
    for i in range(low, high):
        for j in range(i + 1, high + 1):
            if not (every or i == low or j == high) or many + 2 > moves.shape[0]:
                continue
            one, two = path[i], path[j]
            inner_pair = j == i + 1
            to_end, to_front = j == high and not ends, i == low and not starts
            from_front, from_end = i == low and not starts, j == high and not ends
            if (every or to_end or from_front) and goes_later(shop, one, two, work, tails):
                moves[many, 0], moves[many, 1], moves[many, 2] = 0, one, two
                many += 1
            if not inner_pair and (every or to_front or from_end) and goes_sooner(shop, one, two, work, heads):
                moves[many, 0], moves[many, 1], moves[many, 2] = 1, one, two
                many += 1
    return many


@compiled
def other_lines(
    shop: Any,
    n: int,
    machine: Array,
    work: Array,
    after: Array,
    front: Array,
    heads: Array,
    tails: Array,
    moves: Array,
    many: int,
) -> int:
    """Write the places for operation n on its other machines, with their estimates, into `moves`; return how many there are."""
    job_end, choice_at, choice_machine, choice_work = shop[0], shop[6], shop[7], shop[8]
    start, left = ready(shop, work, heads, n), rest(shop, tails, n)
    has_before, has_after = n > 0 and job_end[n - 1] == 0, job_end[n] == 0
    for choice in range(choice_at[n], choice_at[n + 1]):
        m = choice_machine[choice]
        if m == machine[n]:
            continue
        behind, following = -1, front[m]
        while many < moves.shape[0]:
            if behind >= 0 and has_after and (behind == n + 1 or heads[behind] >= heads[n + 1] + work[n + 1]):
                break  # from here on every place is behind its job's next step
            closed = following >= 0 and has_before
            if not closed or (following != n - 1 and heads[following] + work[following] > heads[n - 1]):
                head = gap(shop, m, behind, n)
                if behind >= 0:
                    head += heads[behind] + work[behind]
                tail = left
                if following >= 0:
                    tail = max(tail, gap(shop, m, n, following) + tails[following])
                moves[many, 0], moves[many, 1], moves[many, 2], moves[many, 3] = 2, n, behind, m
                moves[many, 4] = max(head, start) + choice_work[choice] + tail
                moves[many, 5] = choice_work[choice]
                many += 1
            if following < 0:
                break
            behind, following = following, after[following]
    return many


@compiled
def all_moves(
    shop: Any,
    path: Array,
    length: int,
    machine: Array,
    work: Array,
    before: Array,
    after: Array,
    front: Array,
    heads: Array,
    tails: Array,
    new: Array,
    moves: Array,
) -> int:
    """Write every move from a critical path, with its estimate in column 4; return how many."""
    many, low = 0, 0
    while low < length:
        high = low
        while high + 1 < length and before[path[high + 1]] == path[high]:
            high += 1
        if high > low:
            many = block_moves(shop, path, low, high, tails, work, heads, moves, many)
        low = high + 1
    for k in range(many):
        one, two = moves[k, 1], moves[k, 2]
        if moves[k, 0] == 0:
            moves[k, 4] = later(shop, one, two, machine, work, before, after, heads, tails, new)
        else:
            moves[k, 4] = sooner(shop, one, two, machine, work, before, after, heads, tails, new)
    for k in range(length):
        n = path[k]
        if shop[6][n + 1] - shop[6][n] > 1:
            many = other_lines(shop, n, machine, work, after, front, heads, tails, moves, many)
    return many


@compiled
def chosen_move(moves: Array, many: int, after: Array, tabu: Array, left: Array, step: int, best: int, dice: Array) -> int:
    """Return the best move that is not tabu, or better than anything yet; a random one where all are tabu."""
    chosen, least, ties = -1, 2**62, 1
    for k in range(many):
        value = moves[k, 4]
        if value > least:
            continue
        if value >= best:
            if moves[k, 0] == 2:
                if left[moves[k, 1], moves[k, 3]] > step:
                    continue
            elif forbidden(moves[k, 0] == 0, moves[k, 1], moves[k, 2], after, tabu, step):
                continue
        if value < least:
            chosen, least, ties = k, value, 1
        else:
            ties += 1
            if roll(dice, ties) == 0:
                chosen = k
    return chosen if chosen >= 0 else roll(dice, many)


@compiled
def make_move(
    shop: Any,
    move: Array,
    machine: Array,
    work: Array,
    before: Array,
    after: Array,
    front: Array,
    line: Array,
    place: Array,
    mark: Array,
    held: Array,
    tabu: Array,
    left: Array,
    until: int,
) -> tuple[int, int]:
    """Make a move and forbid, until a step, what would undo it; return the first and last place of `line` it touched."""
    one, two = move[1], move[2]
    if move[0] == 2:
        left[one, machine[one]] = until
        take_out(one, machine, before, after, front)
        put_in(one, move[3], two, machine, before, after, front)
        work[one] = move[5]
        at, following = place[one], after[one]
        if two >= 0 and place[two] > at:
            high = place[two]
            forward(shop, at, high, before, line, place, mark, held)
            return at, high
        if following >= 0 and place[following] < at:
            low = place[following]
            backward(shop, low, at, after, line, place, mark, held)
            return low, at
        return at, at
    at = one
    while at != two:
        if move[0] == 0:
            at = after[at]
            tabu[one, at] = until
        else:
            tabu[at, two] = until
            at = after[at]
    low, high = place[one], place[two]
    if move[0] == 0:
        take_out(one, machine, before, after, front)
        put_in(one, machine[two], two, machine, before, after, front)
        forward(shop, low, high, before, line, place, mark, held)
    else:
        take_out(two, machine, before, after, front)
        put_in(two, machine[one], before[one], machine, before, after, front)
        backward(shop, low, high, after, line, place, mark, held)
    return low, high


@compiled
def tabu_search(
    shop: Any,
    steps: int,
    patience: int,
    lower_bound: int,
    machine: Array,
    before: Array,
    after: Array,
    front: Array,
    work: Array,
    best_heads: Array,
    best_machine: Array,
    values: Array,
    tabu: Array,
    left: Array,
    dice: Array,
) -> None:
    """Take up to `steps` steps, fewer at the floor or `patience` steps after the last improvement.

    `values`: best makespan, step counter, step of the last improvement, 1 once it has stalled. The best timetable is kept as
    starts and machines. Tabu marks hold step numbers, so they stay good from call to call.
    """
    size = work.shape[0]
    heads, tails, new = np.zeros(size, np.int64), np.zeros(size, np.int64), np.zeros(size, np.int64)
    line, place, path = np.zeros(size, np.int64), np.zeros(size, np.int64), np.zeros(size, np.int64)
    mark, held = np.zeros(size, np.int64), np.zeros(size, np.int64)
    moves = np.zeros((MOST_MOVES, 6), np.int64)
    ends = np.nonzero(shop[0])[0]
    tenure = 10 + size // max(1, front.shape[0] * front.shape[0])
    if not line_up(shop, before, after, line, place):
        values[3] = 1
        return
    low, high = 0, size - 1
    for _ in range(steps):
        values[1] += 1
        makespan = longest_paths(shop, low, high, machine, work, before, after, heads, tails, line, ends)
        if makespan < values[0]:
            values[0], values[2] = makespan, values[1]
            best_heads[:] = heads
            best_machine[:] = machine
        if values[0] <= lower_bound or values[1] - values[2] > patience:
            values[3] = 1
            return
        length = critical_path(shop, makespan, machine, work, before, heads, tails, dice, path)
        many = all_moves(shop, path, length, machine, work, before, after, front, heads, tails, new, moves)
        if many == 0:
            values[3] = 1  # one job from end to end, or a machine that never waits
            return
        k = chosen_move(moves, many, after, tabu, left, values[1], values[0], dice)
        until = values[1] + tenure + roll(dice, tenure)
        low, high = make_move(shop, moves[k], machine, work, before, after, front, line, place, mark, held, tabu, left, until)
