"""Rooms where work waits, in the generic contract: refused where they can't be kept, kept by every timetable, told why."""

from __future__ import annotations

import gzip
import json
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from typing import Any

import pytest

from solver.codec import decode
from solver.documents.lateness_words import lateness_reasons
from solver.domain.stock import StockSnapshot
from solver.domain.timetable import (
    Buffer,
    BufferStay,
    Job,
    Link,
    Machine,
    Operation,
    Overfull,
    ScheduleJob,
    ScheduleResult,
    Slot,
    Timetable,
)
from solver.errors import NoPlan
from solver.scheduling.buffers.contents import BufferContents
from solver.scheduling.buffers.flows import SafeSequence, buffer_flows, least_overfull_sequence, priorities_as_listed
from solver.scheduling.buffers.list_schedule import list_schedule
from solver.scheduling.buffers.repair import compact_timetable, is_feasible
from solver.scheduling.buffers.right_shift import right_shift
from solver.scheduling.check import check
from solver.scheduling.check_timetable import timetable_faults
from solver.scheduling.faults import validate
from solver.scheduling.objectives import objective_value
from solver.scheduling.plant.lateness_chain import lateness_chain
from solver.scheduling.plant.operations import DeliveryWork, PlantWork
from solver.scheduling.plant.steps import OperationMeaning
from solver.scheduling.plant.supply import MaterialLedger
from solver.scheduling.plant.timetable import plant_timetable
from solver.scheduling.resource_profile import FAR, ResourceProfile
from solver.scheduling.schedule import schedule
from solver.search import Search
from solver.units import Seconds
from tests.languages import ENGLISH, SPANISH
from tests.shared import shared_path

EPOCH = datetime.fromisoformat("2031-04-28T06:00:00-06:00")


def shop(size: int, *, hold: int = 10, lots: int = 2, bars: int = 2) -> ScheduleJob:
    """Lots of bars: 4 in the press, a hold, then each bar 3 on the saw; `size` bars find room between."""
    jobs: list[Job] = []
    stays: list[BufferStay] = []
    for n in range(lots):
        jobs.append(Job(id=f"lot {n}", operations=(Operation(on={"press": 4}, hold=hold),)))
        for k in range(bars):
            jobs.append(Job(id=f"bar {n}.{k}", operations=(Operation(on={"saw": 3}),), after=(f"lot {n}",), due=0))
            stays.append(BufferStay(job=f"lot {n}", until=f"bar {n}.{k}"))
    rooms = (Buffer(id="before the saw", size=size, stays=tuple(stays)),)
    machines = (Machine(id="press"), Machine(id="saw"))
    return ScheduleJob(objective="makespan", machines=machines, jobs=tuple(jobs), rooms=rooms)


def sound(task: ScheduleJob) -> tuple[ScheduleResult, dict[str, Slot]]:
    result = schedule(task, Search(workers=1))
    assert [str(fault) for fault in check(task, result).faults] == []
    return result, {slot.job: slot for slot in result.operations}


def test_every_fault_of_rooms_is_named_at_once() -> None:
    data: dict[str, Any] = {
        "objective": "makespan",
        "machines": [{"id": "saw"}],
        "jobs": [
            {"id": "a", "operations": [{"on": {"saw": 1}}]},
            {"id": "b", "operations": [{"on": {"saw": 1}}], "after": ["a"]},
        ],
        "same_order": True,
        "rooms": [
            {"id": "r", "size": 1, "stays": [{"job": "a", "until": "b"}, {"job": "b", "until": "a"}]},
            {"id": "r", "size": 1, "stays": [{"job": "x", "until": "b"}, {"job": "a", "until": "y"}]},
        ],
    }
    assert [fault.path for fault in validate(decode(ScheduleJob, data, name="$"))] == [
        "rooms[1].id",
        "rooms",
        "rooms[0].stays[1].until",
        "rooms[1].stays[0].job",
        "rooms[1].stays[1].until",
    ]


