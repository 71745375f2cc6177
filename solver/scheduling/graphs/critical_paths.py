"""Inner loops of the tabu search on shops: longest paths, moves on a critical path, and what each would make of it.

Operations are numbered, those of a job as neighbours; -1 stands for none.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from solver.jit import jit_compiled
from solver.random_numbers import random_below

Array = Any
FAR = 2**60


class Shop(NamedTuple):
    """A shop as arrays, by operation where nothing else is said."""

    job_end: Array  # 1: its job's last
    lag: Array  # its hold
    release: Array
    family: Array
    setup: Array  # by machine, family, family; of size 0 without set-ups
    first: Array  # set-up of a family as a machine's first, by machine and family; of size 0 without set-ups
    choice_at: Array  # where its choices begin in the two below; one more than there are operations
    choice_machine: Array
    choice_work: Array


class Selection(NamedTuple):
    """Which machine does each operation, and in which order: the selection of a disjunctive graph (Roy and Sussmann 1964)."""

    machine: Array
    work: Array
    before: Array  # on its machine
    after: Array
    front: Array  # the first operation, by machine


class Paths(NamedTuple):
    """Longest paths through the graph of a selection."""

    heads: Array  # until the operation starts
    tails: Array  # from its start on
    trial: Array  # heads as a move would make them


class Order(NamedTuple):
    """An order of all operations in which each comes behind what it waits for, and room to change it."""

    line: Array
    place: Array  # in the line, by operation
    mark: Array
    held: Array


@jit_compiled
def setup_between(shop: Shop, machine: int, one: int, two: int) -> int:
    """Return the set-up on a machine from operation `one` (-1: what it was set for at first) to `two` (-1: none follows)."""
    family, setup, first = shop.family, shop.setup, shop.first
    if setup.shape[0] == 0 or two < 0:
        return 0
    if one < 0:
        return int(first[machine, family[two]])
    return int(setup[machine, family[one], family[two]])


@jit_compiled
def job_ready_time(shop: Shop, work: Array, heads: Array, n: int) -> int:
    """Return when operation n may start for its job."""
    job_end, lag, release = shop.job_end, shop.lag, shop.release
    if n > 0 and job_end[n - 1] == 0:
        return int(max(release[n], heads[n - 1] + work[n - 1] + lag[n - 1]))
    return int(release[n])


@jit_compiled
def job_tail(shop: Shop, tails: Array, n: int) -> int:
    """Return what its job still needs after operation n."""
    job_end, lag = shop.job_end, shop.lag
    return int(lag[n] + (0 if job_end[n] == 1 else tails[n + 1]))


@jit_compiled
def write_topological_order(shop: Shop, selection: Selection, order: Order) -> bool:
    """Fill an order in which every operation comes after what it waits for; False: there is a circle."""
    job_end, before, after = shop.job_end, selection.before, selection.after
    line, place = order.line, order.place
    size = line.shape[0]
    made, at = 0, 0
    waits = np.zeros(size, np.int64)
    for n in range(size):
        waits[n] = (1 if n > 0 and job_end[n - 1] == 0 else 0) + (1 if before[n] >= 0 else 0)
        if waits[n] == 0:
            line[made] = n
            made += 1
    while at < made:
        n = line[at]
        place[n] = at
        at += 1
        for k in range(2):
            other = after[n] if k == 1 else (n + 1 if job_end[n] == 0 else -1)
            if other >= 0:
                waits[other] -= 1
                if waits[other] == 0:
                    line[made] = other
                    made += 1
    return bool(made == size)


@jit_compiled
def move_forward_in_order(shop: Shop, low: int, high: int, before: Array, order: Order) -> None:
    """Move line[low], with what waits for it, behind line[high]: the pair's order has just been reversed."""
    job_end = shop.job_end
    line, place, mark, held = order
    many, to = 0, low
    for k in range(low, high + 1):
        n = line[k]
        job, other = n > 0 and job_end[n - 1] == 0 and mark[n - 1] == 1, before[n]
        if k == low or job or (other >= 0 and mark[other] == 1):
            mark[n] = 1
            held[many] = n
            many += 1
        else:
            line[to] = n
            place[n] = to
            to += 1
    for k in range(many):
        n = held[k]
        mark[n] = 0
        line[to + k] = n
        place[n] = to + k


@jit_compiled
def move_backward_in_order(shop: Shop, low: int, high: int, after: Array, order: Order) -> None:
    """Move line[high], with what it waits for, before line[low]."""
    job_end = shop.job_end
    line, place, mark, held = order
    many, to = 0, high
    for k in range(high, low - 1, -1):
        n = line[k]
        job, other = job_end[n] == 0 and mark[n + 1] == 1, after[n]
        if k == high or job or (other >= 0 and mark[other] == 1):
            mark[n] = 1
            held[many] = n
            many += 1
        else:
            line[to] = n
            place[n] = to
            to -= 1
    for k in range(many):
        n = held[k]
        mark[n] = 0
        line[to - k] = n
        place[n] = to - k


