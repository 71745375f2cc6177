"""The order of one machine by itself, annealed: what everything else costs is read off a table by when its work ends there.

A relaxation: before the machine each operation comes as early as what it waits for allows, behind it the one line that leaves
least to spare is followed, both with nothing in their way. A job with a due date costs what the worst of its operations
says. The bottleneck decides first, as in Adams, Balas and Zawack (1988, Management Science 34(3): 391-401); annealing by
Kirkpatrick, Gelatt and Vecchi (1983, Science 220: 671-680).
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from solver.jit import COMPILED, jit_compiled
from solver.random_numbers import random_below, seeded_state
from solver.scheduling.lists.decoding import fit_in_open_time
from solver.scheduling.lists.machine_group_bound import due_job_of_operations, earliest_times_alone, least_costs_by_bucket
from solver.scheduling.lists.rules import latest_starts
from solver.scheduling.lists.shop import NEVER, ClosedTimes, Shop, precedence_depths

Array = Any
PIECE, MOST_CELLS = 900, 400_000  # pieces of time of a table of costs at least, cells of it about at most
FAR = 2**61
LINE_MOVES = 60_000 if COMPILED else 20  # for each operation: from so many on another run finds more than a longer one
LONGEST_MOVED = 8
NEARBY = 10


class OneMachineRelaxation(NamedTuple):
    """Operations that one machine alone can do, numbered in the shop's order."""

    operations: Array  # their numbers in the shop
    machine: int
    shut: ClosedTimes
    heads: Array  # each comes no earlier
    work: Array
    pause: Array
    family: Array
    gaps: Array  # set-up, family before, family after; the last row: at the beginning
    job: Array  # of those with due dates the one that each is counted for, by number; -1: none
    costs: Array  # by operation, piece of time: what the job costs if it ends there
    slope: Array  # by operation: what a unit of time more costs behind the table
    piece: int
    setup: int  # what a unit of set-up costs


