"""A plan for a rack that holds nothing: cut in windows of bundles, merged, and it still holds in every part."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from service.usecases.make.plan_files import plan_orders
from service.usecases.make.stages import countdown
from solver.cut_materials import nest_by_material
from solver.cut_order import RackModel, nest_by_bundle_group
from solver.domain.plan import Plan
from solver.errors import FaultCollector
from solver.nesting.check import check as check_nest
from solver.nesting.check_blanks import check_bars
from solver.plan_check import check_plan
from solver.search import Search
from tests.plans import EPOCH, demo_buildings, demo_plant


@cache
def plan_without_a_rack() -> Plan:
    plant = replace(demo_plant(), rack_slots=0)
    cottage = demo_buildings()[:1]
    return plan_orders(cottage, plant, epoch=EPOCH, limit_s=10.0, seed=1)


def test_a_plan_for_a_rack_without_slots_takes_the_fewest_it_found_and_says_so() -> None:
    curve = plan_without_a_rack().rack
    assert curve is not None
    assert curve.chosen_point.slots == min(point.slots for point in curve.points)
    assert curve.fits == (curve.chosen_point.slots == 0)
    assert curve.points[0].cost == min(point.cost for point in curve.points)


def test_the_plan_holds() -> None:
    report = check_plan(demo_buildings()[:1], replace(demo_plant(), rack_slots=0), plan_without_a_rack())
    assert [str(fault) for fault in report.faults] == []


@pytest.mark.parametrize("size", [7, 1])
def test_plans_merged_from_windows_of_bundles_hold(size: int) -> None:
    plan, plant, faults = plan_without_a_rack(), demo_plant(), FaultCollector()
    pieces = tuple(piece for takeoff in plan.takeoffs for piece in takeoff.pieces)
    floor = RackModel(pieces, tuple(bundle for part in plan.stacks for bundle in part.result.bundles), plant)
    apart = nest_by_bundle_group(
        plan.cuts, floor, size, plant, plant.stated_stock, Search(left_s=countdown(5.0)), nest_by_material
    )
    assert apart is not None
    for cut in apart:
        faults.extend(check_nest(cut.job, cut.result).faults)
        check_bars(cut, floor.pieces, plant, plant.stated_stock.remnants, faults)
    assert [str(fault) for fault in faults.found] == []
    assert sum(cut.result.cost or 0 for cut in apart) >= sum(cut.lower_bound for cut in plan.cuts) * (1 - 1e-9)
    window = {piece: n // size for n, stack in enumerate(floor.stacks) for piece in stack}
    bars = [bar for cut in apart if floor.is_panel(cut) for bar in cut.bars]
    assert all(len({window[item.piece] for item in bar.pieces}) == 1 for bar in bars)
    assert sorted(item.piece for bar in bars for item in bar.pieces) == sorted(window)


def test_every_way_to_cut_is_no_cheaper_than_the_bound_of_all_ways() -> None:
    plan = plan_without_a_rack()
    assert plan.rack is not None
    panels = {bar.material for point in plan.rack.points for bar in point.bars}
    floor = sum(cut.lower_bound for cut in plan.cuts if cut.material in panels)
    assert all(point.cost >= floor * (1 - 1e-9) for point in plan.rack.points)