@jit_compiled
def longest_paths(shop: Shop, selection: Selection, paths: Paths, line: Array, low: int, high: int, ends: Array) -> int:
    """Renew heads (earliest starts) from line[low] on and tails (own work and what must follow) back from line[high].

    `ends`: the last operations of the jobs. Returns the makespan.
    """
    machine, work, before, after = selection.machine, selection.work, selection.before, selection.after
    heads, tails = paths.heads, paths.tails
    for k in range(low, line.shape[0]):
        n = line[k]
        other = before[n]
        came = setup_between(shop, machine[n], other, n)
        if other >= 0:
            came += heads[other] + work[other]
        heads[n] = max(job_ready_time(shop, work, heads, n), came)
    for k in range(high, -1, -1):
        n = line[k]
        left = job_tail(shop, tails, n)
        other = after[n]
        if other >= 0:
            left = max(left, setup_between(shop, machine[n], n, other) + tails[other])
        tails[n] = left + work[n]
    makespan = 0
    for n in ends:
        makespan = max(makespan, heads[n] + work[n] + shop.lag[n])
    return int(makespan)


@jit_compiled
def critical_path(shop: Shop, selection: Selection, heads: Array, makespan: int, dice: Array, path: Array) -> int:
    """Write a random critical path into `path`, first operation first; return its length."""
    machine, work, before = selection.machine, selection.work, selection.before
    size = work.shape[0]
    many, at = 0, 0
    for n in range(size):  # a random last operation among the critical ones
        if heads[n] + work[n] + shop.lag[n] == makespan and shop.job_end[n] == 1:
            many += 1
            if random_below(dice, many) == 0:
                at = n
    length = 0
    while True:
        path[length] = at
        length += 1
        by_job = at > 0 and shop.job_end[at - 1] == 0 and heads[at - 1] + work[at - 1] + shop.lag[at - 1] == heads[at]
        other = before[at]
        by_machine = other >= 0 and heads[other] + work[other] + setup_between(shop, machine[at], other, at) == heads[at]
        if by_job and (not by_machine or random_below(dice, 2) == 0):
            at = at - 1
        elif by_machine:
            at = other
        else:
            break
    for k in range(length // 2):
        path[k], path[length - 1 - k] = path[length - 1 - k], path[k]
    return length


@jit_compiled
def estimate_move_after(shop: Shop, selection: Selection, paths: Paths, one: int, two: int) -> int:
    """Return the longest way through `one` to `two` once `one` comes right after `two` (Balas and Vazacopoulos 1998)."""
    machine, work, before, after = selection.machine, selection.work, selection.before, selection.after
    heads, tails, new = paths
    at, last = after[one], before[one]
    m = machine[one]
    came = setup_between(shop, m, last, at)
    if last >= 0:
        came += heads[last] + work[last]
    while True:
        new[at] = max(job_ready_time(shop, work, heads, at), came)
        following = one if at == two else after[at]
        came = new[at] + work[at] + setup_between(shop, m, at, following)
        if at == two:
            break
        at = following
    new[one] = max(job_ready_time(shop, work, heads, one), came)
    last = after[two]
    left = job_tail(shop, tails, one)
    if last >= 0:
        left = max(left, setup_between(shop, m, one, last) + tails[last])
    left += work[one]
    most = new[one] + left
    at, following = two, one
    while True:
        left = work[at] + max(job_tail(shop, tails, at), setup_between(shop, m, at, following) + left)
        most = max(most, new[at] + left)
        following, at = at, before[at]
        if at == one:
            break
    return int(most)


@jit_compiled
def estimate_move_before(shop: Shop, selection: Selection, paths: Paths, one: int, two: int) -> int:
    """Return the longest way through `one` to `two` once `two` comes right before `one`."""
    machine, work, before, after = selection.machine, selection.work, selection.before, selection.after
    heads, tails, new = paths
    m, last = machine[one], before[one]
    came = setup_between(shop, m, last, two)
    if last >= 0:
        came += heads[last] + work[last]
    new[two] = max(job_ready_time(shop, work, heads, two), came)
    at, earlier = one, two
    while True:
        new[at] = max(job_ready_time(shop, work, heads, at), new[earlier] + work[earlier] + setup_between(shop, m, earlier, at))
        earlier, at = at, after[at]
        if at == two:
            break
    last = after[two]
    at = before[two]
    left, most, following = 0, 0, last
    if last >= 0:
        left = tails[last]
    while True:
        left = work[at] + max(job_tail(shop, tails, at), setup_between(shop, m, at, following) + left)
        most = max(most, new[at] + left)
        following = at
        if at == one:
            break
        at = before[at]
    left = work[two] + max(job_tail(shop, tails, two), setup_between(shop, m, two, one) + left)
    return int(max(most, new[two] + left))


@jit_compiled
def remove_from_machine(n: int, selection: Selection) -> None:
    """Take an operation off its machine's line."""
    before, after, front = selection.before, selection.after, selection.front
    if before[n] >= 0:
        after[before[n]] = after[n]
    else:
        front[selection.machine[n]] = after[n]
    if after[n] >= 0:
        before[after[n]] = before[n]


@jit_compiled
def insert_on_machine(n: int, at: int, behind: int, selection: Selection) -> None:
    """Put an operation on machine `at` behind another (-1: first)."""
    before, after, front = selection.before, selection.after, selection.front
    selection.machine[n] = at
    before[n] = behind
    after[n] = front[at] if behind < 0 else after[behind]
    if behind < 0:
        front[at] = n
    else:
        after[behind] = n
    if after[n] >= 0:
        before[after[n]] = n
