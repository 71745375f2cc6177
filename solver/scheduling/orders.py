"""Inner loops over orders of jobs: what an order is worth, and annealing on it. Plain arrays, no objects.

`work[job, stage]`, `hold[job, stage]`, `lanes[stage]` (machines in parallel), `release`, `due`, `weight` by job,
`setup[job, job]` and `first[job]` (one machine with set-ups; else of size 0). Values are whole numbers.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from solver.jit import compiled

Array = Any


@compiled
def value_of(
    order: Array,
    size: int,
    work: Array,
    hold: Array,
    lanes: Array,
    release: Array,
    due: Array,
    weight: Array,
    setup: Array,
    first: Array,
    makespan: bool,
    reorders: bool,
) -> int:
    """Return the objective of the first `size` jobs of an order."""
    ready = np.empty(size, np.int64)
    for k in range(size):
        ready[k] = release[order[k]]
    stages = work.shape[1]
    for stage in range(stages):
        lane = lanes[stage]
        if lane == 1 and not reorders:
            at = 0
            for k in range(size):
                job = order[k]
                if setup.shape[0] > 0:
                    at += first[job] if k == 0 else setup[order[k - 1], job]
                at = max(at, ready[k])
                at += work[job, stage]
                ready[k] = at + hold[job, stage]
        else:
            queue = np.argsort(ready, kind="mergesort") if stage > 0 else np.arange(size)
            free = np.zeros(lane, np.int64)
            for q in range(size):
                k = queue[q]
                job = order[k]
                best = 0
                for lane_number in range(1, lane):
                    if free[lane_number] < free[best]:
                        best = lane_number
                at = max(free[best], ready[k]) + work[job, stage]
                free[best] = at
                ready[k] = at + hold[job, stage]
    total = 0
    for k in range(size):
        if makespan:
            total = max(total, ready[k])
        else:
            late = ready[k] - due[order[k]]
            if late > 0:
                total += weight[order[k]] * late
    return total


@compiled
def roll(dice: Array, sides: int) -> int:
    """Return 0 to sides - 1 from a small generator held in dice[0] (Lehmer; Park and Miller 1988)."""
    dice[0] = dice[0] * 48271 % 2147483647
    return int(dice[0] % sides)


@compiled
def anneal(
    current: Array,
    best: Array,
    values: Array,
    dice: Array,
    moves: int,
    heat: float,
    work: Array,
    hold: Array,
    lanes: Array,
    release: Array,
    due: Array,
    weight: Array,
    setup: Array,
    first: Array,
    makespan: bool,
    reorders: bool,
) -> None:
    """Try random moves and exchanges at one temperature; `values` holds the objectives of `current` and `best`.

    Simulated annealing (Kirkpatrick, Gelatt and Vecchi 1983, Science 220: 671-680).
    """
    size = current.shape[0]
    trial = current.copy()
    for _ in range(moves):
        one, two = roll(dice, size), roll(dice, size)
        if one == two:
            continue
        trial[:] = current
        if roll(dice, 3) > 0:
            job = trial[one]
            step = 1 if one < two else -1
            for k in range(one, two, step):
                trial[k] = trial[k + step]
            trial[two] = job
        else:
            trial[one], trial[two] = trial[two], trial[one]
        value = value_of(trial, size, work, hold, lanes, release, due, weight, setup, first, makespan, reorders)
        if value <= values[0] or roll(dice, 1_000_000) < 1_000_000 * np.exp(-(value - values[0]) / heat):
            current[:] = trial
            values[0] = value
            if value < values[1]:
                best[:] = trial
                values[1] = value