def test_a_full_room_holds_the_press_back() -> None:
    """Hand times: with room for both lots the press ends at 4 and 8; with room for two bars the second ends when both are cut.

    Bars of the first are set at 14 and start at 14 and 17; the second lot comes in at 17, is set at 27, done at 33.
    """
    result, slots = sound(shop(4))
    assert (result.objective, slots["lot 0"].end, slots["lot 1"].end) == (26, 4, 8)
    result, slots = sound(shop(2))
    assert (result.status, result.objective, max(slots["lot 0"].end, slots["lot 1"].end)) == ("optimal", 33, 17)
    result, slots = sound(shop(3))
    assert (result.objective, max(slots["lot 0"].end, slots["lot 1"].end)) == (30, 14)  # one left, two come


def test_glue_that_sets_takes_room_and_what_is_fetched_as_it_comes_does_not() -> None:
    assert sound(shop(1, hold=0, bars=1))[0].objective == 11
    assert sound(shop(1, hold=10, bars=1))[0].objective == 27  # the second comes at 14, when the first is fetched


def test_a_lot_larger_than_its_room_can_never_come_in() -> None:
    with pytest.raises(NoPlan) as caught:
        schedule(shop(1), Search(workers=1))
    assert [fault.path for fault in caught.value.faults] == ["rooms[0].size", "rooms[0].size"]
    assert "'lot 0' brings 2 at once" in str(caught.value)


def test_that_all_wait_for_each_other_is_proved() -> None:
    with pytest.raises(NoPlan) as caught:
        schedule(wanted_in_turn(2, soft=False), Search(workers=1))
    assert "each waits for another to make room" in str(caught.value)
    assert sound(wanted_in_turn(3, soft=False))[0].status == "optimal"


def test_nobody_is_let_in_who_would_block_all() -> None:
    """Three lots, the saw takes the last one first: pressed in the order of the list they would fill the room with others."""
    task = shop(4, lots=3)
    order = [f"bar {n}.{k}" for n in (2, 1, 0) for k in (0, 1)]
    after = dict(zip(order[1:], order, strict=False))
    jobs = tuple(replace(job, after=(*job.after, after[job.id])) if job.id in after else job for job in task.jobs)
    task = replace(task, jobs=jobs)
    loose = [Slot(job=f"lot {n}", index=0, machine="press", start=4 * n, end=4 * n + 4) for n in range(3)]
    loose += [Slot(job=name, index=0, machine="saw", start=22 + 3 * n, end=25 + 3 * n) for n, name in enumerate(order)]
    in_turn = [name for n in (2, 1, 0) for name in (f"lot {n}", f"bar {n}.0", f"bar {n}.1")]
    stock = BufferContents(task.jobs, buffer_flows(task.rooms), in_turn)
    slots = list_schedule(task, loose, stock, overtake=False)
    assert slots is not None
    for made in (slots, compact_timetable(task, loose)):
        claim = ScheduleResult(
            status="feasible", objective=objective_value(task, made), lower_bound=0, operations=made, seconds=0.0
        )
        assert [str(fault) for fault in check(task, claim).faults] == []
    assert objective_value(task, compact_timetable(task, loose)) <= objective_value(task, slots)
    ends = {slot.job: slot.end for slot in slots}
    assert (ends["lot 0"], ends["lot 2"], ends["lot 1"]) == (4, 8, 21)  # two bars of lot 2 are fetched from 18 on


def test_what_comes_no_sooner_than_it_is_wanted_takes_less_room() -> None:
    """Pressed at once, lot 1 comes in at 8 beside a bar of lot 0 that is fetched at 9; its own first is fetched at 12."""
    task = shop(2, hold=0)
    times = {"lot 0": 0, "lot 1": 4, "bar 0.0": 4, "bar 0.1": 9, "bar 1.0": 12, "bar 1.1": 15}
    loose = tuple(
        Slot(job=job.id, index=0, machine=on, start=times[job.id], end=times[job.id] + work)
        for job in task.jobs
        for on, work in job.operations[0].on.items()
    )
    assert not is_feasible(task, loose)
    moved = right_shift(task, loose)
    assert is_feasible(task, moved)
    assert {one for one in moved if one not in loose} == {Slot(job="lot 1", index=0, machine="press", start=8, end=12)}
    due = replace(task, jobs=tuple(replace(job, due=0) if job.id == "lot 1" else job for job in task.jobs))
    assert set(right_shift(due, loose)) == set(loose)


