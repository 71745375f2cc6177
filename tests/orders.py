"""Orders for tests: the demo orders, the plant, and a plain box to spoil."""

from __future__ import annotations

import copy
import json
import tomllib
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

from solver.codec import decode, read_json
from solver.domain.building import Building
from solver.domain.plant import Plant
from solver.errors import InputError
from solver.reading.read_order import read_order
from solver.units import Unit
from tests.shared import ROOT

DATA = ROOT / "service" / "data"
DEMOS = ("cottage-7", "ell-12", "workshop-3")


@cache
def plant(unit: Unit = "in") -> Plant:
    """Return the demo plant, which reads its lengths in a unit."""
    read = decode(Plant, tomllib.loads((DATA / "plant.toml").read_text(encoding="utf-8")), name="$", unit="in")
    return replace(read, unit=unit)


def demo(name: str) -> Any:
    """Return a demo order's JSON value, fresh."""
    return read_json((DATA / "orders" / f"{name}.json").read_bytes(), name=name)


def demo_building(name: str) -> Building:
    """Return a demo order's building."""
    return read_order(demo(name), plant())


BOX: dict[str, Any] = {
    "format": 1,
    "id": "box",
    "unit": "mm",
    "outlines": {
        "o": {
            "corners": [
                {"id": "a", "at": [0, 0]},
                {"id": "b", "at": [8000, 0]},
                {"id": "c", "at": [8000, 6000]},
                {"id": "d", "at": [0, 6000]},
            ],
            "walls": ["S", "E", "N", "W"],
        }
    },
    "levels": [{"id": "L1", "outline": "o", "base": 0, "top": 2700}],
    "openings": [
        {"id": "w", "on": "L1.S", "kind": "window", "from_left": 2000, "sill": 900, "width": 1200, "height": 1200},
        {"id": "d", "on": "L1.E", "kind": "door", "from_left": 2000, "width": 900, "height": 2000},
    ],
    "site": {"ship_to": {"name": "Plot"}, "time_zone": "America/Denver", "transit_minutes": 60},
    "deliveries": [{"id": "D", "need_by": "2031-05-12T07:00", "parts": ["L1"]}],
}


def box() -> dict[str, Any]:
    """Return a sound order of one level, 8 x 6 m, fresh."""
    return copy.deepcopy(BOX)


def with_gable(order: dict[str, Any], **more: Any) -> dict[str, Any]:
    """Return the order under a gable roof with its ridge along x."""
    order["levels"][0]["top"] = "roof"
    roof = {"id": "R", "kind": "gable", "over": "L1", "ridge": "x", "pitch": "30 deg", "eave_z": 2700} | more
    order["roofs"] = [roof]
    order["deliveries"][0]["parts"].append("R")
    return order


def with_odd_heads(order: dict[str, Any]) -> dict[str, Any]:
    """Return the order with an arched window on each long wall, a sloped and a round one."""
    window = {"kind": "window", "sill": 900, "width": 1500, "height": 1500}
    arch = {"kind": "arch", "rise": 500}
    order["openings"] += [
        window | {"id": "arch1", "on": "L1.S", "from_left": 4200, "head": arch},
        window | {"id": "arch2", "on": "L1.N", "from_left": 1200, "head": arch},
        window | {"id": "slope", "on": "L1.N", "from_left": 4600, "head": {"kind": "trapezoid", "left": 1100, "right": 1500}},
        window | {"id": "moon", "on": "L1.W", "from_left": 2000, "width": 900, "height": 900, "head": {"kind": "round"}},
    ]
    return order


def faults_of(order: Any) -> dict[str, str]:
    """Return an order's faults, problem by path; empty for a sound one."""
    try:
        read_order(json.loads(json.dumps(order)), plant())
    except InputError as error:
        return {fault.path: fault.problem for fault in error.faults}
    return {}


def spoiled(change: Callable[[dict[str, Any]], Any]) -> dict[str, str]:
    """Return the faults of the box after a change."""
    order = box()
    change(order)
    return faults_of(order)
