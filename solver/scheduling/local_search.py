"""Which local search fits a job: orders of jobs, graphs of a shop, both or none; each in rounds of a stated effort."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import Protocol

from solver.domain.timetable import ScheduleJob, Slot
from solver.jit import COMPILED
from solver.scheduling.graphs.relinking import GraphSearch, ShopGraph, build_shop_graph
from solver.scheduling.objectives import objective_value
from solver.scheduling.permutations.flow_shop import FlowShop, OrderSearch, build_flow_shop
from solver.search import Search

UNIT = 10_000_000 if COMPILED else 20_000  # operations looked at in a search's first round


class LocalSearch(Protocol):
    """A search that goes on where it stopped."""

    seconds: float  # about what a round of effort 1 takes

    def improve(self, start: tuple[Slot, ...], effort: int, search: Search, lower_bound: int) -> tuple[Slot, ...]:
        """Return the best timetable known after that much more effort; no clock decides which, but for the end of the time."""


class ParallelTabuSearch:
    """Tabu searches side by side, a thread each, that tell each other their best after a round."""

    seconds = 1.0

    def __init__(self, task: ScheduleJob, graph: ShopGraph, search: Search) -> None:
        """One search for each worker, each with a seed of its own."""
        self.task = task
        self.searches = [GraphSearch(graph, search.seed + 7919 * n) for n in range(max(1, search.workers))]
        self.steps = max(1, min(100_000, UNIT // len(graph.keys)))

    def improve(self, start: tuple[Slot, ...], effort: int, search: Search, lower_bound: int) -> tuple[Slot, ...]:
        """Return the best of all after a round of equal effort each."""
        silent = Search(seed=search.seed, workers=1, left_s=search.left_s, stop=search.stop)
        with ThreadPoolExecutor(len(self.searches)) as pool:
            found = list(pool.map(lambda one: one.improve(start, effort * self.steps, silent, lower_bound), self.searches))
        best: tuple[Slot, ...] = min(found, key=lambda slots: objective_value(self.task, slots))
        search.tell(f"shop, {objective_value(self.task, best)}", 0.5)
        return best


class ParallelOrderSearch:
    """Annealing over orders, side by side, each from its own best."""

    seconds = 0.4

    def __init__(self, flow: FlowShop, search: Search) -> None:
        """One search for each worker, each with a seed of its own."""
        self.searches = [OrderSearch(flow, search.seed + 7919 * n) for n in range(max(1, search.workers))]
        self.moves = max(1, 4 * UNIT // flow.arrays[0].size)

    def improve(self, start: tuple[Slot, ...], effort: int, search: Search, lower_bound: int) -> tuple[Slot, ...]:
        """Return the timetable of the best order known; a start may be no order at all, so none is taken in."""
        del start
        silent = Search(seed=search.seed, workers=1, left_s=search.left_s, stop=search.stop)
        with ThreadPoolExecutor(len(self.searches)) as pool:
            list(pool.map(lambda one: one.improve(effort * self.moves, silent, lower_bound), self.searches))
        best = min(self.searches, key=lambda one: one.value)
        search.tell(f"order of jobs, {best.value}", 0.5)
        return best.slots()


def local_searches_for(task: ScheduleJob, search: Search) -> list[LocalSearch]:
    """Return the local searches that fit a job, in the order in which each hands on to the next."""
    made: list[LocalSearch] = []
    flow, graph = build_flow_shop(task), build_shop_graph(task)
    if flow is not None:
        made.append(ParallelOrderSearch(flow, search))
    if graph is not None:
        made.append(ParallelTabuSearch(task, graph, search))
    return made