def test_an_order_that_keeps_to_the_rooms_is_safe_until_the_wrong_job_goes() -> None:
    task = shop(2)
    doors = buffer_flows(task.rooms)
    order = least_overfull_sequence(task.jobs, doors, (priorities_as_listed(task.jobs),))
    assert (order.most, order.over((2,)), order.over((1,))) == ((2,), 0, 1)
    passage = SafeSequence(order.jobs, doors)
    assert passage.is_safe("lot 0") and not passage.is_safe("lot 1")  # lot 0 would no longer find room when its turn comes
    passage.end("lot 0")
    passage.start("bar 0.0")
    assert not passage.is_safe("lot 1")
    passage.start("bar 0.1")
    assert passage.is_safe("lot 1")


def test_levels_tell_until_when_there_is_no_room() -> None:
    level = ResourceProfile(3)
    level.take([(2, 8)], 2)
    level.take([(5, FAR)], 1)
    assert level.end_of_last_conflict([(0, 5)], 1) is None
    assert level.end_of_last_conflict([(0, 5)], 2) == 5  # two are there from 2 on; what is asked for is not beyond 5
    assert level.end_of_last_conflict([(0, FAR)], 1) == 8
    assert level.end_of_last_conflict([(9, FAR)], 3) == FAR
    level.take([(6, FAR)], -1)
    assert level.end_of_last_conflict([(9, FAR)], 3) is None
    assert level.end_of_last_conflict([(4, 4)], 9) is None


SPOILED: dict[str, tuple[Callable[[dict[str, Slot]], dict[str, Slot]], str]] = {
    "the second lot comes in too soon": (
        lambda slots: slots | {"lot 1": replace(slots["lot 1"], start=12, end=16)},
        "3 are there at 16, room for 2",
    ),
    "a bar is fetched too late": (
        lambda slots: (
            slots
            | {"bar 0.1": replace(slots["bar 0.1"], start=33, end=36), "bar 1.1": replace(slots["bar 1.1"], start=36, end=39)}
        ),
        "3 are there at 17, room for 2",
    ),
}


@pytest.mark.parametrize("name", SPOILED)
def test_an_overfull_room_is_caught(name: str) -> None:
    """Lot 0 first: its bars at 14 and 17, lot 1 in at 17."""
    task = shop(2)
    times = {"lot 0": 0, "bar 0.0": 14, "bar 0.1": 17, "lot 1": 13, "bar 1.0": 27, "bar 1.1": 30}
    slots = {
        job.id: Slot(job=job.id, index=0, machine=on, start=times[job.id], end=times[job.id] + work)
        for job in task.jobs
        for on, work in job.operations[0].on.items()
    }
    change, wanted = SPOILED[name]
    for made, expected in (slots, ""), (change(slots), wanted):
        operations = tuple(made.values())
        value = objective_value(task, operations)
        result = ScheduleResult(status="feasible", objective=value, lower_bound=0, operations=operations, seconds=0.0)
        told = " ".join(str(fault) for fault in check(task, result).faults)
        assert expected in told if expected else told == ""


