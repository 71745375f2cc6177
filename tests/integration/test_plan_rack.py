"""A plan for a rack that holds nothing: cut in windows of bundles, merged, and it still holds in every part."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from service.usecases.make.plan_files import plan_orders
from solver.domain.plan import Plan
from solver.plan_check import check
from tests.plans import EPOCH, demo_buildings, demo_plant


@cache
def plan_without_a_rack() -> Plan:
    plant = replace(demo_plant(), rack_slots=0)
    cottage = demo_buildings()[:1]
    return plan_orders(cottage, plant, epoch=EPOCH, limit_s=10.0, seed=1, tell=lambda _text, _part: None)


def test_a_plan_for_a_rack_without_slots_takes_the_fewest_it_found_and_says_so() -> None:
    curve = plan_without_a_rack().rack
    assert curve is not None
    assert curve.picked.slots == min(point.slots for point in curve.points)
    assert curve.fits == (curve.picked.slots == 0)
    assert curve.points[0].cost == min(point.cost for point in curve.points)


def test_its_bars_merged_from_windows_hold() -> None:
    report = check(demo_buildings()[:1], replace(demo_plant(), rack_slots=0), plan_without_a_rack())
    assert [str(fault) for fault in report.faults] == []


def test_every_way_to_cut_is_no_cheaper_than_the_bound_of_all_ways() -> None:
    plan = plan_without_a_rack()
    assert plan.rack is not None
    panels = {bar.material for point in plan.rack.points for bar in point.bars}
    floor = sum(cut.lower_bound for cut in plan.cuts if cut.material in panels)
    assert all(point.cost >= floor * (1 - 1e-9) for point in plan.rack.points)
