"""Job shops by tabu search on critical blocks, in compiled loops.

Nowicki and Smutnicki (1996), Management Science 42(6): 797-813: exchange only at the ends of a critical path's blocks
(their N5); a move is judged by the estimate of Taillard (1994, ORSA Journal on Computing 6(2): 108-117) and its reverse is
tabu for a while. Instead of their back jumps, a search that stalls is shaken and starts again from the best.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from solver.domain.timetable import ScheduleJob, Slot
from solver.jit import COMPILED, compiled
from solver.scheduling.orders import roll
from solver.search import Search

Array = Any


@compiled
def heads_and_tails(work: Array, job_end: Array, before: Array, after: Array, heads: Array, tails: Array, line: Array) -> int:
    """Fill heads (earliest starts) and tails (work after the start, own included); return the makespan, or -1: a circle.

    Operations of a job are neighbours; `job_end[n]`: 1 where n is its job's last. `before`, `after`: neighbours on the
    machine, -1 for none. `line` is left in an order in which every operation comes after what it waits for.
    """
    size = work.shape[0]
    waits = np.zeros(size, np.int64)
    tail, head = 0, 0
    for n in range(size):
        if n > 0 and job_end[n - 1] == 0:
            waits[n] += 1
        if before[n] >= 0:
            waits[n] += 1
        if waits[n] == 0:
            line[tail] = n
            tail += 1
    makespan = 0
    while head < tail:
        n = line[head]
        head += 1
        start = 0
        if n > 0 and job_end[n - 1] == 0:
            start = heads[n - 1] + work[n - 1]
        if before[n] >= 0:
            start = max(start, heads[before[n]] + work[before[n]])
        heads[n] = start
        makespan = max(makespan, start + work[n])
        if job_end[n] == 0:
            waits[n + 1] -= 1
            if waits[n + 1] == 0:
                line[tail] = n + 1
                tail += 1
        other = after[n]
        if other >= 0:
            waits[other] -= 1
            if waits[other] == 0:
                line[tail] = other
                tail += 1
    if tail < size:
        return -1
    for k in range(size - 1, -1, -1):
        n = line[k]
        rest = 0
        if job_end[n] == 0:
            rest = tails[n + 1]
        if after[n] >= 0:
            rest = max(rest, tails[after[n]])
        tails[n] = rest + work[n]
    return makespan


@compiled
def exchange(one: int, two: int, before: Array, after: Array) -> None:
    """Let `two`, which follows `one` on its machine, go first."""
    first, last = before[one], after[two]
    if first >= 0:
        after[first] = two
    if last >= 0:
        before[last] = one
    before[two] = first
    after[two] = one
    before[one] = two
    after[one] = last


@compiled
def estimate(one: int, two: int, work: Array, job_end: Array, before: Array, after: Array, heads: Array, tails: Array) -> int:
    """Return the longest way through either operation once they are exchanged: at most the new makespan."""
    head_two = 0
    if two > 0 and job_end[two - 1] == 0:
        head_two = heads[two - 1] + work[two - 1]
    if before[one] >= 0:
        head_two = max(head_two, heads[before[one]] + work[before[one]])
    head_one = head_two + work[two]
    if one > 0 and job_end[one - 1] == 0:
        head_one = max(head_one, heads[one - 1] + work[one - 1])
    tail_one = 0
    if job_end[one] == 0:
        tail_one = tails[one + 1]
    if after[two] >= 0:
        tail_one = max(tail_one, tails[after[two]])
    tail_one += work[one]
    tail_two = tail_one
    if job_end[two] == 0:
        tail_two = max(tail_two, tails[two + 1])
    tail_two += work[two]
    return int(max(head_one + tail_one, head_two + tail_two))


@compiled
def block_ends(
    makespan: int,
    work: Array,
    job_end: Array,
    machine: Array,
    before: Array,
    after: Array,
    heads: Array,
    dice: Array,
    moves: Array,
) -> int:
    """Write the exchanges at the ends of a random critical path's blocks as pairs into `moves`; return how many."""
    size = work.shape[0]
    ends = np.empty(size, np.int64)
    many = 0
    for n in range(size):
        if heads[n] + work[n] == makespan:
            ends[many] = n
            many += 1
    at = ends[roll(dice, many)]
    path = np.empty(size, np.int64)
    length = 0
    while True:  # backwards, from an operation that ends last
        path[length] = at
        length += 1
        if heads[at] == 0:
            break
        by_job = at > 0 and job_end[at - 1] == 0 and heads[at - 1] + work[at - 1] == heads[at]
        by_machine = before[at] >= 0 and heads[before[at]] + work[before[at]] == heads[at]
        if by_job and (not by_machine or roll(dice, 2) == 0):
            at = at - 1
        elif by_machine:
            at = before[at]
        else:
            break  # starts late for no reason: released work
    made, low = 0, 0
    while low < length:
        high = low
        while high + 1 < length and machine[path[high + 1]] == machine[path[low]] and before[path[high]] == path[high + 1]:
            high += 1
        if high > low:
            first_block, last_block = high == length - 1, low == 0
            if not last_block or first_block:
                moves[made, 0], moves[made, 1] = path[low + 1], path[low]
                made += 1
            if (not first_block or last_block) and (high - low > 1 or made == 0 or moves[made - 1, 0] != path[high]):
                moves[made, 0], moves[made, 1] = path[high], path[high - 1]
                made += 1
        low = high + 1
    return made


