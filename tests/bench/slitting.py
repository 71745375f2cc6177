"""Slitting of published cases and random plant-like jobs: `python -m tests.bench slitting`; writes results/slitting.json.

Sources: trim loss of Harjunkoski et al. (1998), European Journal of Operational Research 105: 594-603; reels and sheets
of a paper mill (the set's file names its source): here each width's weight as a run of full reels, no tolerance.
"""

from __future__ import annotations

import random
import time
from typing import Any

from solver.codec import decode
from solver.domain.slit_plan import SlitJob, SlitResult, StripWanted
from solver.search import Search
from solver.slitting.check import check
from solver.slitting.slit import slit
from solver.units import MM, Nm
from tests.bench.machine import write_result
from tests.published.test_slitting_published import job_of
from tests.shared import instances

LIMIT_S = 10.0
SEEDS = range(30)


def main(arguments: list[str]) -> int:
    """Solve all; the exit code is 1 when a plan is unsound."""
    del arguments
    rows = [run("trimloss_minlp", one["name"], job_of(one), one["optimum"]) for one in instances("slitting/trimloss_minlp")]
    rows += [run("papermill", one["name"], mill_job(one), None) for one in instances("slitting/correia_papermill")]
    rows += [run("random", f"seed {seed}", random_job(seed), None) for seed in SEEDS]
    table = []
    for name in ("trimloss_minlp", "papermill", "random"):
        mine = [row for row in rows if row["set"] == name]
        table.append(
            {
                "set": name,
                "instances": len(mine),
                "value_proved": sum(row["status"] == "optimal" for row in mine),
                "setups_proved": sum(row["setups"] == row["setups_lower_bound"] for row in mine),
                "mean_s": round(sum(row["seconds"] for row in mine) / len(mine), 2),
            }
        )
        print(table[-1], flush=True)
    write_result("slitting", {"limit_s": LIMIT_S, "table": table, "instances": rows}, command="python -m tests.bench slitting")
    return 0 if all(row["sound"] for row in rows) else 1


def run(group: str, name: str, job: SlitJob, optimum: float | None) -> dict[str, Any]:
    """Return a row: value, bounds, set-ups, seconds, and whether the check finds the plan sound."""
    started = time.perf_counter()
    result: SlitResult = slit(job, Search(left_s=lambda: LIMIT_S - (time.perf_counter() - started)))
    seconds = time.perf_counter() - started
    value = result.steel_nm if result.objective_nm is None else result.objective_nm
    return {
        "set": group,
        "name": name,
        "strips": len(job.strips),
        "status": result.status,
        "value": None if value is None else value / MM,
        "lower_bound": result.lower_bound_nm / MM,
        "published": optimum,
        "setups": result.setups,
        "setups_lower_bound": result.setups_lower_bound,
        "seconds": round(seconds, 2),
        "sound": check(job, result).sound,
    }


def mill_job(instance: dict[str, Any]) -> SlitJob:
    """Return the mill's orders by width: weight over grammage and width is the run wanted."""
    runs: dict[int, Nm] = {}
    for order in instance["orders"]:
        width = order["width_mm"]
        metres = 1e6 * order["weight_kg"] / (instance["grade_gsm"] * width)
        runs[width] = Nm(runs.get(width, 0) + round(metres * 1000) * MM)
    strips = tuple(
        StripWanted(id=f"w{width}", width_nm=Nm(width * MM), length_nm=run) for width, run in sorted(runs.items()) if run
    )
    return SlitJob(coil_width_nm=Nm(instance["master_reel_width_mm"] * MM), strips=strips)


def random_job(seed: int) -> SlitJob:
    """Return a plant-like job: 2 to 14 strip widths of 60 to 500 mm, runs of whole metres."""
    rnd = random.Random(seed)
    count = rnd.randint(2, 14)
    widths = rnd.sample(range(60, 500), count)
    coil = rnd.choice([1000, 1219, 1250])
    strips = [{"id": f"s{width}", "width": width, "length": rnd.randint(10, 500) * 1000} for width in widths]
    return decode(SlitJob, {"unit": "mm", "coil_width": coil, "edge_trim": 5, "max_strips": 12, "strips": strips}, name="job")