def late_table() -> Timetable:
    """Lot 1 waits for room; both bars of it are late."""
    task = replace(shop(2), objective="weighted_tardiness")
    slots = compact_timetable(task, schedule(replace(task, objective="makespan"), Search(workers=1)).operations)
    first = min(("lot 0", "lot 1"), key=lambda name: next(slot.start for slot in slots if slot.job == name))
    last = "bar 1.1" if first == "lot 0" else "bar 0.1"
    last = max((slot for slot in slots if slot.machine == "saw"), key=lambda slot: slot.end).job or last
    work = PlantWork(
        job=task,
        meaning={(job.id, 0): OperationMeaning(order="a", step="laminate", about=job.id) for job in task.jobs},
        deliveries={("a", "D"): DeliveryWork(due_s=0, jobs=(last,))},
        families={},
        supply=MaterialLedger(StockSnapshot(), 0, EPOCH),
    )
    result = ScheduleResult(
        status="feasible", objective=objective_value(task, slots), lower_bound=0, operations=slots, seconds=0.0
    )
    return plant_timetable(work, result, epoch=EPOCH)


def test_the_chain_of_what_is_late_leads_through_the_room() -> None:
    """The last bar starts at 30; its lot ended at 17, when the second bar of the other lot started and made room for two."""
    table = late_table()
    (promise,) = table.deliveries
    assert [(link.waits_for, link.work_s, link.hold_s) for link in promise.chain] == [
        ("start", 4, 0),
        ("job", 3, 10),
        ("machine", 0, 0),  # told to its start only
        ("room", 0, 0),
        ("job", 3, 10),
        ("machine", 3, 0),
    ]
    assert timetable_faults(table) == []
    assert promise.done_s == 33 == sum(link.work_s + link.hold_s for link in promise.chain)
    english, spanish = (lateness_reasons(promise, table.operations, language)[1] for language in (ENGLISH, SPANISH))
    held = promise.chain[3].operation.removesuffix("/0")
    assert english == f"held back for want of room: laminate {held}"
    assert spanish == f"retenida por falta de sitio: laminar {held}"


def test_a_room_that_nothing_is_fetched_from_is_caught() -> None:
    table = late_table()
    (promise,) = table.deliveries
    wrong = tuple(replace(link, waits_for="room") if n == 1 else link for n, link in enumerate(promise.chain))
    told = [str(fault) for fault in timetable_faults(replace(table, deliveries=(replace(promise, chain=wrong),)))]
    assert any("makes no room for" in fault for fault in told)


def test_time_in_which_a_closed_press_could_not_bring_is_told() -> None:
    """Room from 17 on, but the press is closed from 15 to 30: it ends at 34, closed for 13 and at work for 4 since."""
    task = shop(2)
    task = replace(task, machines=(Machine(id="press", closed=((15, 30),)), task.machines[1]))
    order = [
        ("lot 0", "press"),
        ("bar 0.0", "saw"),
        ("bar 0.1", "saw"),
        ("lot 1", "press"),
        ("bar 1.0", "saw"),
        ("bar 1.1", "saw"),
    ]
    times = [0, 14, 17, 30, 44, 47]
    slots = {
        (job, 0): Slot(job=job, index=0, machine=on, start=at, end=at + (4 if on == "press" else 3))
        for (job, on), at in zip(order, times, strict=True)
    }
    link = lateness_chain(task, slots, "lot 1")[-1]
    assert link == Link(operation="lot 1/0", waits_for="room", before="bar 0.1/0", closed_s=Seconds(13), work_s=Seconds(4))


def wanted_in_turn(size: int, *, soft: bool) -> ScheduleJob:
    """The saw wants a bar of either lot in turn, and each lot alone fills a room for two: three have to be there at once."""
    task = shop(2)
    order = ["bar 0.0", "bar 1.0", "bar 0.1", "bar 1.1"]
    after = dict(zip(order[1:], order, strict=False))
    jobs = tuple(replace(job, after=(*job.after, after[job.id])) if job.id in after else job for job in task.jobs)
    return replace(task, jobs=jobs, rooms=(replace(task.rooms[0], size=size),), soft_rooms=soft)


