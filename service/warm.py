"""Compiles the inner loops once, right after set-up, so that no first job waits for it: `python -m service.warm`."""

from __future__ import annotations

from typing import Any

from service.catalog import read_plant
from service.usecases.make.stages import answer

_PIECES = [{"id": f"p{n}", "length": 310 + 37 * n, "count": 3} for n in range(8)]
_SLOPED = [{"id": f"s{n}", "edge_a": [0, 700 + 90 * n], "edge_b": [0, 900 + 90 * n], "count": 2} for n in range(3)]
_TURNED = [{**piece, "id": f"t{n}", "turns": ["as_is", "over_end", "end_for_end"]} for n, piece in enumerate(_SLOPED)]
_STOCK = [{"id": "S", "length": 2400}, {"id": "L", "length": 3600}]
_DECK = {"width": 102, "height": 60, "payload_g": 9_000_000, "tare_g": 1}
_DECKS = [{"id": "a", "length": 240, "cost": 2, **_DECK}, {"id": "b", "length": 120, "cost": 1, **_DECK}]
_BUNDLE = {"length": 108, "width": 52, "height": 40, "weight_g": 100_000, "may_carry_g": 0}  # too wide for two lanes
_NEST: dict[str, Any] = {"unit": "mm", "kerf": 3.2, "width": 600, "time_limit_s": 3, "stock": _STOCK}
_STEPS = [[{"on": {f"m{k}": 1 + (17 * n + 29 * k * k + 5 * n * k) % 47}} for k in range(7)] for n in range(15)]
_SHOP: dict[str, Any] = {  # too hard to be proved at once, so that every search has its turn
    "time_limit_s": 3,
    "machines": [{"id": f"m{k}"} for k in range(7)],
    "jobs": [{"id": f"j{n}", "due": 9 * n, "operations": steps} for n, steps in enumerate(_STEPS)],
}
_SETUP = [[1 + (7 * n + 3 * k) % 11 for k in range(5)] for n in range(5)]
_LINE: dict[str, Any] = {  # one machine with set-ups
    "time_limit_s": 3,
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

JOBS: tuple[tuple[str, dict[str, Any]], ...] = (
    ("nest", {**_NEST, "pieces": _PIECES}),
    ("nest", {**_NEST, "pieces": _PIECES, "keep_from": 300, "keep_value": 0.5, "clamp": 200, "end_trim": 5}),
    ("nest", {**_NEST, "pieces": [*_PIECES[:3], *_SLOPED, *_TURNED]}),
    ("schedule", {**_SHOP, "objective": "weighted_tardiness", "same_order": True}),
    ("schedule", {**_SHOP, "objective": "makespan"}),
    ("schedule", _LINE),
    *(("schedule", _LARGE),) * 2,  # the first one's time may go into compiling the rules
    (
        "sequence",
        {"time_limit_s": 1, "bars": [{"id": f"b{n}", "bundles": [f"B{n % 3}", f"B{n % 5}", f"B{n % 7}"]} for n in range(9)]},
    ),
    ("load", {"unit": "in", "decks": _DECKS, "bundles": [{"id": f"x{n}", "rank": n, **_BUNDLE} for n in range(2)]}),
)


def main() -> None:
    """Run each small job once."""
    plant = read_plant()
    for stage, job in JOBS:
        answer(stage, job, plant=plant)


if __name__ == "__main__":
    main()
