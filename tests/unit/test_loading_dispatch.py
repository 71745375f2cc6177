"""Departures of a house's trucks at a dock worked by hand, and departures spoiled on purpose."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from functools import cache

import pytest

from solver.domain.dispatch import Departure, Dispatch
from solver.domain.ids import LoadId
from solver.domain.plan import Plan
from solver.domain.timetable import Job, Machine, Operation, ScheduleJob, ScheduleResult, Slot, Timetable
from solver.loading.check_dispatch import check
from solver.loading.dispatch import plan_departures
from solver.scheduling.plant.operations import plant_work
from solver.units import Seconds
from tests.orders import plant
from tests.samples import demo_plan

EPOCH = "2031-05-19T06:00:00-06:00"  # after the cottage is wanted: every truck is late
HOUR = 3600
BUILT_S, LOADED_S = 600, 2 * HOUR


@cache
def plan(name: str = "cottage-7", *, turned: bool = False) -> Plan:
    """A house, a bundle every ten minutes, each truck at the door when its last is built; `turned`: last truck first."""
    made = demo_plan(name)
    jobs, slots, now = [], [], 0
    built = dict[str, int]()
    for stacked in made.stacks:
        for bundle in stacked.result.bundles:
            jobs.append(Job(id=f"bundle {bundle.id}", operations=(Operation(on={"bay": BUILT_S}),)))
            slots.append(Slot(job=f"bundle {bundle.id}", index=0, machine="bay", start=now, end=now + BUILT_S))
            now += BUILT_S
            built[bundle.id] = now
    free = 0
    for part in made.loads:
        for load in part.result.loads[:: -1 if turned else 1]:
            after = tuple(f"bundle {item.bundle}" for item in load.placed)
            jobs.append(Job(id=f"load {load.id}", operations=(Operation(on={"door": LOADED_S}, pause=True),), after=after))
            start = max(free, *(built[item.bundle] for item in load.placed))
            free = start + LOADED_S
            slots.append(Slot(job=f"load {load.id}", index=0, machine="door", start=start, end=free))
    work = ScheduleJob(objective="weighted_tardiness", machines=(Machine(id="bay"), Machine(id="door")), jobs=tuple(jobs))
    result = ScheduleResult(status="feasible", objective=0, lower_bound=0, operations=tuple(slots), seconds=0.0)
    return replace(made, timetable=Timetable(epoch=EPOCH, job=work, result=result, operations=(), deliveries=()))


def departures() -> Dispatch:
    return plan_departures(plan().takeoffs, plan().stacks, plan().loads, plan().timetable)


def faults(found: Dispatch, of: Plan | None = None) -> str:
    on = of or plan()
    report = check(on.takeoffs, on.stacks, on.loads, on.timetable, found)
    return "\n".join(str(fault) for fault in report.faults)


def test_a_truck_is_loaded_after_its_last_bundle_and_leaves_when_the_timetable_says() -> None:
    found, bundles = departures(), [bundle.id for part in plan().stacks for bundle in part.result.bundles]
    trucks = {load.id: load for part in plan().loads for load in part.result.loads}
    assert faults(found) == ""
    assert [one.load for one in found.departures] == list(trucks)
    free = 0
    for one in found.departures:
        last = max(bundles.index(item.bundle) for item in trucks[one.load].placed)
        assert one.ready_s == (last + 1) * BUILT_S
        assert (one.door, one.start_s) == ("door", max(free, one.ready_s))
        free = one.start_s + LOADED_S
        assert one.leave_s == free


def test_arrival_counts_the_way_and_lateness_counts_at_the_site() -> None:
    house = plan().takeoffs[0].building
    by_id = {one.id: one for one in house.deliveries}
    for one in departures().departures:
        assert one.late_s is not None
        assert len(one.deliveries) == 1
        transit_h = 4  # of the order: need-by less due at the dock
        assert one.arrive_s == one.leave_s + transit_h * HOUR
        assert one.need_by_s == one.arrive_s - one.late_s
        assert one.leave_by_s == one.leave_s - one.late_s
        assert by_id[one.deliveries[0]].need_by.startswith("2031-05-")


def test_the_bound_is_reached_in_order_of_need_and_not_the_other_way_round() -> None:
    found, table = departures(), plan().timetable
    doors = [slot for slot in table.result.operations if slot.machine == "door"]
    last = doors[-1].start
    turned = [replace(slot, start=last + n * LOADED_S, end=last + (n + 1) * LOADED_S) for n, slot in enumerate(doors[::-1])]
    slots = (*(slot for slot in table.result.operations if slot.machine != "door"), *turned)
    late = plan_departures(
        plan().takeoffs, plan().stacks, plan().loads, replace(table, result=replace(table.result, operations=slots))
    )
    assert (found.status, found.lower_bound) == ("optimal", late.lower_bound)
    assert late.status == "feasible"
    assert late.most_late_s > found.most_late_s == found.lower_bound > 0


def test_trucks_that_are_all_early_are_not_late_at_all() -> None:
    early = replace(plan(), timetable=replace(plan().timetable, epoch="2031-04-28T06:00:00-06:00"))
    found = plan_departures(early.takeoffs, early.stacks, early.loads, early.timetable)
    assert all(one.late_s is not None and one.late_s < 0 for one in found.departures)
    assert (found.most_late_s, found.lower_bound, found.status) == (0, 0, "optimal")
    assert faults(found, early) == ""


def test_several_doors_bound_each_truck_by_itself() -> None:
    table = plan().timetable
    jobs = tuple(
        replace(job, operations=(replace(job.operations[0], on={"door": LOADED_S, "side": HOUR}),))
        if job.id.startswith("load ")
        else job
        for job in table.job.jobs
    )
    wide = replace(table, job=replace(table.job, jobs=jobs, machines=(*table.job.machines, Machine(id="side"))))
    found = plan_departures(plan().takeoffs, plan().stacks, plan().loads, wide)
    assert found.lower_bound == max(
        one.ready_s + HOUR + one.arrive_s - one.leave_s - (one.need_by_s or 0) for one in found.departures
    )


def test_an_order_without_deliveries_leaves_without_being_wanted() -> None:
    house = plan().takeoffs[0]
    free = (replace(house, building=replace(house.building, deliveries=())),)
    found = plan_departures(free, plan().stacks, plan().loads, plan().timetable)
    assert {(one.deliveries, one.need_by_s, one.late_s) for one in found.departures} == {((), None, None)}
    assert (found.most_late_s, found.lower_bound, found.status) == (0, 0, "optimal")
    assert faults(found, replace(plan(), takeoffs=free)) == ""


@cache
def house_with_two_trucks_a_delivery() -> str:
    """The demo's ell, whose roof takes two trucks."""
    loads = plan("ell-12").loads[0]
    trips = {bundle.id: bundle.trip for bundle in loads.job.bundles}
    assert [trips[load.placed[0].bundle] for load in loads.result.loads].count("D2") == 2
    return "ell-12"


