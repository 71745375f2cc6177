"""Lists by dispatch rules for large timetables: urgency is handed up from the jobs that are due to all that they wait for.

Apparent tardiness cost with set-ups (Lee, Bhaskaran and Pinedo 1997, IIE Transactions 29(1): 45-52); active schedules
(Giffler and Thompson 1960, Operations Research 8(4): 487-503).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np

from solver.jit import jit_compiled
from solver.scheduling.lists.decoding import fit_in_open_time, occupy_people, people_free_from
from solver.scheduling.lists.shop import NEVER, Shop, precedence_depths

Array = Any
LOOKS = (0.0, 4.0, 12.0, 40.0, 120.0)  # how many average works the ratio rule looks ahead; 0: latest start alone
WINDOWS = (0.0, 1.0, 2.0, 4.0, 8.0)  # how many average works after the earliest may be waited for
DEAR = (0, 1, 4, 16)


def latest_starts(shop: Shop, ends: Mapping[int, int] | None = None) -> tuple[Array, Array]:
    """Return for each operation the latest start that still meets what waits for it, and the weight of what is due first.

    `ends`: by when some operations are to be done at the latest, whatever waits for them.
    """
    size = len(shop.release)
    least = np.array([shop.work[shop.lane_at[k] : shop.lane_at[k + 1]].min() for k in range(size)], np.int64)
    start = np.where(shop.due < NEVER, shop.due - shop.hold - least, NEVER)
    weight = shop.weight.copy()
    ends = ends or {}
    for k in np.argsort(-precedence_depths(shop), kind="stable").tolist():
        if k in ends:
            start[k] = min(start[k], ends[k] - least[k])
        for other in shop.before[shop.before_at[k] : shop.before_at[k + 1]]:
            mine = start[k] - shop.hold[other] - least[other] if start[k] < NEVER else NEVER
            if mine < start[other]:
                start[other], weight[other] = mine, weight[k]
    return start, weight


class DispatchRule(NamedTuple):
    """How the next operation is chosen. Times of a rule are in the shop's own units."""

    look: float  # how far the ratio rule looks ahead; 0: latest start first
    window: int  # what can start so long after the earliest may be chosen; -1: what can start before the earliest end
    dear: int  # where latest start is first: how often the set-up counts against it


@jit_compiled
def dispatch_list(shop: Shop, last_start: Array, weight: Array, rule: DispatchRule, behind: Array, pick: Array) -> Array:
    """Return a list made by one rule, and write each operation's machine into `pick`.

    `behind`: of each operation another one that is to come later in the list though it does not wait for it; -1: none.
    """
    size, machines = shop.release.shape[0], shop.takes.shape[0]
    order, made = np.empty(size, np.int64), 0
    here = np.full(machines, -1, np.int64)
    end, ready = np.zeros(size, np.int64), shop.release.copy()
    people = np.zeros(shop.people_at[-1], np.int64)
    left = np.zeros(size, np.int64)
    line, many = np.empty(size, np.int64), 0
    starts, ends, choices = np.empty(size, np.int64), np.empty(size, np.int64), np.empty(size, np.int64)
    for n in range(size):
        left[n] += shop.before_at[n + 1] - shop.before_at[n]
        if behind[n] >= 0:
            left[behind[n]] += 1
    for n in range(size):
        if left[n] == 0:
            line[many] = n
            many += 1
    while many > 0:
        first_end, first_start = NEVER, NEVER
        for k in range(many):
            n = line[k]
            ends[k] = NEVER
            for choice in range(shop.lane_at[n], shop.lane_at[n + 1]):
                machine, work = shop.lane[choice], shop.work[choice]
                at = max(ready[n], _clear(shop, here, end, machine, n))
                if work > 0:
                    at = max(at, people_free_from(shop, people, machine))
                begin, done = fit_in_open_time(shop.shut, machine, at, work, shop.pause[n])
                if done < ends[k]:
                    starts[k], ends[k], choices[k] = begin, done, choice
            first_end, first_start = min(first_end, ends[k]), min(first_start, starts[k])
        best, least = -1, np.inf
        for k in range(many):
            if rule.window < 0:
                if starts[k] >= first_end and ends[k] > first_end:
                    continue
            elif starts[k] > first_start + rule.window:
                continue
            n = line[k]
            gap = _gap(shop, here, shop.lane[choices[k]], n)
            value = float(last_start[n])
            if rule.look > 0.0:
                work = ends[k] - starts[k]
                slack = max(0.0, float(last_start[n] - starts[k]))
                value = -np.log((weight[n] + 0.01) / (work + 1.0)) + slack / rule.look + gap / (0.25 * rule.look)
            elif rule.window >= 0:
                value += float(starts[k] - first_start + rule.dear * gap)
            if value < least:
                best, least = k, value
        n, machine = line[best], shop.lane[choices[best]]
        order[made] = n
        made += 1
        pick[n], end[n], here[machine] = choices[best], ends[best], n
        if ends[best] > starts[best]:
            occupy_people(shop, people, machine, starts[best], ends[best])
        many -= 1
        line[best] = line[many]
        for k in range(shop.after_at[n], shop.after_at[n + 1]):
            other = shop.after[k]
            ready[other] = max(ready[other], end[n] + shop.hold[n])
            left[other] -= 1
            if left[other] == 0:
                line[many] = other
                many += 1
        if behind[n] >= 0:
            left[behind[n]] -= 1
            if left[behind[n]] == 0:
                line[many] = behind[n]
                many += 1
    return order


@jit_compiled
def _gap(shop: Shop, here: Array, machine: int, n: int) -> int:
    """The set-up that an operation would need on a machine now."""
    if here[machine] >= 0:
        return int(shop.setup[machine, shop.family[here[machine]], shop.family[n]])
    if shop.initial[machine] >= 0:
        return int(shop.setup[machine, shop.initial[machine], shop.family[n]])
    return 0


@jit_compiled
def _clear(shop: Shop, here: Array, end: Array, machine: int, n: int) -> int:
    """When a machine would be set up for an operation."""
    free = end[here[machine]] if here[machine] >= 0 else 0
    return int(free + _gap(shop, here, machine, n))


def dispatch_rules(shop: Shop) -> list[DispatchRule]:
    """Return the rules, the usual ones first: looks ahead, then windows within which the latest start and set-ups decide."""
    average = max(1.0, float(shop.work.mean()))
    made = [DispatchRule(look * average, -1, 1) for look in LOOKS]
    return made + [DispatchRule(0.0, int(window * average), dear) for window in WINDOWS for dear in DEAR]


def rule_list(
    shop: Shop, rule: DispatchRule, last_start: Array, weight: Array, behind: Array | None = None
) -> tuple[Array, Array]:
    """Return the list of a rule, and where in `lane` each operation's machine stands. See `dispatch_list`."""
    pick = shop.lane_at[:-1].copy()
    none = np.full(len(shop.release), -1, np.int64)
    return dispatch_list(shop, last_start, weight, rule, none if behind is None else behind, pick), pick


def start_lists(shop: Shop) -> list[tuple[Array, Array]]:
    """Return the lists of the rules that look ahead, each with where in `lane` each operation's machine stands."""
    last_start, weight = latest_starts(shop)
    return [rule_list(shop, rule, last_start, weight) for rule in dispatch_rules(shop)[: len(LOOKS)]]
