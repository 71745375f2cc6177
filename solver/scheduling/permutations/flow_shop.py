"""Orders of jobs where one order says all: a flow shop that keeps its order, one machine, and stages of parallel machines.

Simulated annealing over orders, in compiled loops: measured against iterated greedy with full insertion (Ruiz and
Stuetzle 2007), it was as good or better on every set at equal time. Later stages of parallel machines take jobs as they
come. On one machine with weighted tardiness an iterated local search (see `one_machine`) was better at equal time.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from solver.domain.timetable import Job, ScheduleJob, Slot
from solver.jit import COMPILED
from solver.random_numbers import seeded_state
from solver.scheduling.permutations.job_orders import anneal_job_order, job_order_value
from solver.scheduling.permutations.one_machine import iterated_local_search, write_prefix_sums
from solver.search import Search

NEVER_DUE = 2**50
COOLER = 0.7  # a round's first heat by that of the round before
MOST_COST = 2**60  # sums of a few such costs stay within 64 bits
KICK = 7  # moves of annealing for each job that take as long as a kick and its descent
MOST_KICKED = 150  # jobs; beyond, one descent may take seconds, and annealing stops sooner


@dataclass(frozen=True, slots=True)
class FlowShop:
    """Jobs that all visit the same stages in order, as arrays (see `orders`), with the machines of each stage."""

    jobs: tuple[Job, ...]
    stages: tuple[tuple[str, ...], ...]
    arrays: tuple[Any, ...]
    makespan: bool

    def value(self, order: Any) -> int:
        """Return the objective of a whole order (indices of jobs)."""
        return int(job_order_value(self.arrays, np.asarray(order)))


def build_flow_shop(task: ScheduleJob) -> FlowShop | None:
    """Return the job as a flow that one order of jobs decides, or None where it is not one."""
    if not task.jobs or any(machine.closed for machine in task.machines) or any(job.after for job in task.jobs) or task.pools:
        return None
    stages = tuple(tuple(operation.on) for operation in task.jobs[0].operations)
    used = [machine for stage in stages for machine in stage]
    same = all(tuple(tuple(step.on) for step in job.operations) == stages for job in task.jobs)
    alike = all(len(set(step.on.values())) == 1 for job in task.jobs for step in job.operations)
    if not same or not alike or len(set(used)) < len(used):
        return None
    set_up = any(machine.setup is not None and machine.id in used for machine in task.machines)
    single, parallel = len(used) == 1, len(used) > len(stages)
    if (set_up and not single) or (task.same_order and parallel):
        return None
    if not (single or parallel or task.same_order):
        return None  # a flow shop whose order may change from machine to machine is the constraint program's
    return _flow(task, stages)


def _flow(task: ScheduleJob, stages: tuple[tuple[str, ...], ...]) -> FlowShop:
    jobs = task.jobs
    setup, first = np.zeros((0, 0), np.int64), np.zeros(0, np.int64)
    machine = next(machine for machine in task.machines if machine.id == stages[0][0])
    if machine.setup is not None:
        table = np.array(machine.setup, np.int64)
        family = np.array([job.operations[0].family for job in jobs])
        setup = np.ascontiguousarray(table[family][:, family])
        first = (
            np.zeros(len(jobs), np.int64) if machine.initial is None else np.ascontiguousarray(table[machine.initial][family])
        )
    makespan = task.objective == "makespan"
    lanes = np.array([len(stage) for stage in stages], np.int64)
    work = np.array([[next(iter(step.on.values())) for step in job.operations] for job in jobs], np.int64)
    hold = np.array([[step.hold for step in job.operations] for job in jobs], np.int64)
    arrays = (
        work,
        hold,
        lanes,
        np.array([job.release for job in jobs], np.int64),
        np.array([NEVER_DUE if job.due is None else job.due for job in jobs], np.int64),
        np.array([0 if job.due is None else job.weight for job in jobs], np.int64),
        setup,
        first,
        np.cumsum((work + hold)[:, ::-1], axis=1)[:, ::-1].copy(),
        int(makespan),
        int((lanes > 1).any()),
    )
    return FlowShop(jobs, stages, arrays, makespan)


def flow_as_one_machine(flow: FlowShop) -> tuple[tuple[Any, Any, Any, int], int] | None:
    """Return a flow as a line of `one_machine` and what a unit of weighted tardiness costs in it, more than all ends together.

    Without set-ups earlier ends lead nowhere (measured: optima missed); there, and where it would not fit in 64 bits, it costs
    1 and ends nothing. None where the flow is more than one machine, released
    jobs or a makespan.
    """
    work, hold, lanes, release, due, weight, setup, first = flow.arrays[:8]
    if flow.makespan or len(lanes) > 1 or lanes[0] > 1 or release.any():
        return None
    step = np.repeat(work[:, 0][None, :], len(work) + 1, axis=0)
    if setup.shape[0]:
        step[:-1] += setup
        step[-1] += first
    due = due - hold[:, 0]
    longest = sum(step.max(axis=0).tolist())
    unit = len(work) * longest + 1
    if not setup.shape[0] or unit * (1 + sum(weight.tolist())) * (longest + max(0, -int(due.min()))) > MOST_COST:
        return (step, due, weight, 0), 1
    return (step, due, weight * unit, 1), unit


class OrderSearch:
    """A search over orders that goes on where it stopped, by rounds of a stated effort: no clock decides what is found."""

    def __init__(self, flow: FlowShop, seed: int) -> None:
        """`seed` decides all that is random."""
        self.flow = flow
        self.dice = seeded_state(seed)
        self.best = min(_starts(flow), key=flow.value)
        self.value = flow.value(self.best)
        self.rounds = 0
        self.line = flow_as_one_machine(flow) if COMPILED and 1 < len(self.best) <= MOST_KICKED else None

    def improve(self, moves: int, search: Search, lower_bound: int) -> None:
        """Try that many more moves from the best order known, each round of annealing cooler than the one before."""
        if self.line is not None:
            self._kick(*self.line, moves, search, lower_bound)
            return
        hot, cold = self._heats()
        hot = max(2 * cold, hot * COOLER**self.rounds)
        self.rounds += 1
        values = np.array([self.value, self.value], np.int64)
        current, done = self.best.copy(), 0
        chunk = max(1, 2_000_000 // self.flow.arrays[0].size) if COMPILED else 20
        while done < moves and values[1] > lower_bound and len(current) > 1 and not search.over():
            heat = hot * (cold / hot) ** (done / moves)
            anneal_job_order(self.flow.arrays, current, self.best, values, self.dice, min(chunk, moves - done), heat)
            done += chunk
        self.value = int(values[1])

    def _kick(self, line: Any, unit: int, moves: int, search: Search, lower_bound: int) -> None:
        size = len(self.best)
        kicks, chunk = max(1, moves // (KICK * size)), max(1, 15_000 // size)
        home, done = self.best.copy(), 0  # to walk on from where the last round ended was no better
        cost = write_prefix_sums(line, home, np.zeros((size + 1, 3), np.int64), 0)
        values = np.array([cost, cost], np.int64)
        while done < kicks and values[1] // unit > lower_bound and not search.over():
            iterated_local_search(line, home, self.best, values, self.dice, min(chunk, kicks - done))
            done += chunk
        self.value = int(values[1]) // unit

    def slots(self) -> tuple[Slot, ...]:
        """Return the timetable of the best order known."""
        return slots_of_job_order(self.flow, [int(job) for job in self.best])

    def _heats(self) -> tuple[float, float]:
        work, weight = self.flow.arrays[0], self.flow.arrays[5]
        unit = float(work.mean()) * (1.0 if self.flow.makespan else max(1.0, float(weight.mean())))
        return (0.3 * unit, 0.01 * unit) if self.flow.makespan else (2.0 * unit, 0.02 * unit)


def _starts(flow: FlowShop) -> list[Any]:
    """A few sensible orders: by due date, by work over weight, by total work, by latest start."""
    work, _, _, _, due, weight = flow.arrays[:6]
    total = work.sum(axis=1)
    keys = (due, total / np.maximum(1, weight), -total, due - total, total)
    return [np.argsort(key, kind="stable").astype(np.int64) for key in keys]


def slots_of_job_order(flow: FlowShop, order: list[int]) -> tuple[Slot, ...]:
    """Return the timetable of an order of jobs, as `job_orders.job_order_value` runs it."""
    work, hold, lanes, release, _, _, setup, first, _, _, reorders = flow.arrays
    made = []
    ready = [int(release[job]) for job in order]
    for stage, machines in enumerate(flow.stages):
        queue = range(len(order)) if stage == 0 or not reorders else np.argsort(np.array(ready), kind="mergesort")
        free = [0] * int(lanes[stage])
        before = None
        for place in queue:
            job, lane = order[place], free.index(min(free))
            if setup.shape[0]:
                free[lane] += int(first[job] if before is None else setup[before, job])
            start = max(free[lane], ready[place])
            end = start + int(work[job, stage])
            free[lane], before = end, job
            ready[place] = end + int(hold[job, stage])
            made.append(Slot(job=flow.jobs[job].id, index=stage, machine=machines[lane], start=start, end=end))
    return tuple(made)


def stage_bound(flow: FlowShop) -> int:
    """Return a makespan that no timetable beats, from the work of each stage shared by its machines (else 0).

    At a stage of m machines the m least heads come before any full use and the m least tails after it (Santos, Hunsucker
    and Deal 1995, European Journal of Operational Research 80(1): 112-120).
    """
    if not flow.makespan:
        return 0
    work, hold, lanes, release = flow.arrays[:4]
    steps = work + hold
    heads = release[:, None] + np.cumsum(steps, axis=1) - steps
    tails = np.cumsum(steps[:, ::-1], axis=1)[:, ::-1] - work
    best = int((release + steps.sum(axis=1)).max())
    for stage, lane in enumerate(lanes):
        many = min(int(lane), len(flow.jobs))
        head = int(np.sort(heads[:, stage])[:many].sum())
        tail = int(np.sort(tails[:, stage])[:many].sum())
        best = max(best, -(-(head + int(work[:, stage].sum()) + tail) // many))
    return best
