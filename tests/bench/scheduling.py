"""Timetables measured on published instances beside a plain constraint program, both with two workers.

`python -m tests.bench scheduling -- [--sets A,B] [--names P,Q] [--more FILE] [--every N] [--limit S] [--minutes M]
[--ours-only] [--again] [--fresh] [--note TEXT]`.
`--every 7` takes every seventh instance of each set, spread over it; `--names ft,la` those whose names begin so; `--more` a
file of job shops in the form of the published sets (swv of Storer, Wu and Vaccari 1992, yn of Yamada and Nakano 1992, ta of
Taillard 1993). Each run is appended to results/scheduling_runs.jsonl as it ends, so a stop loses nothing and a run can be
made in parts; `--again` repeats ours. The table is made from that file.
"""

from __future__ import annotations

import argparse
import gzip
import json
import resource
import statistics
import time
from typing import Any

from solver.scheduling.check import check
from solver.scheduling.schedule import schedule
from solver.search import Search
from tests.bench.machine import RESULTS, write_result
from tests.bench.nesting import quantile, spread
from tests.published.flow_shop_classes import all_drawn
from tests.published.scheduling_baseline import plain_cp_sat
from tests.published.scheduling_jobs import SETS
from tests.shared import instances

RUNS = RESULTS / "scheduling_runs.jsonl"
COMMAND = "python -m tests.bench scheduling"
CLASSICAL = ("ft", "la", "abz", "orb")  # the job shops whose optima we must come near; the rest of the set is reported
Run = dict[str, Any]


def part_of(name: str, instance: str) -> str:
    """Return the table's row of an instance: its set, but the job shops by where they come from."""
    if name != "job_shop" or instance.startswith(CLASSICAL):
        return name
    return f"job_shop_{instance.rstrip('0123456789')}"


def items_of(name: str, more: str) -> list[dict[str, Any]]:
    """Return the instances of a set; flow shops of more than 50 jobs are drawn, further job shops read from a file."""
    if name == "flow_shop_drawn":
        return all_drawn()
    found = instances(f"scheduling/{name}")
    if name == "job_shop" and more:
        with gzip.open(more, "rt", encoding="utf-8") as lines:
            found += [json.loads(line) for line in lines]
    return found


def ours(name: str, instance: dict[str, Any], limit_s: float) -> Run:
    """Return one run of ours: value, bound, status, seconds (what is over the limit is overshoot), and the check's word."""
    task = SETS[name](instance)
    begun, spent = time.perf_counter(), time.process_time()
    result = schedule(task, Search(seed=task.seed, left_s=lambda: begun + limit_s - time.perf_counter()))
    seconds, cpu = time.perf_counter() - begun, time.process_time() - spent
    sound = check(task, result).sound
    return {"value": result.objective, "bound": result.lower_bound, "proved": result.status == "optimal"} | {
        "seconds": round(seconds, 2),
        "cpu_s": round(cpu, 1),
        "peak_mib": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024,  # of the process, so of all its runs so far
        "sound": sound,
    }


def plain(name: str, instance: dict[str, Any], limit_s: float) -> Run:
    """Return one run of the plain constraint program."""
    begun = time.perf_counter()
    value, bound, proved = plain_cp_sat(SETS[name](instance), limit_s)
    return {"value": value, "bound": bound, "proved": proved, "seconds": round(time.perf_counter() - begun, 2)}


def gap_percent(value: int | None, best: int) -> float | None:
    """Return how far above the best known a value is; a best of 0 is met (0) or missed by what 100 % and more say."""
    if value is None:
        return None
    return 100 * (value - best) / best if best else min(100.0, 100.0 * value)


def run(asked: argparse.Namespace) -> None:
    """Run the instances that were not run yet, all sets in turns, until the time is over."""
    until = time.perf_counter() + 60 * asked.minutes
    done = {key(one) for one in noted()}
    work = []
    for name in asked.sets.split(","):
        items = [one for one in items_of(name, asked.more) if one["name"].startswith(tuple(asked.names.split(",")))]
        order = spread(len(items))[:: max(1, asked.every)]
        work += [(place / len(order), name, items[n]) for place, n in enumerate(order)]
    for _, name, instance in sorted(work, key=lambda item: (item[0], item[1])):
        for who, solve in (("ours", ours), ("plain", plain)):
            at = (who, name, instance["name"], asked.limit)
            if time.perf_counter() > until or (asked.ours_only and who == "plain"):
                continue
            if at in done and not (asked.again and who == "ours"):
                continue
            made = {"who": who, "set": name, "name": instance["name"], "limit_s": asked.limit}
            made |= solve(name, instance, asked.limit) | {
                "best": instance["upper_bound"],
                "best_bound": instance["lower_bound"],
            }
            with RUNS.open("a", encoding="utf-8") as file:
                file.write(json.dumps(made) + "\n")
            print(who, name, instance["name"], made["value"], made["bound"], "best", made["best"], made["seconds"], flush=True)


