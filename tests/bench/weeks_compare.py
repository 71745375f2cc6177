"""Searches for plant weeks side by side.

`python -m tests.bench weeks_compare [-- SECONDS LONG_SECONDS HOW_MANY_LONG CLOCK SEED ...]`.

Writes results/weeks_compare.json after each week. Each search has the same time: `old` anneals lists from the best rule alone,
as before; `starts` shares the time out among lists by rules; `press` is the press order first and no list search at all;
`whole` is what `schedule` does. On the first so many weeks `whole` runs for LONG_SECONDS too. `over` is how far `whole` is over
the best of all of these. CLOCK is `wall`, or `cpu` where the machine is busy: then a second is two of processor time.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from typing import Any

from solver.domain.timetable import ScheduleJob, ScheduleResult, Slot
from solver.scheduling.check import check
from solver.scheduling.dispatch import RULES, dispatch_by_rule
from solver.scheduling.lists.annealing import TimedList, anneal_side_by_side, time_list
from solver.scheduling.lists.portfolio import best_from_starts, cheapest_list, lists_by_bottleneck, lists_by_rules
from solver.scheduling.lists.rules import start_lists
from solver.scheduling.lists.shop import Shop, ShopNames, build_shop, slots_from_arrays
from solver.scheduling.objectives import objective_value
from solver.scheduling.schedule import schedule
from solver.search import Search, deterministic_search
from tests.bench.machine import write_result
from tests.bench.weeks import late_share
from tests.generators.weeks import HOUR, week

SEEDS = tuple(range(9301, 9311))  # used for no measurement that the search was made by
WORKERS = 2


def within(seconds: float, clock: str) -> Search:
    """Return a search of so many seconds, by the clock on the wall or by processor time."""
    if clock == "wall":
        end = time.monotonic() + seconds
        return Search(workers=WORKERS, left_s=lambda: end - time.monotonic())
    last = WORKERS * seconds + time.process_time()
    return Search(workers=WORKERS, left_s=lambda: (last - time.process_time()) / WORKERS)


def old(shop: Shop, search: Search) -> TimedList:
    """The best rule, then one annealing of lists from there."""
    return anneal_side_by_side(shop, cheapest_list([time_list(shop, *one) for one in start_lists(shop)]), search)


def starts(shop: Shop, search: Search) -> TimedList:
    """All rules, then annealing of lists from the best of them."""
    return best_from_starts(shop, lists_by_rules(shop, search), search)


def press(shop: Shop, search: Search) -> TimedList:
    """The order of the press, then rules."""
    return cheapest_list(lists_by_bottleneck(shop, search))


SEARCHES: dict[str, Callable[[Shop, Search], TimedList]] = {"old": old, "starts": starts, "press": press}


def run(seed: int, seconds: float, long: float, clock: str) -> dict[str, Any]:
    """Return the row of one week; `long` 0: no long run."""
    task = week(seed)
    shop, named = build_shop(task)
    made = {"rule": min((dispatch_by_rule(task, rule) for rule in RULES), key=lambda slots: objective_value(task, slots))}
    made["rule"] = min(
        made["rule"],
        _slots(named, shop, cheapest_list(lists_by_rules(shop, within(0.0, clock)))),
        key=lambda one: objective_value(task, one),
    )
    for name, search in SEARCHES.items():
        made[name] = _slots(named, shop, search(shop, within(seconds, clock)))
    began = time.perf_counter()
    result = schedule(task, within(seconds, clock))
    took = time.perf_counter() - began
    made["whole"] = result.operations
    if long:
        made["long"] = schedule(task, within(long, clock)).operations
    values = {name: objective_value(task, slots) for name, slots in made.items()}
    best = min(values.values())
    return {
        "seed": seed,
        "late_by_rule": round(late_share(task, made["rule"]), 3),
        **{f"{name}_h": round(value / HOUR, 2) for name, value in values.items()},
        "best_h": round(best / HOUR, 2),
        "over": round(values["whole"] / best - 1, 4) if best else float(values["whole"] > 0),
        "over_h": round((values["whole"] - best) / HOUR, 2),
        "less_than_rule": round(1 - values["whole"] / values["rule"], 4) if values["rule"] else 0.0,
        "wall_s": round(took, 1),
        "sound": check(task, result).sound and all(_sound(task, slots) for slots in made.values()),
    }


def _slots(named: ShopNames, shop: Shop, found: TimedList) -> tuple[Slot, ...]:
    return slots_from_arrays(named, shop, found.pick, found.start, found.end)


def _sound(task: ScheduleJob, slots: tuple[Slot, ...]) -> bool:
    value = objective_value(task, slots)
    result = ScheduleResult(
        status="feasible" if value else "optimal", objective=value, lower_bound=0, operations=slots, seconds=0.0
    )
    return check(task, result).sound


def main(arguments: list[str]) -> int:
    """Compare; the exit code is 1 when something is unsound."""
    seconds, long = (float(arguments[n]) if len(arguments) > n else given for n, given in ((0, 60.0), (1, 600.0)))
    many = int(arguments[2]) if len(arguments) > 2 else 2
    clock = arguments[3] if len(arguments) > 3 else "wall"
    seeds = [int(one) for one in arguments[4:]] or SEEDS
    schedule(week(1), deterministic_search(1.0, seed=1))  # compiles
    improve_ready(clock)
    rows: list[dict[str, Any]] = []
    for n, seed in enumerate(seeds):
        row = run(seed, seconds, long if n < many else 0.0, clock)
        print(row, flush=True)
        rows.append(row)
        _write(rows, {"limit_s": seconds, "long_s": long, "clock": clock}, " ".join(["--", *arguments] if arguments else []))
    return 0 if all(row["sound"] for row in rows) else 1


def improve_ready(clock: str) -> None:
    """Compile what only the older search needs."""
    shop, _ = build_shop(week(1, orders=5))
    old(shop, within(0.1, clock))


def _write(rows: list[dict[str, Any]], said: dict[str, Any], asked: str) -> None:
    overs = [row["over"] for row in rows]
    table = {
        "over_median": round(statistics.median(overs), 4),
        "over_most": max(overs),
        "less_than_rule_median": round(statistics.median(row["less_than_rule"] for row in rows), 4),
        "less_than_rule_least": min(row["less_than_rule"] for row in rows),
    }
    write_result(
        "weeks_compare", {**said, "table": table, "weeks": rows}, command=f"python -m tests.bench weeks_compare {asked}".strip()
    )


if __name__ == "__main__":
    raise SystemExit(main([]))
