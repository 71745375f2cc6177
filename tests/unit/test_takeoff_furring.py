"""Furring: strips at every free edge and on centre between, upright or level, lapped where longer than stock; and its proof."""

from __future__ import annotations

import random
from dataclasses import replace
from typing import Any

import pytest

from solver.domain.building import Building
from solver.domain.piece import Piece
from solver.domain.takeoff import Takeoff
from solver.errors import InputError, NoPlan
from solver.reading.read_order import read_order
from solver.takeoff.check import check
from solver.takeoff.take_off import take_off
from solver.units import FOOT, INCH, MM, Nm
from tests.generators.buildings import random_order
from tests.orders import box, faults_of, plant, with_gable


def furred(runs: str = "upright", spacing: str = "24 in", **more: Any) -> tuple[Building, Takeoff]:
    order = box() | {"furring": [{"spacing": spacing, "runs": runs} | more]}
    building = read_order(order, plant())
    return building, take_off(building, plant())


def strips(taken: Takeoff, group: str) -> list[Piece]:
    return [piece for piece in taken.pieces if piece.role == "furring" and piece.group == group]


def test_upright_strips_stand_at_both_inside_corners_and_on_centre_from_the_start() -> None:
    _, taken = furred(spacing="16 in")
    places = sorted(piece.outline[0][0] for piece in strips(taken, "L1.N"))
    inside, half = 6 * INCH, int(2.25 * INCH) // 2
    assert (places[0], places[-1]) == (inside + half, 8000 * MM - inside - half)
    assert places[1:-1] == [inside + n * 16 * INCH for n in range(1, 19)]
    assert all(piece.length_nm == 2700 * MM for piece in strips(taken, "L1.N"))


def test_strips_beside_below_and_above_a_window() -> None:
    """The window of wall S lies from 2,000 to 3,200 mm along and from 900 to 2,100 mm up."""
    _, taken = furred()
    half = int(2.25 * INCH) // 2
    jambs = {piece.outline[0][0]: piece.outline for piece in strips(taken, "L1.S") if piece.outline[0][1] == 900 * MM}
    assert sorted(jambs) == [2000 * MM - half, 3200 * MM + half]
    assert {outline[1][1] for outline in jambs.values()} == {2100 * MM}
    inside = [p for p in strips(taken, "L1.S") if 2000 * MM < p.outline[0][0] < 3200 * MM]
    assert {(p.outline[0][1], p.outline[1][1]) for p in inside} == {(0, 900 * MM), (2100 * MM, 2700 * MM)}


def test_level_strips_lap_where_they_are_longer_than_their_stock() -> None:
    _, taken = furred("level", on=["L1.N"])
    rows = sorted({piece.outline[0][1] for piece in strips(taken, "L1.N")})
    half = int(2.25 * INCH) // 2
    assert rows == [half, *(n * 24 * INCH for n in range(1, 5)), 2700 * MM - half]
    first = [piece for piece in strips(taken, "L1.N") if piece.outline[0][1] == rows[1]]
    assert [piece.length_nm for piece in first] == [20 * FOOT, 8000 * MM - 12 * INCH - 20 * FOOT + 6 * INCH]
    assert [sum(item.amount_nm for item in piece.allowances) for piece in first] == [6 * INCH, 0]
    assert not strips(taken, "L1.S")


def test_a_narrow_pier_has_one_strip_in_its_middle() -> None:
    order = box() | {"furring": [{"spacing": 406.4, "on": ["L1.S"]}]}
    order["openings"].append(
        {"id": "w2", "on": "L1.S", "kind": "window", "from_left": 3290, "sill": 900, "width": 600, "height": 1200}
    )
    building = read_order(order, plant())
    taken = take_off(building, plant())
    pier = [p for p in strips(taken, "L1.S") if 3200 * MM <= p.outline[0][0] <= 3290 * MM and p.outline[0][1] == 900 * MM]
    assert [piece.outline[0][0] for piece in pier] == [3245 * MM]
    assert check(building, plant(), taken).sound


