"""Whole plans at a plant's size: `python -m tests.bench whole [-- ten COUNT | HOUSES ... | limit=SECONDS]`; results/whole.json.

Each set is one process, `sawbill plan ... --out`, from its start to its end. Planning is timed until the plan is written,
the sheets from there. Every plan is proved by its checks, and judged by code apart with its paper (`tests/whole`). Sets:
`ten`, the ten houses that planning once failed on, where they are at hand, and COUNT (20) random sets of ten; then so many
random houses. A part that is measured anew replaces what was there; each says the load of the machine as it began.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from service.usecases.make.plan_files import default_time_limit_s, read_orders
from solver.codec import decode, read_json
from solver.domain.plan import Plan
from solver.plan_check import check_plan
from tests.bench.machine import RESULTS, write_result
from tests.generators.plans import START, houses
from tests.plans import demo_plant
from tests.shared import SHARED
from tests.whole.judge import faults_of

LIMITS = {"10": (60.0, 600.0), "40": (150.0, 1000.0), "100": (300.0, 1500.0)}  # seconds with all sheets, MB
OVER = 1.2  # planning takes at most so many times the limit asked
GROWTH = 12.0  # at most, from 10 to 100 houses
QUANTILES = (0.0, 0.25, 0.5, 0.75, 1.0)
FIRST_SEED = 5_000
PARTS = ("ten", "20", "20", "40")  # "ten" takes the 20 behind it as its count
PLAN_BYTES = 1_000_000_000


def run(orders: Sequence[tuple[str, Any]], limit_s: float, folder: Path) -> dict[str, Any]:
    """Return the row of one set: seconds, peak memory of the largest process, and whether it is proved and judged sound."""
    files = []
    for n, (_, order) in enumerate(orders):
        files.append(folder / f"order-{n:03d}.json")
        files[-1].write_text(json.dumps(order), encoding="utf-8")
    out = folder / "out"
    command = [sys.executable, "-m", "service.cli", "plan", *map(str, files), "--start", START, "--out", str(out)]
    load, begun = os.getloadavg()[0], time.time()
    with (folder / "told").open("w") as told:
        process = subprocess.Popen([*command, "--time-limit", str(limit_s)], stdout=told, stderr=told)
        _, status, usage = os.wait4(process.pid, 0)
    took, code = time.time() - begun, os.waitstatus_to_exitcode(status)
    process.returncode = code
    row: dict[str, Any] = {
        "orders": len(orders),
        "limit_s": limit_s,
        "exit": code,
        "total_s": round(took, 2),
        "cpu_s": round(usage.ru_utime + usage.ru_stime, 1),
        "peak_mb": round(usage.ru_maxrss / 1024),
        "load_average": round(load, 1),
    }
    if code:
        return row | {"proved": False, "said": (folder / "told").read_text(encoding="utf-8")[-500:]}
    planning = (out / "plan.json").stat().st_mtime - begun
    return row | {"planning_s": round(planning, 2), "sheets_s": round(took - planning, 2)} | _judged(orders, out)


def _judged(orders: Sequence[tuple[str, Any]], out: Path) -> dict[str, Any]:
    plant = demo_plant()
    found = read_json((out / "plan.json").read_bytes(), name="plan", limit_bytes=PLAN_BYTES)["result"]
    plan = decode(Plan, found, name="plan")
    held = check_plan(read_orders(orders, plant), plant, plan)
    wrong = faults_of(plan, plant)
    return {
        "plan_s": plan.seconds,
        "pieces": sum(len(takeoff.pieces) for takeoff in plan.takeoffs),
        "bars": sum(len(cut.bars) for cut in plan.cuts),
        "operations": len(plan.timetable.operations),
        "proved": held.sound and all(proof.checked for proof in plan.proofs),
        "judged": not wrong,
        "faults": [*map(str, held.faults[:3]), *wrong[:3]],
    }


def of_quantiles(rows: Sequence[dict[str, Any]], name: str) -> dict[str, float]:
    """Return the quantiles of a figure over the rows that have it, each a value that was measured."""
    values = sorted(row[name] for row in rows if name in row)
    return {str(q): values[round(q * (len(values) - 1))] for q in QUANTILES} if values else {}


def summed(rows: Sequence[dict[str, Any]], houses_each: int) -> dict[str, Any]:
    """Return what a part's rows come to, against the limits that hold for so many houses."""
    seconds, mb = LIMITS.get(str(houses_each), (float("inf"), float("inf")))
    within = [row.get("planning_s", float("inf")) <= OVER * row["limit_s"] for row in rows]
    kept = [row["total_s"] <= seconds and row["peak_mb"] <= mb for row in rows]
    return {
        "sets": len(rows),
        "houses": houses_each,
        "limits": {"seconds": seconds, "mb": mb} if str(houses_each) in LIMITS else None,
        "proved_and_judged": sum(row["proved"] and row.get("judged", False) for row in rows),
        "within_the_limit_asked": sum(within),
        "kept": sum(kept),
        **{name: of_quantiles(rows, name) for name in ("total_s", "planning_s", "plan_s", "sheets_s", "peak_mb")},
        "rows": list(rows),
    }


