"""Whole plans from sums: each bar takes the largest piece left and the fullest company for it."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from fractions import Fraction

from solver.nesting.scaled_job import Pattern, ScaledJob

Plan = list[tuple[Pattern, int]]


def plan_cost(plan: Plan) -> Fraction:
    """Return what the bars of a plan cost, less credit."""
    return sum((repeat * pattern.cost for pattern, repeat in plan), Fraction(0))


def fill_bars_in_turn(
    core: ScaledJob,
    need: Sequence[int],
    left: Sequence[int | None],
    *,
    most: Fraction | None = None,
    rng: random.Random | None = None,
    over: Callable[[], bool] = lambda: False,
) -> Plan | None:
    """Return bars for all that is needed, or None when stock runs out, the cost passes `most` or time is over.

    With `rng` the kinds change places a little, so that another run gives another plan.
    """
    need, left = list(need), list(left)
    made: Plan = []
    cost = Fraction(0)
    while any(need):
        if over():
            return None
        order = [kind for kind, count in enumerate(need) if count]
        if rng is not None:
            order = order[:1] + [order[k] for k in sorted(range(1, len(order)), key=lambda k: k + 4 * rng.random())]
        pattern = best_bar(core, order, need, left)
        if pattern is None:
            return None
        repeat = min(need[kind] // count for kind, count in pattern.counts)
        if (have := left[pattern.stock]) is not None:
            repeat = min(repeat, have)
            left[pattern.stock] = have - repeat
        for kind, count in pattern.counts:
            need[kind] -= repeat * count
        made.append((pattern, repeat))
        cost += repeat * pattern.cost
        if most is not None and cost > most:
            return None
    return made


def best_bar(core: ScaledJob, order: Sequence[int], need: Sequence[int], left: Sequence[int | None]) -> Pattern | None:
    """Return the bar that costs least for what it holds, among the fullest of each stock that begin with the first kind."""
    first = order[0]
    held = core.held[first] or not core.clamps
    rooms = {n: (core.rooms[n] if held else core.short_rooms[n]) for n in range(len(core.rooms)) if left[n] != 0}
    rooms = {n: room for n, room in rooms.items() if room >= core.sizes[first]}
    if not rooms:
        return None
    top = max(rooms.values())
    rows, parts = _sums(core, order, need, top)
    best: tuple[Fraction, Pattern] | None = None
    for stock, room in rooms.items():
        reach = rows[-1] & ((1 << (room + 1)) - 1)
        pattern = core.pattern(stock, _trace(core, first, rows, parts, reach.bit_length() - 1))
        rate = pattern.cost / sum(count * core.sizes[kind] for kind, count in pattern.counts)
        if best is None or rate < best[0]:
            best = (rate, pattern)
    return None if best is None else best[1]


def _sums(core: ScaledJob, order: Sequence[int], need: Sequence[int], top: int) -> tuple[list[int], list[tuple[int, int]]]:
    """Return, part after part, the sums (as bits) that pieces beside the first of the first kind can reach."""
    mask = (1 << (top + 1)) - 1
    reach = 1 << core.sizes[order[0]]
    rows, parts = [reach], []
    for kind in order:
        size = core.sizes[kind]
        copies = min(need[kind] - (kind == order[0]), top // size)
        times = 1
        while copies > 0:
            step = min(times, copies)
            reach |= (reach << (step * size)) & mask
            rows.append(reach)
            parts.append((kind, step))
            copies -= step
            times *= 2
        if reach >> top & 1:
            break
    return rows, parts


def _trace(
    core: ScaledJob, first: int, rows: Sequence[int], parts: Sequence[tuple[int, int]], total: int
) -> list[tuple[int, int]]:
    taken = {first: 1}
    for place in range(len(parts), 0, -1):
        if rows[place - 1] >> total & 1:
            continue
        kind, step = parts[place - 1]
        taken[kind] = taken.get(kind, 0) + step
        total -= step * core.sizes[kind]
    return list(taken.items())


def round_linear_plan(
    core: ScaledJob,
    patterns: Sequence[Pattern],
    shares: Sequence[float],
    rng: random.Random,
    *,
    keep: float,
    most: Fraction | None,
    over: Callable[[], bool],
) -> Plan | None:
    """Return a plan from a linear one: whole parts kept, of the broken ones those above `keep` that fit, the rest filled."""
    plan: Plan = []
    need = list(core.counts)
    left: list[int | None] = [stock.count for stock in core.model.stocks]

    def take(pattern: Pattern, wanted: int) -> None:
        repeat = min([wanted, *(need[kind] // count for kind, count in pattern.counts)])
        if (have := left[pattern.stock]) is not None:
            repeat = min(repeat, have)
            left[pattern.stock] = have - repeat
        if repeat > 0:
            for kind, count in pattern.counts:
                need[kind] -= repeat * count
            plan.append((pattern, repeat))

    used = [(share, pattern) for share, pattern in zip(shares, patterns, strict=True) if share > 1e-6]
    for share, pattern in used:
        if share >= 1 - 1e-6:
            take(pattern, int(share + 1e-6))
    broken = [(share - int(share + 1e-6), pattern) for share, pattern in used]
    broken.sort(key=lambda item: -item[0] + 0.2 * rng.random())
    for part, pattern in broken:
        if part > keep:
            take(pattern, 1)
    cost = plan_cost(plan)
    rest = fill_bars_in_turn(core, need, left, most=None if most is None else most - cost, rng=rng, over=over)
    return None if rest is None else plan + rest
