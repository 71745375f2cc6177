"""Operations in a list, each appended to its machine in turn: what the timetable of a list is worth, in compiled loops.

A list in which every operation comes after what it waits for is a timetable: each starts as early as its releases, its
machine, the set-up, the closed times and the people allow after what came before it in the list. `trail[n]` says what
an operation waited for: -1 its release, an operation before it, or, from -2 downwards, -2 - the one before it on its machine.
"""

from __future__ import annotations

from typing import Any

from solver.jit import compiled
from solver.scheduling.shop import Shop

Array = Any
BLOCK = 64  # operations between two notes of how far the machines are
TOO_MUCH = 2**61


@compiled
def fit(low: int, high: int, shut_from: Array, shut_to: Array, time: int, work: int, pause: int) -> tuple[int, int]:
    """Return start and end of work begun at or after a time, between the closed times `low` to `high` of the arrays."""
    if work == 0:
        return time, time
    a, b = low, high  # the first closed time that ends after `time`
    while a < b:
        middle = (a + b) // 2
        if shut_to[middle] <= time:
            a = middle + 1
        else:
            b = middle
    start = time
    if a < high and shut_from[a] <= start:
        start = shut_to[a]
        a += 1
    while a < high and shut_from[a] <= start:
        start = shut_to[a]
        a += 1
    end = start + work
    if pause == 1:
        while a < high and shut_from[a] < end:
            end += shut_to[a] - shut_from[a]
            a += 1
    else:
        while a < high and shut_from[a] < end:
            start = shut_to[a]
            end = start + work
            a += 1
    return start, end


@compiled
def people_free(shop: Shop, free: Array, machine: int) -> int:
    """Return the time from which every pool has the people that a machine takes."""
    at = 0
    for pool in range(shop.takes.shape[1]):
        need = shop.takes[machine, pool]
        if need > 0:
            low = shop.people_at[pool]
            at = max(at, free[low + need - 1])  # free times of a pool are kept in order
    return at


@compiled
def take_people(shop: Shop, free: Array, machine: int, start: int, end: int) -> bool:
    """Let a machine's people work until `end`: those free last before `start`. False: there were not enough."""
    enough = True
    for pool in range(shop.takes.shape[1]):
        low, high = shop.people_at[pool], shop.people_at[pool + 1]
        for _ in range(shop.takes[machine, pool]):
            one = low - 1
            while one + 1 < high and free[one + 1] <= start:
                one += 1
            if one < low:
                enough = False
                one = low
            while one + 1 < high and free[one + 1] < end:
                free[one] = free[one + 1]
                one += 1
            free[one] = max(free[one], end)
    return enough


@compiled
def moved(shop: Shop, n: int, machine: int, start: int) -> int:
    """Return what it costs that an operation is not where it was released, in weighted tardiness."""
    before = shop.pin_start[n]
    if before < 0 or shop.pinned[n] == 1:
        return 0
    cost = 0
    if start != before or machine != shop.pin_lane[n]:
        far = abs(start - before)
        cost += shop.calm[0] + far * shop.calm[3] // shop.calm[4]
        if far > shop.calm[4]:
            cost += shop.calm[2]
    if machine != shop.pin_lane[n]:
        cost += shop.calm[1]
    return cost


@compiled
def run(
    shop: Shop,
    order: Array,
    pick: Array,
    block: int,
    limit: int,
    start: Array,
    end: Array,
    trail: Array,
    follows: Array,
    last: Array,
    people: Array,
    sums: Array,
) -> int:
    """Run a list from one of its blocks on and return its cost; TOO_MUCH once it is over `limit` or cannot be.

    `last[b]`, `people[b]`, `sums[b]`: at the beginning of block b the last operation of each machine (-1: none), when the
    people are free, the cost so far. `follows[n]`: the operation before n on its machine.
    """
    size = order.shape[0]
    release, hold, before_at, before = shop.release, shop.hold, shop.before_at, shop.before
    lane, works, family, setup, initial = shop.lane, shop.work, shop.family, shop.setup, shop.initial
    shut_at, shut_from, shut_to, pause = shop.shut_at, shop.shut_from, shop.shut_to, shop.pause
    pinned, pin_start, counted = shop.pinned, shop.pin_start, shop.counted
    tardiness, setting, flow = shop.goals[0], shop.goals[1], shop.goals[2]
    pooled = shop.takes.shape[1] > 0
    here, free = last[block].copy(), people[block].copy()
    cost = sums[block]
    for position in range(block * BLOCK, size):
        if position % BLOCK == 0:
            last[position // BLOCK] = here
            people[position // BLOCK] = free
            sums[position // BLOCK] = cost
        n = order[position]
        machine, work = lane[pick[n]], works[pick[n]]
        ready, why = release[n], -1
        for k in range(before_at[n], before_at[n + 1]):
            other = before[k]
            if end[other] + hold[other] > ready:
                ready, why = end[other] + hold[other], other
        other = here[machine]
        follows[n] = other
        gap, clear = 0, 0
        if other >= 0:
            gap = setup[machine, family[other], family[n]]
            clear = end[other] + gap
        elif initial[machine] >= 0:
            gap = setup[machine, initial[machine], family[n]]
            clear = gap
        if clear > ready:
            ready, why = clear, -2 - other
        if pinned[n] == 1:
            if clear > pin_start[n]:
                return TOO_MUCH
            start[n], end[n] = pin_start[n], shop.pin_end[n]
            if pooled:
                take_people(shop, free, machine, start[n], end[n])
        else:
            if pooled and work > 0:
                ready = max(ready, people_free(shop, free, machine))
            first, high = shut_at[machine], shut_at[machine + 1]
            start[n], end[n] = fit(first, high, shut_from, shut_to, ready, work, pause[n])
            if pooled and work > 0:
                take_people(shop, free, machine, start[n], end[n])
        trail[n] = why
        here[machine] = n
        cost += gap * setting
        if pin_start[n] >= 0:
            cost += moved(shop, n, machine, start[n]) * tardiness
        if counted[n] == 1:
            done = end[n] + hold[n]
            cost += (done - release[n]) * flow
            if done > shop.due[n]:
                cost += ((done - shop.due[n]) * shop.weight[n] + shop.fixed[n]) * tardiness
        if cost > limit:
            return TOO_MUCH
    return int(cost)
