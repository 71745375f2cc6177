"""Orders for whole plans: random houses that takeoff accepts, due as a plant ships them, four a working day.

The first is due at the site a week after the plan's start; then one every two hours from 9:00 to 15:00, Monday to Friday.
"""

from __future__ import annotations

import random
from datetime import datetime, timedelta
from typing import Any

from solver.domain.plant import Plant
from solver.errors import InputError, NoPlan
from solver.reading.read_order import read_order
from solver.takeoff.take_off import take_off
from tests.generators.buildings import random_order

START = "2031-04-28T06:00-06:00"  # a Monday
HOURS = (9, 11, 13, 15)


def houses(seed: int, count: int, plant: Plant, *, known: dict[int, bool] | None = None) -> list[dict[str, Any]]:
    """Return `count` order documents for a seed, each accepted by takeoff, due four a working day from a week on.

    `known`: which seeds of `random_order` takeoff accepts, kept between calls.
    """
    dice = random.Random(seed)
    known = {} if known is None else known
    made: list[dict[str, Any]] = []
    day = datetime(2031, 5, 5)
    while len(made) < count:
        number = dice.randrange(1_000_000)
        order = random_order(number)
        if number not in known:
            known[number] = accepted(order, plant)
        if not known[number]:
            continue
        n = len(made)
        if n and n % len(HOURS) == 0:
            day += timedelta(days=3 if day.weekday() == 4 else 1)
        order["id"] = f"s{seed}-{n:03d}"
        need = day.replace(hour=HOURS[n % len(HOURS)]).strftime("%Y-%m-%dT%H:%M")
        for delivery in order["deliveries"]:
            delivery["need_by"] = need
        made.append(order)
    return made


def accepted(order: dict[str, Any], plant: Plant) -> bool:
    """Return whether an order is read and taken off."""
    try:
        take_off(read_order(order, plant), plant)
    except (InputError, NoPlan):
        return False
    return True
