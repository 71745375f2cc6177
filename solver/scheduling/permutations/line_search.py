"""One order of jobs on a line of machines, for weighted tardiness: heat baths and iterated greedy. See `insertion`."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import Any

import numpy as np

from solver.domain.timetable import Slot
from solver.jit import COMPILED
from solver.random_numbers import seeded_state
from solver.scheduling.permutations.flow_shop import FlowShop, slots_of_job_order
from solver.scheduling.permutations.insertion import (
    FAR,
    LANES,
    MachineLine,
    anneal_by_reinsertion,
    insert_jobs_in_turn,
    iterated_greedy,
    new_workspace,
    time_jobs_from,
)
from solver.search import Search

HOT, COLDER = (
    1 / 15,
    20.0,
)  # first temperature, for each job, in what an average operation's work costs; the last is so much less
HEATS = (1.0, 0.4)  # of the workers in turn: the hotter finds more in a long time, the other in a short one
FEW = 100  # jobs up to which every other worker, the first among them, goes by iterated greedy: better there, worse beyond
GREEDY_HEAT = 0.5  # its temperature, in what an average operation's work costs
PER_KICK = 2.5  # insertions for each job that a kick and its descent take, about
MEETINGS = 4  # times at which all go on from the best
ROUND_S = 0.03  # about, between two looks at the clock
MOST_TIME, MOST_COST = 2**31 - 1, 2**60


def flow_as_machine_line(flow: FlowShop) -> MachineLine | None:
    """Return a flow as the line whose lateness `insertion` counts; None where it is something else.

    That is: one machine only, machines in parallel, a makespan, set-ups, one job, or times too long for its numbers.
    """
    work, hold, lanes, release, due, weight, setup = flow.arrays[:7]
    jobs, machines = work.shape
    if flow.makespan or machines < 2 or jobs < 2 or (lanes > 1).any() or setup.shape[0]:
        return None
    longest = sum(work.ravel().tolist()) + sum(hold.ravel().tolist()) + int(release.max())
    if longest > MOST_TIME or longest * (1 + sum(weight.tolist())) > MOST_COST:
        return None
    return MachineLine(work.astype(np.int32), hold.astype(np.int32), release.astype(np.int32), due, weight)


class ReinsertionChain:
    """One worker's search: the order where it is, and the best that it found."""

    def __init__(self, line: MachineLine, seed: int, heat: float, *, greedy: bool) -> None:
        """`heat`: of the first temperature of a heat bath; `greedy`: iterated greedy instead."""
        self.greedy, jobs = greedy, len(line.due)
        self.line, self.workspace = line, new_workspace(line)
        self.dice = seeded_state(seed)
        unit = max(1.0, float(line.work.mean() * line.weight.mean()))
        self.heat = unit * (GREEDY_HEAT if greedy else heat * HOT * jobs)
        self.order = np.zeros(jobs, np.int64)
        self.best, self.values = self.order.copy(), np.full(2, FAR, np.int64)

    def begin(self, order: Any, cost: int) -> None:
        """Go on from an order that costs so much."""
        self.order[:] = order
        self.values[0] = cost
        if cost < self.values[1]:
            self.best[:], self.values[1] = order, cost

    def anneal_on(self, steps: int, gone: float) -> None:
        """Take about that many jobs out and put them in, at the temperature for a share of the time that is gone."""
        if self.greedy:
            kicks = max(1, int(steps / (PER_KICK * len(self.order))))
            iterated_greedy(self.line, self.workspace, self.order, self.best, self.values, self.dice, kicks, self.heat)
            return
        heat = self.heat * COLDER**-gone
        anneal_by_reinsertion(self.line, self.workspace, self.order, self.best, self.values, self.dice, steps, heat)


class MachineLineSearch:
    """Searches side by side, for the whole of the time."""

    def __init__(self, flow: FlowShop, line: MachineLine, search: Search) -> None:
        """One for each worker, each with a seed of its own."""
        self.flow = flow
        jobs, machines = line.work.shape
        self.chains = [
            ReinsertionChain(line, search.seed + 7919 * n, HEATS[n % len(HEATS)], greedy=jobs <= FEW and n % 2 == 0)
            for n in range(max(1, search.workers))
        ]
        blocks = -(-jobs // LANES)
        self.seconds = 2e-6 + jobs * (2e-8 + 2e-9 * machines) + 1e-10 * machines * blocks * LANES * (jobs / 2 + LANES / 2)
        self.steps = max(1, int(ROUND_S / self.seconds))

    def improve(self, search: Search, lower_bound: int) -> tuple[Slot, ...]:
        """Return the best timetable found until the time is over or it is as good as the floor."""
        cost = self._build(search)
        whole, gone, met = max(1e-6, search.left_s()), 0.0, 1
        with ThreadPoolExecutor(len(self.chains)) as pool:
            while cost > lower_bound and not search.over():
                list(pool.map(lambda one, gone=gone: one.anneal_on(self.steps, gone), self.chains))
                search.spend(self.seconds * self.steps)
                gone = min(1.0, 1 - search.left_s() / whole)
                cost = min(int(one.values[1]) for one in self.chains)
                if gone * MEETINGS >= met:
                    self._meet()
                    met += 1
                search.tell(f"order of jobs, {cost}", gone)
        best = min(self.chains, key=lambda one: int(one.values[1])).best
        return slots_of_job_order(self.flow, best.tolist())

    def _build(self, search: Search) -> int:
        """Begin all at an order by best insertion, jobs by due date; where the time ends, the rest comes last as it is."""
        first = self.chains[0]
        line, workspace, order = first.line, first.workspace, first.order.copy()
        given = np.argsort(line.due, kind="stable").astype(np.int64)
        done, size = 0, len(given)
        while done < size and not search.over():
            many = min(size, done + self.steps)
            insert_jobs_in_turn(line, workspace, given, order, done, many)
            search.spend(self.seconds * (many - done) / 3)
            done = many
        order[done:] = given[done:]
        cost = time_jobs_from(line, workspace, order, done, size)
        for one in self.chains:
            one.begin(order, cost)
        return cost

    def _meet(self) -> None:
        first = min(self.chains, key=lambda one: int(one.values[0]))
        for one in self.chains:
            if one is not first:
                one.begin(first.order, int(first.values[0]))


def machine_line_search_for(flow: FlowShop, search: Search) -> MachineLineSearch | None:
    """Return the search for a flow that is a line with due dates; None where it is another, or loops are not compiled."""
    line = flow_as_machine_line(flow) if COMPILED else None
    return None if line is None else MachineLineSearch(flow, line, search)
