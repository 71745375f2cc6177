"""Screws, sealant, fillers and anchors of 50 random houses counted a second way, along drawn lines."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest

from service.catalog import read_plant
from solver.domain.plant import Plant
from solver.domain.takeoff import Takeoff
from solver.errors import InputError, NoPlan
from solver.reading.read_order import read_order
from solver.takeoff.check import check
from solver.takeoff.take_off import take_off
from solver.units import FOOT, INCH
from tests.generators.buildings import random_order
from tests.generators.closing import closing_order
from tests.orders import box, with_gable

HOUSES = 50


@pytest.fixture(scope="module")
def plant() -> Plant:
    return read_plant()


def houses(plant: Plant) -> Iterator[Takeoff]:
    """Takeoffs of random buildings of both generators, by turns."""
    seed = 7000
    while True:
        for make in (random_order, closing_order):
            try:
                yield take_off(read_order(make(seed), plant), plant)
            except (InputError, NoPlan):
                continue
        seed += 1


def hardware_faults(takeoff: Takeoff, plant: Plant) -> list[str]:
    return [str(fault) for fault in check(takeoff.building, plant, takeoff).faults if fault.path.startswith("hardware")]


def test_fifty_houses_get_what_the_second_count_asks_for(plant: Plant) -> None:
    seen: set[str] = set()
    found = houses(plant)
    for _ in range(HOUSES):
        takeoff = next(found)
        assert hardware_faults(takeoff, plant) == []
        seen |= {line.why for line in takeoff.hardware}
    common = {rule.why for rule in plant.hardware if rule.per not in ("furring_m", "wall_edge_m", "wall_edge_line")}
    assert common <= seen  # every rule was put to the test but those of what these orders do not have


def test_every_line_that_is_left_out_or_halved_is_noticed(plant: Plant) -> None:
    takeoff = next(houses(plant))
    for why in {line.why for line in takeoff.hardware}:
        rule = next(rule for rule in plant.hardware if rule.why == why)
        if rule.per in ("roof_panel_end", "furring_m", "panel"):
            continue  # one count by pieces: nothing to count it by a second time
        mine = [line for line in takeoff.hardware if line.why == why]
        if sum(line.quantity for line in mine) < 4:
            continue
        less = tuple(line for line in takeoff.hardware if line.why != why)
        halved = tuple(replace(line, quantity=line.quantity // 2) if line in mine else line for line in takeoff.hardware)
        assert hardware_faults(replace(takeoff, hardware=less), plant), why
        assert hardware_faults(replace(takeoff, hardware=halved), plant), why


def test_the_screws_of_a_plain_house_counted_by_hand(plant: Plant) -> None:
    """26' 3" by 19' 8" (8 by 6 m): a gable of 6/12 along x, a door and a window; every figure from the drawing.

    Wedge: 6 in at 6/12 is 3 in. Level tops: two of 8 m; fillers of 4 ft: 16 m x 0.821 = 13.1, so 14. Sloped tops: four of
    3 m x sqrt(1.25) = 3.354 m, 11.004 ft: 12 places and one more each, 52 in all.
    """
    takeoff = take_off(read_order(with_gable(box(), pitch="6/12"), plant), plant)
    got: dict[str, int] = {}
    for line in takeoff.hardware:
        rule = next(rule for rule in plant.hardware if rule.why == line.why)
        got[rule.per] = got.get(rule.per, 0) + line.quantity
    assert got["gable_line"] == 4 * (12 + 1)
    assert got["eave_wedge_m"] == 14
    assert got["eave_line"] == 4 * (27 + 1)  # two legs on each of two tops of 8 m, 26.2 ft
    assert got["eave_wall_m"] == 6  # 16 m x 0.329 = 5.3
    assert got["ridge_m"] == 2 + 16  # foam, 8 m x 0.21 = 1.7; closures, 8 m x 1.9 = 15.2
    base = [piece for piece in takeoff.pieces if piece.role == "base_channel"]
    lengths = [edge[1] - edge[0] for piece in base for edge in (piece.edge_a, piece.edge_b)]
    assert got["base_line"] == sum(-(-length // FOOT) + 1 for length in lengths)
    around = 2 * (8000 + 6000) - 900  # mm, less the door; 88.9 ft: twice that and the ends of each part
    assert 2 * around / 304.8 < got["base_line"] < 2 * around / 304.8 + 2 * len(lengths)
    assert got["corner_line"] == sum(2 * (-(-p.length_nm // FOOT) + 1) for p in takeoff.pieces if p.role == "corner_angle")
    assert got["opening_line"] > 2 * (1200 * 4 + 2000 * 2 + 900) / 304.8


def test_a_porch_that_leans_on_a_wall_gets_flashing_and_its_screws(plant: Plant) -> None:
    """3 m against the wall: 3 x 0.346 = 1.04 lengths, so 2; two legs of 9.84 ft, 10 places and one more each."""
    order = box()
    porch = {"id": "P1", "line": [[2000, -1500], [5000, -1500]], "z": 2000, "pitch": "2/12"}
    porch["plan"] = [[2000, -1500], [5000, -1500], [5000, 0], [2000, 0]]
    order["roofs"] = [{"id": "P", "kind": "planes", "planes": [porch]}]
    order["deliveries"][0]["parts"].append("P")
    takeoff = take_off(read_order(order, plant), plant)
    assert [str(fault) for fault in check(takeoff.building, plant, takeoff).faults] == []
    flashing = {line.why.split(":")[1][:21]: line.quantity for line in takeoff.hardware if line.group == "P.P1"}
    assert flashing[" where a roof leans on"[:21]] == 2
    assert flashing[" roof-to-wall flashing"[:21]] == 2 * (10 + 1)
    bare = tuple(line for line in takeoff.hardware if "flashing" not in line.why)
    assert any("stitch screw" in fault for fault in hardware_faults(replace(takeoff, hardware=bare), plant))


def test_a_house_is_charged_whole_packs_once_not_a_pack_a_wall(plant: Plant) -> None:
    takeoff = take_off(read_order(with_gable(box(), pitch="6/12"), plant), plant)
    tape = [line for line in takeoff.hardware if line.item.startswith("opening seal tape")]
    assert sum(line.quantity for line in tape) == 1  # two openings on two walls: 0.8 of a roll
    screws = [line for line in takeoff.hardware if line.item.startswith("panel screw")]
    for why in {line.why for line in screws}:
        mine = [line for line in screws if line.why == why]
        assert sum(line.packs for line in mine) == -(-sum(line.quantity for line in mine) // 250)


def test_a_rule_by_lines_says_its_spacing(plant: Plant) -> None:
    rule = next(rule for rule in plant.hardware if rule.per == "base_line")
    assert rule.spacing_nm == 12 * INCH
    with pytest.raises(ValueError, match="spacing"):
        replace(rule, spacing_nm=None)
