"""Inner loops over orders of jobs: what an order is worth, and annealing on it. Plain arrays, no objects.

A flow is a tuple of arrays: `work[job, stage]`, `hold[job, stage]`, `lanes[stage]` (machines in parallel), `release`, `due`,
`weight` by job, `setup[job, job]` and `first[job]` (one machine with set-ups; else of size 0), `after[job, stage]` (work and
holds from a stage's start to the job's end), then `makespan` and `reorders` (later stages take jobs as they come) as 0 or 1.
Values are whole numbers. A value above a limit need not be exact, only above it.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from solver.jit import jit_compiled
from solver.random_numbers import random_below

Array = Any
FAR = 2**60


@jit_compiled
def permutation_flow_value(
    flow: Any, order: Array, low: int, high: int, limit: int, ends: Array, sums: Array, new_ends: Array, new_sums: Array
) -> int:
    """Return what an order is worth where every stage takes the jobs in that order.

    Only places from `low` on differ from the order that `ends[place, stage]` and `sums[place]` tell of, and behind `high` the
    jobs are the same: where the ends are too, the rest is. The new ends and sums are written up to where they differ.
    """
    work, hold, _, release, due, weight, setup, first, _, makespan, _ = flow
    size, stages = order.shape[0], work.shape[1]
    total = sums[low - 1] if low > 0 else 0
    for k in range(low, size):
        job = order[k]
        ready = release[job]
        for stage in range(stages):
            if k == 0:
                at = 0
            elif k == low:
                at = ends[k - 1, stage]
            else:
                at = new_ends[k - 1, stage]
            if setup.shape[0] > 0:
                at += first[job] if k == 0 else setup[order[k - 1], job]
            at = max(at, ready) + work[job, stage]
            new_ends[k, stage] = at
            ready = at + hold[job, stage]
        if makespan:
            total = max(total, ready)
        elif ready > due[job]:
            total += weight[job] * (ready - due[job])
        new_sums[k] = total
        if total > limit:
            return int(total)
        if k > high:
            same = new_sums[k] == sums[k] or not makespan
            for stage in range(stages):
                if new_ends[k, stage] != ends[k, stage]:
                    same = False
            if same:
                step = new_sums[k] - sums[k]
                for rest in range(k + 1, size):
                    new_sums[rest] = sums[rest] + step
                    new_ends[rest] = ends[rest]
                return int(new_sums[size - 1])
    return int(total)


@jit_compiled
def parallel_stages_value(flow: Any, order: Array, limit: int, ready: Array, queue: Array, free: Array) -> int:
    """Return what an order is worth where it decides the first stage only and later ones take jobs as they come."""
    work, hold, lanes, release, due, weight, _, _, after, makespan, _ = flow
    size, stages = order.shape[0], work.shape[1]
    for k in range(size):
        queue[k] = k
        ready[k] = release[order[k]]
    for stage in range(stages):
        if stage > 0:  # insertion sort: jobs come nearly in the order of the stage before
            for q in range(1, size):
                k = queue[q]
                at = q - 1
                while at >= 0 and (ready[queue[at]] > ready[k] or (ready[queue[at]] == ready[k] and queue[at] > k)):
                    queue[at + 1] = queue[at]
                    at -= 1
                queue[at + 1] = k
        many = lanes[stage]
        for lane in range(many):
            free[lane] = 0
        for q in range(size):
            k = queue[q]
            job, best = order[k], 0
            for lane in range(1, many):
                if free[lane] < free[best]:
                    best = lane
            start = max(free[best], ready[k])
            if makespan and start + after[job, stage] > limit:
                return int(start + after[job, stage])
            free[best] = start + work[job, stage]
            ready[k] = free[best] + hold[job, stage]
    total = 0
    for k in range(size):
        if makespan:
            total = max(total, ready[k])
        elif ready[k] > due[order[k]]:
            total += weight[order[k]] * (ready[k] - due[order[k]])
    return int(total)


@jit_compiled
def write_random_change(trial: Array, dice: Array) -> tuple[int, int]:
    """Move one to three neighbours elsewhere, or exchange two jobs; return the first and last place that changed."""
    size = trial.shape[0]
    one, two = random_below(dice, size), random_below(dice, size)
    kind = random_below(dice, 4)
    if kind == 0 or one == two:
        trial[one], trial[two] = trial[two], trial[one]
        return min(one, two), max(one, two)
    many = 1 if kind > 1 else 1 + random_below(dice, 3)
    if one < two:
        many = min(many, two - one)
    else:
        many = min(many, size - one)
    for _ in range(many):
        if one < two:  # each in turn from the front goes behind the same neighbour, so they stay in order
            job = trial[one]
            for k in range(one, two):
                trial[k] = trial[k + 1]
            trial[two] = job
    if one > two:
        for turn in range(many):
            job = trial[one + turn]
            for k in range(one + turn, two + turn, -1):
                trial[k] = trial[k - 1]
            trial[two + turn] = job
        return two, one + many - 1
    return one, two


@jit_compiled
def anneal_job_order(flow: Any, current: Array, best: Array, values: Array, dice: Array, moves: int, heat: float) -> None:
    """Try random changes at one temperature; `values` holds the objectives of `current` and `best`.

    Simulated annealing (Kirkpatrick, Gelatt and Vecchi 1983, Science 220: 671-680). The die is cast before a change is
    judged, so that judging can stop as soon as it is too bad.
    """
    size, stages = current.shape[0], flow[0].shape[1]
    reorders = flow[10]
    trial = current.copy()
    ends, sums = np.zeros((size, stages), np.int64), np.zeros(size, np.int64)
    new_ends, new_sums = np.zeros((size, stages), np.int64), np.zeros(size, np.int64)
    ready, queue, free = np.zeros(size, np.int64), np.zeros(size, np.int64), np.zeros(flow[2].max(), np.int64)
    if not reorders:
        permutation_flow_value(flow, current, 0, size, FAR, ends, sums, ends, sums)
    for _ in range(moves):
        low, high = write_random_change(trial, dice)
        limit = values[0] + int(-heat * np.log((random_below(dice, 1_000_000) + 1) / 1_000_001))
        if reorders:
            value = parallel_stages_value(flow, trial, limit, ready, queue, free)
        else:
            value = permutation_flow_value(flow, trial, low, high, limit, ends, sums, new_ends, new_sums)
        if value > limit:
            trial[low : high + 1] = current[low : high + 1]
            continue
        current[low : high + 1] = trial[low : high + 1]
        values[0] = value
        if not reorders:
            for k in range(low, size):
                sums[k] = new_sums[k]
                for stage in range(stages):
                    ends[k, stage] = new_ends[k, stage]
        if value < values[1]:
            best[:] = current
            values[1] = value


@jit_compiled
def job_order_value(flow: Any, order: Array) -> int:
    """Return the objective of an order."""
    size, stages = order.shape[0], flow[0].shape[1]
    if flow[10]:
        ready, queue, free = np.zeros(size, np.int64), np.zeros(size, np.int64), np.zeros(flow[2].max(), np.int64)
        return int(parallel_stages_value(flow, order, FAR, ready, queue, free))
    ends, sums = np.zeros((size, stages), np.int64), np.zeros(size, np.int64)
    return int(permutation_flow_value(flow, order, 0, size, FAR, ends, sums, ends, sums))
