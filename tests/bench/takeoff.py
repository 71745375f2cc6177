"""Takeoff of random buildings: how many are planned and proved, what is refused and why, and how long it takes.

`python -m tests.bench takeoff [-- COUNT [FIRST_SEED]]`; writes results/takeoff.json.
"""

from __future__ import annotations

import time
import traceback
from collections import Counter
from dataclasses import dataclass, field
from typing import Any

from service.catalog import read_plant
from solver.domain.plant import Plant
from solver.errors import FieldFault, InputError, NoPlan
from solver.reading.read_order import read_order
from solver.takeoff.check import check
from solver.takeoff.take_off import take_off
from tests.bench.machine import write_result
from tests.generators.buildings import random_order
from tests.generators.refusals import reason_of, reasons

COUNT = 2000


@dataclass
class Tally:
    """What became of the orders."""

    planned: int = 0
    hips_or_valleys: int = 0
    pieces: int = 0
    refused: Counter[str] = field(default_factory=Counter)
    unconfirmed: list[str] = field(default_factory=list)
    missed: list[str] = field(default_factory=list)
    unsound: list[str] = field(default_factory=list)
    crashed: list[str] = field(default_factory=list)
    corners: Counter[int] = field(default_factory=Counter)
    seconds: list[tuple[float, int]] = field(default_factory=list)


def run_one(seed: int, plant: Plant, tally: Tally) -> None:
    """Read, take off and prove one random order; confirm a refusal by the order alone."""
    order = random_order(seed)
    tally.corners[max(len(outline["corners"]) for outline in order["outlines"].values())] += 1
    started = time.process_time()
    try:
        building = read_order(order, plant)
        takeoff = take_off(building, plant)
        tally.seconds.append((time.process_time() - started, seed))
        report = check(building, plant, takeoff)
    except (NoPlan, InputError) as refusal:
        tally.seconds.append((time.process_time() - started, seed))
        confirm(seed, order, plant, refusal.faults, tally)
        return
    except Exception:
        tally.crashed.append(f"{seed}: {traceback.format_exc().splitlines()[-1]}")
        return
    kinds = {kind for plane in building.roof for kind in plane.edges}
    tally.planned += report.sound
    tally.hips_or_valleys += report.sound and bool(kinds & {"hip", "valley"})
    tally.pieces += len(takeoff.pieces)
    if not report.sound:
        tally.unsound.append(f"{seed}: {report.faults[0]}")
    if must := [reason for reason, how in reasons(order, plant).items() if how == "must"]:
        tally.missed.append(f"{seed}: planned, though {', '.join(must)}")


def confirm(seed: int, order: dict[str, Any], plant: Plant, faults: tuple[FieldFault, ...], tally: Tally) -> None:
    """Count a refusal by its reasons, and note each fault that the order itself does not confirm."""
    told = reasons(order, plant)
    for reason in dict.fromkeys(reason_of(fault) for fault in faults):
        tally.refused[reason or "other"] += 1
    for fault in faults:
        reason = reason_of(fault)
        if reason is None or reason not in told:
            tally.unconfirmed.append(f"{seed}: {fault}")
            break


def quantile(values: list[float], share: float) -> float:
    """The value below which that share of the values lies."""
    return sorted(values)[min(len(values) - 1, int(share * len(values)))]


def main(arguments: list[str]) -> int:
    """Run the benchmark and write its result; 1 if an order crashed, was planned unsoundly or refused without reason."""
    count, first = (int(arguments[0]) if arguments else COUNT), (int(arguments[1]) if len(arguments) > 1 else 0)
    plant, tally = read_plant(), Tally()
    for seed in range(first, first + count):
        run_one(seed, plant, tally)
    command = "python -m tests.bench takeoff" + (f" -- {' '.join(arguments)}" if arguments else "")
    return report(tally, count, first, command)


def report(tally: Tally, count: int, first: int, command: str) -> int:
    """Write and print what a run came to; 1 if anything is amiss."""
    seconds = [time_s for time_s, _ in tally.seconds]
    slowest = max(tally.seconds)
    result: dict[str, Any] = {
        "orders": count,
        "first_seed": first,
        "planned_and_proved": tally.planned,
        "planned_share": round(tally.planned / count, 4),
        "with_hips_or_valleys": tally.hips_or_valleys,
        "pieces": tally.pieces,
        "refused_by_reason": dict(tally.refused.most_common()),
        "refusals_not_confirmed": tally.unconfirmed,
        "beyond_limits_yet_planned": tally.missed,
        "unsound": tally.unsound,
        "crashed": tally.crashed,
        "corners": dict(sorted(tally.corners.items())),
        "takeoff_cpu_seconds": {
            "median": round(quantile(seconds, 0.5), 3),
            "p95": round(quantile(seconds, 0.95), 3),
            "slowest": round(slowest[0], 3),
            "slowest_seed": slowest[1],
        },
    }
    path = write_result("takeoff", result, command=command)
    refused = count - tally.planned - len(tally.unsound) - len(tally.crashed)
    print(
        f"{count} orders: {tally.planned} planned and proved ({tally.planned / count:.1%}), {refused} refused "
        f"({len(tally.unconfirmed)} not confirmed), {len(tally.unsound)} unsound, {len(tally.crashed)} crashed; "
        f"{tally.hips_or_valleys} with hips or valleys; median {quantile(seconds, 0.5):.3f} s, slowest {slowest[0]:.2f} s"
    )
    print(path)
    return 1 if tally.unconfirmed or tally.missed or tally.unsound or tally.crashed else 0
