"""Five thousand pieces stacked and checked: `python -m tests.bench bundling [-- PIECES]`."""

from __future__ import annotations

import statistics
import time

from solver.bundling.check import check
from solver.bundling.stack import stack
from solver.search import Search
from tests.bench.machine import write_result
from tests.generators.stacks import many_pieces

RUNS = 5


def main(arguments: list[str]) -> int:
    """Stack and check, several times; print and write the median processor times."""
    pieces = int(arguments[0]) if arguments else 5_000
    job = many_pieces(pieces)
    stacked, checked = [], []
    for _ in range(RUNS):
        began = time.process_time()
        result = stack(job, Search())
        between = time.process_time()
        report = check(job, result)
        stacked.append(between - began)
        checked.append(time.process_time() - between)
    row = {
        "pieces": pieces,
        "bundles": len(result.bundles),
        "lower_bound": result.lower_bound,
        "status": result.status,
        "faults": len(report.faults),
        "stack_seconds": round(statistics.median(stacked), 3),
        "check_seconds": round(statistics.median(checked), 3),
    }
    print(row)
    write_result("bundling", row, command=f"python -m tests.bench bundling -- {pieces}")
    return int(not report.sound)
