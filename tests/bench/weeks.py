"""Plant weeks: `python -m tests.bench weeks [-- SECONDS SEEDS REPLAN_SECONDS]`; writes results/weeks.json.

Each week of the generator whose best rule leaves 20 to 40 % of its orders late is planned, then asked for a promise, and its
press breaks for four hours on Wednesday at 10:00. One month is planned besides, in four times the time. The results are
written after each week, so that a run that is ended early leaves what it measured.
"""

from __future__ import annotations

import statistics
import time
from typing import Any

from solver.domain.replan import Down, PromiseJob, ReplanJob
from solver.domain.timetable import ScheduleJob, Slot
from solver.replanning.check import check_promise, check_replan, choices_as_schedules
from solver.replanning.promise import promise
from solver.replanning.replan import replan
from solver.scheduling.check import check
from solver.scheduling.dispatch import RULES, dispatch_by_rule
from solver.scheduling.lists.annealing import best_dispatch_timetable
from solver.scheduling.objectives import objective_value
from solver.scheduling.schedule import schedule
from solver.search import Search
from tests.bench.machine import write_result
from tests.generators.weeks import DAY, HOUR, month, new_order, week

NOW = 2 * DAY + 10 * HOUR
MONTH = 4  # times a week's time


def within(seconds: float) -> Search:
    """Return a search that ends after so many seconds."""
    end = time.monotonic() + seconds
    return Search(left_s=lambda: end - time.monotonic())


def late_share(task: ScheduleJob, slots: tuple[Slot, ...]) -> float:
    """Return the share of jobs with a due date that end after it; loads hold nothing."""
    done = {slot.job: slot.end for slot in slots}
    dues = {job.id: job.due for job in task.jobs if job.due is not None}
    return sum(done[name] > due for name, due in dues.items()) / len(dues)


def run(seed: int, seconds: float, replan_seconds: float) -> dict[str, Any] | None:
    """Return the row of one week, or None where its best rule leaves too few or too many late."""
    task = week(seed)
    rules = [best_dispatch_timetable(task), *(dispatch_by_rule(task, rule) for rule in RULES)]
    rule = min(rules, key=lambda slots: objective_value(task, slots))
    share, base = late_share(task, rule), objective_value(task, rule)
    if not 0.2 <= share <= 0.4:
        return None
    made = schedule(task, within(seconds))
    assert made.objective is not None and check(task, made).sound
    down = Down(machine="press", start=NOW, end=NOW + 4 * HOUR)
    broken = ReplanJob(plan=task, slots=made.operations, now=NOW, firm_until=NOW + 4 * HOUR, down=(down,))
    began = time.perf_counter()
    again = replan(broken, within(replan_seconds))
    replan_s = time.perf_counter() - began
    asked = PromiseJob(plan=task, slots=made.operations, order=new_order("new", seed), now=NOW, firm_until=NOW + 4 * HOUR)
    began = time.perf_counter()
    promised = promise(asked, within(2.5))
    promise_s = time.perf_counter() - began
    claims = [*choices_as_schedules(broken, again), *choices_as_schedules(asked, promised)]
    sound = check_replan(broken, again).sound and check_promise(asked, promised).sound
    others = len(made.operations) - again.kept - again.forced
    return {
        "seed": seed,
        "operations": len(made.operations),
        "late_by_rule": round(share, 3),
        "rule_h": round(base / HOUR, 1),
        "value_h": round(made.objective / HOUR, 1),
        "lower_bound_h": round(made.lower_bound / HOUR, 1),
        "less": round(1 - made.objective / base, 4),
        "promise_s": round(promise_s, 2),
        "promise": promised.status,
        "replan_s": round(replan_s, 2),
        "choices": [
            {
                "name": one.name,
                "tardiness_h": round(one.tardiness / HOUR, 1),
                "moved": one.moved,
                "far_or_other_machine_most": round((one.far + one.machines) / max(1, others), 3),
            }
            for one in again.choices
        ],
        "sound": sound and all(check(*claim).sound for claim in claims),
    }


def run_month(seed: int, seconds: float) -> dict[str, Any]:
    """Return the row of one month: how long it took in all, and how much less late it is than by the best rule."""
    task = month(seed)
    base = objective_value(task, best_dispatch_timetable(task))
    began = time.perf_counter()
    made = schedule(task, within(seconds))
    took = time.perf_counter() - began
    assert made.objective is not None
    return {
        "seed": seed,
        "limit_s": seconds,
        "operations": len(made.operations),
        "took_s": round(took, 1),
        "rule_h": round(base / HOUR, 1),
        "value_h": round(made.objective / HOUR, 1),
        "lower_bound_h": round(made.lower_bound / HOUR, 1),
        "less": round(1 - made.objective / base, 4) if base else 0.0,
        "sound": check(task, made).sound,
    }


def main(arguments: list[str]) -> int:
    """Plan the weeks; the exit code is 1 when something is unsound."""
    seconds = float(arguments[0]) if arguments else 60.0
    wanted = int(arguments[1]) if len(arguments) > 1 else 10
    replan_seconds = float(arguments[2]) if len(arguments) > 2 else 10.0
    schedule(week(0), within(1.0))  # compiles
    whole = run_month(0, MONTH * seconds)
    print(whole, flush=True)
    rows: list[dict[str, Any]] = []
    for seed in range(60):
        row = run(seed, seconds, replan_seconds) if len(rows) < wanted else None
        if row is not None:
            print(row, flush=True)
            rows.append(row)
            _write(seconds, whole, rows)
    return 0 if rows and whole["sound"] and all(row["sound"] for row in rows) else 1


def _write(seconds: float, whole: dict[str, Any], rows: list[dict[str, Any]]) -> None:
    """Write what was measured so far."""
    names = ("less", "value_h", "lower_bound_h", "promise_s", "replan_s", "late_by_rule")
    table = {name: _quantiles([row[name] for row in rows]) for name in names}
    results = {"limit_s": seconds, "table": table, "month": whole, "weeks": rows}
    write_result("weeks", results, command="python -m tests.bench weeks")


def _quantiles(values: list[float]) -> dict[str, float]:
    """Least, middle and most of some values."""
    return {"least": min(values), "median": round(statistics.median(values), 4), "most": max(values)} if values else {}
