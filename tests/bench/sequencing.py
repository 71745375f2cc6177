"""Fewest open bundles on the published instances: `python -m tests.bench sequencing`; writes results/sequencing.json.

Source: Constraint Modelling Challenge 2005 (I. Gent and B. Smith), instance set v1.1. 10 s an instance.
"""

from __future__ import annotations

import time
from typing import Any

from solver.search import Search
from solver.sequencing.check import check
from solver.sequencing.sequence import sequence
from tests.bench.machine import write_result
from tests.published.test_sequencing_published import job_of
from tests.shared import instances

LIMIT_S = 10.0


def main(arguments: list[str]) -> int:
    """Solve every instance of every set; the exit code is 1 when a plan is unsound or beats a known optimum."""
    del arguments
    table, unproved, slow, known, wrong = [], [], [], 0, []
    for name in ("miller", "shaw", "wilson", "simonis"):
        times, proved = [], 0
        for instance in instances(f"sequencing/mosp_{name}"):
            seconds, result, sound = run(instance)
            optimum = instance.get("optimum")
            known += optimum is not None
            times.append(seconds)
            proved += result.status == "optimal"
            row = {"name": instance["name"], "open": result.open, "lower_bound": result.lower_bound, "optimum": optimum}
            if not sound or (optimum is not None and result.status == "optimal" and result.open != optimum):
                wrong.append(row)
            if result.status != "optimal":
                unproved.append(row)
            elif seconds > 1:
                slow.append({"name": instance["name"], "seconds": round(seconds, 2)})
        times.sort()
        row = {"set": name, "instances": len(times), "proved": proved, "mean_s": round(sum(times) / len(times), 4)}
        table.append({**row, "median_s": round(times[len(times) // 2], 4), "most_s": round(times[-1], 3)})
        print(table[-1], flush=True)
    result_of = {"limit_s": LIMIT_S, "instances_with_known_optimum": known, "table": table}
    write_result(
        "sequencing",
        {**result_of, "unproved": unproved, "proved_but_over_1_s": slow, "wrong": wrong},
        command="python -m tests.bench sequencing",
    )
    return 1 if wrong else 0


def run(instance: dict[str, Any]) -> tuple[float, Any, bool]:
    """Return the seconds, the result, and whether the check finds it sound."""
    job = job_of(instance)
    started = time.perf_counter()
    result = sequence(job, Search(left_s=lambda: LIMIT_S - (time.perf_counter() - started)))
    return time.perf_counter() - started, result, check(job, result).sound
