"""Fewest different patterns at the same cost: a second goal, once the cost is settled. Square pieces without credit."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np

from solver.highs import highs_infinity, new_silent_solver, require_ok_status
from solver.nesting.bars import Cut, total_cost
from solver.nesting.fill import best_bar, plan_cost
from solver.nesting.incumbent import Plan, cuts_without_overproduction
from solver.nesting.model import NestingModel
from solver.nesting.scaled_job import Pattern, ScaledJob, scale_job
from solver.search import Search

TURNS = 40  # plans tried by repeats
GROUPS = (2, 3, 3, 4, 4, 5, 6)  # patterns taken together to be cut anew
IDLE = 400  # regroupings that gained nothing, one after the other, before the search ends
MOST_POOL, MOST_NODES = 400, 20_000
CHOICE_S = 0.5  # of one program


def patterns_bound(model: NestingModel) -> int:
    """Return a number of different patterns that no plan can do without: each kind lies in one of them at least once.

    By lengths alone: one piece of each kind, each with a kerf, in the longest stock.
    """
    room = max((2 * (stock.room_nm + model.kerf_nm) for stock in model.stocks), default=1)
    return -(-sum(kind.doubled + 2 * model.kerf_nm for kind in model.kinds) // room)


def count_patterns(cuts: Sequence[Cut]) -> int:
    """Return how many different patterns a plan has."""
    return len({(cut.stock, cut.slots) for cut in cuts})


def reduce_patterns(model: NestingModel, cuts: list[Cut], search: Search) -> list[Cut]:
    """Return a plan at most as dear with as few different patterns as the time allows; the same one if none is found.

    Plans of patterns that can be cut many times alike (Haessler 1975, Operations Research 23(3): 483-493); then again and
    again a few patterns of the best plan, whose pieces are cut anew from fewer, or from others as many, by a program over
    all bars that waste no more than they did. Nothing for bars that all differ.
    """
    bars = sum(cut.repeat for cut in cuts)
    if not model.square or model.keep_from_nm is not None or not cuts or bars <= patterns_bound(model):
        return cuts
    core, cost = scale_job(model), total_cost(model, cuts)
    best = _merged(core, cuts)
    dice = random.Random(search.seed)
    for turn in range(TURNS):
        if search.over():
            break
        plan = _by_repeats(core, dice if turn else None, cost, search)
        if plan is not None and len(plan) < len(best):
            best = plan
    idle = 0
    while not search.over() and len(best) > patterns_bound(model) and idle < IDLE:
        again = _regrouped(core, best, dice, search)
        idle = 0 if len(again) < len(best) else idle + 1
        best = again
    made = cuts_without_overproduction(core, best)
    sound = total_cost(model, made) <= cost and count_patterns(made) < count_patterns(cuts)
    return made if sound else cuts


def _merged(core: ScaledJob, cuts: Sequence[Cut]) -> Plan:
    made: dict[Pattern, int] = {}
    for cut in cuts:
        pattern = core.pattern(cut.stock, tuple(Counter(kind for kind, _ in cut.slots).items()))
        made[pattern] = made.get(pattern, 0) + cut.repeat
    return list(made.items())


def _by_repeats(core: ScaledJob, dice: random.Random | None, most: Fraction, search: Search) -> Plan | None:
    """Return a plan whose patterns are cut often: each time the fullest bar that can be cut so often alike."""
    need, left = list(core.counts), [stock.count for stock in core.model.stocks]
    plan: Plan = []
    cost = Fraction(0)
    while any(need):
        if search.over():
            return None
        choices = list(_candidates(core, need, left, dice))
        if not choices:
            return None  # limited stock runs out this way
        pattern, times = max(choices, key=lambda item: item[1] * _fullness(core, item[0]) ** 12)
        for kind, count in pattern.counts:
            need[kind] -= times * count
        if (have := left[pattern.stock]) is not None:
            left[pattern.stock] = have - times
        plan.append((pattern, times))
        cost += times * pattern.cost
        if cost > most:
            return None
    return plan


def _candidates(
    core: ScaledJob, need: Sequence[int], left: Sequence[int | None], dice: random.Random | None
) -> Iterator[tuple[Pattern, int]]:
    """Yield bars by how often they are to be cut alike."""
    for times in sorted({count for count in need if count} | {1}, reverse=True):
        some = [count // times for count in need]
        if not any(some):
            continue
        fit = [have if have is None or have >= times else 0 for have in left]
        order = [kind for kind, count in enumerate(some) if count]
        if dice is not None:
            order = [kind for _, kind in sorted((place + 3 * dice.random(), kind) for place, kind in enumerate(order))]
        pattern = best_bar(core, order, some, fit)
        if pattern is not None:
            have = left[pattern.stock]
            often = min(need[kind] // count for kind, count in pattern.counts)
            yield pattern, often if have is None else min(often, have)


def _fullness(core: ScaledJob, pattern: Pattern) -> float:
    return sum(count * core.sizes[kind] for kind, count in pattern.counts) / core.rooms[pattern.stock]


def _regrouped(core: ScaledJob, plan: Plan, dice: random.Random, search: Search) -> Plan:
    """Return the plan with a few of its patterns cut anew: from one less, else from as many others, else as it was."""
    size = min(len(plan), dice.choice(GROUPS))
    first = dice.randrange(len(plan))
    kinds = {kind for kind, _ in plan[first][0].counts}
    akin = [len(kinds & {kind for kind, _ in pattern.counts}) + 2 * dice.random() for pattern, _ in plan]
    akin[first] = 1e9
    chosen = sorted(range(len(plan)), key=lambda n: -akin[n])[:size]
    some = [plan[n] for n in chosen]
    need = [0] * len(core.counts)
    for pattern, times in some:
        for kind, count in pattern.counts:
            need[kind] += times * count
    pool = _all_bars(core, need, sorted({pattern.stock for pattern, _ in some}), _waste(core, some))
    if pool is None:
        return plan
    part, seconds = replace(core, counts=tuple(need)), min(CHOICE_S, search.left_s())
    left = {n: sum(times for pattern, times in some if pattern.stock == n) for n in range(len(core.rooms))}
    for most in (size - 1, size):
        found = _choose(part, pool, left, plan_cost(some), most, dice, seconds)
        if found is not None:
            return [item for n, item in enumerate(plan) if n not in chosen] + found
    return plan


def _waste(core: ScaledJob, some: Plan) -> int:
    return sum(times * (core.rooms[pattern.stock] - _held(core, pattern)) for pattern, times in some)


def _held(core: ScaledJob, pattern: Pattern) -> int:
    return sum(count * core.sizes[kind] for kind, count in pattern.counts)


def _all_bars(core: ScaledJob, need: Sequence[int], stocks: Sequence[int], waste: int) -> list[Pattern] | None:
    """Return every bar of these pieces that wastes at most so much, or None: too many."""
    kinds = [kind for kind, count in enumerate(need) if count]
    found: list[Pattern] = []
    for stock in stocks:
        room = core.rooms[stock] if all(core.held[kind] for kind in kinds) else core.short_rooms[stock]
        least, nodes = core.rooms[stock] - waste, 0
        rest = [0] * (len(kinds) + 1)  # the most that kinds from here on can fill
        for place in range(len(kinds) - 1, -1, -1):
            rest[place] = rest[place + 1] + need[kinds[place]] * core.sizes[kinds[place]]
        waiting: list[tuple[int, int, tuple[tuple[int, int], ...]]] = [(0, 0, ())]
        while waiting:
            place, used, counts = waiting.pop()
            nodes += 1
            if nodes > MOST_NODES or len(found) > MOST_POOL:
                return None
            if used and used >= least:
                found.append(core.pattern(stock, counts))
            for n in range(place, len(kinds)):
                if used + rest[n] < least:
                    break
                size = core.sizes[kinds[n]]
                for count in range(1, min(need[kinds[n]], (room - used) // size) + 1):
                    waiting.append((n + 1, used + count * size, (*counts, (kinds[n], count))))
    return found


def _choose(
    core: ScaledJob,
    pool: Sequence[Pattern],
    left: Mapping[int, int],
    cost: Fraction,
    most: int,
    dice: random.Random,
    seconds: float,
) -> Plan | None:
    """Return at most `most` patterns of the pool, and how often each, that make each piece exactly, no dearer than `cost`.

    `left`: bars of limited stock that may be used. Of several answers dice take one.
    """
    import highspy

    solver, inf, count = new_silent_solver(), highs_infinity(), len(pool)
    often = [min(core.counts[kind] // times for kind, times in pattern.counts) for pattern in pool]
    for upper in (*often, *([1] * count)):
        require_ok_status(solver.addVar(0.0, float(upper)))
    for n in range(2 * count):
        require_ok_status(solver.changeColIntegrality(n, highspy.HighsVarType.kInteger))

    def row(low: float, high: float, places: Sequence[int], values: Sequence[float]) -> None:
        require_ok_status(
            solver.addRow(low, high, len(places), np.array(places, dtype=np.int32), np.array(values, dtype=np.float64))
        )

    for kind, wanted in enumerate(core.counts):
        if not wanted:
            continue
        held = [(n, dict(pattern.counts).get(kind, 0)) for n, pattern in enumerate(pool)]
        mine = [(n, times) for n, times in held if times]
        row(float(wanted), float(wanted), [n for n, _ in mine], [float(times) for _, times in mine])
    for n, upper in enumerate(often):
        row(-inf, 0.0, [n, count + n], [1.0, -float(upper)])
    for n, stock in enumerate(core.model.stocks):
        if stock.count is not None:
            mine = [(place, 1) for place, pattern in enumerate(pool) if pattern.stock == n]
            row(-inf, float(left[n]), [place for place, _ in mine], [1.0] * len(mine))
    scale = float(max(pattern.cost for pattern in pool)) or 1.0
    row(-inf, float(cost) / scale * (1 + 1e-9), list(range(count)), [float(pattern.cost) / scale for pattern in pool])
    row(-inf, float(most), list(range(count, 2 * count)), [1.0] * count)
    require_ok_status(
        solver.changeColsCost(
            count, np.arange(count, 2 * count, dtype=np.int32), np.array([1.0 + dice.random() for _ in range(count)])
        )
    )
    require_ok_status(solver.setOptionValue("time_limit", max(0.01, seconds)))
    solver.run()
    values = solver.getSolution().col_value
    if len(values) != 2 * count or solver.getInfo().primal_solution_status != 2:
        return None
    plan = [(pattern, round(value)) for pattern, value in zip(pool, values[:count], strict=True) if round(value)]
    made: Counter[int] = Counter()
    for pattern, times in plan:
        for kind, each in pattern.counts:
            made[kind] += times * each
    exact = all(made[kind] == wanted for kind, wanted in enumerate(core.counts))
    return plan if exact and plan_cost(plan) <= cost and len(plan) <= most else None
