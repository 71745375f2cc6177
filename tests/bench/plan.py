"""The three demo orders planned, with sheets and tables, as a whole process: under 30 s on two cores and under 600 MB."""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

from tests.bench.machine import write_result

LIMIT_S, LIMIT_MB, RUNS = 30.0, 600.0, 3
ORDERS = Path(__file__).resolve().parents[2] / "service" / "data" / "orders"


def once(out: Path) -> tuple[float, float]:
    """Return the wall seconds of one run of `sawbill plan` and the peak memory of the largest child so far, in MB."""
    orders = [str(path) for path in sorted(ORDERS.glob("*.json"))]
    command = [sys.executable, "-m", "service.cli", "plan", *orders, "--start", "2031-04-28T06:00-06:00", "--out", str(out)]
    begun = time.monotonic()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    return time.monotonic() - begun, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024


def main(_arguments: list[str]) -> int:
    """Measure and write `results/plan.json`; 1 where a limit is not kept."""
    with tempfile.TemporaryDirectory() as folder:
        runs = [once(Path(folder) / str(n)) for n in range(RUNS)]
    seconds = sorted(round(run[0], 2) for run in runs)
    peak = round(max(run[1] for run in runs), 1)
    result = {
        "what": "sawbill plan of the three demo orders, with sheets and tables, a whole process",
        "runs": RUNS,
        "seconds": {"least": seconds[0], "median": round(median(seconds), 2), "most": seconds[-1]},
        "peak_mb": peak,
        "limits": {"seconds": LIMIT_S, "mb": LIMIT_MB},
        "kept": seconds[-1] < LIMIT_S and peak < LIMIT_MB,
    }
    write_result("plan", result, command="python -m tests.bench plan")
    print(f"plan of the demo orders: median {median(seconds):.1f} s, most {seconds[-1]:.1f} s, peak {peak:.0f} MB")
    return 0 if result["kept"] else 1
