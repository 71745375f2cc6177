"""The sheets of random buildings replayed on marked blanks: what comes out otherwise than the pieces must be.

`python -m tests.bench replay [-- COUNT [FIRST_SEED]]`; writes results/replay.json. Plants of all kinds of edges, faces and ways
to lie; every other building with its blanks in turns drawn from those that they may take.
"""

from __future__ import annotations

import time
from collections import Counter
from typing import Any

from service.catalog import read_plant
from solver.documents.index import PlanIndex
from solver.errors import InputError, NoPlan
from tests.bench.machine import write_result
from tests.replay.compare import Paper, differences
from tests.replay.plans import random_plan, random_plant, turned

COUNT = 2000
SHOWN = 20


def main(arguments: list[str]) -> int:
    """Replay so many buildings; 1 where a piece comes out wrong."""
    count = int(arguments[0]) if arguments else COUNT
    first = int(arguments[1]) if len(arguments) > 1 else 0
    base, tally, wrong = read_plant(), Counter[str](), []
    start = time.process_time()
    for seed in range(first, first + count):
        plant = random_plant(base, seed)
        try:
            index = random_plan(seed, plant)
        except (InputError, NoPlan):
            tally["refused"] += 1
            continue
        index = turned(index, seed) if seed % 2 else index
        paper, pieces = Paper.of(index), tuple(index.pieces.values())
        _count(tally, index, paper)
        wrong += [f"{seed}: {one.piece}: {one.what}" for one in differences(paper, pieces, plant)]
    result: dict[str, Any] = {
        "buildings": dict(sorted(tally.items())),
        "wrong": len(wrong),
        "first_wrong": wrong[:SHOWN],
        "cpu_seconds": round(time.process_time() - start, 1),
    }
    print(result)
    if count == COUNT:
        write_result("replay", result, command="python -m tests.bench replay")
    return int(bool(wrong))


def _count(tally: Counter[str], index: PlanIndex, paper: Paper) -> None:
    tally["planned"] += 1
    tally["pieces"] += len(index.pieces)
    tally["panels"] += sum(1 for piece in index.pieces.values() if piece.is_panel)
    for bar in paper.bars:
        tally["tilted cuts"] += sum(1 for cut in bar.cuts if cut.tilt_udeg)
        tally["leaning cuts"] += sum(1 for cut in bar.cuts if cut.lean_udeg)
        tally["second cuts"] += sum(len(piece.seconds) for piece in bar.pieces)
        for piece in bar.pieces:
            tally[f"turn {piece.turn}"] += 1
    for cut in index.plan.cuts:
        for placed in cut.bars:
            tally.update(f"way {slot.way}" for slot in placed.pieces)
    tally["rips and bevels"] += len(paper.rips)
    tally["openings"] += sum(len(row.shape.cutouts) * len(row.pieces) for row in paper.shapes if row.shape is not None)
    tally["pockets and holes"] += sum(len(row.shape.holes) * len(row.pieces) for row in paper.shapes if row.shape is not None)