def test_the_first_truck_of_a_delivery_carries_the_start_box_and_what_stands_first() -> None:
    name = house_with_two_trucks_a_delivery()
    good, bad = plan(name), plan(name, turned=True)
    assert faults(plan_departures(good.takeoffs, good.stacks, good.loads, good.timetable), good) == ""
    said = faults(plan_departures(bad.takeoffs, bad.stacks, bad.loads, bad.timetable), bad)
    assert "though a truck that left before carries what stands later" in said


def test_in_a_plans_timetable_the_truck_wanted_first_is_loaded_first() -> None:
    """From the jobs that the plant's timetable is made of: each truck of a delivery waits for the one before it."""
    made = demo_plan(house_with_two_trucks_a_delivery())
    bundles = tuple(bundle for part in made.stacks for bundle in part.result.bundles)
    work = plant_work(
        takeoffs=made.takeoffs,
        cuts=made.cuts,
        bundles=bundles,
        slits={},
        loads=made.loads,
        plant=plant(),
        stock=plant().stated_stock,
        epoch=datetime.fromisoformat("2031-04-28T06:00:00-06:00"),
        seed=1,
        cut_orders=(),
    )
    waits = {
        job.id: [one for one in job.after if one.startswith("load ")] for job in work.job.jobs if job.id.startswith("load ")
    }
    stands = {bundle.id: bundle.first_stands for bundle in bundles}
    trips = {bundle.id: bundle.trip for bundle in made.loads[0].job.bundles}
    seen: dict[str | None, str] = {}
    for load in made.loads[0].result.loads:
        trip = trips[load.placed[0].bundle]
        assert waits[f"load {load.id}"] == ([f"load {seen[trip]}"] if trip in seen else [])
        of_trip = [stands[name] for name, own in trips.items() if own == trip]
        assert (min(of_trip) in [stands[item.bundle] for item in load.placed]) == (trip not in seen)
        seen[trip] = load.id
    assert len(seen) < len(made.loads[0].result.loads)