def sets_of(part: str, count: int) -> list[list[tuple[str, Any]]]:
    """Return the sets of orders of a part."""
    plant = demo_plant()
    if part != "ten":
        return [[(one["id"], one) for one in houses(1, int(part), plant)]]
    known: dict[int, bool] = {}
    made = []
    folder = SHARED / "repro" / "ten-houses"
    if folder.is_dir():
        made.append([(path.stem, read_json(path.read_bytes(), name=path.stem)) for path in sorted(folder.glob("*.json"))])
    made += [[(one["id"], one) for one in houses(FIRST_SEED + n, 10, plant, known=known)] for n in range(count)]
    return made


def measure(part: str, count: int, limit_s: float | None) -> dict[str, Any]:
    """Return the result of a part; each row is printed as it is found."""
    rows = []
    for orders in sets_of(part, count):
        with tempfile.TemporaryDirectory() as folder:
            rows.append(run(orders, limit_s or default_time_limit_s(len(orders)), Path(folder)))
        print(part, json.dumps(rows[-1]), flush=True)
    return summed(rows, 10 if part == "ten" else int(part))


def growth(parts: dict[str, Any]) -> float | None:
    """Return how many times as long a hundred houses take as ten do, each in its usual time; None where one is wanting."""
    if not {"ten", "100"} <= parts.keys():
        return None
    ten, hundred = (float(parts[name]["total_s"]["0.5"]) for name in ("ten", "100"))
    return round(hundred / ten, 2)


def main(arguments: list[str]) -> int:
    """Measure the named parts (ten, 20, 40 where none is named) and write them; 1 where one is not proved and judged sound."""
    return measure_parts(arguments or list(PARTS))


def measure_parts(words: Sequence[str]) -> int:
    """Measure the parts that the words name, and write the results of all that were ever measured."""
    path = RESULTS / "whole.json"
    parts = json.loads(path.read_text(encoding="utf-8"))["parts"] if path.exists() else {}
    limit = next((float(word.removeprefix("limit=")) for word in words if word.startswith("limit=")), None)
    left, mine = [word for word in words if "=" not in word], []
    while left:
        part, count = left.pop(0), 20
        if part == "ten" and left and left[0].isdigit():
            count = int(left.pop(0))
        parts[part] = measure(part, count, limit)
        mine.append(part)
        many = growth(parts)
        result = {"limit_growth": GROWTH, "growth_10_to_100": many, "parts": parts}
        write_result("whole", result, command="python -m tests.bench whole; python -m tests.bench large")
    return 0 if all(parts[part]["proved_and_judged"] == parts[part]["sets"] for part in mine) else 1
