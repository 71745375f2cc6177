"""Nesting measured: published instances against named baselines, plant-like jobs, a day of houses, a flaw.

`python -m tests.bench nesting -- [--every N] [--limit S] [--minutes M] [--baselines N] [--plant N] [--day] [--flaws N]
[--patterns N] [--fresh]`.
Each run is appended to results/nesting_runs.jsonl as it ends, so a stop loses nothing; the table is made from that file.
"""

from __future__ import annotations

import argparse
import json
import math
import random
import resource
import statistics
import time
from collections import Counter
from collections.abc import Callable
from typing import Any

from solver.codec import decode
from solver.domain.cut_plan import NestJob
from solver.nesting.check import check
from solver.nesting.greedy import first_fit_decreasing
from solver.nesting.model import build_model
from solver.nesting.nest import nest, renest
from solver.search import Search
from solver.units import MM, Nm
from tests.bench.machine import RESULTS, write_result
from tests.generators.nesting import house_day, plant_like
from tests.published.nesting_baselines import BASELINES
from tests.shared import instances

CLASSES = (
    "falkenauer_u",
    "falkenauer_t",
    "scholl_1",
    "scholl_2",
    "scholl_3",
    "schwerin_1",
    "schwerin_2",
    "waescher",
    "hard28",
    "mlcsp_porumbel_a",
)
RUNS = RESULTS / "nesting_runs.jsonl"
COMMAND = "python -m tests.bench nesting"
FLAW_LIMIT_S = 0.12  # the search of a new plan around a flaw: the rest of 200 ms is for what comes before and after


def job_of(instance: dict[str, Any]) -> NestJob:
    """Return a published instance as a job: whole lengths as millimetres, bars at cost 1 where no price is stated."""
    stocks = instance.get("stocks") or [[instance["capacity"], 1]]
    data = {
        "unit": "mm",
        "stock": [{"id": f"S{n}", "length": length, "cost": cost} for n, (length, cost) in enumerate(stocks)],
        "pieces": [{"id": f"P{n}", "length": length, "count": count} for n, (length, count) in enumerate(instance["items"])],
    }
    return decode(NestJob, data, name=instance["name"])


def solve(job: NestJob, limit_s: float) -> dict[str, Any]:
    """Return one run of ours: status, cost, bound, seconds, gap, and whether the independent check passed."""
    begun = time.perf_counter()
    result = nest(job, Search(seed=job.seed, left_s=lambda: begun + limit_s - time.perf_counter()))
    seconds = time.perf_counter() - begun
    gap = 0.0 if not result.cost else (result.cost - result.lower_bound) / result.cost
    return {
        "status": result.status,
        "cost": result.cost,
        "bound": result.lower_bound,
        "seconds": round(seconds, 3),
        "gap": gap,
        "sound": check(job, result).sound,
    }


def spread(count: int) -> list[int]:
    """Return all indices, each part of the list spread over the whole, so that a run that is stopped is a fair sample."""
    step = next(n for n in range(max(1, int(count * 0.618)), 2 * count + 2) if math.gcd(n, count) == 1)
    return [n * step % count for n in range(count)]


def append(run: dict[str, Any]) -> None:
    """Note one run at once."""
    with RUNS.open("a", encoding="utf-8") as file:
        file.write(json.dumps(run) + "\n")


def published(every: int, limit_s: float, until: float, done: set[tuple[str, str]]) -> None:
    """Run the published instances, class by class in turns, until the time is over."""
    queues = {name: instances(f"cutting/{name}") for name in CLASSES}
    work = [
        (place / len(items), name, items[n])
        for name, items in queues.items()
        for place, n in enumerate(spread(len(items))[:: max(1, every)])
    ]
    for _, name, instance in sorted(work, key=lambda item: item[0]):
        if time.perf_counter() > until:
            break
        if ("published", instance["name"]) in done:
            continue
        job = job_of(instance)
        run = solve(job, limit_s)
        cuts = first_fit_decreasing(build_model(job))
        model = build_model(job)
        fitted = None if cuts is None else float(sum(cut.repeat * model.stocks[cut.stock].cost for cut in cuts))
        known = {"optimum": instance.get("optimum"), "best_lb": instance.get("best_lb"), "best_ub": instance.get("best_ub")}
        append({"part": "published", "class": name, "name": instance["name"], **run, **known, "first_fit": fitted})


