"""Closing panels under slopes: cut shapes of random buildings judged by the roof's planes in space and the catalog.

`python -m tests.bench closing [-- COUNT [FIRST_SEED]]`; writes results/closing.json; 1 if one is wrong.
"""

from __future__ import annotations

import traceback
from collections import Counter
from dataclasses import dataclass, field
from typing import Any

from service.catalog import read_plant
from solver.domain.plant import Plant
from solver.errors import InputError, NoPlan
from solver.reading.read_order import read_order
from solver.takeoff.check import check
from solver.takeoff.take_off import take_off
from tests.bench.machine import write_result
from tests.cut_shapes import closing_under_slope, wrong_cuts
from tests.generators.closing import closing_order

COUNT = 2000


@dataclass
class Tally:
    """What became of the orders."""

    planned: int = 0
    panels: int = 0
    closing: int = 0
    sloped: Counter[str] = field(default_factory=Counter)
    refused: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)
    unsound: list[str] = field(default_factory=list)
    crashed: list[str] = field(default_factory=list)


def run_one(seed: int, plant: Plant, tally: Tally) -> None:
    """Take one order off, prove it, and judge its cut shapes by code apart."""
    order = closing_order(seed)
    try:
        building = read_order(order, plant)
        takeoff = take_off(building, plant)
        report = check(building, plant, takeoff)
    except (NoPlan, InputError) as refusal:
        tally.refused[refusal.faults[0].problem] += 1
        return
    except Exception:
        tally.crashed.append(f"{seed}: {traceback.format_exc().splitlines()[-1]}")
        return
    tally.planned += 1
    tally.panels += sum(piece.role == "wall_panel" for piece in takeoff.pieces)
    tally.closing += sum(piece.closing for piece in takeoff.pieces)
    tally.sloped[order["roofs"][0]["kind"]] += len(closing_under_slope(building, takeoff)) > 0
    tally.wrong += [f"{seed}: {fault}" for fault in wrong_cuts(building, plant, takeoff)[:1]]
    if not report.sound:
        tally.unsound.append(f"{seed}: {report.faults[0]}")


def main(arguments: list[str]) -> int:
    """Run the benchmark and write its result; 1 if a cut shape is wrong, a takeoff unsound, or an order crashed."""
    count, first = (int(arguments[0]) if arguments else COUNT), (int(arguments[1]) if len(arguments) > 1 else 0)
    plant, tally = read_plant(), Tally()
    seed = first
    while tally.planned < count and seed < first + 2 * count:
        run_one(seed, plant, tally)
        seed += 1
    result: dict[str, Any] = {
        "orders": seed - first,
        "first_seed": first,
        "planned": tally.planned,
        "wall_panels_judged": tally.panels,
        "closing_panels": tally.closing,
        "buildings_closing_under_a_slope": dict(tally.sloped),
        "refused": sum(tally.refused.values()),
        "wrong_cut_shapes": tally.wrong,
        "unsound": tally.unsound,
        "crashed": tally.crashed,
    }
    command = "python -m tests.bench closing" + (f" -- {' '.join(arguments)}" if arguments else "")
    path = write_result("closing", result, command=command)
    print(result, path, sep="\n")
    return 1 if tally.wrong or tally.unsound or tally.crashed else 0
