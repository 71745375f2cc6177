"""Random jobs of several stock lengths at unequal prices, at 20 s each, beside a model of all patterns and arc flow.

`python -m tests.bench nesting_lengths -- [--jobs N] [--limit S] [--baselines N] [--minutes M] [--fresh]`.
Each run is appended to results/nesting_lengths_runs.jsonl as it ends; the figures are made from that file. A gap is what
a plan costs above the best bound known to the run, ours or a model's.
"""

from __future__ import annotations

import argparse
import json
import statistics
import time
from typing import Any

from solver.codec import decode
from solver.domain.cut_plan import NestJob
from solver.nesting.check import check
from solver.nesting.nest import nest
from solver.search import Search
from tests.bench.machine import RESULTS, write_result
from tests.generators.nesting import several_lengths
from tests.nesting_models import all_patterns_highs, arc_flow_highs

COMMAND = "python -m tests.bench nesting_lengths"
RUNS = RESULTS / "nesting_lengths_runs.jsonl"
MODELS = {"all patterns, HiGHS": all_patterns_highs, "arc flow, HiGHS": arc_flow_highs}
QUANTILES = (0.5, 0.75, 0.9, 0.95, 0.99, 1.0)


def ours(seed: int, limit_s: float) -> dict[str, Any]:
    """Return one run of ours, with what the job is like."""
    job = decode(NestJob, several_lengths(seed, time_limit_s=limit_s), name="job")
    begun, worked = time.perf_counter(), time.process_time()
    result = nest(job, Search(seed=job.seed, left_s=lambda: begun + limit_s - time.perf_counter()))
    seconds, processor = time.perf_counter() - begun, time.process_time() - worked
    return {
        "seed": seed,
        "kinds": len(job.pieces),
        "pieces": sum(piece.count for piece in job.pieces),
        "stocks": len(job.stock),
        "limited": sum(stock.count is not None for stock in job.stock),
        "credit": job.keep_from_nm is not None,
        "status": result.status,
        "cost": result.cost,
        "bound": result.lower_bound,
        "seconds": round(seconds, 2),
        "processor_s": round(processor, 2),
        "late": seconds > 1.05 * limit_s + 0.2,
        "sound": check(job, result).sound,
    }


def models(seed: int, limit_s: float) -> dict[str, Any]:
    """Return what each model came to, with the same limit for its program; nothing where it is too large."""
    job = decode(NestJob, several_lengths(seed), name="job")
    made = {}
    for name, model in MODELS.items():
        begun = time.perf_counter()
        found = model(job, limit_s)
        seconds = round(time.perf_counter() - begun, 2)
        made[name] = {
            "cost": found.cost,
            "bound": found.bound,
            "proved": found.proved,
            "columns": found.size,
            "seconds": seconds,
        }
    return made


def noted() -> list[dict[str, Any]]:
    """Return all runs noted so far."""
    if not RUNS.exists():
        return []
    return [json.loads(line) for line in RUNS.read_text(encoding="utf-8").splitlines()]


def gap(run: dict[str, Any]) -> float:
    """Return by how many percent the plan costs more than the best bound known."""
    bounds = [run["bound"], *(one["bound"] for one in run.get("models", {}).values() if one["bound"] is not None)]
    cost = float(run["cost"])
    return max(0.0, 100 * (cost - float(max(bounds))) / cost)


def figures(runs: list[dict[str, Any]]) -> dict[str, Any]:
    """Return number, proved and gaps of some runs."""
    gaps, taken = sorted(gap(run) for run in runs), sorted(run["seconds"] for run in runs)

    def at(values: list[float], share: float) -> float:
        return round(values[min(len(values) - 1, int(share * len(values)))], 4)

    return {
        "jobs": len(runs),
        "proved": sum(run["status"] == "optimal" for run in runs),
        "mean_gap_percent": round(statistics.fmean(gaps), 4),
        "gap_percent_quantiles": {str(share): at(gaps, share) for share in QUANTILES},
        "mean_s": round(statistics.fmean(taken), 2),
        "seconds_quantiles": {str(share): at(taken, share) for share in QUANTILES},
        "mean_processor_s": round(statistics.fmean(run["processor_s"] for run in runs), 2),
    }