def baselines(count: int, limit_s: float, until: float, done: set[tuple[str, str]]) -> None:
    """Run the named baselines on a sample, each with the same limit, beside ours."""
    queues = {
        name: instances(f"cutting/{name}")
        for name in ("schwerin_1", "falkenauer_t", "scholl_2", "falkenauer_u", "scholl_1", "hard28", "waescher")
    }
    for turn in range(count):  # class by class in turns, so that a run that is stopped is a fair sample
        for name, items in queues.items():
            instance = items[spread(len(items))[turn % len(items)]]
            if ("baseline", instance["name"]) in done or time.perf_counter() > until:
                continue
            run: dict[str, Any] = {
                "part": "baseline",
                "class": name,
                "name": instance["name"],
                "ours": solve(job_of(instance), limit_s),
            }
            for label, baseline in BASELINES.items():
                begun = time.perf_counter()
                bars, proved = baseline(instance["capacity"], instance["items"], limit_s)
                run[label] = {"bars": bars, "proved": proved, "seconds": round(time.perf_counter() - begun, 3)}
            append(run)


def plant(count: int, limit_s: float, until: float, done: set[tuple[str, str]]) -> None:
    """Run the plant-like jobs with sloped ends; where turns allow sharing, again without turns, to see what sharing saves."""
    for seed in range(count):
        if ("plant", str(seed)) in done or time.perf_counter() > until:
            continue
        data = plant_like(seed, time_limit_s=limit_s)
        run = {"part": "plant", "name": str(seed), **solve(decode(NestJob, data, name="job"), limit_s)}
        turned = any(len(piece.get("turns", ())) > 1 for piece in data["pieces"])
        if turned and seed % 4 == 0:
            for piece in data["pieces"]:
                if "turns" in piece:
                    piece["turns"] = ["as_is"]
            run["unturned"] = solve(decode(NestJob, data, name="job"), limit_s)["cost"]
        append(run)


def day(limit_s: float) -> dict[str, Any]:
    """Nest a day of 40 houses, some 8,000 pieces over 15 materials, in one process."""
    begun, gaps, pieces = time.perf_counter(), [], 0
    for data in house_day(1):
        job = decode(NestJob, data, name="job")
        run = solve(job, limit_s)
        gaps.append(run["gap"])
        pieces += sum(piece.count for piece in job.pieces)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return {
        "materials": len(gaps),
        "pieces": pieces,
        "seconds": round(time.perf_counter() - begun, 1),
        "worst_gap_percent": round(100 * max(gaps), 3),
        "mean_gap_percent": round(100 * statistics.fmean(gaps), 3),
        "peak_mib": round(peak),
    }


def flaw(times: int) -> dict[str, Any]:
    """Time new plans around random flaws in half-cut bars of plant-like jobs, the solver warm; each judged."""
    taken, unsound = [], 0
    for seed in (0, 1):  # a warm process: inner loops are there
        nest(decode(NestJob, plant_like(seed), name="job"), Search())
    for seed in range(times):
        dice = random.Random(seed)
        job = decode(NestJob, plant_like(seed), name="job")
        bar = dice.choice(nest(job, Search(left_s=lambda: 0.0)).bars)
        at = dice.randrange(next(stock.length_nm for stock in job.stock if stock.id == bar.stock) - 400 * MM)
        spoiled, done = (Nm(at), Nm(at + dice.randrange(5, 400) * MM)), dice.randrange(len(bar.pieces))
        begun = time.perf_counter()
        search = Search(left_s=lambda at=begun: at + FLAW_LIMIT_S - time.perf_counter())  # type: ignore[misc]
        made = renest(job, bar, done=done, flaw_nm=spoiled, search=search)
        taken.append(time.perf_counter() - begun)
        unsound += not check(made.job, made.result).sound
    taken.sort()
    return {
        "runs": len(taken),
        "median_ms": round(1000 * statistics.median(taken)),
        "worst_ms": round(1000 * taken[-1]),
        "unsound": unsound,
    }


