"""What a plan saves against planning by hand: `python -m tests.bench by_hand [-- demo|HOUSES ...]`.

Writes results/by_hand.json. By hand is `tests/bench/by_hand_plan.py`, which says its rules. Bars are counted at list price
on both sides, without what kept drops are worth. Each set is planned with the default limit of `sawbill plan`; the parts
named are measured anew, the others stay as they were.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from service.usecases.make.plan_files import default_time_limit_s, plan_orders, read_orders
from solver.domain.building import Building
from solver.domain.cut_plan import CutPlan
from solver.domain.plan import LoadPart, Plan
from solver.domain.plant import Plant
from solver.domain.timetable import ScheduleResult, Timetable
from solver.nesting.rack_limits import without_expired_remnants
from solver.plan_check import check_plan
from solver.scheduling.calendar_horizon import double_listed_hours, exceeds_listed_hours
from solver.scheduling.dispatch import dispatch_by_rule
from solver.scheduling.objectives import objective_value
from solver.scheduling.plant.operations import plant_work
from solver.scheduling.plant.timetable import plant_timetable
from solver.search import Search
from solver.slitting.slit import slit
from solver.slitting.trims import slit_jobs
from solver.takeoff.take_off import take_off
from tests.bench.by_hand_plan import bundles_by_hand, cut_by_hand, loads_by_hand, with_dues
from tests.bench.machine import RESULTS, write_result
from tests.generators.plans import START, houses
from tests.plans import demo_documents, demo_plant

METRE_NM, HOUR = 1_000_000_000, 3_600
PARTS = ("demo", "40")


def by_hand(buildings: Sequence[Building], plant: Plant, epoch: str) -> dict[str, Any]:
    """Return the figures of the orders as planned by hand, the one due first first."""
    start = datetime.fromisoformat(epoch)
    stock = without_expired_remnants(plant.stated_stock, plant, start.date())
    first = sorted(buildings, key=lambda one: min(datetime.fromisoformat(each.dock_due) for each in one.deliveries))
    takeoffs = tuple(take_off(building, plant) for building in first)
    cuts = cut_by_hand(takeoffs, plant, stock)
    stacks = {takeoff.building.order: bundles_by_hand(takeoff, plant) for takeoff in takeoffs}
    bundles = tuple(bundle for mine in stacks.values() for bundle in mine)
    loads = tuple(loads_by_hand(stacks[takeoff.building.order], takeoff, plant) for takeoff in takeoffs)
    quick = Search(left_s=lambda: 0.0)
    work = plant_work(
        takeoffs=takeoffs,
        cuts=cuts,
        bundles=bundles,
        slits={str(material): slit(job, quick) for material, job in slit_jobs(cuts, plant, stock.coils)},
        loads=loads,
        plant=plant,
        stock=stock,
        epoch=start,
    )
    slots = dispatch_by_rule(with_dues(work.job), "due")
    while exceeds_listed_hours(work, slots):
        work = double_listed_hours(work)
        slots = dispatch_by_rule(with_dues(work.job), "due")
    value = objective_value(work.job, slots)
    result = ScheduleResult(status="feasible", objective=value, lower_bound=0, operations=slots, seconds=0.0)
    told = plant_timetable(work, result, epoch=start, replanned_s=None)
    late = min(value, objective_value(work.job, told.result.operations))
    return figures(cuts, len(bundles), loads, told, late, plant)


def planned(plan: Plan, plant: Plant) -> dict[str, Any]:
    """Return the figures of a plan."""
    bundles = sum(len(part.result.bundles) for part in plan.stacks)
    return figures(plan.cuts, bundles, plan.loads, plan.timetable, plan.timetable.result.objective or 0, plant)


def figures(
    cuts: Iterable[CutPlan], bundles: int, loads: Iterable[LoadPart], told: Timetable, late: int, plant: Plant
) -> dict[str, Any]:
    """Return price and metres of bars, and how many bars, bundles, trucks; hours late by weight, orders late, what waits."""
    bars = [bar for cut in cuts for bar in cut.bars]
    families = {family.id for family in plant.families}
    panels = [bar for bar in bars if bar.material.split("|")[0] in families]
    return {
        "price_dollars": round(sum(price_of(bar.material, bar.length_nm, plant) for bar in bars) / 100, 2),
        "metres": round(sum(bar.length_nm for bar in bars) / METRE_NM, 1),
        "panel_metres": round(sum(bar.length_nm for bar in panels) / METRE_NM, 1),
        "bars": len(bars),
        "bundles": bundles,
        "trucks": sum(len(part.result.loads) for part in loads),
        "weighted_hours_late": round(late / HOUR, 1),
        "orders_late": len({one.order for one in told.deliveries if one.late_s}),
        **{f"most_before_{one.place}": one.most for one in told.waiting},
    }


def price_of(material: str, length_nm: int, plant: Plant) -> float:
    """Return the list price of a bar in cents: beyond the longest listed by the metre, between two its share of the longer."""
    name = material.split("|", maxsplit=1)[0]
    family = next((one for one in plant.families if one.id == name), None)
    stock = family.stock if family is not None else plant.profile(name).stock
    longer = [item for item in sorted(stock, key=lambda item: item.length_nm) if item.length_nm >= length_nm]
    if longer:
        return longer[0].price_cents * length_nm / longer[0].length_nm
    assert family is not None
    return family.made_cents_per_m * length_nm / METRE_NM


def orders_of(part: str, plant: Plant) -> list[tuple[str, Any]]:
    """Return the orders of a part: the demo's, or so many random houses."""
    return list(demo_documents()) if part == "demo" else [(one["id"], one) for one in houses(1, int(part), plant)]


def measured(part: str, limit_s: float | None) -> dict[str, Any]:
    """Return both sides of one set of orders, and by how much of the hand's figure the plan has less."""
    plant = demo_plant()
    buildings = read_orders(orders_of(part, plant), plant)
    limit_s = limit_s or default_time_limit_s(len(buildings))
    hand = by_hand(buildings, plant, START)
    plan = plan_orders(buildings, plant, epoch=START, limit_s=limit_s, seed=1)
    ours = planned(plan, plant)
    less = {name: round(1 - ours[name] / hand[name], 4) if hand[name] else 0.0 for name in hand}
    return {
        "orders": len(buildings),
        "limit_s": limit_s,
        "by_hand": hand,
        "planned": ours,
        "less": less,
        "planned_by_due_dates_alone_hours": round(_due_dates_alone(plan) / HOUR, 1),
        "proved": check_plan(buildings, plant, plan).sound,
        "load_average": round(os.getloadavg()[0], 1),
    }


def _due_dates_alone(plan: Plan) -> int:
    """What the plan's own work comes to by due dates, crews and rooms not minded: what keeping to them costs."""
    job = plan.timetable.job
    return objective_value(job, dispatch_by_rule(with_dues(job), "due"))


def main(arguments: list[str]) -> int:
    """Measure the named parts (all, where none is named) and write them; 1 where a plan does not hold."""
    path = RESULTS / "by_hand.json"
    sets = json.loads(path.read_text(encoding="utf-8"))["sets"] if path.exists() else {}
    limit = next((float(word.removeprefix("limit=")) for word in arguments if word.startswith("limit=")), None)
    for part in [word for word in arguments if "=" not in word] or PARTS:
        sets[part] = measured(part, limit)
        print(part, json.dumps(sets[part], indent=1), flush=True)
        write_result("by_hand", {"sets": sets}, command="python -m tests.bench by_hand")
    return 0 if all(one["proved"] for one in sets.values()) else 1
