"""Large timetables from several beginnings: rules, and the busiest machine's order first; the better ones go on longest.

The time is shared out by successive halving (Karnin, Koren and Somekh 2013, Proceedings of Machine Learning Research 28(3):
1238-1246): all go on for a while, the better half goes on again, each time from its best.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor

from solver.domain.timetable import ScheduleJob, Slot
from solver.scheduling.lists.annealing import (
    AnnealingChain,
    TimedList,
    estimated_seconds,
    moves_per_chunk,
    tardiness_cost_unit,
    time_list,
)
from solver.scheduling.lists.bottleneck import (
    LINE_MOVES,
    SequenceAnnealingChain,
    busiest_machine,
    one_machine_relaxation,
    sequence_moves_per_chunk,
)
from solver.scheduling.lists.decoding import TOO_MUCH
from solver.scheduling.lists.rules import DispatchRule, dispatch_rules, latest_starts, rule_list
from solver.scheduling.lists.shop import Shop, build_shop, list_from_slots, slots_from_arrays
from solver.search import Search, with_time_limit

FOR_RULES, FOR_LINE = 0.1, 0.65  # of the time, at most, for lists by rules, for the order of the busiest machine
LINE_HOT, LINE_COLD = 10.0, 0.2  # temperatures of that order, in what it costs that an average job is late by an average work
FOR_ORDER = 0.8  # of that time, at most, until lists are made around the order
LINE_RUNS = 6
HOT, COLD = 0.5, 0.1  # temperatures of lists: low, or what is good in the beginning would be lost
MOST_BEGINNINGS = 8
FAR_OFF = 3  # times the least cost: what begins dearer does not catch up
LEAST_MOVES = 30  # for each operation, of a beginning that is to be judged
RULES_AROUND = (9, 0, 1, 10, 2, 11, 15)  # rules for all else once the busiest machine's order is known, the best ones first


def improve_large(task: ScheduleJob, slots: tuple[Slot, ...] | None, search: Search) -> tuple[Slot, ...]:
    """Return the best timetable found from one that is sound (None: from dispatch rules only), within the search's time."""
    shop, named = build_shop(task)
    whole = search.left_s()
    found = lists_by_rules(shop, with_time_limit(search, FOR_RULES * whole))
    if slots is not None:
        found.append(time_list(shop, *list_from_slots(named, shop, slots)))
    if cheapest_list(found).cost > 0 and shop.counted.any() and not search.over():
        found += lists_by_bottleneck(shop, with_time_limit(search, FOR_LINE * whole))
        found.append(best_from_starts(shop, found, search))
    best = cheapest_list(found)
    return slots_from_arrays(named, shop, best.pick, best.start, best.end)


def cheapest_list(found: Sequence[TimedList]) -> TimedList:
    """Return what costs least; of equals the first."""
    return min(found, key=lambda one: one.cost)


def lists_by_rules(shop: Shop, search: Search) -> list[TimedList]:
    """Return the lists of the rules as far as there is time, at least one for each worker."""
    last_start, weight = latest_starts(shop)
    rules, workers = dispatch_rules(shop), max(1, search.workers)
    found: list[TimedList] = []
    with ThreadPoolExecutor(workers) as pool:
        while len(found) < len(rules) and (not found or not search.over()):
            some = rules[len(found) : len(found) + workers]
            found += pool.map(lambda rule: time_list(shop, *rule_list(shop, rule, last_start, weight)), some)
            search.spend(_seconds_of_rule(shop))
    return found


def _seconds_of_rule(shop: Shop) -> float:
    return 1e-5 * len(shop.release) + 6e-9 * len(shop.release) ** 2