def with_first(**changes: object) -> Callable[[Dispatch], Dispatch]:
    def spoil(found: Dispatch) -> Dispatch:
        one: Departure = replace(found.departures[0], **changes)  # type: ignore[arg-type]
        return replace(found, departures=(one, *found.departures[1:]))

    return spoil


def moved(field: str, by_s: int) -> Callable[[Dispatch], Dispatch]:
    return lambda found: with_first(**{field: getattr(found.departures[0], field) + by_s})(found)


SPOILED: dict[str, tuple[Callable[[Dispatch], Dispatch], str]] = {
    "a truck is forgotten": (lambda found: replace(found, departures=found.departures[1:]), "leaves 0 times"),
    "a truck leaves twice": (
        lambda found: replace(found, departures=(*found.departures, found.departures[-1])),
        "leaves 2 times",
    ),
    "a truck that nobody planned": (with_first(load=LoadId("cottage-7/L99")), "load cottage-7/L99 leaves 1 times"),
    "trucks are listed in another order": (
        lambda found: replace(found, departures=tuple(reversed(found.departures))),
        "not in order of leaving",
    ),
    "a truck is loaded at another door": (with_first(door="side"), "the timetable does not load it"),
    "a truck leaves before it is loaded": (moved("leave_s", -60), "the timetable does not load it"),
    "a truck is loaded before its last bundle is built": (
        moved("start_s", -6 * HOUR),
        "is before its last bundle is built",
    ),
    "a truck is said to be ready earlier than it is": (moved("ready_s", -60), "its last bundle is built at"),
    "two trucks stand at one door": (
        lambda found: replace(
            found,
            departures=(found.departures[0], replace(found.departures[1], start_s=Seconds(found.departures[0].leave_s - 60))),
        ),
        "has left",
    ),
    "a truck is said to carry another delivery": (with_first(deliveries=("D2",)), "['D2'] are stated"),
    "a truck of another order": (with_first(order="ell-12"), "is not the order of this load"),
    "a truck arrives without driving": (moved("arrive_s", -HOUR), "is not its leaving and the way"),
    "a truck is wanted later than the site wants it": (moved("need_by_s", HOUR), "is not when delivery"),
    "a truck may wait longer than the way allows": (moved("leave_by_s", HOUR), "is not when it must leave"),
    "lateness is understated": (moved("late_s", -HOUR), "is stated, it is late by"),
    "the largest lateness is understated": (
        lambda found: replace(found, most_late_s=found.most_late_s - 1),
        "is stated, the largest is",
    ),
    "the bound is above the lateness": (
        lambda found: replace(found, lower_bound=found.most_late_s + 1, status="feasible"),
        "is not between 0 and the lateness",
    ),
    "optimal is said without proof": (
        lambda found: replace(found, lower_bound=found.most_late_s - 1),
        "optimal is stated",
    ),
}


@pytest.mark.parametrize("name", SPOILED)
def test_spoiled_departures_are_caught_with_the_right_words(name: str) -> None:
    spoil, words = SPOILED[name]
    said = faults(spoil(departures()))
    assert words in said, said
