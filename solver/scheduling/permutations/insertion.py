"""Inner loops over orders of jobs on a line of machines, with weighted tardiness: all places of a job judged at once.

One order on all machines. What each place of a job costs is counted for LANES places side by side: before it times are
known, and the jobs behind it are timed once for all of them, a few vector operations a machine. For lateness no shorter way
is known: the acceleration of Taillard (1990, European Journal of Operational Research 47: 65-74) gives the last end only.

An order is built by best insertion (Nawaz, Enscore and Ham 1983, Omega 11: 91-95), the jobs by due date (as in Vallada, Ruiz
and Minella 2008, Computers & Operations Research 35: 1350-1373). Two searches go on from it. In a heat bath a job taken out
goes to a place drawn by Boltzmann's weights, so no move is refused (Geman and Geman 1984, IEEE Transactions on Pattern
Analysis and Machine Intelligence 6: 721-741), while it cools. Iterated greedy takes some jobs out, puts each at its best place
and descends (Ruiz and Stuetzle 2007, European Journal of Operational Research 177: 2033-2049). At equal time the second found
less lateness on 50 jobs, the first on 150 and more.

`ends[k]` are the ends on each machine of the job at place k - 1, `ends[0]` zeros; `sums[k]` what the first k jobs cost.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from solver.jit import jit_compiled
from solver.random_numbers import random_below

Array = Any
LANES = 64  # a width that is fixed lets the compiler use vectors throughout; of 16 to 128 the fastest
LOOKED_AT = 8  # jobs timed between two looks at whether all places are too dear
FAR = 2**60
KICKED = 4  # jobs taken out at once by iterated greedy
UNLIKELY = 8.0  # heats by which a place is so much dearer than the old one that it is left out (once in 3,000 draws)


class MachineLine(NamedTuple):
    """Jobs on a line of machines, as arrays by job (and machine). All ends together must fit in 31 bits."""

    work: Array
    hold: Array
    release: Array
    due: Array
    weight: Array


class Workspace(NamedTuple):
    """Memory that the loops use: times, sums and costs by place, ends and costs by lane."""

    ends: Array
    sums: Array
    costs: Array
    free: Array
    total: Array


def new_workspace(line: MachineLine) -> Workspace:
    """Return memory for one search on a line."""
    jobs, machines = line.work.shape
    return Workspace(
        np.zeros((jobs + 1, machines), np.int32),
        np.zeros(jobs + 1, np.int64),
        np.zeros(jobs + 1, np.int64),
        np.zeros((machines, LANES), np.int32),
        np.zeros(LANES, np.int64),
    )


@jit_compiled
def time_jobs_from(line: MachineLine, workspace: Workspace, order: Array, low: int, size: int) -> int:
    """Time the jobs from a place on, up to `size` jobs; return what these cost."""
    work, hold, release, due, weight = line
    ends, sums = workspace.ends, workspace.sums
    for k in range(low, size):
        job = order[k]
        ready = release[job]
        for m in range(work.shape[1]):
            at = max(ends[k, m], ready) + work[job, m]
            ends[k + 1, m] = at
            ready = at + hold[job, m]
        sums[k + 1] = sums[k] + weight[job] * max(0, ready - due[job])
    return int(sums[size])


@jit_compiled
def _begin(line: MachineLine, workspace: Workspace, job: int, place: int, lane: int) -> None:
    """Let a lane begin: the job at a place, behind what is there."""
    work, hold, release, due, weight = line
    ready = release[job]
    for m in range(work.shape[1]):
        at = max(workspace.ends[place, m], ready) + work[job, m]
        workspace.free[m, lane] = at
        ready = at + hold[job, m]
    workspace.total[lane] = workspace.sums[place] + weight[job] * max(0, ready - due[job])


# Each a loop of its own over rows handed to it: only so does the compiler see that it may use vectors (three times as fast).


@jit_compiled
def _first(here: Array, release: int, work: int) -> None:
    for lane in range(LANES):
        here[lane] = max(np.int32(release), here[lane]) + work


@jit_compiled
def _next(above: Array, here: Array, hold: int, work: int) -> None:
    for lane in range(LANES):
        here[lane] = max(np.int32(above[lane] + hold), here[lane]) + work  # 32 bits throughout: twice the lanes a vector


@jit_compiled
def _late(last: Array, total: Array, spare: int, weight: int) -> None:
    for lane in range(LANES):
        total[lane] += weight * max(0, last[lane] - spare)


@jit_compiled
def _follow(line: MachineLine, workspace: Workspace, job: int) -> None:
    """Time a job behind what is in each lane."""
    free, machines = workspace.free, line.work.shape[1]
    _first(free[0], line.release[job], line.work[job, 0])
    for m in range(1, machines):
        _next(free[m - 1], free[m], line.hold[job, m - 1], line.work[job, m])
    _late(free[machines - 1], workspace.total, line.due[job] - line.hold[job, machines - 1], line.weight[job])


@jit_compiled
def write_insertion_costs(line: MachineLine, workspace: Workspace, order: Array, size: int, job: int, limit: int) -> None:
    """Write to `room.costs` what the first `size` jobs cost with one more at each place among them, 0 to `size`.

    A cost above `limit` may be less than the true one, yet is above it: the rest costs no less than it did without the job.
    """
    sums, total = workspace.sums, workspace.total
    for block in range(0, size + 1, LANES):
        many = min(LANES, size + 1 - block)
        workspace.free[:, :] = 0
        total[:] = 0
        _begin(line, workspace, job, block, 0)
        for k in range(block, size):
            _follow(line, workspace, order[k])
            if k + 1 < block + many:
                _begin(line, workspace, job, k + 1, k + 1 - block)
            elif k % LOOKED_AT == 0:
                rest = sums[size] - sums[k + 1]
                if total[:many].min() + rest > limit:
                    total += rest
                    break
        workspace.costs[block : block + many] = total[:many]


@jit_compiled
def remove_job(order: Array, place: int, size: int) -> None:
    """Take a job out of an order of `size`."""
    for k in range(place, size - 1):
        order[k] = order[k + 1]


@jit_compiled
def insert_job(order: Array, place: int, size: int, job: int) -> None:
    """Put a job at a place of an order that has `size` with it."""
    for k in range(size - 1, place, -1):
        order[k] = order[k - 1]
    order[place] = job


@jit_compiled
def insert_jobs_in_turn(line: MachineLine, workspace: Workspace, given: Array, order: Array, low: int, high: int) -> int:
    """Put jobs given from `low` to `high` each at its best place among those before, of equals the last; return the cost."""
    for size in range(low, high):
        write_insertion_costs(line, workspace, order, size, given[size], FAR)
        best = 0
        for place in range(1, size + 1):
            if workspace.costs[place] <= workspace.costs[best]:
                best = place
        insert_job(order, best, size + 1, given[size])
        time_jobs_from(line, workspace, order, best, size + 1)
    return int(workspace.sums[high])


@jit_compiled
def anneal_by_reinsertion(
    line: MachineLine, workspace: Workspace, order: Array, best: Array, values: Array, dice: Array, steps: int, heat: float
) -> None:
    """Take so many jobs out, each drawn, and put each at a place drawn by exp(-cost / heat).

    `values`: the costs of `order` and `best`. The draw takes the least cost less Gumbel noise, which has the same odds.
    """
    size = order.shape[0]
    time_jobs_from(line, workspace, order, 0, size)
    for _ in range(steps):
        place = random_below(dice, size)
        job, limit = order[place], values[0] + int(UNLIKELY * heat)
        remove_job(order, place, size)
        time_jobs_from(line, workspace, order, place, size - 1)
        write_insertion_costs(line, workspace, order, size - 1, job, limit)
        pick, least = place, np.inf
        for k in range(size):
            if workspace.costs[k] <= limit:
                drawn = workspace.costs[k] + heat * np.log(-np.log((random_below(dice, 1_000_000) + 0.5) / 1_000_000))
                if drawn < least:
                    pick, least = k, drawn
        insert_job(order, pick, size, job)
        values[0] = time_jobs_from(line, workspace, order, min(place, pick), size)
        if values[0] < values[1]:
            values[1] = values[0]
            best[:] = order


@jit_compiled
def cheapest_place(workspace: Workspace, many: int, dice: Array) -> int:
    """Return the place of the least cost among the first so many; of equals one that is drawn."""
    best, equal = 0, 1
    for place in range(1, many):
        if workspace.costs[place] < workspace.costs[best]:
            best, equal = place, 1
        elif workspace.costs[place] == workspace.costs[best]:
            equal += 1
            if random_below(dice, equal) == 0:
                best = place
    return best


@jit_compiled
def descend_by_reinsertion(line: MachineLine, workspace: Workspace, order: Array, dice: Array) -> int:
    """Put jobs at their best places, in an order that is drawn, until none betters the whole; return what it costs.

    `workspace` must hold the times of the order.
    """
    size = order.shape[0]
    queue, idle, cost = order.copy(), 0, workspace.sums[size]
    while True:
        for n in range(size - 1, 0, -1):
            other = random_below(dice, n + 1)
            queue[n], queue[other] = queue[other], queue[n]
        for job in queue:
            place = 0
            while order[place] != job:
                place += 1
            remove_job(order, place, size)
            time_jobs_from(line, workspace, order, place, size - 1)
            write_insertion_costs(line, workspace, order, size - 1, job, cost)
            pick = cheapest_place(workspace, size, dice)
            if workspace.costs[pick] > cost:  # never: its old place costs as much
                pick = place
            insert_job(order, pick, size, job)
            now = time_jobs_from(line, workspace, order, min(place, pick), size)
            idle = 0 if now < cost else idle + 1
            cost = now
            if idle >= size:
                return int(cost)


@jit_compiled
def iterated_greedy(
    line: MachineLine, workspace: Workspace, order: Array, best: Array, values: Array, dice: Array, kicks: int, heat: float
) -> None:
    """Iterated greedy: take KICKED jobs out, put each at its best place, descend; now and then go on from a worse order.

    `values`: the costs of `order` and `best`.
    """
    size = order.shape[0]
    home, gone = order.copy(), np.zeros(KICKED, np.int64)
    many = min(KICKED, size - 1)
    for _ in range(kicks):
        order[:] = home
        for n in range(many):
            place = random_below(dice, size - n)
            gone[n] = order[place]
            remove_job(order, place, size - n)
        time_jobs_from(line, workspace, order, 0, size - many)
        for n in range(many):
            here = size - many + n
            write_insertion_costs(line, workspace, order, here, gone[n], FAR)
            place = cheapest_place(workspace, here + 1, dice)
            insert_job(order, place, here + 1, gone[n])
            time_jobs_from(line, workspace, order, place, here + 1)
        cost = descend_by_reinsertion(line, workspace, order, dice)
        if cost <= values[0] + int(-heat * np.log((random_below(dice, 1_000_000) + 1) / 1_000_001)):
            home[:] = order
            values[0] = cost
        if cost < values[1]:
            values[1] = cost
            best[:] = order
    order[:] = home