def lists_by_bottleneck(shop: Shop, search: Search) -> list[TimedList]:
    """Return a list for each run of annealing over the order of the busiest machine: the best by a few rules for all else."""
    if search.over():
        return []
    line = one_machine_relaxation(shop, busiest_machine(shop))
    search.spend(1e-4 * len(shop.release))
    if line is None or search.over():
        return []
    size, whole, unit = len(line.operations), search.left_s(), tardiness_cost_unit(shop)
    cost = 3e-7 + 1.1e-8 * size  # seconds a move
    runs = int(max(1, min(LINE_RUNS, FOR_ORDER * whole / (cost * LINE_MOVES * size))))
    moves = sequence_moves_per_chunk(line)
    every = dispatch_rules(shop)
    rules = [every[n] for n in RULES_AROUND]
    chains = [SequenceAnnealingChain(shop, line, search.seed + 7919 * n) for n in range(max(1, search.workers))]
    found: list[TimedList] = []
    with ThreadPoolExecutor(len(chains)) as pool:
        for run in range(runs):
            if run and search.over():
                break
            begun = search.left_s()
            end = begun - begun / (runs - run)
            long = FOR_ORDER * (begun - end)
            while (gone := (begun - search.left_s()) / max(long, 1e-9)) < 1 and not search.over():
                heat = LINE_HOT * unit * (LINE_COLD / LINE_HOT) ** gone
                list(pool.map(lambda one, heat=heat: one.anneal_on(moves, heat), chains))
                search.spend(moves * cost)
            found += pool.map(lambda one, end=end: _around(shop, one, rules, lambda: search.left_s() <= end), chains)
            search.spend(len(rules) * _seconds_of_rule(shop))
            for one in chains:
                one.again()
    return found


def _around(shop: Shop, chain: SequenceAnnealingChain, rules: Sequence[DispatchRule], over: Callable[[], bool]) -> TimedList:
    """The best list by rules around an order of the busiest machine; at least one is tried."""
    wishes = chain.dispatch_targets()
    found: list[TimedList] = []
    for rule in rules:
        if found and over():
            break
        found.append(time_list(shop, *rule_list(shop, rule, *wishes)))
    return cheapest_list(found)


def best_from_starts(shop: Shop, found: Sequence[TimedList], search: Search) -> TimedList:
    """Return the best list found from several beginnings, until the time is over or nothing costs anything."""
    sound = sorted((one for one in found if one.cost < TOO_MUCH), key=lambda one: one.cost)
    sound = [one for one in sound if one.cost <= FAR_OFF * sound[0].cost]
    workers, chunk = max(1, search.workers), moves_per_chunk(shop)
    moves = workers * search.left_s() / estimated_seconds(shop, 1) / len(shop.release)
    many = workers
    while 2 * many <= min(MOST_BEGINNINGS, len(sound)) and 2 * many * LEAST_MOVES < moves / 3:
        many *= 2
    chains = [AnnealingChain(shop, one, search.seed + 7919 * n) for n, one in enumerate((sound * workers)[:many])]
    rounds, size = 1, many
    while size > workers:
        rounds, size = rounds + 1, size // 2
    unit, whole = tardiness_cost_unit(shop), search.left_s()
    with ThreadPoolExecutor(workers) as pool:
        for turn in range(rounds):
            long = search.left_s() / (rounds - turn)
            _round(chains, pool, workers, chunk, unit, with_time_limit(search, long))
            chains.sort(key=lambda one: int(one.values[1]))
            chains = chains[: max(workers, len(chains) // 2)]
            search.tell("lateness by moves", 1 - search.left_s() / max(whole, 1e-9))
            if search.over() or chains[0].values[1] == 0:
                break
    return time_list(shop, *chains[0].best)


def _round(
    chains: list[AnnealingChain], pool: ThreadPoolExecutor, workers: int, chunk: int, unit: float, search: Search
) -> None:
    """Let each go on from its best, as many at a time as there are workers, for an equal part of the time."""
    for low in range(0, len(chains), workers):
        some, begun = chains[low : low + workers], search.left_s()
        long = begun * len(some) / (len(chains) - low)
        for one in some:
            one.restart_from_best()
        while (gone := (begun - search.left_s()) / max(long, 1e-9)) < 1 and not search.over():
            heat = HOT * unit * (COLD / HOT) ** gone
            list(pool.map(lambda one, heat=heat: one.anneal_on(chunk, heat), some))
            search.spend(estimated_seconds(some[0].shop, chunk))
            if min(int(one.values[1]) for one in some) == 0:
                return
