"""The proof of inner parts: laps on walls, bearing walls framed, hardware in whole packs; each spoiled once on purpose."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from solver.domain.building import Building
from solver.domain.plant import Plant
from solver.domain.takeoff import Takeoff
from solver.reading.read_order import read_order
from solver.takeoff.check import check
from solver.takeoff.take_off import take_off
from solver.units import MM, Nm
from tests.orders import box, plant


@cache
def forks() -> Plant:
    """Return the demo plant without its spreader: what two forks handle is the limit."""
    return replace(plant(), bundle=replace(plant().bundle, spreader_length_nm=None))


def long_barn() -> dict[str, Any]:
    """A gable roof whose slopes are too long for one panel, with a bearing wall under the middle of one of them."""
    order = box()
    for corner, at in zip(order["outlines"]["o"]["corners"], [[0, 0], [12000, 0], [12000, 16000], [0, 16000]], strict=True):
        corner["at"] = at
    order["levels"][0]["top"] = "roof"
    order["openings"] = []
    order["bearing_walls"] = [
        {"id": f"B{n}", "level": "L1", "line": [[160, y], [11840, y]], "top": 2700, "openings": openings}
        for n, y, openings in (
            (1, 4000, [{"id": "bd", "from": 5000, "width": 900, "height": 2000}]),
            (2, 12000, []),
        )
    ]
    order["roofs"] = [{"id": "R", "kind": "gable", "ridge": "x", "over": "L1", "pitch": "4/12", "eave_z": 2700}]
    order["deliveries"][0]["parts"].append("R")
    return order


@cache
def barn() -> tuple[Building, Takeoff]:
    building = read_order(long_barn(), forks())
    return building, take_off(building, forks())


def test_a_long_slope_is_lapped_over_its_bearing_wall_and_proved() -> None:
    building, takeoff = barn()
    lapped = [piece for piece in takeoff.pieces if any(item.name == "end_lap" for item in piece.allowances)]
    panels = [piece for piece in takeoff.pieces if piece.role == "roof_panel"]
    assert len(panels) == 2 * len(lapped)
    assert check(building, forks(), takeoff).faults == ()


def without(role: str) -> Callable[[Takeoff], Takeoff]:
    def change(takeoff: Takeoff) -> Takeoff:
        held = [piece for piece in takeoff.pieces if piece.role == role]
        first = held[len(held) // 8]  # not the stud at the very end, which the next one stands near to
        return replace(takeoff, pieces=tuple(piece for piece in takeoff.pieces if piece is not first))

    return change


def fewer_packs(takeoff: Takeoff) -> Takeoff:
    first, *rest = takeoff.hardware
    return replace(takeoff, hardware=(replace(first, packs=first.packs - 1), *rest))


def no_nuts(takeoff: Takeoff) -> Takeoff:
    return replace(takeoff, hardware=tuple(line for line in takeoff.hardware if "nut" not in line.item))


@pytest.mark.parametrize(
    ("change", "where"),
    [
        (without("header"), "B1 header"),
        (without("track"), "B1 bottom track"),
        (without("stud"), "B1 studs"),
        (fewer_packs, "hardware"),
        (no_nuts, "hardware anchor nut"),
    ],
    ids=["header", "track", "stud", "packs", "nuts"],
)
def test_a_spoiled_inner_part_is_named(change: Callable[[Takeoff], Takeoff], where: str) -> None:
    building, takeoff = barn()
    faults = check(building, forks(), change(takeoff)).faults
    assert any(where in fault.path for fault in faults)


def test_a_lap_beside_its_wall_is_named() -> None:
    building, takeoff = barn()
    moved = tuple(
        replace(wall, a=(wall.a[0], Nm(wall.a[1] + 50 * MM)), b=(wall.b[0], Nm(wall.b[1] + 50 * MM)))
        for wall in building.bearing
    )
    elsewhere = replace(building, bearing=moved)
    faults = check(elsewhere, forks(), replace(takeoff, building=elsewhere)).faults
    assert any("no wall under" in fault.problem for fault in faults)
