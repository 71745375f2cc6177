"""Shops by tabu search from a critical path, in compiled loops.

In a block of a critical path an operation moves to either end or from an end inwards (N7 of Zhang, Li, Guan and Rao 2007,
Computers and Operations Research 34(11): 3229-3242); where set-ups depend on the sequence, behind or before any other of the
block. An operation with a choice of machines also moves to any place of another machine's line where no path leads back
(after Mastrolilli and Gambardella 2000, Journal of Scheduling 3(1): 3-20; we judge with the paths as they are before it is
taken out, as Gonzalez, Vela and Varela 2015 do). Moves are judged by estimates; what a move reversed is tabu for a while.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from solver.jit import jit_compiled
from solver.random_numbers import random_below
from solver.scheduling.graphs.critical_paths import (
    Order,
    Paths,
    Selection,
    Shop,
    critical_path,
    estimate_move_after,
    estimate_move_before,
    insert_on_machine,
    job_ready_time,
    job_tail,
    longest_paths,
    move_backward_in_order,
    move_forward_in_order,
    remove_from_machine,
    setup_between,
    write_topological_order,
)

Array = Any
MOST_MOVES = 20_000


class Tabu(NamedTuple):
    """Until which step it is tabu that a first operation comes before a second, or that an operation is on a machine again."""

    pairs: Array
    machines: Array


class Best(NamedTuple):
    """The best timetable yet: starts and machines, and in `values` how far the search is.

    `values`: best makespan, step counter, step of the last improvement, 1 once it has stalled.
    """

    heads: Array
    machine: Array
    values: Array


@jit_compiled
def can_move_after(shop: Shop, one: int, two: int, work: Array, tails: Array) -> bool:
    """Return whether `one` may come right after `two` for sure: no path leads from its job's next step to `two`."""
    if shop.job_end[one] == 1:
        return True
    return bool(tails[two] > tails[one + 1] or (tails[two] == tails[one + 1] and work[one + 1] > 0))


@jit_compiled
def can_move_before(shop: Shop, one: int, two: int, work: Array, heads: Array) -> bool:
    """Return whether `two` may come right before `one` for sure: no path leads from `one` to its job's step before."""
    if two == 0 or shop.job_end[two - 1] == 1:
        return True
    mine, its = heads[one] + work[one], heads[two - 1] + work[two - 1]
    return bool(mine > its or (mine == its and work[two - 1] > 0))


@jit_compiled
def is_tabu(later_move: bool, one: int, two: int, after: Array, pairs: Array, step: int) -> bool:
    """Return whether a move within a line restores a pair that was reversed not long ago."""
    at = one
    while at != two:
        if later_move:
            at = after[at]
            if pairs[at, one] > step:
                return True
        else:
            if pairs[two, at] > step:
                return True
            at = after[at]
    return False


@jit_compiled
def write_block_moves(shop: Shop, work: Array, paths: Paths, path: Array, low: int, high: int, moves: Array, many: int) -> int:
    """Write the moves within one block, path[low] to path[high], into `moves` from `many` on; return how many there are."""
    heads, tails = paths.heads, paths.tails
    every = shop.setup.shape[0] > 0
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
            if (every or to_end or from_front) and can_move_after(shop, one, two, work, tails):
                moves[many, 0], moves[many, 1], moves[many, 2] = 0, one, two
                many += 1
            if not inner_pair and (every or to_front or from_end) and can_move_before(shop, one, two, work, heads):
                moves[many, 0], moves[many, 1], moves[many, 2] = 1, one, two
                many += 1
    return many


@jit_compiled
def write_reassignments(shop: Shop, n: int, selection: Selection, paths: Paths, moves: Array, many: int) -> int:
    """Write the places for operation n on its other machines, with their estimates, into `moves`; return how many there are."""
    job_end, choice_at, choice_machine, choice_work = shop.job_end, shop.choice_at, shop.choice_machine, shop.choice_work
    machine, work, after, front = selection.machine, selection.work, selection.after, selection.front
    heads, tails = paths.heads, paths.tails
    start, left = job_ready_time(shop, work, heads, n), job_tail(shop, tails, n)
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
                head = setup_between(shop, m, behind, n)
                if behind >= 0:
                    head += heads[behind] + work[behind]
                tail = left
                if following >= 0:
                    tail = max(tail, setup_between(shop, m, n, following) + tails[following])
                moves[many, 0], moves[many, 1], moves[many, 2], moves[many, 3] = 2, n, behind, m
                moves[many, 4] = max(head, start) + choice_work[choice] + tail
                moves[many, 5] = choice_work[choice]
                many += 1
            if following < 0:
                break
            behind, following = following, after[following]
    return many


