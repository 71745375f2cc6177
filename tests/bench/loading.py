"""Random mixed loads against the bound on trucks: `python -m tests.bench loading [-- LOADS [SECONDS_A_LOAD]]`."""

from __future__ import annotations

import statistics
import time
from typing import Any

from solver.loading.check import check
from solver.loading.load import load
from solver.search import Search
from tests.bench.machine import write_result
from tests.generators.loads import random_load

LOADS, SECONDS = 1_000, 1.5
QUANTILES = (0.5, 0.75, 0.9, 0.95, 0.99, 1.0)


def _one(seed: int, seconds: float) -> dict[str, Any]:
    job = random_load(seed)
    began = time.perf_counter()
    result = load(job, Search(seed=1, workers=1, left_s=lambda: seconds - (time.perf_counter() - began)))
    took = time.perf_counter() - began
    return {
        "kind": job.name,
        "trucks": result.trucks,
        "bound": result.trucks_lower_bound,
        "took": took,
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
        "ratio_quantiles": {str(q): round(ratios[min(len(ratios) - 1, int(q * len(ratios)))], 3) for q in QUANTILES},
        "seconds_median": round(statistics.median(row["took"] for row in rows), 3),
        "seconds_most": round(max(row["took"] for row in rows), 2),
    }


def main(arguments: list[str]) -> int:
    """Load the first so many seeds, print and write what came of it; 1 where a load was invalid."""
    loads = int(arguments[0]) if arguments else LOADS
    seconds = float(arguments[1]) if len(arguments) > 1 else SECONDS
    rows = [_one(seed, seconds) for seed in range(loads)]
    kinds = {kind: _row([row for row in rows if row["kind"] == kind]) for kind in sorted({row["kind"] for row in rows})}
    result = {"seconds_a_load": seconds, "all": _row(rows), **kinds}
    for name, row in result.items():
        print(name, row)
    write_result("loading", result, command=f"python -m tests.bench loading -- {loads} {seconds:g}")
    return int(any(row["faults"] for row in rows))
