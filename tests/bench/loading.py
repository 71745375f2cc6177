"""Random mixed loads against the bound on trucks: `python -m tests.bench loading [-- LOADS [SECONDS_A_LOAD [on]]]`.

Seeds 0 to LOADS - 1, `on`: those not yet in the runs file, so that a long measurement can be made in parts. Seconds are of
the processor: a search that is given so many ends when it used them, however busy the machine is.
"""

from __future__ import annotations

import json
import statistics
import time
from typing import Any

from solver.loading.check import check
from solver.loading.load import load
from solver.search import Search
from tests.bench.machine import RESULTS, write_result
from tests.generators.loads import random_load

LOADS, SECONDS = 1_000, 3.0
QUANTILES = (0.5, 0.75, 0.9, 0.95, 0.99, 1.0)
RUNS = RESULTS / "loading_runs.jsonl"


def _one(seed: int, seconds: float) -> dict[str, Any]:
    job = random_load(seed)
    began = time.process_time()
    result = load(job, Search(seed=1, workers=1, left_s=lambda: seconds - (time.process_time() - began)))
    took = time.process_time() - began
    return {
        "seed": seed,
        "kind": job.name,
        "bundles": len(job.bundles),
        "trucks": result.trucks,
        "bound": result.trucks_lower_bound,
        "took": round(took, 3),
        "faults": [str(fault) for fault in check(job, result).faults],
    }


def _row(rows: list[dict[str, Any]]) -> dict[str, Any]:
    ratios = sorted(row["trucks"] / row["bound"] for row in rows)
    return {
        "loads": len(rows),
        "invalid": sum(bool(row["faults"]) for row in rows),
        "at_bound": sum(row["trucks"] == row["bound"] for row in rows),
        "mean_over_bound_percent": round(100 * (statistics.fmean(ratios) - 1), 2),
        "trucks_over_bounds_percent": round(100 * (sum(r["trucks"] for r in rows) / sum(r["bound"] for r in rows) - 1), 2),
        "most_trucks_over_bound": max(row["trucks"] - row["bound"] for row in rows),
        "ratio_quantiles": {str(q): round(ratios[min(len(ratios) - 1, int(q * len(ratios)))], 3) for q in QUANTILES},
        "processor_seconds_median": round(statistics.median(row["took"] for row in rows), 3),
        "processor_seconds_most": round(max(row["took"] for row in rows), 2),
    }


def main(arguments: list[str]) -> int:
    """Load the seeds, print and write what came of it; 1 where a load was invalid."""
    loads = int(arguments[0]) if arguments else LOADS
    seconds = float(arguments[1]) if len(arguments) > 1 else SECONDS
    kept = RUNS.read_text().splitlines() if arguments[2:] == ["on"] and RUNS.exists() else []
    rows = [row for row in map(json.loads, kept) if row["seed"] < loads]
    known = {row["seed"] for row in rows}
    load(random_load(0), Search(left_s=lambda: seconds))  # compiles, where that was not done yet
    with RUNS.open("w") as file:
        file.writelines(json.dumps(row) + "\n" for row in rows)
        for seed in range(loads):
            if seed not in known:
                rows.append(_one(seed, seconds))
                file.write(json.dumps(rows[-1]) + "\n")
                file.flush()
    kinds = {kind: _row([row for row in rows if row["kind"] == kind]) for kind in sorted({row["kind"] for row in rows})}
    result = {"processor_seconds_a_load": seconds, "all": _row(rows), **kinds}
    for name, row in result.items():
        print(name, row)
    write_result("loading", result, command=f"python -m tests.bench loading -- {loads} {seconds:g}")
    return int(any(row["faults"] for row in rows))
