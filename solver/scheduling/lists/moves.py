"""Ways to change a list: one operation passes others or changes its machine, or all of an order goes sooner or later.

What made a late job late is found by walking back from its end along what each operation waited for; as critical arcs for
weighted tardiness (Kreipl 2000, Journal of Scheduling 3(3): 125-138).
"""

from __future__ import annotations

from typing import Any

from solver.jit import jit_compiled
from solver.random_numbers import random_below
from solver.scheduling.lists.decoding import DecodedList, mark_operation
from solver.scheduling.lists.shop import Shop

Array = Any
NEARBY = 20  # places of the list to either side in which an operation finds its place on another machine
DRAWS = 4  # jobs that are drawn to find one that costs much
SPARE = 3  # one in so many: a slide goes that much farther than what is late, or than what is to spare


@jit_compiled
def unlink_from_machine(plan: DecodedList, n: int, machine: int) -> None:
    """Take an operation off its machine's line."""
    before, behind = plan.follows[n], plan.then[n]
    if before >= 0:
        plan.then[before] = behind
    else:
        plan.front[machine] = behind
    if behind >= 0:
        plan.follows[behind] = before


@jit_compiled
def link_on_machine(plan: DecodedList, n: int, machine: int, before: int) -> None:
    """Put an operation on a machine's line behind another (-1: first)."""
    behind = plan.then[before] if before >= 0 else plan.front[machine]
    plan.follows[n], plan.then[n] = before, behind
    if before >= 0:
        plan.then[before] = n
    else:
        plan.front[machine] = n
    if behind >= 0:
        plan.follows[behind] = n


@jit_compiled
def shift_in_list(plan: DecodedList, low: int, high: int) -> None:
    """Move what stands at `high` of a list to `low` (or from low to high where high < low)."""
    n = plan.order[high]
    step = -1 if low < high else 1
    for position in range(high, low, step):
        other = plan.order[position + step]
        plan.order[position] = other
        plan.place[other] = position
    plan.order[low] = n
    plan.place[n] = low


@jit_compiled
def move_operation(shop: Shop, plan: DecodedList, n: int, goal: int, choice: int) -> int:
    """Move an operation to a place of the list and a machine; mark what that touches; return how many are marked."""
    old, new = shop.lane[plan.pick[n]], shop.lane[choice]
    left = mark_operation(plan, n) + mark_operation(plan, plan.then[n])
    before, behind = plan.follows[n], plan.then[n]
    unlink_from_machine(plan, n, old)
    shift_in_list(plan, goal, plan.place[n])
    plan.pick[n] = choice
    if old == new:
        while before >= 0 and plan.place[before] > goal:
            before, behind = plan.follows[before], before
        while behind >= 0 and plan.place[behind] < goal:
            before, behind = behind, plan.then[behind]
    else:
        before, position = -1, goal - 1
        while position >= 0 and before < 0:
            if shop.lane[plan.pick[plan.order[position]]] == new:
                before = plan.order[position]
            position -= 1
    link_on_machine(plan, n, new, before)
    return left + mark_operation(plan, plan.then[n])


@jit_compiled
def move_and_record(shop: Shop, plan: DecodedList, n: int, goal: int, choice: int, stack: Array, many: int) -> int:
    """Move an operation, as `move_operation`, and note in row `many` of the stack where it was."""
    stack[many, 0], stack[many, 1], stack[many, 2], stack[many, 3] = n, plan.place[n], plan.pick[n], plan.follows[n]
    return move_operation(shop, plan, n, goal, choice)


@jit_compiled
def revert_moves(shop: Shop, plan: DecodedList, stack: Array, many: int) -> None:
    """Put back the operations that a stack tells of, the last one first."""
    for k in range(many - 1, -1, -1):
        n, position, pick, before = stack[k, 0], stack[k, 1], stack[k, 2], stack[k, 3]
        unlink_from_machine(plan, n, shop.lane[plan.pick[n]])
        shift_in_list(plan, position, plan.place[n])
        plan.pick[n] = pick
        link_on_machine(plan, n, shop.lane[pick], before)


@jit_compiled
def earliest_position(shop: Shop, place: Array, n: int) -> int:
    """Return the first position of a list at which an operation can stand, as to what it waits for."""
    low = 0
    for k in range(shop.before_at[n], shop.before_at[n + 1]):
        low = max(low, place[shop.before[k]] + 1)
    return int(low)


@jit_compiled
def latest_position(shop: Shop, place: Array, n: int) -> int:
    """Return the last position of a list at which an operation can stand, as to what waits for it."""
    high = place.shape[0] - 1
    for k in range(shop.after_at[n], shop.after_at[n + 1]):
        high = min(high, place[shop.after[k]] - 1)
    return int(high)


@jit_compiled
def draw_late_job(shop: Shop, end: Array, ends: Array, dice: Array) -> int:
    """Return which of the operations that end jobs: of a few drawn the one that costs most; mostly a late one."""
    best, most = random_below(dice, ends.shape[0]), -1
    for _ in range(DRAWS):
        k = random_below(dice, ends.shape[0])
        n = ends[k]
        late = max(0, end[n] + shop.hold[n] - shop.due[n]) * shop.weight[n]
        if late > most:
            best, most = k, late
    return int(best)


