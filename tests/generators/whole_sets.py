"""Sets of orders for whole plans, as a plant may meet them: random houses and demo orders, catalogs and starts that vary."""

from __future__ import annotations

import random
from copy import deepcopy
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from solver.domain.plant import Plant
from tests.generators.plans import houses

COUNTS = (1, 1, 1, 1, 2, 2, 2, 3, 3, 4)  # orders of most sets; every twentieth is larger
LARGE = (8, 12)
WINDOWS_S = (None, 86_400, 432_000)
ROOMS = (None, 60, 300)
SLOTS = (None, 0, 8)
START = datetime.fromisoformat("2031-04-28T06:00-06:00")  # a Monday, a week before the first house is due


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderSet:
    """Orders with their names, the catalog they are planned with, and the plan's start, seconds and seed."""

    orders: tuple[tuple[str, dict[str, Any]], ...]
    plant: Plant
    epoch: str
    limit_s: float
    seed: int


def order_set(seed: int, plant: Plant, demos: tuple[tuple[str, Any], ...], known: dict[int, bool] | None = None) -> OrderSet:
    """Return the set of a seed: 1 to 12 orders, each accepted by takeoff; `known` as `houses` takes it."""
    dice = random.Random(seed)
    count = LARGE[seed // 20 % len(LARGE)] if seed % 20 == 19 else dice.choice(COUNTS)
    mine = [(name, deepcopy(order)) for name, order in dice.sample(demos, dice.randint(0, min(2, count)))]
    made = houses(seed, count - len(mine), plant, known=known)
    changed = replace(
        plant,
        nest_window_s=dice.choice(WINDOWS_S),
        before_saw=dice.choice(ROOMS),
        before_bundling=dice.choice(ROOMS),
        rack_slots=dice.choice(SLOTS),
    )
    start = START + timedelta(days=dice.randint(-3, 9), hours=dice.choice((0, 0, 3, 11, 20)), minutes=dice.choice((0, 0, 17)))
    return OrderSet(
        orders=(*mine, *((one["id"], one) for one in made)),
        plant=changed,
        epoch=start.isoformat(),
        limit_s=dice.choice((0.0, 0.5, 0.5, 1.0)),
        seed=dice.randint(1, 99),
    )