def patterns(count: int, limit_s: float, until: float, done: set[tuple[str, str]]) -> None:
    """Ask for few patterns of plans with least bars, on a sample of the published set; beside the patterns it was made of."""
    items = instances("cutting/pattern_reduction_prx")
    for n in spread(len(items))[:count]:
        instance = items[n]
        if ("patterns", instance["name"]) in done or time.perf_counter() > until:
            continue
        wanted: Counter[int] = Counter()
        for often, pattern in instance["patterns"]:
            for width, across in pattern:
                wanted[width] += often * across
        data = {
            "unit": "mm",
            "stock": [{"id": "S", "length": instance["header"]["PM Max Width"], "cost": 1}],
            "pieces": [{"id": str(width), "length": width, "count": count} for width, count in wanted.items()],
        }
        plain, few = (decode(NestJob, {**data, "few_patterns": asked}, name="job") for asked in (False, True))
        begun = time.perf_counter()
        made = nest(few, Search(left_s=lambda at=begun: at + limit_s - time.perf_counter()))  # type: ignore[misc]
        run = {"seconds": round(time.perf_counter() - begun, 2), "sound": check(few, made).sound, "bars": made.cost}
        run |= {"bound": made.lower_bound, "patterns": made.patterns, "at_least": made.patterns_lower_bound}
        run |= {"made_of": len(instance["patterns"]), "made_of_bars": sum(often for often, _ in instance["patterns"])}
        begun = time.perf_counter()
        first = nest(plain, Search(left_s=lambda at=begun: at + limit_s - time.perf_counter()))  # type: ignore[misc]
        append({"part": "patterns", "name": instance["name"], **run, "unasked": len(first.bars)})


def quantile(values: list[float], share: float) -> float:
    """Return the value below which that share lies."""
    return sorted(values)[min(len(values) - 1, int(share * len(values)))] if values else 0.0


def summary(runs: list[dict[str, Any]]) -> dict[str, Any]:
    """Return the figures of all runs noted so far."""
    classes = {}
    for name in CLASSES:
        mine = [run for run in runs if run["part"] == "published" and run["class"] == name]
        if not mine:
            continue
        classes[name] = {
            "instances": len(mine),
            "proved": sum(run["status"] == "optimal" for run in mine),
            "wrong": [run["name"] for run in mine if not run["sound"] or _wrong(run)],
            "unproved": [[run["name"], run["cost"], run["bound"]] for run in mine if run["status"] != "optimal"],
            "mean_s": round(statistics.fmean(run["seconds"] for run in mine), 3),
            "worst_s": max(run["seconds"] for run in mine),
            "dearer_than_first_fit": sum(run["first_fit"] is not None and run["cost"] > run["first_fit"] for run in mine),
        }
    made: dict[str, Any] = {"classes": classes}
    plants = [run for run in runs if run["part"] == "plant"]
    if plants:
        gaps = [100 * run["gap"] for run in plants]
        shared = [100 * (run["unturned"] - run["cost"]) / run["unturned"] for run in plants if run.get("unturned")]
        made["plant"] = {
            "jobs": len(plants),
            "proved_percent": round(100 * sum(run["status"] == "optimal" for run in plants) / len(plants), 1),
            "mean_gap_percent": round(statistics.fmean(gaps), 4),
            "gap_percent_quantiles": {str(q): round(quantile(gaps, q), 4) for q in (0.5, 0.75, 0.9, 0.95, 1.0)},
            "mean_s": round(statistics.fmean(run["seconds"] for run in plants), 2),
            "unsound": sum(not run["sound"] for run in plants),
            "turning_saves_percent": round(statistics.fmean(shared), 2) if shared else None,
            "turning_jobs": len(shared),
        }
    based = [run for run in runs if run["part"] == "baseline"]
    if based:
        made["baselines"] = {
            "instances": len(based),
            "ours": _of(based, "ours", lambda one: one["status"] == "optimal"),
            **{label: _of(based, label, lambda one: bool(one["proved"])) for label in BASELINES},
            "times_faster_than_best_proving": _faster(based),
        }
    return made


def _wrong(run: dict[str, Any]) -> bool:
    known = run["optimum"]
    if known is None:
        return bool(run["cost"] < (run["best_lb"] or 0) or run["bound"] > (run["best_ub"] or math.inf))
    return bool(run["cost"] < known or run["bound"] > known or (run["status"] == "optimal" and run["cost"] != known))


def _of(runs: list[dict[str, Any]], label: str, proved: Callable[[dict[str, Any]], bool]) -> dict[str, Any]:
    mine = [run[label] for run in runs]
    return {"proved": sum(proved(one) for one in mine), "mean_s": round(statistics.fmean(one["seconds"] for one in mine), 2)}


