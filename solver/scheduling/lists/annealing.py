"""Large timetables by moves on the list: what made a late job late goes elsewhere. See `lists`, `moves`, `shop`.

Annealing (Kirkpatrick, Gelatt and Vecchi 1983, Science 220: 671-680) over lists of operations, one for each worker; now and
then all go on from the best of them. After a move only what it changes is timed again.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np

from solver.domain.timetable import ScheduleJob, Slot
from solver.jit import COMPILED, jit_compiled
from solver.random_numbers import random_below, seeded_state
from solver.scheduling.lists.decoding import TOO_MUCH, DecodedList, decode_marked, undecoded_list, undo_decoding
from solver.scheduling.lists.moves import draw_move, move_and_record, revert_moves, slide_predecessors
from solver.scheduling.lists.rules import start_lists
from solver.scheduling.lists.shop import Shop, build_shop, predecessor_lists, slots_from_arrays
from solver.search import Search

Array = Any
LARGE = 400  # operations from which the constraint program's model is no help: it takes a gigabyte and more than its time
HOT, COLD = 6.0, 0.15  # first and last temperature, in what it costs that an average job is late by an average operation
MOVES_FOR_HOT = 300  # tried for each operation, where the search starts at HOT; with fewer it starts less hot
SLIDES = 50  # of a thousand moves
GIVEN_UP = 20.0  # a move is given up once it costs so much, in the same unit, more than may be, as far as it was timed
MEETINGS = 4  # times at which all go on from the best


@jit_compiled
def anneal(
    shop: Shop,
    plan: DecodedList,
    ends: Array,
    kin_at: Array,
    kin: Array,
    steps: int,
    heat: float,
    unit: float,
    best: Array,
    values: Array,
    dice: Array,
) -> None:
    """Try moves at one temperature. `values`: cost now, least cost; `best`: its list, and where in `lane` machines stand."""
    size = plan.order.shape[0]
    found, line, stack = np.empty(size, np.int64), np.empty(size, np.int64), np.empty((size, 4), np.int64)
    wish, touched, more = np.empty(3, np.int64), np.empty(2, np.int64), np.zeros(2, np.int64)
    people, pooled = np.zeros(shop.people_at[-1], np.int64), shop.takes.shape[1] > 0
    for _ in range(steps):
        many = 0
        if random_below(dice, 1_000) < SLIDES:
            many = slide_predecessors(shop, plan, ends, kin_at, kin, dice, stack, line, touched)
        elif draw_move(shop, plan, ends, found, dice, wish):
            touched[0] = min(wish[1], plan.place[wish[0]])
            touched[1] = move_and_record(shop, plan, wish[0], wish[1], wish[2], stack, 0)
            many = 1
        if many == 0:
            continue
        if pooled:  # who is free when depends on all that is before
            people[:], plan.marks[:], touched[0], touched[1] = 0, 1, 0, size
        limit = int(-heat * np.log((random_below(dice, 1_000_000) + 1) / 1_000_001))
        sound = decode_marked(shop, plan, touched[0], touched[1], limit + int(GIVEN_UP * unit), people, more)
        if sound and more[0] <= limit:
            values[0] += more[0]
            if values[0] < values[1]:
                values[1] = values[0]
                best[0], best[1] = plan.order, plan.pick
            continue
        undo_decoding(plan, more[1])
        if not sound:
            plan.marks[:] = 0
        revert_moves(shop, plan, stack, many)


@dataclass(frozen=True, slots=True)
class TimedList:
    """A list with its times: operations in order, machines as picked, start and end by operation."""

    order: Array
    pick: Array
    start: Array
    end: Array
    cost: int


def time_list(shop: Shop, order: Array, pick: Array) -> TimedList:
    """Return a list's timetable; cost TOO_MUCH where a pinned operation would have to move."""
    plan, cost = _timed(shop, order, pick)
    return TimedList(order, pick, plan.start, plan.end, cost)


def _timed(shop: Shop, order: Array, pick: Array) -> tuple[DecodedList, int]:
    plan, more = undecoded_list(shop, order, pick), np.zeros(2, np.int64)
    sound = decode_marked(shop, plan, 0, len(order), TOO_MUCH, np.zeros(int(shop.people_at[-1]), np.int64), more)
    return plan, int(more[0]) if sound else TOO_MUCH


