"""Weeks of a plant, a plan each morning from the floor: `python -m tests.bench rolling [-- WEEKS ORDERS_A_WEEK SECONDS]`.

The demo plant has one of each machine and makes about three such houses a week; here each machine stands there as often as the
week's houses need it (`HOURS_A_HOUSE`, measured by planning twelve), and rooms grow with them. Random houses
(`tests/generators/plans.houses`), so many a week from a Monday on, each due two weeks after it comes; scrap 2 %, flaws 1 %. A
morning's plan has SECONDS (20); its checks come on top and are counted. The steel used is put beside that of
planning each week alone on an empty floor, with nothing scrapped. Not simulated: revisions, breakdowns, late coils.
"""

from __future__ import annotations

from dataclasses import asdict, replace
from datetime import date, datetime, timedelta
from math import ceil
from typing import Any

from solver.domain.plant import Plant
from tests.bench.machine import write_result
from tests.bench.whole import of_quantiles
from tests.generators.plans import START, houses
from tests.plans import demo_plant
from tests.rolling import Morning, each_alone, simulate

SEED = 12
HOURS_A_HOUSE = {
    "bundle-bay": 13.0,
    "dock": 6.1,
    "router": 5.1,
    "panel-saw-1": 3.5,
    "trim-saw": 3.3,
    "clean-bench": 2.9,
    "brake": 2.6,
    "bevel-saw": 2.2,
    "press": 1.9,
}
HOURS_A_WEEK = 15.0  # of a machine that is open for 40: work comes house by house, and machines wait for one another
DUE = timedelta(days=14)  # from when an order comes


def main(arguments: list[str]) -> int:
    """Simulate, print a line a morning, write `rolling.json`; 1 where a plan failed its check or an order did not ship."""
    weeks, each, seconds = (*map(float, arguments), *(6.0, 20.0, 20.0)[len(arguments) :])
    plant, start = grown(demo_plant(), each), datetime.fromisoformat(START)
    orders = houses(SEED, round(weeks * each), plant)
    documents = []
    for n, order in enumerate(orders):
        comes = _comes(start.date(), n, round(each))
        for delivery in order["deliveries"]:
            delivery["need_by"] = f"{comes + DUE}T10:00"
        documents.append((comes, order))
    plant_after = simulate(documents, plant, start, seconds=seconds, days=round(weeks * 5) + 15, seed=SEED, tell=_print)
    mornings = [asdict(one) for one in plant_after.mornings]
    steel, alone = plant_after.steel, each_alone(documents, plant, seconds=60.0)
    used = steel.cut_up - steel.put_away + steel.written_off
    result: dict[str, Any] = {
        "orders": len(orders),
        "shipped": len(plant_after.shipped),
        "still_open": sorted(plant_after.open_orders),
        "planning_s": of_quantiles(mornings, "planning_s"),
        "orders_open": of_quantiles(mornings, "orders"),
        "faults": sum(len(one.faults) for one in plant_after.mornings),
        "late_h_of_trucks": round(sum(one.late_s for one in plant_after.mornings) / 3600, 1),
        "trucks": sum(one.left for one in plant_after.mornings),
        "bundles_moved_share": round(
            sum(one.moved for one in plant_after.mornings) / max(1, sum(one.bundles for one in plant_after.mornings)), 4
        ),
        "ledger_balance_nm": plant_after.balance(),
        "metres": {
            "cut_up": _metres(steel.cut_up),
            "bought": _metres(steel.bought),
            "drops_put_away": _metres(steel.put_away),
            "drops_used_again": _metres(steel.used_again),
            "drops_written_off": _metres(steel.written_off),
            "used": _metres(used),
            "each_week_alone": _metres(alone),
        },
        "used_to_each_week_alone": round(used / alone, 4),
        "drops_used_again_share": round(steel.used_again / steel.put_away, 4) if steel.put_away else None,
        "mornings": mornings,
    }
    path = write_result("rolling", result, command=f"python -m tests.bench rolling -- {weeks:g} {each:g} {seconds:g}")
    print(f"written to {path.name}; used to each week alone {result['used_to_each_week_alone']}")
    return int(bool(result["faults"] or result["still_open"] or result["ledger_balance_nm"]))


def grown(plant: Plant, houses_a_week: float) -> Plant:
    """Return the plant with as many of each machine as so many houses a week need, and people and rooms for them."""
    counts = {name: ceil(hours * houses_a_week / HOURS_A_WEEK) for name, hours in HOURS_A_HOUSE.items()}
    names = {
        place.id: [place.id, *(f"{place.id}-copy-{n}" for n in range(2, counts.get(place.id, 1) + 1))]
        for place in plant.workplaces
    }
    times = max(counts.values())
    return replace(
        plant,
        workplaces=tuple(replace(place, id=name) for place in plant.workplaces for name in names[place.id]),
        people=tuple(
            replace(
                group,
                count=group.count * max(len(names[place]) for place in group.at),
                at=tuple(name for place in group.at for name in names[place]),
            )
            for group in plant.people
        ),
        before_saw=plant.before_saw * times if plant.before_saw else plant.before_saw,
        before_bundling=plant.before_bundling * times if plant.before_bundling else plant.before_bundling,
        rack_slots=plant.rack_slots * times if plant.rack_slots else plant.rack_slots,
    )


def _comes(first: date, number: int, each_week: int) -> date:
    """Return the working day on which an order comes: so many a week, spread evenly over five days."""
    week, place = divmod(number, each_week)
    return first + timedelta(days=7 * week + place * 5 // each_week)


def _metres(length_nm: int) -> float:
    return round(length_nm / 1e9, 1)


def _print(morning: Morning) -> None:
    print(
        f"{morning.at[:10]}: {morning.orders} orders, {morning.pieces} pieces, {morning.planning_s:.1f} s, "
        f"{len(morning.faults)} faults, {morning.left} trucks left, {morning.late_s / 3600:.1f} h late, "
        f"{morning.moved} of {morning.bundles} bundles moved",
        flush=True,
    )
