"""Operations in a list, each appended to its machine in turn: what the timetable of a list is worth, in compiled loops.

A list in which every operation comes after what it waits for is a timetable: each starts as early as its releases, its
machine, the set-up, the closed times and the people allow after what came before it in the list. `trail[n]` says what
an operation waited for: -1 its release, an operation before it, or, from -2 downwards, -2 - the one before it on its machine.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from solver.jit import jit_compiled
from solver.scheduling.lists.shop import BUCKETS, ClosedTimes, Shop

Array = Any
TOO_MUCH = 2**61


@jit_compiled
def fit_in_open_time(shut: ClosedTimes, machine: int, time: int, work: int, pause: int) -> tuple[int, int]:
    """Return start and end of work begun on a machine at or after a time, between its closed times."""
    if work == 0:
        return time, time
    a, high = shut.near[machine, min(time // shut.piece, BUCKETS - 1)], shut.at[machine + 1]
    while a < high and shut.end[a] <= time:
        a += 1
    start = time
    while a < high and shut.begin[a] <= start:
        start = shut.end[a]
        a += 1
    end = start + work
    if pause == 1:
        while a < high and shut.begin[a] < end:
            end += shut.end[a] - shut.begin[a]
            a += 1
    else:
        while a < high and shut.begin[a] < end:
            start = shut.end[a]
            end = start + work
            a += 1
    return start, end


@jit_compiled
def people_free_from(shop: Shop, free: Array, machine: int) -> int:
    """Return the time from which every pool has the people that a machine takes."""
    at = 0
    for pool in range(shop.takes.shape[1]):
        need = shop.takes[machine, pool]
        if need > 0:
            low = shop.people_at[pool]
            at = max(at, free[low + need - 1])  # free times of a pool are kept in order
    return at


@jit_compiled
def occupy_people(shop: Shop, free: Array, machine: int, start: int, end: int) -> bool:
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


@jit_compiled
def displacement_cost(shop: Shop, n: int, machine: int, start: int) -> int:
    """Return what it costs that an operation is not where it was released."""
    before = shop.pin_start[n]
    if before < 0 or shop.pinned[n] == 1:
        return 0
    cost = 0
    if start != before or machine != shop.pin_lane[n]:
        far = abs(start - before)
        cost += shop.moves.move + far * shop.moves.by_shift // shop.moves.shift
        if far > shop.moves.shift:
            cost += shop.moves.far
    if machine != shop.pin_lane[n]:
        cost += shop.moves.machine
    return cost


class DecodedList(NamedTuple):
    """A list and its timetable; all but `order` and `front` by operation."""

    order: Array
    place: Array  # where it stands in the list
    pick: Array  # where in `lane` its machine stands
    start: Array
    end: Array
    trail: Array  # what it waited for
    follows: Array  # the one before it on its machine; -1: none
    then: Array  # the one behind it there
    front: Array  # by machine: the first one
    cost: Array  # what it adds to the cost
    marks: Array  # 1: to be timed again
    log: Array  # what was there before: operation, start, end, trail, cost


def undecoded_list(shop: Shop, order: Array, pick: Array) -> DecodedList:
    """Return a list that is not timed yet: every operation marked."""
    size = len(order)
    place = np.empty(size, np.int64)
    place[order] = np.arange(size)
    follows, then = np.full(size, -1, np.int64), np.full(size, -1, np.int64)
    last, front = np.full(len(shop.takes), -1, np.int64), np.full(len(shop.takes), -1, np.int64)
    for n in order:
        machine = shop.lane[pick[n]]
        follows[n] = last[machine]
        if last[machine] < 0:
            front[machine] = n
        else:
            then[last[machine]] = n
        last[machine] = n
    none = np.full(size, -1, np.int64)
    return DecodedList(
        order.copy(), place, pick.copy(), none.copy(), none.copy(), none.copy(), follows, then, front,
        np.zeros(size, np.int64), np.ones(size, np.int64), np.empty((size, 5), np.int64),
    )  # fmt: skip


@jit_compiled
def decode_marked(shop: Shop, plan: DecodedList, first: int, left: int, most: int, people: Array, change: Array) -> bool:
    """Time `left` marked operations again, from a position of the list on, and what changes with them.

    `change`: how much more the list costs, how many operations were timed (the log tells what was there before). `people`: when
    the people are free, at that position. False: a pinned operation would have to move or lack its people, or the list costs
    over `most` more as far as it was timed, which what comes later could hardly mend; then marks may be left.
    """
    release, hold, before_at, before = shop.release, shop.hold, shop.before_at, shop.before
    after_at, after, lane, works, family = shop.after_at, shop.after, shop.lane, shop.work, shop.family
    shut, pause = shop.shut, shop.pause
    setup, initial, counted, due, pin_start = shop.setup, shop.initial, shop.counted, shop.due, shop.pin_start
    tardiness, setting, flow = shop.goals.tardiness, shop.goals.setup, shop.goals.flow
    order, pick, starts, ends, trail = plan.order, plan.pick, plan.start, plan.end, plan.trail
    follows, then, costs, marks, log = plan.follows, plan.then, plan.cost, plan.marks, plan.log
    pooled = shop.takes.shape[1] > 0
    many, more, position = 0, 0, first
    while left > 0:
        n = order[position]
        position += 1
        if marks[n] == 0:
            continue
        marks[n] = 0
        left -= 1
        machine, work = lane[pick[n]], works[pick[n]]
        ready, why = release[n], -1
        for k in range(before_at[n], before_at[n + 1]):
            other = before[k]
            if ends[other] + hold[other] > ready:
                ready, why = ends[other] + hold[other], other
        other = follows[n]
        gap, clear = 0, 0
        if other >= 0:
            gap = setup[machine, family[other], family[n]]
            clear = ends[other] + gap
        elif initial[machine] >= 0:
            gap = setup[machine, initial[machine], family[n]]
            clear = gap
        if clear > ready:
            ready, why = clear, -2 - other
        if shop.pinned[n] == 1:
            start, end = pin_start[n], shop.pin_end[n]
            if clear > start:
                change[0], change[1] = TOO_MUCH, many
                return False
        else:
            if pooled and work > 0:
                ready = max(ready, people_free_from(shop, people, machine))
            start, end = fit_in_open_time(shut, machine, ready, work, pause[n])
        if pooled and end > start:
            enough = occupy_people(shop, people, machine, start, end)
            if not enough and shop.pinned[n] == 1 and shop.short[n] == 0:
                change[0], change[1] = TOO_MUCH, many
                return False
        cost = gap * setting
        if pin_start[n] >= 0:
            cost += displacement_cost(shop, n, machine, start)
        if counted[n] == 1:
            done = end + hold[n]
            cost += (done - release[n]) * flow
            if done > due[n]:
                cost += ((done - due[n]) * shop.weight[n] + shop.fixed[n]) * tardiness
        log[many, 0], log[many, 1], log[many, 2], log[many, 3], log[many, 4] = n, starts[n], ends[n], trail[n], costs[n]
        many += 1
        more += cost - costs[n]
        costs[n], starts[n], trail[n] = cost, start, why
        if more > most:
            ends[n] = end
            change[0], change[1] = more, many
            return False
        if end != ends[n]:
            ends[n] = end
            other = then[n]
            if other >= 0 and marks[other] == 0:
                marks[other] = 1
                left += 1
            for k in range(after_at[n], after_at[n + 1]):
                other = after[k]
                if marks[other] == 0:
                    marks[other] = 1
                    left += 1
    change[0], change[1] = more, many
    return True


@jit_compiled
def mark_operation(plan: DecodedList, n: int) -> int:
    """Mark an operation (-1: none) to be timed again; return 1 where it was not marked."""
    if n < 0 or plan.marks[n] == 1:
        return 0
    plan.marks[n] = 1
    return 1


@jit_compiled
def undo_decoding(plan: DecodedList, many: int) -> None:
    """Put back the times that a run changed."""
    for k in range(many):
        row = plan.log[k]
        n = row[0]
        plan.start[n], plan.end[n], plan.trail[n], plan.cost[n] = row[1], row[2], row[3], row[4]
