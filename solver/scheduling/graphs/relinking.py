"""Shops as graphs: jobs whose only ties are their own steps, the machines and set-ups; least makespan, by tabu and relinking.

A few good timetables are kept; two of them are blended into a third, from which a tabu search goes on (after the path
relinking of Peng, Lu and Cheng 2015, Computers and Operations Research 53: 154-164). Where they go from one timetable to the
other by exchanges, we order the operations by a weighted mean of their starts in both: that order keeps every job's steps in
order, so it is always a timetable.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from solver.domain.timetable import ScheduleJob, Slot
from solver.jit import COMPILED
from solver.random_numbers import seeded_state
from solver.scheduling.graphs.critical_paths import Selection, Shop
from solver.scheduling.graphs.tabu import Best, Tabu, tabu_search
from solver.scheduling.lists.shop import family_numbers, setup_tables
from solver.search import Search

MOST_OPERATIONS = 4000  # the table of tabu pairs is their square
MOST_SETUPS = 20_000_000
FAR = 2**60
LONGEST = 2**50  # beyond, sums of times might not fit 64 bits
ELITE = 12  # timetables kept
PATIENCE = 12_500  # steps without improvement that end one tabu search (Peng, Lu and Cheng 2015)
Array = Any


@dataclass(frozen=True, slots=True)
class ShopGraph:
    """A shop as arrays, with the names of its operations and machines."""

    keys: tuple[tuple[str, int], ...]
    machines: tuple[str, ...]
    shop: Shop


@dataclass(frozen=True, slots=True)
class GraphTimetable:
    """A timetable of a shop: makespan, and the start and machine of each operation."""

    makespan: int
    heads: Array
    machine: Array


def build_shop_graph(task: ScheduleJob) -> ShopGraph | None:
    """Return the job as a graph, or None where something else binds or it is too large."""
    steps = [step for job in task.jobs for step in job.operations]
    families = family_numbers(task)
    cells = len(task.machines) * len(families) ** 2
    dearest = max((cell for machine in task.machines for row in machine.setup or () for cell in row), default=0)
    bound = any(machine.closed for machine in task.machines) or any(job.after for job in task.jobs) or bool(task.pools)
    if task.objective != "makespan" or task.same_order or bound or len(steps) > MOST_OPERATIONS or cells > MOST_SETUPS:
        return None
    longest = sum(step.hold + max(step.on.values()) for step in steps) + max(job.release for job in task.jobs)
    if longest + len(steps) * dearest > LONGEST:
        return None
    setup, first = _set_ups(task, families)
    numbers = {machine.id: n for n, machine in enumerate(task.machines)}
    job_end = np.zeros(len(steps), np.int64)
    job_end[np.cumsum([len(job.operations) for job in task.jobs]) - 1] = 1
    shop = Shop(
        job_end,
        np.array([step.hold for step in steps], np.int64),
        np.array([job.release for job in task.jobs for _ in job.operations], np.int64),
        np.array([families[step.family] for step in steps], np.int64),
        setup,
        first,
        np.cumsum([0, *(len(step.on) for step in steps)]).astype(np.int64),
        np.array([numbers[name] for step in steps for name in step.on], np.int64),
        np.array([work for step in steps for work in step.on.values()], np.int64),
    )
    keys = tuple((job.id, n) for job in task.jobs for n in range(len(job.operations)))
    return ShopGraph(keys, tuple(machine.id for machine in task.machines), shop)


def _set_ups(task: ScheduleJob, families: Mapping[int, int]) -> tuple[Array, Array]:
    if not any(cell for machine in task.machines for row in machine.setup or () for cell in row):
        return np.zeros((0, 0, 0), np.int64), np.zeros((0, 0), np.int64)
    setup = setup_tables(task, families)
    first = np.zeros(setup.shape[:2], np.int64)
    for n, machine in enumerate(task.machines):
        if machine.initial is not None:
            first[n] = setup[n, families[machine.initial]]
    return setup, first


class GraphSearch:
    """A search that goes on where it stopped, by rounds of a stated effort: no clock decides what is found."""

    def __init__(self, graph: ShopGraph, seed: int) -> None:
        """`seed` decides all that is random."""
        self.graph = graph
        self.elite: list[GraphTimetable] = []
        self.size = len(graph.keys)
        self.job_end, self.lag = graph.shop.job_end, graph.shop.lag
        at, machines, works = graph.shop.choice_at, graph.shop.choice_machine, graph.shop.choice_work
        self.choices = [machines[at[n] : at[n + 1]] for n in range(self.size)]
        self.works = {(n, int(machines[k])): int(works[k]) for n in range(self.size) for k in range(int(at[n]), int(at[n + 1]))}
        self.index = {key: n for n, key in enumerate(graph.keys)}
        self.numbers = {name: n for n, name in enumerate(graph.machines)}
        self.dice = seeded_state(seed)
        self.random = np.random.default_rng(seed)
        self.tabu = Tabu(np.zeros((self.size, self.size), np.int32), np.zeros((self.size, len(graph.machines)), np.int32))
        self.best: GraphTimetable | None = None

    def improve(self, start: tuple[Slot, ...], steps: int, search: Search, lower_bound: int) -> tuple[Slot, ...]:
        """Return the best timetable known after `steps` more steps of tabu search; `start` is taken in if it is better."""
        left = steps
        origin = self._taken_in(start)
        if self.best is None or origin.makespan < self.best.makespan:
            self.best = origin
            left -= self._keep(origin, left, search, lower_bound)
        while left > 0 and not search.over() and self._makespan() > lower_bound:
            left -= self._keep(self._child(), left, search, lower_bound)
        return self._slots(self.best)

    def _makespan(self) -> int:
        return FAR if self.best is None else self.best.makespan

    def _child(self) -> GraphTimetable:
        """A blend of two timetables kept; a new one at random until enough are kept, and again where all are worth the same."""
        if len(self.elite) >= ELITE and len({one.makespan for one in self.elite}) == 1:
            self.elite = self.elite[:1]
        return self._random_start() if len(self.elite) < ELITE else self._blend()

    def _taken_in(self, slots: tuple[Slot, ...]) -> GraphTimetable:
        heads, machine = np.zeros(self.size, np.int64), np.zeros(self.size, np.int64)
        for slot in slots:
            n = self.index[slot.job, slot.index]
            heads[n], machine[n] = slot.start, self.numbers[slot.machine]
        makespan = max(slot.end + int(self.lag[self.index[slot.job, slot.index]]) for slot in slots)
        return GraphTimetable(makespan, heads, machine)

    def _random_start(self) -> GraphTimetable:
        """Jobs in a random order, step by step; each on the machine of its choice that has least to do yet."""
        heads, machine = np.zeros(self.size, np.int64), np.zeros(self.size, np.int64)
        rank = self.random.random(self.size)
        start = 0
        for n in range(self.size):
            if self.job_end[n]:
                rank[start : n + 1].sort()
                start = n + 1
        load = [0] * len(self.graph.machines)
        for place, n in enumerate(np.argsort(rank, kind="stable")):
            at = min((int(m) for m in self.choices[n]), key=lambda m: load[m] + self.works[int(n), m])
            load[at] += self.works[int(n), at]
            heads[n], machine[n] = place, at
        return GraphTimetable(0, heads, machine)

    def _blend(self) -> GraphTimetable:
        one, two = self.random.choice(len(self.elite), 2, replace=False)
        first, second = self.elite[one], self.elite[two]
        share = 0.3 + 0.4 * self.random.random()
        heads = ((1 - share) * first.heads + share * second.heads).astype(np.int64)
        takes = self.random.random(self.size) < share
        return GraphTimetable(0, heads, np.where(takes, second.machine, first.machine))

    def _keep(self, child: GraphTimetable, left: int, search: Search, lower_bound: int) -> int:
        """Search on from a timetable, keep the best found if it is good and new; return the steps spent."""
        found, spent = self._tabu(child, left, search, lower_bound)
        if found.makespan < self._makespan():
            self.best = found
        near = [k for k, one in enumerate(self.elite) if self._alike(one, found)]
        worst = max(range(len(self.elite)), key=lambda k: self.elite[k].makespan, default=0)
        if near or len(self.elite) >= ELITE:
            place = near[0] if near else worst
            if found.makespan >= self.elite[place].makespan:
                return spent
            self.elite[place] = found
        else:
            self.elite.append(found)
        return spent

    def _alike(self, one: GraphTimetable, two: GraphTimetable) -> bool:
        """Whether two timetables differ in the neighbours of fewer than one operation in ten."""
        return 10 * int((self._line_up(one)[0] != self._line_up(two)[0]).sum()) < self.size

    def _line_up(self, found: GraphTimetable) -> tuple[Array, Array, Array]:
        before, after = np.full(self.size, -1, np.int64), np.full(self.size, -1, np.int64)
        front = np.full(len(self.graph.machines), -1, np.int64)
        last = [-1] * len(self.graph.machines)
        for n in np.argsort(found.heads, kind="stable"):
            at = found.machine[n]
            if last[at] < 0:
                front[at] = n
            else:
                before[n], after[last[at]] = last[at], n
            last[at] = n
        return before, after, front

    def _tabu(self, child: GraphTimetable, left: int, search: Search, lower_bound: int) -> tuple[GraphTimetable, int]:
        before, after, front = self._line_up(child)
        machine = child.machine.copy()
        work = np.array([self.works[n, int(at)] for n, at in enumerate(machine)], np.int64)
        selection = Selection(machine, work, before, after, front)
        values = np.array([FAR, 0, 0, 0], np.int64)
        best = Best(child.heads.copy(), machine.copy(), values)
        self.tabu.pairs[:], self.tabu.machines[:] = 0, 0
        chunk = max(50, 1_000_000 // self.size) if COMPILED else 5
        while values[3] == 0 and values[1] < left and (not search.over() or values[1] == 0):
            steps = min(chunk, left - int(values[1]))
            tabu_search(self.graph.shop, selection, best, self.tabu, self.dice, steps, PATIENCE, lower_bound)
        spent = max(PATIENCE // 5, int(values[1]))  # a start costs something too
        return GraphTimetable(int(values[0]), best.heads, best.machine), spent

    def _slots(self, found: GraphTimetable) -> tuple[Slot, ...]:
        made = []
        for n, (job, index) in enumerate(self.graph.keys):
            start, at = int(found.heads[n]), int(found.machine[n])
            end = start + self.works[n, at]
            made.append(Slot(job=job, index=index, machine=self.graph.machines[at], start=start, end=end))
        return tuple(made)
