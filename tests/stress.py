"""Orders that try paper: the longest names, the smallest and the most pieces."""

from __future__ import annotations

import copy
from dataclasses import replace
from functools import cache
from typing import Any

from solver.domain.plan import Plan
from solver.reading.read_order import read_order
from solver.units import Unit
from tests.orders import box, plant, with_gable, with_odd_heads
from tests.samples import plan_of

LONGEST = 40  # letters of an id, as the order format allows; a wall's is its level's and its own


def long_name(begins: str, letters: int = LONGEST) -> str:
    """Return a name of that many letters that has no place to break but its hyphens."""
    return (begins + "-northwesternmost-unbreakablecourtyardside" * 3)[: letters - 1] + "x"


def renamed(order: dict[str, Any]) -> dict[str, Any]:
    """Return a sound order with every name as long as anybody would type."""
    made = copy.deepcopy(order)
    made["id"] = long_name("order")
    outline = made["outlines"]["o"]
    level, walls = long_name("L1"), {name: long_name(name) for name in outline["walls"]}
    outline["walls"] = [walls[name] for name in outline["walls"]]
    corners = {corner["id"]: long_name(f"corner-{corner['id']}") for corner in outline["corners"]}
    for corner in outline["corners"]:
        corner["id"] = corners[corner["id"]]
    made["levels"][0]["id"] = level
    for opening in made["openings"]:
        opening["on"] = f"{level}.{walls[opening['on'].partition('.')[2]]}"
        opening["id"] = long_name(opening["id"])
    for roof in made.get("roofs", []):
        roof["over"] = level
    roofs = [roof["id"] for roof in made.get("roofs", [])]
    for delivery in made["deliveries"]:
        delivery["id"] = long_name("D")
        delivery["parts"] = [level, *roofs]
    made["start"] = {"corner": corners["b"], "direction": "cw"}
    made["site"]["ship_to"] = {"name": long_name("Site", 60), "lines": [long_name("street", 60), long_name("town", 60)]}
    return made


def wide() -> dict[str, Any]:
    """Return an order of a hall of over a thousand pieces: as long as halls go, with a window in every other panel."""
    order = box()
    (long, deep), corners = (90_000, 45_000), order["outlines"]["o"]["corners"]
    for corner, at in zip(corners, ([0, 0], [long, 0], [long, deep], [0, deep]), strict=True):
        corner["at"] = at
    order["id"] = "hall"
    order["levels"][0]["top"] = 7000
    window = {"kind": "window", "sill": 900, "width": 700, "height": 1100}
    order["openings"] = [
        window | {"id": f"w{wall}{n}", "on": f"L1.{wall}", "from_left": 1480 + 2440 * n}
        for wall, length in (("S", long), ("N", long), ("E", deep), ("W", deep))
        for n in range((length - 3000) // 2440)
    ]
    return order


@cache
def stress_plan(kind: str, unit: Unit) -> Plan:
    """Return the plan of a stress order: `names`, `one` (a single piece), `small` (slivers and odd heads), `many`."""
    orders = {
        "names": lambda: renamed(with_gable(with_odd_heads(box()))),
        "one": box,
        "small": lambda: with_odd_heads(small()),
        "many": wide,
    }
    order = orders[kind]() | {"unit": "mm"}
    building = read_order(order, plant())
    return plan_of(replace(building, unit=unit), keep=1 if kind == "one" else None)


def small() -> dict[str, Any]:
    """Return an order with a vent of a hand's width and a window that leaves narrow legs."""
    order = box()
    order["openings"] += [
        {"id": "slot", "on": "L1.N", "kind": "window", "from_left": 3400, "sill": 2300, "width": 60, "height": 60},
        {"id": "leg", "on": "L1.N", "kind": "window", "from_left": 6560, "sill": 900, "width": 900, "height": 600},
    ]
    return order
