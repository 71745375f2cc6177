"""Inner loops over orders of jobs: what an order is worth, and iterated greedy on it. Plain arrays, no objects.

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
def insert_best(
    order: Array,
    size: int,
    job: int,
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
    """Put a job into an order of `size` jobs (room for one more) where it costs least; return the objective."""
    order[size] = job
    best_at = size
    best = value_of(order, size + 1, work, hold, lanes, release, due, weight, setup, first, makespan, reorders)
    for at in range(size - 1, -1, -1):
        order[at + 1] = order[at]
        order[at] = job
        value = value_of(order, size + 1, work, hold, lanes, release, due, weight, setup, first, makespan, reorders)
        if value < best:
            best, best_at = value, at
    for at in range(best_at):
        order[at] = order[at + 1]
    order[best_at] = job
    return best


@compiled
def take_out(order: Array, size: int, at: int) -> int:
    """Remove the job at a place of an order of `size` jobs, and return it; the rest moves up."""
    job = order[at]
    for k in range(at, size - 1):
        order[k] = order[k + 1]
    return int(job)


@compiled
def roll(dice: Array, sides: int) -> int:
    """Return 0 to sides - 1 from a small generator held in dice[0] (Lehmer; Park and Miller 1988)."""
    dice[0] = dice[0] * 48271 % 2147483647
    return int(dice[0] % sides)


@compiled
def polish(
    order: Array,
    value: int,
    dice: Array,
    tries: int,
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
    """Move jobs and exchange pairs while that helps, until `tries` jobs in a row helped nothing; return the objective."""
    size = order.shape[0]
    idle = 0
    trial = order.copy()
    while idle < tries:
        at = roll(dice, size)
        trial[:] = order
        job = take_out(trial, size, at)
        found = insert_best(trial, size - 1, job, work, hold, lanes, release, due, weight, setup, first, makespan, reorders)
        if found >= value:
            for other in range(size):
                if other != at:
                    order[at], order[other] = order[other], order[at]
                    swapped = value_of(order, size, work, hold, lanes, release, due, weight, setup, first, makespan, reorders)
                    if swapped < found and swapped < value:
                        found = swapped
                        trial[:] = order
                    order[at], order[other] = order[other], order[at]
        if found < value:
            value = found
            order[:] = trial
            idle = 0
        else:
            idle += 1
    return value


@compiled
def greedy(
    current: Array,
    best: Array,
    values: Array,
    dice: Array,
    rounds: int,
    most_out: int,
    tries: int,
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
) -> int:
    """Run iterated greedy for some rounds; `values` holds the objectives of `current` and `best`; return best's."""
    size = current.shape[0]
    trial = current.copy()
    out = np.empty(most_out, np.int64)
    for _ in range(rounds):
        trial[:] = current
        many = min(2 + roll(dice, max(1, most_out - 1)), most_out, size - 1)
        for n in range(many):
            out[n] = take_out(trial, size - n, roll(dice, size - n))
        value = 0
        for n in range(many):
            value = insert_best(
                trial, size - many + n, out[n], work, hold, lanes, release, due, weight, setup, first, makespan, reorders
            )
        if tries > 0:
            value = polish(trial, value, dice, tries, work, hold, lanes, release, due, weight, setup, first, makespan, reorders)
        if value <= values[0] or roll(dice, 1_000_000) < 1_000_000 * np.exp(-(value - values[0]) / max(heat, 1e-9)):
            current[:] = trial
            values[0] = value
        if value < values[1]:
            best[:] = trial
            values[1] = value
    return int(values[1])
