"""Trim bundles follow the order of standing: base channel by itself and first, nothing set aside, base on a truck ahead."""

from __future__ import annotations

import json
from functools import cache
from typing import Any

import pytest

from solver.bundling.check import check
from solver.bundling.job import stack_job
from solver.bundling.stack import stack
from solver.domain.building import Building
from solver.domain.bundle import StackJob, StackResult
from solver.domain.plan import LoadPart, deliveries_on_load
from solver.domain.takeoff import Takeoff
from solver.errors import InputError
from solver.loading.check import check as check_load
from solver.loading.job import load_job
from solver.loading.load import load
from solver.reading.read_order import read_order
from solver.search import Search
from solver.takeoff.take_off import take_off
from tests.orders import DEMOS, demo, plant
from tests.shared import shared_path

NAMES = [*DEMOS, *(f"{n:03d}" for n in range(10))]


def stacked(order: Any) -> tuple[Building, Takeoff, StackJob, StackResult]:
    building = read_order(order, plant())
    takeoff = take_off(building, plant(), None)
    template = building.anchor_holes == "template"
    job = stack_job(takeoff.pieces, plant(), building.deliveries, takeoff.hardware, template=template)
    return building, takeoff, job, stack(job, Search())


@cache
def house(name: str) -> tuple[Building, Takeoff, StackJob, StackResult]:
    return stacked(demo(name) if name in DEMOS else json.loads(shared_path(f"repro/ten-houses/{name}.json").read_text()))


@pytest.mark.parametrize("name", NAMES)
def test_base_channel_is_a_bundle_by_itself_and_comes_off_first(name: str) -> None:
    """It lay under most of one trim bundle: piece 1 was the 37th from the top of 47."""
    _, takeoff, job, result = house(name)
    assert check(job, result).faults == ()
    base = {piece.id for piece in takeoff.pieces if piece.role == "base_channel"}
    first = next(bundle for bundle in result.bundles if not bundle.items)
    small = {lay.piece for bundle in result.bundles if bundle.kind == "box" for lay in bundle.pieces}
    assert {lay.piece for lay in first.pieces} == base - small
    assert any("goes ahead of the pour" in note for note in result.notes)


@pytest.mark.parametrize("name", NAMES)
def test_trims_come_off_in_order_of_standing(name: str) -> None:
    """In every column the upper stands before the lower; told from the top they count up."""
    _, takeoff, _, result = house(name)
    stands = {piece.id: piece.stands for piece in takeoff.pieces}
    for bundle in result.bundles:
        if bundle.kind == "trim":
            off = [stands[lay.piece] for lay in reversed(bundle.pieces)]
            assert off == sorted(off)
            assert bundle.set_aside == ()
            columns: dict[int, list[tuple[int, int]]] = {}
            for lay in bundle.pieces:
                columns.setdefault(lay.across_nm, []).append((lay.up_nm, -stands[lay.piece]))
            assert all([order for _, order in sorted(column)] == sorted(o for _, o in column) for column in columns.values())


def ahead(**changes: Any) -> Any:
    """The cottage, its base channel wanted a week before its walls."""
    order = demo("cottage-7")
    week = {"id": "D0", "need_by": "2031-05-05T07:00", "parts": ["base"]}
    return {**order, "deliveries": [week, *order["deliveries"]], **changes}


def test_a_delivery_may_name_the_base_which_then_rides_ahead_on_its_own_truck() -> None:
    building, takeoff, _, result = stacked(ahead())
    base = {piece.id for piece in takeoff.pieces if piece.role == "base_channel"}
    own = [bundle for bundle in result.bundles if bundle.delivery == "D0"]
    assert {lay.piece for bundle in own for lay in bundle.pieces} == base
    assert not any("goes ahead of the pour" in note for note in result.notes)
    nuts = next(bundle for bundle in result.bundles if any("anchor nut" in item.item for item in bundle.items))
    assert nuts.delivery == "D0"
    loads = load_job(result.bundles, building, plant())
    found = load(loads, Search(workers=1))
    assert check_load(loads, found).faults == ()
    first, *others = LoadPart(order=building.order, job=loads, result=found).result.loads
    assert {item.bundle for item in first.placed} == {bundle.id for bundle in own}
    assert [one.id for one in deliveries_on_load(first, result.bundles, takeoff)] == ["D0"]
    assert all("D0" not in [one.id for one in deliveries_on_load(other, result.bundles, takeoff)] for other in others)


def test_only_where_no_level_is_named_so_base_means_the_channel() -> None:
    """An order of before, whose level has that name, reads as it did."""
    order = demo("workshop-3")
    text = json.dumps(order).replace('"L1"', '"base"').replace('"L1.', '"base.')
    building = read_order(json.loads(text), plant())
    assert [(one.parts, one.base) for one in building.deliveries] == [(("base", "R"), False)]


def test_base_brought_twice_or_misspelt_is_refused() -> None:
    order = ahead()
    order["deliveries"][1]["parts"].append("base")
    order["deliveries"][2]["parts"].append("bas")
    with pytest.raises(InputError) as refused:
        read_order(order, plant())
    assert [fault.path for fault in refused.value.faults] == ["deliveries[1].parts[1]", "deliveries[2].parts[1]"]
