"""What carries what, strips beside openings and openings under the router's bit: judged, named, put in order."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from solver.codec import encode
from solver.domain.piece import Piece
from solver.domain.takeoff import Takeoff
from solver.reading.read_order import read_order
from solver.takeoff.check import check
from solver.takeoff.take_off import take_off
from solver.units import MM
from tests.orders import box, faults_of, plant, with_gable


def window(name: str, on: str, start: float, width: float, sill: float = 900, height: float = 1200) -> dict[str, Any]:
    return {"id": name, "on": on, "kind": "window", "from_left": start, "width": width, "sill": sill, "height": height}


def taken(order: dict[str, Any]) -> Takeoff:
    """A takeoff, proved."""
    building = read_order(order, plant())
    takeoff = take_off(building, plant())
    assert [str(fault) for fault in check(building, plant(), takeoff).faults] == []
    return takeoff


def wide(direction: str, *windows: dict[str, Any]) -> Takeoff:
    """A box with openings over several panels."""
    order = box()
    order["openings"] = list(windows)
    order["start"] = {"corner": "a" if direction == "ccw" else "b", "direction": direction}  # wall S first
    return taken(order)


def hanging(takeoff: Takeoff, group: str) -> list[Piece]:
    return [p for p in takeoff.pieces if p.group == group and p.role == "wall_panel" and min(z for _, z in p.outline) > 0]


@pytest.mark.parametrize("direction", ["ccw", "cw"])
def test_a_panel_over_a_full_width_opening_stands_after_both_neighbours_and_the_head(direction: str) -> None:
    """An opening of 5 m takes three panels' whole width: what hangs over it waits for the far jamb's panel and the frame."""
    takeoff = wide(direction, window("w", "L1.S", 1600, 5000))
    over = hanging(takeoff, "L1.S")
    assert len(over) >= 3
    low, high = min(u for p in over for u, _ in p.outline), max(u for p in over for u, _ in p.outline)
    row = [p for p in takeoff.pieces if p.group == "L1.S" and p.role == "wall_panel" and p not in over]
    beside = [p for p in row if max(z for _, z in p.outline) > 2100 * MM]
    near = [
        max(p.outline[0][0] for p in beside if p.outline[1][0] <= low),
        min(p.outline[0][0] for p in beside if p.outline[0][0] >= high),
    ]
    bearers = [p for p in beside if p.outline[0][0] in near]
    frame = [p for p in takeoff.pieces if p.role == "opening_channel"]
    assert len(bearers) == 2 and len(frame) >= 4
    assert min(p.stands for p in over) > max(p.stands for p in (*bearers, *frame))
    assert min(p.stands for p in frame) > max(p.stands for p in bearers)
    after = [p for p in takeoff.pieces if p.role == "wall_panel" and p.stands > max(q.stands for q in over)]
    assert after  # the run goes on behind it


def test_panels_over_a_window_round_a_corner_wait_for_the_panel_on_the_other_wall() -> None:
    one = window("e", "L1.S", 5000, 3000) | {"corner_with": "f"}
    other = window("f", "L1.E", 0, 2600) | {"corner_with": "e"}
    takeoff = wide("ccw", one, other)
    over = [*hanging(takeoff, "L1.S"), *hanging(takeoff, "L1.E")]
    assert {p.group for p in over} == {"L1.S", "L1.E"}
    tall = [
        p
        for p in takeoff.pieces
        if p.role == "wall_panel" and p.outline[0][1] == 0 and max(z for _, z in p.outline) > 2100 * MM
    ]
    far = min((p for p in tall if p.group == "L1.E"), key=lambda p: p.outline[0][0])
    assert all(p.stands > far.stands for p in over)


def test_an_order_of_standing_that_lets_a_panel_hang_in_the_air_is_noticed() -> None:
    takeoff = wide("ccw", window("w", "L1.S", 1600, 5000))
    first = hanging(takeoff, "L1.S")[0]
    others = [p for p in takeoff.pieces if p is not first]
    early = [*others[:12], first, *others[12:]]
    spoiled = replace(takeoff, pieces=tuple(replace(p, stands=n) for n, p in enumerate(early, start=1)))
    faults = check(takeoff.building, plant(), spoiled).faults
    assert any(fault.path == first.mark and "which carries it" in fault.problem for fault in faults)


def test_strips_of_a_millimetre_under_and_over_a_window_are_named() -> None:
    """A sill 1 mm up and a head 2 mm below the top, of 6 in (152.4 mm) that a leg is usually wide."""
    takeoff = wide("ccw", window("w", "L1.S", 2500, 1500, sill=1, height=2697))
    told = [(rule.where, rule.wanted_nm / MM, rule.got_nm / MM) for rule in takeoff.broken if rule.rule == "strip"]
    assert told == [("w", 152.4, 1.0), ("w", 152.4, 2.0)]
    silent = replace(takeoff, broken=tuple(rule for rule in takeoff.broken if rule.rule != "strip"))
    faults = check(takeoff.building, plant(), silent).faults
    assert sum("strip is broken and not told" in fault.problem for fault in faults) == 2


def test_a_strip_between_a_skylight_and_the_ridge_or_a_slope_is_named() -> None:
    """On a 6 m deep gable of 30 degrees the slope is 3.464 m long; the west wall's top falls by tan 30 along it."""
    order = with_gable(box())
    order["openings"] = [
        {"id": "sky", "on": "R.S", "kind": "skylight", "from_left": 3000, "up": 1000, "width": 500, "height": 2400},
        window("w", "L1.W", 400, 900, sill=1000, height=1900),
    ]
    told = {(rule.where, round(rule.got_nm / MM, 1)) for rule in taken(order).broken if rule.rule == "strip"}
    assert told == {("R.S sky", 64.1), ("w", 30.9)}


def test_an_opening_under_the_routers_bit_is_refused_by_what_is_too_small() -> None:
    order = box()
    order["openings"] = [
        window("thin", "L1.S", 3000, 2),
        window("low", "L1.S", 5000, 900, height=12.6),
        window("just", "L1.S", 6500, 12.7, height=12.7),
        window("arch", "L1.N", 3000, 900, height=400) | {"head": {"kind": "arch", "rise": 395}},
    ]
    told = faults_of(order)
    assert set(told) == {"openings[0].width", "openings[1].height", "openings[3].head"}
    assert all("router's bit" in problem for problem in told.values())


def test_a_takeoff_says_that_it_is_done() -> None:
    """Contract: every result carries its status."""
    takeoff = taken(box())
    assert encode(takeoff)["status"] == "done"
