"""Large timetables by moves on the list: what made a late job late goes elsewhere. Compiled loops; see `lists`, `shop`.

Annealing (Kirkpatrick, Gelatt and Vecchi 1983, Science 220: 671-680) over lists of operations. A move walks back from the
end of a late job along what each operation waited for, picks a place where one waited for its machine, and lets it pass
what was before it, or takes either of the two elsewhere; as critical arcs for weighted tardiness (Kreipl 2000, Journal of
Scheduling 3(3): 125-138). Only the list behind the earliest place that changed is run again.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from solver.domain.timetable import ScheduleJob, Slot
from solver.jit import COMPILED, compiled
from solver.scheduling.lists import BLOCK, TOO_MUCH, run
from solver.scheduling.orders import roll
from solver.scheduling.shop import Shop, order_of, shop_of, slots_of
from solver.scheduling.starts import start_lists
from solver.search import Search

Array = Any
LARGE = 1_200  # operations from which the constraint program's model is no help
HOT, COLD = 0.006, 0.015  # the first temperature as a share of the first cost, the last as a share of the first


@compiled
def shift(order: Array, place: Array, low: int, high: int) -> None:
    """Move what stands at `high` of a list to `low` (or from low to high where high < low)."""
    n = order[high]
    step = -1 if low < high else 1
    for position in range(high, low, step):
        order[position] = order[position + step]
        place[order[position]] = position
    order[low] = n
    place[n] = low


@compiled
def earliest(shop: Shop, place: Array, n: int) -> int:
    """Return the first position of a list at which an operation can stand, as to what it waits for."""
    low = 0
    for k in range(shop.before_at[n], shop.before_at[n + 1]):
        low = max(low, place[shop.before[k]] + 1)
    return int(low)


@compiled
def latest(shop: Shop, place: Array, n: int) -> int:
    """Return the last position of a list at which an operation can stand, as to what waits for it."""
    high = place.shape[0] - 1
    for k in range(shop.after_at[n], shop.after_at[n + 1]):
        high = min(high, place[shop.after[k]] - 1)
    return int(high)


@compiled
def late_end(shop: Shop, end: Array, ends: Array, dice: Array) -> int:
    """Return an operation that ends a job: of three drawn the one that costs most; mostly a late one."""
    best, most = ends[roll(dice, ends.shape[0])], -1
    for _ in range(4):
        n = ends[roll(dice, ends.shape[0])]
        late = max(0, end[n] + shop.hold[n] - shop.due[n]) * shop.weight[n]
        if late > most:
            best, most = n, late
    return int(best)


@compiled
def waiting(shop: Shop, trail: Array, follows: Array, n: int, found: Array, dice: Array) -> int:
    """Write the operations that waited for their machine, back from n; return how many."""
    many = 0
    while n >= 0 and many < found.shape[0]:
        why = trail[n]
        if why <= -2:
            found[many] = n
            many += 1
            n = -2 - why
        else:
            if roll(dice, 8) == 0 and follows[n] >= 0 and shop.pinned[n] == 0:
                found[many] = n
                many += 1
            n = why
    return many


@compiled
def propose(
    shop: Shop,
    order: Array,
    place: Array,
    pick: Array,
    trail: Array,
    follows: Array,
    end: Array,
    ends: Array,
    found: Array,
    dice: Array,
) -> int:
    """Change a list in one way; return the first position that changed, or -1: nothing did."""
    size = order.shape[0]
    n = -1
    if roll(dice, 10) > 0:
        many = waiting(shop, trail, follows, late_end(shop, end, ends, dice), found, dice)
        if many > 0:
            n = found[roll(dice, many)]
    if n < 0:
        n = roll(dice, size)
    if shop.pinned[n] == 1:
        return -1
    choices = shop.lane_at[n + 1] - shop.lane_at[n]
    way = roll(dice, 10)
    if choices > 1 and way < 3:
        other = shop.lane_at[n] + roll(dice, choices)
        if other == pick[n]:
            return -1
        pick[n] = other
        position = place[n]
        low, high = earliest(shop, place, n), latest(shop, place, n)
        goal = min(high, max(low, position - 20 + roll(dice, 41)))
        if goal != position:
            shift(order, place, goal, position)
        return int(min(goal, position))
    u = follows[n]
    if u < 0:
        return -1
    if way < 8:  # n goes before u, or before one farther back
        for _ in range(_steps(dice)):
            if follows[u] < 0:
                break
            u = follows[u]
        low, position = earliest(shop, place, n), place[n]
        goal = max(low, place[u])
        if goal < position:
            if shop.pinned[u] == 1 and goal <= place[u]:
                return -1
            shift(order, place, goal, position)
            return int(goal)
        return -1
    if shop.pinned[u] == 1:
        return -1
    position, high = place[u], latest(shop, place, u)
    goal = min(high, place[n] + (roll(dice, 40) if roll(dice, 2) == 0 else 0))
    if goal <= position:
        return -1
    shift(order, place, goal, position)
    return int(position)


@compiled
def _steps(dice: Array) -> int:
    """A few steps, more of them ever less likely."""
    steps = 0
    while steps < 24 and roll(dice, 10) < 5:
        steps += 1
    return steps


@compiled
def anneal(
    shop: Shop,
    steps: int,
    heat: float,
    order: Array,
    pick: Array,
    best_order: Array,
    best_pick: Array,
    values: Array,
    ends: Array,
    dice: Array,
) -> None:
    """Try moves at one temperature. `values`: cost now, least cost, moves tried."""
    size, machines = order.shape[0], shop.takes.shape[0]
    blocks = size // BLOCK + 1
    start, end = np.zeros(size, np.int64), np.zeros(size, np.int64)
    trail, follows = np.zeros(size, np.int64), np.zeros(size, np.int64)
    last = np.full((blocks, machines), -1, np.int64)
    people, sums = np.zeros((blocks, shop.people_at[-1]), np.int64), np.zeros(blocks, np.int64)
    values[0] = run(shop, order, pick, 0, TOO_MUCH, start, end, trail, follows, last, people, sums)
    place = np.empty(size, np.int64)
    for position in range(size):
        place[order[position]] = position
    t_order, t_pick, t_place = order.copy(), pick.copy(), place.copy()
    t_start, t_end, t_trail, t_follows = start.copy(), end.copy(), trail.copy(), follows.copy()
    t_last, t_people, t_sums = last.copy(), people.copy(), sums.copy()
    found = np.empty(size, np.int64)
    for _ in range(steps):
        values[2] += 1
        first = propose(shop, t_order, t_place, t_pick, trail, follows, end, ends, found, dice)
        if first < 0:
            continue
        block = first // BLOCK
        limit = values[0] + np.int64(-heat * np.log((roll(dice, 1_000_000) + 1) / 1_000_001))
        cost = run(shop, t_order, t_pick, block, limit, t_start, t_end, t_trail, t_follows, t_last, t_people, t_sums)
        low = block * BLOCK
        if cost <= limit:
            values[0] = cost
            order[low:] = t_order[low:]
            place[:], pick[:] = t_place, t_pick
            start[:], end[:], trail[:], follows[:] = t_start, t_end, t_trail, t_follows
            last[block:], people[block:], sums[block:] = t_last[block:], t_people[block:], t_sums[block:]
            if cost < values[1]:
                values[1] = cost
                best_order[:], best_pick[:] = order, pick
        else:
            t_order[low:] = order[low:]
            t_place[:], t_pick[:] = place, pick
            t_start[:], t_end[:], t_trail[:], t_follows[:] = start, end, trail, follows
            t_last[block:], t_people[block:], t_sums[block:] = last[block:], people[block:], sums[block:]


@dataclass(frozen=True, slots=True)
class Found:
    """A list with its times: operations in order, machines as picked, start and end by operation."""

    order: Array
    pick: Array
    start: Array
    end: Array
    cost: int


def timed(shop: Shop, order: Array, pick: Array) -> Found:
    """Return a list's timetable; cost TOO_MUCH where a pinned operation would have to move."""
    size = len(order)
    start, end, trail, follows = (np.zeros(size, np.int64) for _ in range(4))
    blocks = size // BLOCK + 1
    last = np.full((blocks, shop.takes.shape[0]), -1, np.int64)
    people, sums = np.zeros((blocks, int(shop.people_at[-1])), np.int64), np.zeros(blocks, np.int64)
    cost = int(run(shop, order, pick, 0, TOO_MUCH, start, end, trail, follows, last, people, sums))
    return Found(order, pick, start, end, cost)