def test_strips_end_below_a_sloping_top_and_below_a_roof_that_falls_inward() -> None:
    order = with_gable(box())
    order["roofs"][0] = {"id": "R", "kind": "shed", "over": "L1", "low": "S", "pitch": "3/12", "eave_z": 2700}
    order["furring"] = [{"spacing": 609.6}]
    building = read_order(order, plant())
    taken = take_off(building, plant())
    high = next(wall for wall in building.walls if wall.id == "L1.N")
    tops = {piece.outline[1][1] for piece in strips(taken, "L1.N")}
    assert tops == {high.top[0][1] - 6 * INCH * 3 // 12}  # the roof falls t tan(pitch) through the wall's thickness
    assert check(building, plant(), taken).sound


def test_furring_takes_screws_and_is_counted_in_the_kit() -> None:
    _, taken = furred()
    assert any(line.item.startswith("furring screw") and line.packs for line in taken.hardware)
    bare = take_off(read_order(box(), plant()), plant())
    assert not any(line.item.startswith("furring screw") for line in bare.hardware)
    kept = {piece.mark: piece.outline for piece in bare.pieces}
    assert kept.items() <= {piece.mark: piece.outline for piece in taken.pieces}.items()  # furring takes no other piece's mark


@pytest.mark.parametrize("runs", ["upright", "level"])
def test_every_strip_that_is_left_out_is_noticed(runs: str) -> None:
    building, taken = furred(runs)
    assert check(building, plant(), taken).sound
    for strip in [piece for piece in taken.pieces if piece.role == "furring"]:
        less = replace(taken, pieces=tuple(piece for piece in taken.pieces if piece is not strip))
        assert any("no strip from" in fault.problem for fault in check(building, plant(), less).faults), strip


def moved(piece: Piece, u: int, z: int) -> Piece:
    return replace(piece, outline=tuple((Nm(x + u), Nm(y + z)) for x, y in piece.outline))


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda piece: moved(piece, -70 * MM, 0), "off its wall's inside face"),
        (lambda piece: moved(piece, 0, 5 * MM), "above the top"),
        (lambda piece: moved(piece, 2400 * MM, 0), "across an opening"),
        (lambda piece: moved(piece, 40 * MM, 0), "no strip from"),
        (lambda piece: replace(piece, edge_a=(piece.edge_a[0], Nm(piece.edge_a[1] + MM))), "long"),
        (lambda piece: replace(piece, outline=((Nm(0), Nm(MM)), (Nm(MM), Nm(MM)))), "does not run upright"),
    ],
)
def test_a_spoiled_strip_is_noticed(spoil: Any, said: str) -> None:
    building, taken = furred()
    first = min(strips(taken, "L1.S"), key=lambda piece: piece.outline[0])
    spoiled = replace(taken, pieces=tuple(spoil(piece) if piece is first else piece for piece in taken.pieces))
    assert any(said in fault.problem for fault in check(building, plant(), spoiled).faults)


def test_furring_that_nobody_asked_for_is_noticed() -> None:
    building, taken = furred()
    bare = replace(building, walls=tuple(replace(wall, furring=None) for wall in building.walls))
    assert any("was not asked" in fault.problem for fault in check(bare, plant(), replace(taken, building=bare)).faults)


def test_what_cannot_be_furred_is_told_with_its_path() -> None:
    wrong = [
        {"spacing": 500},
        {"spacing": 609.6, "on": ["L1.X", "L7"]},
        {"spacing": 406.4, "on": ["L1"]},
        {"spacing": 406.4, "runs": "sideways"},
    ]
    found = faults_of(box() | {"furring": wrong})
    assert {"furring[0].spacing", "furring[1].on[0]", "furring[1].on[1]", "furring[2].on[0]"} <= set(found)
    assert any(path.startswith("furring[3].runs") for path in found)
    assert "twice" in found["furring[2].on[0]"]


@pytest.mark.parametrize("seed", range(4000, 4024))
def test_random_buildings_are_furred_and_proved(seed: int) -> None:
    """Tops of every kind, openings anywhere, corners of any angle."""
    rng = random.Random(seed)
    order = random_order(seed) | {
        "furring": [{"spacing": rng.choice(("16 in", "24 in")), "runs": rng.choice(("upright", "level"))}]
    }
    try:
        building = read_order(order, plant())
        taken = take_off(building, plant())
    except (InputError, NoPlan):
        return  # beyond the plant's limits: judged elsewhere
    assert check(building, plant(), taken).faults == ()
    assert any(piece.role == "furring" for piece in taken.pieces)
