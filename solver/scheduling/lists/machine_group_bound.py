"""A bound on weighted tardiness from crowded machines: all work that only a group of machines can do has to fit there.

Each operation is work to hand out to buckets of time, as a transportation problem (as Gelders and Kleindorfer 1974,
Operations Research 22(1): 46-60, for one machine). A second of an operation in a bucket means that the operation ends no
earlier than the bucket begins, so its job is done no earlier than one line of what follows, with nothing in its way, takes
from there. That second carries the job's lateness cost divided by all seconds of the job in the group: for any timetable
the shares of a job sum up to no more than its own cost, so the cheapest handing-out is a bound. Costs are rounded down.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from solver.domain.timetable import ScheduleJob
from solver.jit import jit_compiled
from solver.scheduling.lists.decoding import fit_in_open_time
from solver.scheduling.lists.shop import NEVER, Shop, build_shop, precedence_depths

Array = Any
BUCKETS, MOST_ARCS = 200, 120_000  # buckets of time at most; arcs of one transportation problem at most
FINE = 10**9  # the dearest second in whole numbers: what rounding down loses is that much smaller


def machine_group_bound(task: ScheduleJob, over: Callable[[], bool] = lambda: False) -> int:
    """Return a weighted tardiness that no timetable of a valid job beats: the best over its groups of machines.

    `over`: whether time is up, after which no further group is looked at.
    """
    if task.objective != "weighted_tardiness" or not any(job.operations for job in task.jobs):
        return 0
    shop, _ = build_shop(task)
    deep = precedence_depths(shop)
    begun, ended = earliest_times_alone(shop, np.argsort(deep, kind="stable"))
    owner, follower = due_job_of_operations(shop, deep)
    ends = np.flatnonzero(shop.due < NEVER)
    lone = {int(n): int(shop.weight[n] * max(0, ended[n] + shop.hold[n] - shop.due[n])) for n in ends}
    lanes = [frozenset(shop.lane[shop.lane_at[n] : shop.lane_at[n + 1]].tolist()) for n in range(len(owner))]
    best = sum(lone.values())
    for group in sorted(set(lanes), key=sorted):
        if over():
            break
        mine = np.array([n for n, one in enumerate(lanes) if one <= group and owner[n] >= 0 and _least(shop, n) > 0], np.int64)
        if len(mine):
            others = sum(cost for n, cost in lone.items() if n not in set(owner[mine].tolist()))
            best = max(best, others + _handed_out(shop, sorted(group), mine, owner, follower, begun, ended))
    return best


def _least(shop: Shop, n: int) -> int:
    """The shortest time in which an operation can be done."""
    return int(shop.work[shop.lane_at[n] : shop.lane_at[n + 1]].min())


@jit_compiled
def earliest_times_alone(shop: Shop, order: Array) -> tuple[Array, Array]:
    """Return when each operation may begin and ends at the earliest: only what it waits for and closed times in its way."""
    begun, ended = np.zeros(order.shape[0], np.int64), np.zeros(order.shape[0], np.int64)
    for n in order:
        ready = shop.release[n]
        for k in range(shop.before_at[n], shop.before_at[n + 1]):
            ready = max(ready, ended[shop.before[k]] + shop.hold[shop.before[k]])
        begun[n], ended[n] = ready, _end(shop, n, ready)
    return begun, ended


@jit_compiled
def _end(shop: Shop, n: int, ready: int) -> int:
    """The earliest end of an operation on any of its machines, from a time on."""
    best = NEVER
    for choice in range(shop.lane_at[n], shop.lane_at[n + 1]):
        machine = shop.lane[choice]
        _, end = fit_in_open_time(shop.shut, machine, ready, shop.work[choice], shop.pause[n])
        best = min(best, end)
    return int(best)


def due_job_of_operations(shop: Shop, deep: Array) -> tuple[Array, Array]:
    """Return for each operation the one with a due date that it is counted for (-1: none), and the next one on the way there.

    Of all ways, the one that leaves least time to spare.
    """
    size = len(deep)
    owner, follower = np.full(size, -1, np.int64), np.full(size, -1, np.int64)
    spare = np.full(size, NEVER, np.int64)
    for n in np.argsort(-deep, kind="stable"):
        if shop.due[n] < NEVER and shop.weight[n] > 0:
            owner[n], spare[n] = n, shop.due[n] - shop.hold[n]
        for other in shop.after[shop.after_at[n] : shop.after_at[n + 1]]:
            left = spare[other] - _least(shop, int(other)) - shop.hold[n]
            if owner[other] >= 0 and left < spare[n]:
                owner[n], follower[n], spare[n] = owner[other], other, left
    return owner, follower


@jit_compiled
def earliest_completion(shop: Shop, follower: Array, n: int, ended: Array, at: int) -> int:
    """Return when the job that an operation is counted for is done at the earliest, if the operation ends at `at` or later."""
    end = max(at, ended[n])
    while follower[n] >= 0:
        ready = end + shop.hold[n]
        n = follower[n]
        end = max(ended[n], _end(shop, n, ready))
    return int(end + shop.hold[n])


@jit_compiled
def least_costs_by_bucket(shop: Shop, mine: Array, owner: Array, follower: Array, ended: Array, edges: Array) -> Array:
    """Return what the job of each operation costs at least, by the bucket in which the operation is worked at."""
    made = np.zeros((mine.shape[0], edges.shape[0]), np.int64)
    for i in range(mine.shape[0]):
        last = owner[mine[i]]
        for k in range(edges.shape[0]):
            late = earliest_completion(shop, follower, mine[i], ended, edges[k]) - shop.due[last]
            made[i, k] = max(0, late) * shop.weight[last]
    return made


def _open(shop: Shop, machine: int, edges: Array) -> Array:
    """Open seconds of a machine between edges of time."""
    low, high = shop.shut.at[machine], shop.shut.at[machine + 1]
    begin, end = shop.shut.begin[low:high, None], shop.shut.end[low:high, None]
    shut = np.clip(np.minimum(end, edges[None, 1:]) - np.maximum(begin, edges[None, :-1]), 0, None).sum(axis=0)
    return np.diff(edges) - shut


def _speeds(shop: Shop, group: list[int], mine: Array) -> dict[int, float]:
    """The most that a second of each machine is worth, in seconds of the fastest machine for the work."""
    best = dict.fromkeys(group, 0.0)
    for n in mine:
        for choice in range(shop.lane_at[n], shop.lane_at[n + 1]):
            if shop.work[choice] > 0:
                machine = int(shop.lane[choice])
                best[machine] = max(best[machine], _least(shop, int(n)) / int(shop.work[choice]))
    return best


def _handed_out(shop: Shop, group: list[int], mine: Array, owner: Array, follower: Array, begun: Array, ended: Array) -> int:
    """The cheapest way to hand out the work of a group of machines to buckets of time, rounded down; 0 if it is not found."""
    from ortools.graph.python import min_cost_flow

    work = np.array([_least(shop, int(n)) for n in mine], np.int64)
    count = max(2, min(BUCKETS, MOST_ARCS // len(mine)))
    speeds = _speeds(shop, group, mine)
    long = int(work.sum()) + int(ended[mine].max())
    while sum(int(_open(shop, m, np.array([0, long]))[0]) for m in group) < 2 * int(work.sum()) and long < NEVER // 4:
        long += long // 4
    edges = np.unique(np.linspace(0, long, count + 1).astype(np.int64))
    room = sum(np.ceil(_open(shop, m, edges) * speeds[m]).astype(np.int64) for m in group)
    room = np.append(room, work.sum())  # behind the last edge there is room for all
    cost = least_costs_by_bucket(shop, mine, owner, follower, ended, edges)
    of_job = np.zeros(len(owner), np.int64)
    np.add.at(of_job, owner[mine], work)
    share = of_job[owner[mine]][:, None]
    fine = max(1, int(FINE // max(1.0, float((cost / share).max()))))
    cost = cost * fine // share
    ups, buckets = np.nonzero(np.append(edges[1:], NEVER)[None, :] > begun[mine][:, None])
    flow = min_cost_flow.SimpleMinCostFlow()
    size = len(mine)
    flow.add_arcs_with_capacity_and_unit_cost(ups, size + buckets, work[ups], cost[ups, buckets])
    sink = size + len(edges)
    flow.add_arcs_with_capacity_and_unit_cost(
        size + np.arange(len(edges)), np.full(len(edges), sink), room, np.zeros(len(edges), np.int64)
    )
    flow.set_nodes_supplies(np.arange(size), work)
    flow.set_node_supply(sink, -int(work.sum()))
    return int(flow.optimal_cost()) // fine if flow.solve() == flow.OPTIMAL else 0