class AnnealingChain:
    """One worker's annealing: the list where it is, and the best that it found."""

    def __init__(self, shop: Shop, begun: TimedList, seed: int) -> None:
        """Begin at a sound list."""
        self.shop, self.ends = shop, np.flatnonzero(shop.counted).astype(np.int64)
        self.kin = predecessor_lists(shop, self.ends)
        self.dice = seeded_state(seed)
        self.best, self.values = np.array([begun.order, begun.pick]), np.array([begun.cost, begun.cost], np.int64)
        self.plan = _timed(shop, begun.order, begun.pick)[0]

    def anneal_on(self, steps: int, heat: float) -> None:
        """Try moves at one temperature, from the same timetable as a list in order of time."""
        if not self.shop.takes.shape[1]:
            self._in_order_of_time()
        anneal(
            self.shop,
            self.plan,
            self.ends,
            *self.kin,
            steps,
            heat,
            tardiness_cost_unit(self.shop),
            self.best,
            self.values,
            self.dice,
        )

    def restart_from_best(self) -> None:
        """Go on from the best found."""
        self.plan, self.values[0] = _timed(self.shop, *self.best)

    def restart_from(self, other: AnnealingChain) -> None:
        """Go on from where another one is, with the better of both bests."""
        self.plan, cost = _timed(self.shop, other.plan.order, other.plan.pick)
        self.values[0] = cost
        if other.values[1] < self.values[1]:
            self.best, self.values[1] = other.best.copy(), other.values[1]

    def _in_order_of_time(self) -> None:
        """Moves find their places by time; where that would change the timetable the list is left as it is."""
        order = np.lexsort((self.plan.place, self.plan.start)).astype(np.int64)
        place = np.empty(len(order), np.int64)
        place[order] = np.arange(len(order))
        behind = np.repeat(np.arange(len(order)), np.diff(self.shop.before_at))
        if (place[self.shop.before] < place[behind]).all():
            plan, cost = _timed(self.shop, order, self.plan.pick)
            if cost == self.values[0]:
                self.plan = plan


def anneal_side_by_side(shop: Shop, begun: TimedList, search: Search) -> TimedList:
    """Return the best list found from one that is sound, until the time is over or nothing costs anything."""
    if begun.cost >= TOO_MUCH or begun.cost == 0 or len(begun.order) < 2 or not shop.counted.any() or search.over():
        return begun
    chains = [AnnealingChain(shop, begun, search.seed + 7919 * n) for n in range(max(1, search.workers))]
    chunk = moves_per_chunk(shop)
    chains[0].anneal_on(1, 1.0)  # compiles, where that was not done yet
    whole, unit = max(1e-6, search.left_s()), tardiness_cost_unit(shop)
    hot, met, gone = COLD * unit, 0, 0.0
    with ThreadPoolExecutor(len(chains)) as pool:
        while not search.over():
            heat = hot * (COLD * unit / hot) ** gone
            list(pool.map(lambda one, heat=heat: one.anneal_on(chunk, heat), chains))
            search.spend(estimated_seconds(shop, chunk))
            gone = min(1.0, 1 - search.left_s() / whole)
            if met == 0:  # now it is known how many moves there will be
                tried = chunk / max(gone, 1e-6) / len(begun.order)
                hot, met = unit * max(COLD, HOT * min(1.0, tried / MOVES_FOR_HOT)), 1
            if gone * MEETINGS >= met:
                first = min(chains, key=lambda one: int(one.values[0]))
                for one in chains:
                    if one is not first:
                        one.restart_from(first)
                met += 1
            search.tell("lateness by moves", gone)
    return time_list(shop, *min(chains, key=lambda one: int(one.values[1])).best)


def moves_per_chunk(shop: Shop) -> int:
    """Return how many moves are made between two looks at the clock."""
    return min(4_000, max(100, 6_000_000 // len(shop.release))) if COMPILED else 5


def estimated_seconds(shop: Shop, moves: int) -> float:
    """Return about how long so many moves take: a move times again a share of all operations."""
    return moves * (2e-6 + 3e-8 * len(shop.release))


def tardiness_cost_unit(shop: Shop) -> float:
    """Return what it costs that an average job is late by the work of an average operation, within what numbers hold."""
    late = shop.weight[shop.counted == 1].mean() * shop.goals.tardiness
    return min(TOO_MUCH / 100, max(1.0, float(shop.work.mean() * max(late, shop.goals.flow))))


def is_large_tardiness_job(task: ScheduleJob) -> bool:
    """Return whether a job is one for this search: lateness counts, and there are more operations than one model holds."""
    late = task.objective == "weighted_tardiness" and any(job.due is not None for job in task.jobs)
    return late and not task.same_order and sum(len(job.operations) for job in task.jobs) >= LARGE


def best_dispatch_timetable(task: ScheduleJob) -> tuple[Slot, ...]:
    """Return the timetable of the best of the rules that hand urgency up."""
    shop, named = build_shop(task)
    best = min((time_list(shop, order, pick) for order, pick in start_lists(shop)), key=lambda found: found.cost)
    return slots_from_arrays(named, shop, best.pick, best.start, best.end)