def _faster(runs: list[dict[str, Any]]) -> float | None:
    """Return the geometric mean, over instances that some baseline proves, of its best time by ours."""
    ratios = []
    for run in runs:
        best = [run[label]["seconds"] for label in BASELINES if run[label]["proved"]]
        if best and run["ours"]["status"] == "optimal":
            ratios.append(min(best) / max(1e-3, run["ours"]["seconds"]))
    return round(statistics.geometric_mean(ratios), 1) if ratios else None


def table(made: dict[str, Any]) -> str:
    """Return the figures as a table for people."""
    lines = ["| class | instances | proved | mean s | worst s | unproved |", "|---|---|---|---|---|---|"]
    for name, row in made["classes"].items():
        left = ", ".join(f"{item[0]} {item[1]:g}/{item[2]:g}" for item in row["unproved"][:6])
        more = f" and {len(row['unproved']) - 6} more" if len(row["unproved"]) > 6 else ""
        lines.append(f"| {name} | {row['instances']} | {row['proved']} | {row['mean_s']} | {row['worst_s']} | {left}{more} |")
    lines += [f"\n{key}: {json.dumps(value)}" for key, value in made.items() if key != "classes"]
    return "\n".join(lines) + "\n"


def main(arguments: list[str]) -> int:
    """Run what is asked for, then write the figures of all runs noted; fails where a plan is unsound or a claim wrong."""
    parser = argparse.ArgumentParser(prog=COMMAND)
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--limit", type=float, default=60.0)
    parser.add_argument("--minutes", type=float, default=600.0)
    parser.add_argument("--no-published", action="store_true")
    parser.add_argument("--baselines", type=int, default=0)
    parser.add_argument("--plant", type=int, default=0)
    parser.add_argument("--day", action="store_true")
    parser.add_argument("--flaws", type=int, default=0)
    parser.add_argument("--patterns", type=int, default=0)
    parser.add_argument("--fresh", action="store_true")
    asked = parser.parse_args(arguments)
    RESULTS.mkdir(exist_ok=True)
    if asked.fresh:
        RUNS.unlink(missing_ok=True)
    until = time.perf_counter() + 60 * asked.minutes
    done = {(run["part"], run["name"]) for run in noted()}
    plant(asked.plant, 10.0, until, done)
    patterns(asked.patterns, 10.0, until, done)
    baselines(asked.baselines, min(asked.limit, 60.0), until, done)
    if not asked.no_published:
        published(asked.every, asked.limit, until, done)
    if asked.day:
        append({"part": "day", "name": "day", **day(3.0)})
    if asked.flaws:
        append({"part": "flaw", "name": "flaw", **flaw(asked.flaws)})
    made = summary(noted())
    last = [run for run in noted() if run["part"] == "day"]
    reduced = [run for run in noted() if run["part"] == "patterns"]
    if reduced:
        made["patterns"] = {
            "instances": len(reduced),
            "fewest_bars_proved": sum(run["bars"] == run["bound"] for run in reduced),
            "mean": {
                key: round(statistics.fmean(run[key] for run in reduced), 2)
                for key in ("patterns", "unasked", "made_of", "at_least", "seconds")
            },
            "fewer_than_made_of": sum(run["patterns"] < run["made_of"] for run in reduced),
            "more_than_made_of": sum(run["patterns"] > run["made_of"] for run in reduced),
            "unsound": sum(not run["sound"] for run in reduced),
        }
    flaws = [run for run in noted() if run["part"] == "flaw"]
    if flaws:
        made["flaw"] = {key: value for key, value in flaws[-1].items() if key not in ("part", "name")}
    if last:
        made["day_of_40_houses"] = {key: value for key, value in last[-1].items() if key not in ("part", "name")}
    write_result("nesting", made, command=COMMAND)
    (RESULTS / "nesting.md").write_text(table(made), encoding="utf-8")
    print(table(made))
    return int(any(row["wrong"] for row in made["classes"].values()))


def noted() -> list[dict[str, Any]]:
    """Return all runs noted so far, the latest of each."""
    if not RUNS.exists():
        return []
    runs = [json.loads(line) for line in RUNS.read_text(encoding="utf-8").splitlines()]
    return list({(run["part"], run["name"]): run for run in runs}.values())  # the latest of each
