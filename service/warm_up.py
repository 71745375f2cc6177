"""Compiles the inner loops ahead of use: `python -m service.warm_up`, at once over when nothing is left to compile.

Set-up does not wait for it. `start_compiling` starts it beside a first plan, at the lowest priority; a loop that is wanted
before
it is there is compiled by whoever wants it. No signatures are listed here: small jobs give each loop the arguments
that the searches give it, again until a run compiles nothing more.
"""

from __future__ import annotations

import fcntl
import os
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import Any

RUN_S = 1.0  # what one run of a small job may search, unless it says more
MOST_RUNS = 5

_PIECES = [{"id": f"p{n}", "length": 310 + 37 * n, "count": 3} for n in range(8)]
_SLOPED = [{"id": f"s{n}", "edge_a": [0, 700 + 90 * n], "edge_b": [0, 900 + 90 * n], "count": 2} for n in range(3)]
_TURNED = [{**piece, "id": f"t{n}", "turns": ["as_is", "over_end", "end_for_end"]} for n, piece in enumerate(_SLOPED)]
_STOCK = [{"id": "S", "length": 2400}, {"id": "L", "length": 3600}]
_DECK = {"width": 102, "height": 60, "payload_g": 9_000_000, "tare_g": 1}
_DECKS = [{"id": "a", "length": 240, "cost": 2, **_DECK}, {"id": "b", "length": 120, "cost": 1, **_DECK}]
_BUNDLE = {"length": 108, "width": 52, "height": 40, "weight_g": 100_000, "may_carry_g": 0}  # too wide for two lanes
_STACKED = {**_BUNDLE, "may_carry_g": 1_000_000}  # four on a deck for two: one that could stand lower
_NEST: dict[str, Any] = {"unit": "mm", "kerf": 3.2, "width": 600, "stock": _STOCK}
_STEPS = [[{"on": {f"m{k}": 1 + (17 * n + 29 * k * k + 5 * n * k) % 47}} for k in range(7)] for n in range(15)]
_SHOP: dict[str, Any] = {  # too hard to be proved at once, so that every search has its turn
    "machines": [{"id": f"m{k}"} for k in range(7)],
    "jobs": [{"id": f"j{n}", "due": 9 * n, "operations": steps} for n, steps in enumerate(_STEPS)],
}
_FLOW = {  # one order of more jobs than a model is made of
    **_SHOP,
    "objective": "weighted_tardiness",
    "same_order": True,
    "jobs": [{"id": f"j{n}", "due": 9 * n, "operations": _STEPS[n % len(_STEPS)]} for n in range(2 * len(_STEPS))],
}
_SETUP = [[1 + (7 * n + 3 * k) % 11 for k in range(5)] for n in range(5)]
_LINE: dict[str, Any] = {  # one machine with set-ups
    "objective": "weighted_tardiness",
    "machines": [{"id": "m", "setup": _SETUP}],
    "jobs": [
        {"id": f"j{n}", "due": 3 * n, "weight": 1 + n % 7, "operations": [{"on": {"m": 3 + 17 * n % 13}, "family": n % 5}]}
        for n in range(40)
    ],
}
_LARGE: dict[str, Any] = {  # more operations than one model holds: lists, their rules, and the bound from crowded machines
    "time_limit_s": 4,
    "objective": "weighted_tardiness",
    "goals": {},
    "machines": [{"id": f"m{k}", "closed": [[50, 60]]} for k in range(4)],
    "jobs": [{"id": f"j{n}", "due": 5 * n, "operations": [{"on": {f"m{k}": 5}} for k in range(4)]} for n in range(300)],
}

JOBS: tuple[tuple[str, dict[str, Any]], ...] = (  # what a plan wants first stands first
    ("nest", {**_NEST, "pieces": _PIECES}),
    ("nest", {**_NEST, "pieces": _PIECES, "keep_from": 300, "keep_value": 0.5, "clamp": 200, "end_trim": 5}),
    ("nest", {**_NEST, "pieces": [*_PIECES[:3], *_SLOPED, *_TURNED]}),
    ("load", {"unit": "in", "decks": _DECKS, "bundles": [{"id": f"x{n}", "rank": n, **_BUNDLE} for n in range(2)]}),
    ("load", {"unit": "in", "decks": _DECKS[:1], "bundles": [{"id": f"x{n}", "rank": n, **_STACKED} for n in range(4)]}),
    ("sequence", {"bars": [{"id": f"b{n}", "bundles": [f"B{n % 3}", f"B{n % 5}", f"B{n % 7}"]} for n in range(9)]}),
    ("schedule", _LARGE),
    ("schedule", {**_SHOP, "objective": "weighted_tardiness", "same_order": True}),
    ("schedule", _FLOW),
    ("schedule", {**_SHOP, "objective": "makespan"}),
    ("schedule", _LINE),
)


def start_compiling() -> None:
    """Start compiling what is left to compile in a process of its own, at the lowest priority; wait for nothing."""
    quiet, alone = subprocess.DEVNULL, f"import os; os.nice(19); from service.warm_up import main; main({os.getpid()})"
    command = [sys.executable, "-c", alone]
    started = subprocess.Popen(command, stdin=quiet, stdout=quiet, stderr=quiet, start_new_session=True)
    threading.Thread(target=started.wait, daemon=True).start()  # so that it leaves no zombie behind


def main(parent: int | None = None) -> None:
    """Compile what is left to compile and note that it is all there; one process at a time, the others leave it to that one.

    Ends with its parent, where that is said; what is compiled till then is kept.
    """
    from solver import jit

    if parent is not None:
        threading.Thread(target=_end_with, args=(parent,), daemon=True).start()
    if jit.HOME is None:
        return
    stamp = jit.HOME / f"whole-{jit.MADE_FOR}"
    if stamp.exists():
        return
    jit.HOME.mkdir(parents=True, exist_ok=True)  # NUMBA_CACHE_DIR may name what is not there yet
    with (jit.HOME / "compiling").open("w") as mine:
        try:
            fcntl.flock(mine, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:  # another compiles these very loops
            return
        _compile(jit.HOME)
        stamp.touch()


def _end_with(parent: int) -> None:
    while os.getppid() == parent:
        time.sleep(0.5)
    os._exit(1)


def _compile(home: Path) -> None:
    from service.catalog import read_plant
    from service.usecases.make.stages import answer_stage_job

    plant = read_plant()
    for stage, job in JOBS:
        for _ in range(MOST_RUNS):
            before = _kept(home)
            answer_stage_job(stage, {"time_limit_s": RUN_S, **job}, plant=plant)
            if _kept(home) == before:
                break


def _kept(home: Path) -> int:
    return sum(1 for _ in home.rglob("*.nbc"))


if __name__ == "__main__":
    main()