def test_a_soft_room_that_cannot_be_kept_to_holds_nobody_back_and_is_told() -> None:
    """By hand: all four bars' lots have to be in before the second cut, after one bar is fetched: three at least at a time."""
    with pytest.raises(NoPlan):
        schedule(wanted_in_turn(2, soft=False), Search(workers=1))
    task = wanted_in_turn(2, soft=True)
    result = schedule(task, Search(workers=1))
    assert [str(fault) for fault in check(task, result).faults] == []
    (told,) = result.overfull
    assert (told.room, told.size) == ("before the saw", 2)
    assert told.most >= 3
    assert result.objective == schedule(replace(task, rooms=()), Search(workers=1)).objective
    assert result.status == "feasible"
    kept = schedule(wanted_in_turn(3, soft=True), Search(workers=1))
    assert (kept.overfull, kept.status) == ((), "optimal")


@pytest.mark.parametrize("field", ["most", "at", "since", "until", "time", "size"])
def test_what_is_told_of_an_overfull_room_has_to_be_true(field: str) -> None:
    task = wanted_in_turn(2, soft=True)
    result = schedule(task, Search(workers=1))
    (told,) = result.overfull
    for wrong in ((replace(told, **{field: getattr(told, field) + 1}),), (), (told, told)):
        assert any(one.path.startswith("overfull") for one in check(task, replace(result, overfull=wrong)).faults)
    (fault,) = check(replace(task, soft_rooms=False), result).faults[:1]
    assert fault.path == "rooms.before the saw"


def test_a_room_that_holds_all_is_not_told_to_be_overfull() -> None:
    task = wanted_in_turn(3, soft=True)
    result = schedule(task, Search(workers=1))
    lie = Overfull(room="before the saw", size=3, most=4, at=0, since=0, until=5, time=5)
    assert [
        one.path for one in check(task, replace(result, overfull=(lie,))).faults if "rooms" in one.path or "over" in one.path
    ]


def from_shared(name: str) -> ScheduleJob:
    return decode(ScheduleJob, json.loads(gzip.decompress(shared_path(f"repro/{name}").read_bytes())), name="job")


def many(task: ScheduleJob, times: int) -> ScheduleJob:
    """A job so many times over, five days later each, on the same machines, through the same rooms."""
    jobs = [
        replace(job, id=f"{job.id} {n}", after=tuple(f"{one} {n}" for one in job.after), due=(job.due or 0) + n * 432_000)
        for n in range(times)
        for job in task.jobs
    ]
    rooms = [
        replace(
            room,
            stays=tuple(replace(s, job=f"{s.job} {n}", until=f"{s.until} {n}") for n in range(times) for s in room.stays),
        )
        for room in task.rooms
    ]
    return replace(task, jobs=tuple(jobs), rooms=tuple(rooms))


def test_ten_houses_through_rooms_that_a_plan_once_had_no_timetable_for() -> None:
    """Its rooms hold 300 and 562, which an order of work keeps to; a room for 400 it overfills, and says by how much."""
    task = from_shared("schedule-rooms-unknown.json.gz")
    timeless = Search(left_s=lambda: 0.0)
    kept = schedule(task, timeless)
    assert (kept.status, kept.overfull) == ("feasible", ())
    assert [str(fault) for fault in check(task, kept).faults] == []
    small = replace(task, rooms=(task.rooms[0], replace(task.rooms[1], size=400)))
    none = schedule(small, timeless)
    assert none.status == "unknown" and none.operations == ()
    assert [(one.room, one.most > one.size) for one in none.overfull] == [("bundle_bay", True)]
    soft = replace(small, soft_rooms=True)
    told = schedule(soft, timeless)
    assert [str(fault) for fault in check(soft, told).faults] == []
    (full,) = told.overfull
    assert (full.room, full.size) == ("bundle_bay", 400) and full.most <= 562


def test_a_large_job_has_a_timetable_that_keeps_to_its_rooms_though_no_time_is_left() -> None:
    task = many(from_shared("schedule-rooms-unknown.json.gz"), 3)
    result = schedule(task, Search(left_s=lambda: 0.0))
    assert (result.status, result.overfull) == ("feasible", ())
    assert [str(fault) for fault in check(task, result).faults] == []