@compiled
def search_blocks(
    steps: int,
    patience: int,
    work: Array,
    job_end: Array,
    machine: Array,
    before: Array,
    after: Array,
    best_before: Array,
    best_after: Array,
    values: Array,
    tabu: Array,
    dice: Array,
    floor: int,
) -> None:
    """Move for some steps; `values`: best makespan, step counter, step of the last improvement. Keeps the best in place."""
    size = work.shape[0]
    heads, tails, line = np.zeros(size, np.int64), np.zeros(size, np.int64), np.zeros(size, np.int64)
    moves = np.zeros((2 * size + 2, 2), np.int64)
    for _ in range(steps):
        values[1] += 1
        makespan = heads_and_tails(work, job_end, before, after, heads, tails, line)
        if makespan >= 0 and makespan < values[0]:
            values[0], values[2] = makespan, values[1]
            best_before[:] = before
            best_after[:] = after
        if values[0] <= floor:
            return
        stalled = values[1] - values[2] > patience
        if makespan < 0 or stalled:
            before[:] = best_before
            after[:] = best_after
            tabu[:, :] = 0
            values[2] = values[1]
            makespan = heads_and_tails(work, job_end, before, after, heads, tails, line)
            for _shake in range(3 + roll(dice, 10)):
                many = block_ends(makespan, work, job_end, machine, before, after, heads, dice, moves)
                if many == 0:
                    break
                pick = roll(dice, many)
                exchange(moves[pick, 0], moves[pick, 1], before, after)
                makespan = heads_and_tails(work, job_end, before, after, heads, tails, line)
            continue
        many = block_ends(makespan, work, job_end, machine, before, after, heads, dice, moves)
        if many == 0:
            values[0] = min(values[0], makespan)
            return
        chosen, least, ties = -1, 2**60, 1
        for k in range(many):
            one, two = moves[k, 0], moves[k, 1]
            value = estimate(one, two, work, job_end, before, after, heads, tails)
            if tabu[two, one] > values[1] and value >= values[0]:
                continue
            if value < least:
                chosen, least, ties = k, value, 1
            elif value == least:
                ties += 1
                if roll(dice, ties) == 0:
                    chosen = k
        if chosen < 0:
            chosen = roll(dice, many)
        one, two = moves[chosen, 0], moves[chosen, 1]
        exchange(one, two, before, after)
        tabu[one, two] = values[1] + 8 + roll(dice, 10) + size // 60


def is_job_shop(task: ScheduleJob) -> bool:
    """Return whether a job is a plain job shop: one machine an operation, makespan, and nothing else that binds."""
    return (
        task.objective == "makespan"
        and not task.same_order
        and all(not machine.closed and machine.setup is None for machine in task.machines)
        and all(not job.after and job.release == 0 for job in task.jobs)
        and all(
            len(step.on) == 1 and step.hold == 0 and min(step.on.values()) > 0 for job in task.jobs for step in job.operations
        )
    )


def improve_job_shop(task: ScheduleJob, start: tuple[Slot, ...], search: Search, floor: int) -> tuple[Slot, ...]:
    """Return the best timetable found from a sound one, until the time is over or the floor is reached."""
    keys = [(job.id, n) for job in task.jobs for n in range(len(job.operations))]
    index = {key: n for n, key in enumerate(keys)}
    steps = [step for job in task.jobs for step in job.operations]
    work = np.array([next(iter(step.on.values())) for step in steps], np.int64)
    names = [next(iter(step.on)) for step in steps]
    numbers = {machine.id: n for n, machine in enumerate(task.machines)}
    machine = np.array([numbers[name] for name in names], np.int64)
    job_end = np.zeros(len(keys), np.int64)
    job_end[np.cumsum([len(job.operations) for job in task.jobs]) - 1] = 1
    before, after = np.full(len(keys), -1, np.int64), np.full(len(keys), -1, np.int64)
    last: dict[str, int] = {}
    for slot in sorted(start, key=lambda slot: (slot.start, slot.end)):
        n = index[slot.job, slot.index]
        if slot.machine in last:
            before[n], after[last[slot.machine]] = last[slot.machine], n
        last[slot.machine] = n
    best_before, best_after = before.copy(), after.copy()
    values = np.array([2**60, 0, 0], np.int64)
    tabu = np.zeros((len(keys), len(keys)), np.int64)
    dice = np.array([search.seed % 2147483646 + 1], np.int64)
    chunk = max(1, 4_000_000 // len(keys)) if COMPILED else 20
    while not search.over() and values[0] > floor:
        search_blocks(chunk, 12_000, work, job_end, machine, before, after, best_before, best_after, values, tabu, dice, floor)
        search.tell(f"job shop, {values[0]}", 0.5)
    heads, tails, line = np.zeros_like(work), np.zeros_like(work), np.zeros_like(work)
    heads_and_tails(work, job_end, best_before, best_after, heads, tails, line)
    return tuple(
        Slot(job=job, index=n, machine=names[k], start=int(heads[k]), end=int(heads[k] + work[k]))
        for k, (job, n) in enumerate(keys)
    )