def improve(shop: Shop, begun: Found, search: Search) -> Found:
    """Return the best list found from one that is sound, until the time is over or nothing costs anything."""
    ends = np.flatnonzero(shop.counted).astype(np.int64)
    if begun.cost >= TOO_MUCH or begun.cost == 0 or len(begun.order) < 2 or not len(ends) or search.over():
        return begun
    order, pick = begun.order.copy(), begun.pick.copy()
    best_order, best_pick = order.copy(), pick.copy()
    values = np.array([begun.cost, begun.cost, 0], np.int64)
    dice = np.array([search.seed % 2147483646 + 1], np.int64)
    anneal(shop, 1, 1.0, order, pick, best_order, best_pick, values, ends, dice)  # compiles, where that was not done yet
    hot = max(1.0, HOT * begun.cost)
    whole = max(1e-6, search.left_s())
    chunk = min(4_000, max(1, 6_000_000 // len(order))) if COMPILED else 5
    while not search.over():
        gone = min(1.0, 1 - search.left_s() / whole)
        anneal(shop, chunk, hot * COLD**gone, order, pick, best_order, best_pick, values, ends, dice)
        search.tell("lateness by moves", gone)
    return timed(shop, best_order, best_pick)


def is_large(task: ScheduleJob) -> bool:
    """Return whether a job is one for this search: lateness counts, and there are more operations than one model holds."""
    late = task.objective == "weighted_tardiness" and any(job.due is not None for job in task.jobs)
    return late and not task.same_order and sum(len(job.operations) for job in task.jobs) >= LARGE


def improve_large(task: ScheduleJob, slots: tuple[Slot, ...] | None, search: Search) -> tuple[Slot, ...]:
    """Return the best timetable found from one that is sound (None: from dispatch rules only), within the search's time."""
    shop, named = shop_of(task)
    lists = start_lists(shop)
    if slots is not None:
        lists.append(order_of(named, shop, slots))
    begun = min((timed(shop, order, pick) for order, pick in lists), key=lambda found: found.cost)
    best = improve(shop, begun, search)
    return slots_of(named, shop, best.pick, best.start, best.end)


def best_rule(task: ScheduleJob) -> tuple[Slot, ...]:
    """Return the timetable of the best of the rules that hand urgency up."""
    shop, named = shop_of(task)
    best = min((timed(shop, order, pick) for order, pick in start_lists(shop)), key=lambda found: found.cost)
    return slots_of(named, shop, best.pick, best.start, best.end)
