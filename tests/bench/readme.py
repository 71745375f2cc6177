"""The results that README quotes, made from the files in `results/`: `python -m tests.bench readme` writes them in."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.bench.machine import RESULTS

README = Path(__file__).resolve().parents[2] / "README.md"
BEGIN, END = "<!-- results: kept true by tests/unit/test_readme.py -->\n", "<!-- end of results -->"


def _plan(found: dict[str, Any]) -> str:
    seconds, limits = found["seconds"], found["limits"]
    return (
        f"three demo orders planned, with all sheets | median {seconds['median']:.1f} s, {found['peak_mb']:.0f} MB "
        f"| {limits['seconds']:.0f} s, {limits['mb']:.0f} MB"
    )


def _takeoff(found: dict[str, Any]) -> str:
    slow = found["takeoff_cpu_seconds"]
    return (
        f"{found['orders']:,} random buildings taken off | {100 * found['planned_share']:.2f} % planned, each accepted by the "
        f"proof; {found['with_hips_or_valleys']} with hips or valleys; slowest {slow['slowest']:.2f} s | 95 %, 5 s"
    )


def _sequencing(found: dict[str, Any]) -> str:
    known = found["instances_with_known_optimum"]
    missed = [one for one in found["unproved"] if one.get("optimum") is not None]
    return f"cut orders with a published optimum | {known - len(missed):,} of {known:,} reached and proved | all but 2"


def _nesting(found: dict[str, Any]) -> str:
    square = {name: one for name, one in found["classes"].items() if not name.startswith("mlcsp")}
    tried = sum(one["instances"] for one in square.values())
    proved = sum(one["proved"] for one in square.values())
    mean = sum(one["instances"] * one["mean_s"] for one in square.values()) / tried
    result = f"{proved:,} of {tried:,} proved at the optimum, mean {mean:.2f} s"
    lines = [f"{tried:,} published cutting instances | {result} | all but 3, 1 s"]
    if (jobs := found.get("plant")) is not None:
        gap = f"mean gap {jobs['mean_gap_percent']:.2f} %, {jobs['proved_percent']:.0f} % proved"
        lines.append(f"{jobs['jobs']} plant-like jobs with sloped ends, 10 s each | {gap} | 0.2 %, 60 %")
    if (day := found.get("day_of_40_houses")) is not None:
        took = f"{day['seconds']:.0f} s, {day['peak_mib']} MiB, worst gap {day['worst_gap_percent']:.2f} %"
        lines.append(f"a day of 40 houses nested, {day['pieces']:,} pieces | {took} | 60 s, 1 GB, 0.5 %")
    if (based := found.get("baselines")) is not None:
        lines.append(
            f"against the best proving baseline, {based['instances']} instances | "
            f"{based['times_faster_than_best_proving']:.0f} times faster (geometric mean) | 10 times"
        )
    return " |\n| ".join(lines)


def _scheduling(found: dict[str, Any]) -> str:
    shops = found["by_limit"]["60 s"]["job_shop"]
    ours, plain = shops["ours_on_both"], shops["plain_on_both"]
    worst, beside = ours["gap_percent_quantiles"]["1.0"], plain["mean_gap_percent"]
    result = f"mean {ours['mean_gap_percent']:.2f} % above the best known, worst {worst:.1f} %"
    result = f"{result} (a plain constraint program: {beside:.2f} %)"
    return f"{ours['instances']} published job shops, 60 s each | {result} | 0.3 %, 3 %"


def _weeks(found: dict[str, Any]) -> str:
    less = found["table"]["less"]
    return (
        f"{len(found['weeks'])} plant weeks of 60 orders, {found['limit_s']:.0f} s each | {100 * less['least']:.0f} to "
        f"{100 * less['most']:.0f} % less late than by the best dispatch rule, median {100 * less['median']:.0f} % | 10 %"
    )


def _by_hand(found: dict[str, Any]) -> str:
    rows = []
    for name, one in found["sets"].items():
        hand, ours = one["by_hand"], one["planned"]
        what = "the demo orders" if name == "demo" else f"{one['orders']} houses"
        pairs = (
            f"steel and panels ${ours['price_dollars']:,.0f} for ${hand['price_dollars']:,.0f} "
            f"({100 * one['less']['price_dollars']:.0f} % less)",
            f"{ours['metres']:,.0f} m of bars for {hand['metres']:,.0f}",
            f"{ours['bars']:,} bars for {hand['bars']:,}",
            f"{ours['bundles']:,} bundles for {hand['bundles']:,}",
            f"{ours['trucks']} trucks for {hand['trucks']}",
            f"{ours['weighted_hours_late']:,.0f} weighted hours late for {hand['weighted_hours_late']:,.0f}",
            f"{ours['orders_late']} orders late for {hand['orders_late']}",
            f"at most {ours['most_before_bundle_bay']} pieces before the bundle bay for {hand['most_before_bundle_bay']}",
        )
        rows.append(f"{what}, planned in {one['limit_s']:.0f} s, for what a plan by hand takes | {'; '.join(pairs)} | none")
    return " |\n| ".join(rows)


def _whole(found: dict[str, Any]) -> str:
    rows = []
    for one in sorted(found["parts"].values(), key=lambda one: one["houses"]):
        total, peak, limits = one["total_s"], one["peak_mb"], one["limits"]
        sets = f"{one['sets']} sets of {one['houses']} houses" if one["sets"] > 1 else f"{one['houses']} houses"
        said = f"median {total['0.5']:.0f} s, most {total['1.0']:.0f} s, {peak['1.0']:,.0f} MB"
        held = f"{limits['seconds']:.0f} s, {limits['mb']:,.0f} MB" if limits else "none"
        sound = f"{one['proved_and_judged']} of {one['sets']} proved, and judged sound by code apart"
        rows.append(f"{sets} planned, with all sheets | {said}; {sound} | {held}")
    return " |\n| ".join(rows)


LINES: dict[str, Callable[[dict[str, Any]], str]] = {
    "plan": _plan,
    "whole": _whole,
    "by_hand": _by_hand,
    "takeoff": _takeoff,
    "nesting": _nesting,
    "sequencing": _sequencing,
    "scheduling": _scheduling,
    "weeks": _weeks,
}


def table() -> str:
    """Return the table of results as Markdown; a benchmark that was not run has no row."""
    rows = []
    machine = ""
    for name, line in LINES.items():
        path = RESULTS / f"{name}.json"
        if path.exists():
            found = json.loads(path.read_text(encoding="utf-8"))
            machine = machine or f"{found['machine']['processor']}, {found['machine']['cores']} cores"
            rows.append(f"| {line(found)} |\n")
    head = "| measured | result | limit we hold ourselves to |\n|-|-|-|\n"
    foot = f"Measured on {machine}; the files and the commands that made them are in `tests/bench/results/`."
    return f"{head}{''.join(rows)}\n{foot}\n"


def quoted() -> str:
    """Return what README says between its marks."""
    text = README.read_text(encoding="utf-8")
    return text[text.index(BEGIN) + len(BEGIN) : text.index(END)]


def main(_arguments: list[str]) -> int:
    """Write the table into README."""
    text = README.read_text(encoding="utf-8")
    README.write_text(text.replace(BEGIN + quoted(), BEGIN + table()), encoding="utf-8")
    return 0