def key(one: Run) -> tuple[str, str, str, float]:
    """Return what tells runs apart; a later run of the same key replaces an earlier one."""
    return one["who"], one["set"], one["name"], one["limit_s"]


def noted() -> list[Run]:
    """Return all runs noted so far, the latest of each."""
    if not RUNS.exists():
        return []
    runs = [json.loads(line) for line in RUNS.read_text(encoding="utf-8").splitlines()]
    return list({key(one): one for one in runs}.values())


def figures(runs: list[Run]) -> dict[str, Any]:
    """Return the figures of runs of one set and limit by one program."""
    gaps = [gap for one in runs if (gap := gap_percent(one["value"], one["best"])) is not None]
    return {
        "instances": len(runs),
        "without_plan": sum(one["value"] is None for one in runs),
        "proved": sum(one["proved"] for one in runs),
        "mean_gap_percent": round(statistics.fmean(gaps), 3) if gaps else None,
        "gap_percent_quantiles": {str(q): round(quantile(gaps, q), 3) for q in (0.5, 0.75, 0.9, 1.0)},
        "mean_s": round(statistics.fmean(one["seconds"] for one in runs), 1),
        "mean_cpu_s": round(statistics.fmean(cpu), 1) if (cpu := [one["cpu_s"] for one in runs if "cpu_s" in one]) else None,
        "peak_mib": max((one["peak_mib"] for one in runs if "peak_mib" in one), default=None),
        "most_s_over_limit": round(max(0.0, *(one["seconds"] - one["limit_s"] for one in runs)), 2),
    }


def summary(runs: list[Run]) -> dict[str, Any]:
    """Return by limit and set: ours over all that ran, and both over the instances that both ran."""
    made: dict[str, Any] = {}
    for limit in sorted({one["limit_s"] for one in runs}):
        rows: dict[str, Any] = {}
        for part in sorted({part_of(one["set"], one["name"]) for one in runs}):
            here = [one for one in runs if one["limit_s"] == limit and part_of(one["set"], one["name"]) == part]
            mine, other = ({one["name"]: one for one in here if one["who"] == who} for who in ("ours", "plain"))
            both = sorted(mine.keys() & other.keys())
            if mine:
                rows[part] = {"ours": figures(list(mine.values()))}
            if both:
                rows[part] |= {
                    "ours_on_both": figures([mine[name] for name in both]),
                    "plain_on_both": figures([other[name] for name in both]),
                }
        made[f"{limit:g} s"] = rows
    return made


def wrong(one: Run) -> bool:
    """Return whether a run of ours is unsound or claims what is known to be false."""
    too_high = one["bound"] > one["best"]
    false_proof = one["proved"] and one["value"] != one["best"] and one["best"] == one["best_bound"]
    too_good = one["best_bound"] is not None and one["value"] is not None and one["value"] < one["best_bound"]
    return one["who"] == "ours" and bool(not one["sound"] or too_high or false_proof or too_good)


def table(made: dict[str, Any]) -> str:
    """Return the figures as a table for people; gaps above the best known values in percent."""
    head = "| limit | set | n | mean gap | worst | proved | n with plain | ours there | plain |"
    lines = [head, "|---|---|---|---|---|---|---|---|---|"]
    for limit, rows in made.items():
        for part, row in rows.items():
            all_of, one, two = row["ours"], row.get("ours_on_both"), row.get("plain_on_both")
            beside = [one["instances"], one["mean_gap_percent"], two["mean_gap_percent"]] if one else ["", "", ""]
            worst = all_of["gap_percent_quantiles"]["1.0"]
            cells = [limit, part, all_of["instances"], all_of["mean_gap_percent"], worst, all_of["proved"], *beside]
            lines.append(f"| {' | '.join(str(cell) for cell in cells)} |")
    return "\n".join(lines) + "\n"


def main(arguments: list[str]) -> int:
    """Run what is asked for, then write the figures of all runs noted; fails where a timetable is unsound or a claim wrong."""
    parser = argparse.ArgumentParser(prog=COMMAND)
    parser.add_argument("--sets", default=",".join(SETS))
    parser.add_argument("--names", default="")
    parser.add_argument("--more", default="")
    parser.add_argument("--note", default="")
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--limit", type=float, default=60.0)
    parser.add_argument("--minutes", type=float, default=600.0)
    parser.add_argument("--ours-only", action="store_true")
    parser.add_argument("--again", action="store_true")
    parser.add_argument("--fresh", action="store_true")
    asked = parser.parse_args(arguments)
    RESULTS.mkdir(exist_ok=True)
    if asked.fresh:
        RUNS.unlink(missing_ok=True)
    run(asked)
    made, bad = summary(noted()), [one for one in noted() if wrong(one)]
    write_result(
        "scheduling", {"note": asked.note, "by_limit": made, "wrong": bad}, command=" ".join([COMMAND, "--", *arguments])
    )
    (RESULTS / "scheduling.md").write_text("\n".join(filter(None, (table(made), asked.note))), encoding="utf-8")
    print(table(made))
    return int(bool(bad))