@jit_compiled
def collect_waiting_operations(shop: Shop, plan: DecodedList, n: int, found: Array, dice: Array) -> int:
    """Write the operations that waited for their machine, back from n, and a few that did not; return how many."""
    many = 0
    while n >= 0 and many < found.shape[0]:
        why = plan.trail[n]
        if why <= -2:
            found[many] = n
            many += 1
            n = -2 - why
        else:
            if random_below(dice, 8) == 0 and plan.follows[n] >= 0 and shop.pinned[n] == 0:
                found[many] = n
                many += 1
            n = why
    return many


@jit_compiled
def _steps(dice: Array) -> int:
    """A few steps, more of them ever less likely."""
    steps = 0
    while steps < 24 and random_below(dice, 2) == 0:
        steps += 1
    return steps


@jit_compiled
def draw_move(shop: Shop, plan: DecodedList, ends: Array, found: Array, dice: Array, wish: Array) -> bool:
    """Write an operation, its new place and where in `lane` its machine stands into `wish`. False: nothing found."""
    n = -1
    if random_below(dice, 10) > 0:
        many = collect_waiting_operations(shop, plan, ends[draw_late_job(shop, plan.end, ends, dice)], found, dice)
        if many > 0:
            n = found[random_below(dice, many)]
    if n < 0:
        n = random_below(dice, plan.order.shape[0])
    if shop.pinned[n] == 1:
        return False
    choices, way = shop.lane_at[n + 1] - shop.lane_at[n], random_below(dice, 10)
    wish[0], wish[2] = n, plan.pick[n]
    if choices > 1 and way < 3:
        wish[2] = shop.lane_at[n] + random_below(dice, choices)
        goal = plan.place[n] - NEARBY + random_below(dice, 2 * NEARBY + 1)
        wish[1] = min(latest_position(shop, plan.place, n), max(earliest_position(shop, plan.place, n), goal))
        return bool(wish[2] != plan.pick[n])
    if plan.follows[n] < 0:
        return False
    return bool((way < 8 and _goes_before(shop, plan, n, dice, wish)) or _goes_behind(shop, plan, n, dice, wish))


@jit_compiled
def _goes_before(shop: Shop, plan: DecodedList, n: int, dice: Array, wish: Array) -> bool:
    """An operation goes before the one before it on its machine, or before one farther back, as far as it can."""
    u, low = plan.follows[n], earliest_position(shop, plan.place, n)
    if low > plan.place[u]:
        return False
    for _ in range(_steps(dice)):
        if plan.follows[u] < 0 or plan.place[plan.follows[u]] < low:
            break
        u = plan.follows[u]
    wish[1] = plan.place[u]
    return bool(shop.pinned[u] == 0)


@jit_compiled
def _goes_behind(shop: Shop, plan: DecodedList, n: int, dice: Array, wish: Array) -> bool:
    """The one before an operation on its machine goes behind it, or behind one farther on, as far as it can."""
    u = plan.follows[n]
    high = latest_position(shop, plan.place, u)
    if shop.pinned[u] == 1 or high < plan.place[n]:
        return False
    for _ in range(_steps(dice)):
        if plan.then[n] < 0 or plan.place[plan.then[n]] > high:
            break
        n = plan.then[n]
    wish[0], wish[1], wish[2] = u, plan.place[n], plan.pick[u]
    return True


@jit_compiled
def slide_predecessors(
    shop: Shop,
    plan: DecodedList,
    ends: Array,
    kin_at: Array,
    kin: Array,
    dice: Array,
    stack: Array,
    line: Array,
    touched: Array,
) -> int:
    """Move all that a job waits for sooner, mostly of a late one, or later; return how many operations moved.

    `kin`: of each of `ends` all that it waits for, and itself. `touched`: the first position that changed, how many are marked.
    """
    sooner = random_below(dice, 2) == 0
    k = draw_late_job(shop, plan.end, ends, dice) if sooner else random_below(dice, ends.shape[0])
    room = abs(plan.end[ends[k]] + shop.hold[ends[k]] - shop.due[ends[k]])
    by = 1 + room * (random_below(dice, 1_000) + 1) // 1_000
    if random_below(dice, SPARE) == 0:
        by += room // SPARE
    size = kin_at[k + 1] - kin_at[k]
    for i in range(size):
        line[i] = plan.place[kin[kin_at[k] + i]]
    line[:size].sort()
    for i in range(size):
        line[i] = plan.order[line[i]]
    many, touched[0], touched[1] = 0, plan.order.shape[0], 0
    for i in range(size):
        n = line[i] if sooner else line[size - 1 - i]
        goal = _at(shop, plan, n, plan.start[n] - by) if sooner else _by(shop, plan, n, plan.start[n] + by)
        if shop.pinned[n] == 0 and goal != plan.place[n]:
            touched[0] = min(touched[0], goal, plan.place[n])
            touched[1] += move_and_record(shop, plan, n, goal, plan.pick[n], stack, many)
            many += 1
    return many


@jit_compiled
def _at(shop: Shop, plan: DecodedList, n: int, time: int) -> int:
    """The position back in the list behind all that started by a time."""
    at, least = plan.place[n], earliest_position(shop, plan.place, n)
    while at > least and plan.start[plan.order[at - 1]] > time and shop.pinned[plan.order[at - 1]] == 0:
        at -= 1
    return int(at)


@jit_compiled
def _by(shop: Shop, plan: DecodedList, n: int, time: int) -> int:
    """The position on in the list before all that starts at a time or later."""
    at, most = plan.place[n], latest_position(shop, plan.place, n)
    while at < most and plan.start[plan.order[at + 1]] < time:
        at += 1
    return int(at)