def one_machine_relaxation(shop: Shop, machine: int) -> OneMachineRelaxation | None:
    """Return the relaxation of one machine, None where it alone does less than two operations."""
    deep = precedence_depths(shop)
    _, ended = earliest_times_alone(shop, np.argsort(deep, kind="stable"))
    owner, follower = due_job_of_operations(shop, deep)
    only = np.diff(shop.lane_at) == 1
    mine = np.flatnonzero(only & (shop.lane[shop.lane_at[:-1]] == machine)).astype(np.int64)
    if len(mine) < 2:
        return None
    heads = shop.release[mine].copy()
    for k, n in enumerate(mine):
        for other in shop.before[shop.before_at[n] : shop.before_at[n + 1]]:
            heads[k] = max(heads[k], ended[other] + shop.hold[other])
    work = shop.work[shop.lane_at[mine]]
    last_due = int(shop.due[shop.due < NEVER].max(initial=0))
    long = max(last_due, int(ended[mine].max())) + last_due // 2
    piece = max(PIECE, long * len(mine) // MOST_CELLS)
    edges = np.arange(0, long + piece, piece, dtype=np.int64)
    owned = owner[mine]
    costs = np.zeros((len(mine), len(edges)), np.int64)
    due = owned >= 0
    costs[due] = least_costs_by_bucket(shop, mine[due], owner, follower, ended, edges) * shop.goals.tardiness
    known = np.unique(owned[due])
    job = np.where(due, np.searchsorted(known, owned), -1)
    slope = np.where(due, shop.weight[owned] * shop.goals.tardiness, 0)
    first = shop.initial[machine]
    gaps = shop.setup[machine]
    gaps = np.vstack([gaps, gaps[first] if first >= 0 else np.zeros(len(gaps), np.int64)])
    return OneMachineRelaxation(
        mine, machine, shop.shut, heads, work, shop.pause[mine], shop.family[mine], gaps, job, costs, slope, piece,
        int(shop.goals.setup),
    )  # fmt: skip


@jit_compiled
def completion_cost(line: OneMachineRelaxation, one: int, end: int) -> int:
    """Return what an operation that ends at a time makes its job cost."""
    n, last = (end + line.piece - 1) // line.piece, line.costs.shape[1] - 1
    if n <= last:
        return int(line.costs[one, n])
    return int(line.costs[one, last] + line.slope[one] * (end - last * line.piece))


@jit_compiled
def sequence_cost(
    line: OneMachineRelaxation, order: Array, low: int, high: int, limit: int, old: Array, new: Array, worst: Array
) -> int:
    """Return what an order costs; above `limit` it may be less.

    Only places from `low` on differ from the order whose ends and costs, by place, are `old`, and behind `high` the operations
    are the same: where an end is too, the rest is. The new ends and costs go into `new` from `low` on.
    `worst`: by job, to work with.
    """
    worst[:] = 0
    total, at, before = 0, 0, line.gaps.shape[0] - 1
    for k in range(low):
        job = line.job[order[k]]
        total += old[k, 2]
        if job >= 0 and old[k, 1] > worst[job]:
            total += old[k, 1] - worst[job]
            worst[job] = old[k, 1]
    if low > 0:
        at, before = old[low - 1, 0], line.family[order[low - 1]]
    same = False
    for k in range(low, order.shape[0]):
        one = order[k]
        if same:
            new[k, 0], new[k, 1], new[k, 2] = old[k, 0], old[k, 1], old[k, 2]
        else:
            gap = line.gaps[before, line.family[one]]
            ready = at + gap
            ready = max(ready, line.heads[one])
            _, at = fit_in_open_time(line.shut, line.machine, ready, line.work[one], line.pause[one])
            before = line.family[one]
            new[k, 0], new[k, 1], new[k, 2] = at, completion_cost(line, one, at), gap * line.setup
            same = k > high and at == old[k, 0]
        total += new[k, 2]
        job = line.job[one]
        if job >= 0 and new[k, 1] > worst[job]:
            total += new[k, 1] - worst[job]
            worst[job] = new[k, 1]
        if total > limit:
            return int(total)
    return int(total)


@jit_compiled
def write_random_exchange(line: OneMachineRelaxation, order: Array, trial: Array, dice: Array) -> tuple[int, int]:
    """Write an order with two operations exchanged, or one, a few in a row or a run of one family elsewhere, into `trial`.

    Return the first and last place that changed; the first is higher where nothing did.
    """
    size, way = order.shape[0], random_below(dice, 10)
    a = random_below(dice, size)
    if way < 3:
        b = random_below(dice, size)
        trial[a], trial[b] = trial[b], trial[a]
        return (min(a, b), max(a, b)) if a != b else (1, 0)
    many = 1
    if way == 9:
        many = min(1 + random_below(dice, LONGEST_MOVED), size - a)
    elif way >= 7:
        family = line.family[order[a]]
        while a > 0 and line.family[order[a - 1]] == family:
            a -= 1
        while a + many < size and line.family[order[a + many]] == family:
            many += 1
    spare = size - many
    b = random_below(dice, spare + 1)
    where = random_below(dice, 4)
    if where < 2:
        b = max(0, min(spare, a - NEARBY + random_below(dice, 2 * NEARBY + 1)))
    elif where == 2 and many == 1:  # beside one of its family
        for _ in range(size):
            b = random_below(dice, size)
            if b != a and line.family[order[b]] == line.family[order[a]]:
                break
    if a == b:
        return 1, 0
    if b < a:
        for k in range(b, a):
            trial[k + many] = order[k]
    else:
        for k in range(a + many, b + many):
            trial[k - many] = order[k]
    for k in range(many):
        trial[b + k] = order[a + k]
    return min(a, b), max(a, b) + many - 1


@jit_compiled
def anneal_sequence(
    line: OneMachineRelaxation, order: Array, best: Array, values: Array, moves: int, heat: float, dice: Array
) -> None:
    """Try changes at one temperature. `values`: what `order` and `best` cost."""
    size = order.shape[0]
    old, new = np.zeros((size, 3), np.int64), np.zeros((size, 3), np.int64)
    worst = np.zeros(line.job.max() + 2, np.int64)
    values[0] = sequence_cost(line, order, 0, size, FAR, old, old, worst)
    trial = order.copy()
    for _ in range(moves):
        low, high = write_random_exchange(line, order, trial, dice)
        if low > high:
            continue
        limit = values[0] + int(-heat * np.log((random_below(dice, 1_000_000) + 1) / 1_000_001))
        cost = sequence_cost(line, trial, low, high, limit, old, new, worst)
        if cost > limit:
            trial[low : high + 1] = order[low : high + 1]
            continue
        order[low : high + 1] = trial[low : high + 1]
        old[low:] = new[low:]
        values[0] = cost
        if cost < values[1]:
            best[:] = order
            values[1] = cost


def busiest_machine(shop: Shop) -> int:
    """Return the machine whose own work, which no other can do, fills most of its open time until the last due date."""
    only = np.diff(shop.lane_at) == 1
    long = int(shop.due[shop.due < NEVER].max(initial=1))
    work = np.zeros(len(shop.takes), np.int64)
    np.add.at(work, shop.lane[shop.lane_at[:-1][only]], shop.work[shop.lane_at[:-1][only]])
    shares = [work[m] / max(1, open_time(shop, m, long)) for m in range(len(work))]
    return int(np.argmax(shares))


def open_time(shop: Shop, machine: int, until: int) -> int:
    """Return how long a machine is open until a time."""
    low, high = shop.shut.at[machine], shop.shut.at[machine + 1]
    shut = np.minimum(shop.shut.end[low:high], until) - np.minimum(shop.shut.begin[low:high], until)
    return int(until - shut.sum())


class SequenceAnnealingChain:
    """One worker's annealing of the order on one machine."""

    def __init__(self, shop: Shop, line: OneMachineRelaxation, seed: int) -> None:
        """Begin in order of latest starts."""
        self.shop, self.line = shop, line
        self.dice = seeded_state(seed)
        self.again()

    def again(self) -> None:
        """Begin anew; the dice go on."""
        last_start, _ = latest_starts(self.shop)
        self.order = np.argsort(last_start[self.line.operations], kind="stable").astype(np.int64)
        self.best, cost = self.order.copy(), sequence_costs(self.line, self.order)[0]
        self.values = np.array([cost, cost], np.int64)

    def anneal_on(self, moves: int, heat: float) -> None:
        """Try moves at one temperature."""
        anneal_sequence(self.line, self.order, self.best, self.values, moves, heat, self.dice)

    def dispatch_targets(self) -> tuple[Array, Array, Array]:
        """Return what a rule needs to list all else around the best order found: latest starts, weights, and the order.

        The order is told as `dispatch` takes it: of each operation which one is to come later.
        """
        operations = self.line.operations[self.best]
        behind = np.full(len(self.shop.release), -1, np.int64)
        behind[operations[:-1]] = operations[1:]
        ends = sequence_costs(self.line, self.best)[1][:, 0]
        return *latest_starts(self.shop, dict(zip(operations.tolist(), ends.tolist(), strict=True))), behind


def sequence_moves_per_chunk(line: OneMachineRelaxation) -> int:
    """Return how many moves are made between two looks at the clock."""
    return min(50_000, max(1_000, 4_000_000 // len(line.operations))) if COMPILED else 50


def sequence_costs(line: OneMachineRelaxation, order: Array) -> tuple[int, Array]:
    """Return what an order costs; and by place its end, its job's cost and its set-up's cost."""
    places, worst = np.zeros((len(order), 3), np.int64), np.zeros(int(line.job.max(initial=-1)) + 2, np.int64)
    return int(sequence_cost(line, order, 0, len(order), FAR, places, places, worst)), places