def beside(runs: list[dict[str, Any]], name: str) -> dict[str, Any]:
    """Return how a model did on the jobs that it was asked, and how ours did on the same."""
    mine = [run for run in runs if name in run.get("models", {})]
    with_plan = [run for run in mine if run["models"][name]["cost"] is not None]
    above = [100 * (run["models"][name]["cost"] / run["cost"] - 1) for run in with_plan]
    return {
        "jobs": len(mine),
        "proved": sum(run["models"][name]["proved"] for run in mine),
        "ours_proved": sum(run["status"] == "optimal" for run in mine),
        "with_a_plan": len(with_plan),
        "dearer_than_ours": sum(part > 1e-6 for part in above),
        "cheaper_than_ours": sum(part < -1e-6 for part in above),
        "mean_percent_above_ours": round(statistics.fmean(above), 4) if above else None,
        "mean_s": round(statistics.fmean(run["models"][name]["seconds"] for run in mine), 2),
    }


def wrong(run: dict[str, Any]) -> bool:
    """Return whether a run is unsound, or its bound above a plan of a model, or its plan below a model's proof."""
    proofs = [one["cost"] for one in run.get("models", {}).values() if one["proved"]]
    plans = [one["cost"] for one in run.get("models", {}).values() if one["cost"] is not None]
    too_high = any(run["bound"] > cost * (1 + 1e-6) for cost in plans)
    return not run["sound"] or too_high or any(run["cost"] < cost * (1 - 1e-6) for cost in proofs)


def summary(runs: list[dict[str, Any]]) -> dict[str, Any]:
    """Return the figures of all runs noted so far."""
    made: dict[str, Any] = {"all": figures(runs)}
    for name, credit in (("without_credit", False), ("with_credit", True)):
        mine = [run for run in runs if run["credit"] is credit]
        if mine:
            made[name] = figures(mine)
    made["wrong"] = [run["seed"] for run in runs if wrong(run)]
    made["later_than_5_percent_and_0.2_s"] = [[run["seed"], run["seconds"]] for run in runs if run["late"]]
    made["worst"] = [
        [run["seed"], run["kinds"], run["stocks"], run["credit"], round(gap(run), 4)] for run in sorted(runs, key=gap)[:-9:-1]
    ]
    return made | {"models": {name: beside(runs, name) for name in MODELS if any("models" in run for run in runs)}}


def main(arguments: list[str]) -> int:
    """Run what is asked for, then write the figures of all runs noted; fails where a plan is unsound or a claim wrong."""
    parser = argparse.ArgumentParser(prog=COMMAND)
    parser.add_argument("--jobs", type=int, default=200)
    parser.add_argument("--limit", type=float, default=20.0)
    parser.add_argument("--baselines", type=int, default=25, help="jobs that the models are asked too, spread over all")
    parser.add_argument("--minutes", type=float, default=600.0)
    parser.add_argument("--fresh", action="store_true")
    asked = parser.parse_args(arguments)
    RESULTS.mkdir(exist_ok=True)
    if asked.fresh:
        RUNS.unlink(missing_ok=True)
    until, done = time.perf_counter() + 60 * asked.minutes, {run["seed"] for run in noted()}
    for seed in (3, 4):  # a warm process: inner loops are there
        ours(seed, 3.0)
    every = max(1, asked.jobs // max(1, asked.baselines))
    for seed in range(asked.jobs):
        if seed in done or time.perf_counter() > until:
            continue
        run = ours(seed, asked.limit)
        if asked.baselines and seed % every == 0:
            run["models"] = models(seed, asked.limit)
        with RUNS.open("a", encoding="utf-8") as file:
            file.write(json.dumps(run) + "\n")
    made = summary(noted())
    write_result("nesting_lengths", made, command=f"{COMMAND} -- --jobs {asked.jobs} --limit {asked.limit:g}")
    print(json.dumps(made, indent=1))
    return int(bool(made["wrong"]))