@jit_compiled
def write_neighbourhood(shop: Shop, selection: Selection, paths: Paths, path: Array, length: int, moves: Array) -> int:
    """Write every move from a critical path, with its estimate in column 4; return how many."""
    many, low = 0, 0
    while low < length:
        high = low
        while high + 1 < length and selection.before[path[high + 1]] == path[high]:
            high += 1
        if high > low:
            many = write_block_moves(shop, selection.work, paths, path, low, high, moves, many)
        low = high + 1
    for k in range(many):
        one, two = moves[k, 1], moves[k, 2]
        if moves[k, 0] == 0:
            moves[k, 4] = estimate_move_after(shop, selection, paths, one, two)
        else:
            moves[k, 4] = estimate_move_before(shop, selection, paths, one, two)
    for k in range(length):
        n = path[k]
        if shop.choice_at[n + 1] - shop.choice_at[n] > 1:
            many = write_reassignments(shop, n, selection, paths, moves, many)
    return many


@jit_compiled
def choose_move(moves: Array, many: int, after: Array, tabu: Tabu, step: int, best: int, dice: Array) -> int:
    """Return the best move that is not tabu, or better than anything yet; a random one where all are tabu."""
    chosen, least, ties = -1, 2**62, 1
    for k in range(many):
        value = moves[k, 4]
        if value > least:
            continue
        if value >= best:
            if moves[k, 0] == 2:
                if tabu.machines[moves[k, 1], moves[k, 3]] > step:
                    continue
            elif is_tabu(moves[k, 0] == 0, moves[k, 1], moves[k, 2], after, tabu.pairs, step):
                continue
        if value < least:
            chosen, least, ties = k, value, 1
        else:
            ties += 1
            if random_below(dice, ties) == 0:
                chosen = k
    return chosen if chosen >= 0 else random_below(dice, many)


@jit_compiled
def apply_move(shop: Shop, move: Array, selection: Selection, order: Order, tabu: Tabu, until: int) -> tuple[int, int]:
    """Make a move and forbid, until a step, what would undo it; return the first and last place of the order it touched."""
    machine, before, after, place = selection.machine, selection.before, selection.after, order.place
    one, two = move[1], move[2]
    if move[0] == 2:
        tabu.machines[one, machine[one]] = until
        remove_from_machine(one, selection)
        insert_on_machine(one, move[3], two, selection)
        selection.work[one] = move[5]
        at, following = place[one], after[one]
        if two >= 0 and place[two] > at:
            high = place[two]
            move_forward_in_order(shop, at, high, before, order)
            return at, high
        if following >= 0 and place[following] < at:
            low = place[following]
            move_backward_in_order(shop, low, at, after, order)
            return low, at
        return at, at
    at = one
    while at != two:
        if move[0] == 0:
            at = after[at]
            tabu.pairs[one, at] = until
        else:
            tabu.pairs[at, two] = until
            at = after[at]
    low, high = place[one], place[two]
    if move[0] == 0:
        remove_from_machine(one, selection)
        insert_on_machine(one, machine[two], two, selection)
        move_forward_in_order(shop, low, high, before, order)
    else:
        remove_from_machine(two, selection)
        insert_on_machine(two, machine[one], before[one], selection)
        move_backward_in_order(shop, low, high, after, order)
    return low, high


@jit_compiled
def tabu_search(
    shop: Shop, selection: Selection, best: Best, tabu: Tabu, dice: Array, steps: int, patience: int, lower_bound: int
) -> None:
    """Take up to `steps` steps, fewer at the lower bound or `patience` steps after the last improvement.

    Tabu marks hold step numbers, so they stay good from call to call.
    """
    size, values = selection.work.shape[0], best.values
    paths = Paths(np.zeros(size, np.int64), np.zeros(size, np.int64), np.zeros(size, np.int64))
    order = Order(np.zeros(size, np.int64), np.zeros(size, np.int64), np.zeros(size, np.int64), np.zeros(size, np.int64))
    path = np.zeros(size, np.int64)
    moves = np.zeros((MOST_MOVES, 6), np.int64)
    ends = np.nonzero(shop.job_end)[0]
    tenure = 10 + size // max(1, selection.front.shape[0] * selection.front.shape[0])
    if not write_topological_order(shop, selection, order):
        values[3] = 1
        return
    low, high = 0, size - 1
    for _ in range(steps):
        values[1] += 1
        makespan = longest_paths(shop, selection, paths, order.line, low, high, ends)
        if makespan < values[0]:
            values[0], values[2] = makespan, values[1]
            best.heads[:] = paths.heads
            best.machine[:] = selection.machine
        if values[0] <= lower_bound or values[1] - values[2] > patience:
            values[3] = 1
            return
        length = critical_path(shop, selection, paths.heads, makespan, dice, path)
        many = write_neighbourhood(shop, selection, paths, path, length, moves)
        if many == 0:
            values[3] = 1  # one job from end to end, or a machine that never waits
            return
        k = choose_move(moves, many, selection.after, tabu, values[1], values[0], dice)
        until = values[1] + tenure + random_below(dice, tenure)
        low, high = apply_move(shop, moves[k], selection, order, tabu, until)
