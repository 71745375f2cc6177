"""Replanning with rooms: what can wait comes into no full room, what is firm comes all the same, and the check counts."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from solver.domain.replan import Down, PromiseJob, ReplanJob
from solver.domain.timetable import Buffer, Job, ScheduleJob, Slot
from solver.replanning.check import check_promise, check_replan, choices_as_schedules
from solver.replanning.promise import promise
from solver.replanning.replan import replan
from solver.replanning.validate import promise_faults
from solver.scheduling.buffers.flows import buffer_flows, least_overfull_sequence, priorities_as_listed
from solver.scheduling.buffers.repair import compact_timetable
from solver.scheduling.check import check
from solver.scheduling.dispatch import dispatch_by_rule
from solver.search import Search
from tests.property.test_scheduling_rooms import random_shop
from tests.unit.test_scheduling_rooms import shop


def quick(turns: int = 12) -> Search:
    left = iter(range(turns, -1, -1))
    return Search(left_s=lambda: float(next(left, 0)))


def after_a_breakdown(firm_until: int, *, size: int = 2) -> ReplanJob:
    """Lot 0 in at 4, its bars at 14 and 17; lot 1 is pressed from 13 to 17; the saw is down from 10 to 40."""
    task = replace(shop(size), objective="weighted_tardiness")
    times = {"lot 0": 0, "bar 0.0": 14, "bar 0.1": 17, "lot 1": 13, "bar 1.0": 27, "bar 1.1": 30}
    slots = tuple(
        Slot(job=job.id, index=0, machine=on, start=times[job.id], end=times[job.id] + work)
        for job in task.jobs
        for on, work in job.operations[0].on.items()
    )
    return ReplanJob(plan=task, slots=slots, now=10, firm_until=firm_until, down=(Down(machine="saw", start=10, end=40),))


def test_a_lot_that_can_wait_waits_for_room() -> None:
    job = after_a_breakdown(10)
    result = replan(job, quick())
    assert check_replan(job, result).faults == ()
    for task, timetable in choices_as_schedules(job, result):
        assert check(task, timetable).faults == () and task.rooms[0].size == 2
        starts = {slot.job: slot.start for slot in timetable.operations}
        assert sorted((starts["bar 0.0"], starts["bar 0.1"])) == [40, 43]
        assert starts["lot 1"] == 39  # ends at 43, when the second bar makes room for two


def test_a_firm_lot_comes_into_a_full_room_and_the_check_knows_why() -> None:
    job = after_a_breakdown(14)
    result = replan(job, quick())
    assert check_replan(job, result).faults == ()
    for task, timetable in choices_as_schedules(job, result):
        assert check(task, timetable).faults == ()
        assert task.rooms[0].size == 4
        assert next(slot.start for slot in timetable.operations if slot.job == "lot 1") == 13


def test_a_lot_that_could_have_waited_is_caught() -> None:
    job = after_a_breakdown(10)
    result = replan(job, quick())
    spoiled = tuple(
        replace(one, operations=tuple(replace(s, start=20, end=24) if s.job == "lot 1" else s for s in one.operations))
        for one in result.choices
    )
    told = [str(fault) for fault in check_replan(job, replace(result, choices=spoiled)).faults]
    assert any("4 are there at 24, room for 2" in fault for fault in told)


def passable(dice: random.Random, *, lots: int, hold: bool = False) -> ScheduleJob:
    """A random shop that an order of jobs is known for, one after the other, that keeps to its rooms."""
    while True:
        task = replace(random_shop(dice, lots=lots, spare=3), objective="weighted_tardiness")
        if hold:
            jobs = tuple(setting(job) if job.id.startswith("lot") else job for job in task.jobs)
            task = replace(task, rooms=task.rooms[:1], jobs=jobs)
        doors = buffer_flows(task.rooms)
        if not least_overfull_sequence(task.jobs, doors, (priorities_as_listed(task.jobs),)).over(doors.sizes):
            return task


def beside(task: ScheduleJob, new: ScheduleJob) -> tuple[tuple[Buffer, ...], tuple[Job, ...]]:
    """The rooms of two shops as the same rooms, and the jobs of the second with names of their own."""
    jobs = tuple(replace(job, id="new " + job.id, after=tuple("new " + one for one in job.after)) for job in new.jobs)
    rooms = tuple(
        replace(
            one,
            size=max(one.size, two.size),
            stays=(*one.stays, *(replace(stay, job="new " + stay.job, until="new " + stay.until) for stay in two.stays)),
        )
        for one, two in zip(task.rooms, new.rooms, strict=True)
    )
    return rooms, jobs


def test_a_promise_waits_for_room_beside_what_is_released() -> None:
    """Released: two bars from 4 to 14 and 17. A lot of two more may come at 17, so its second bar is cut at 33, not at 26."""
    task = replace(shop(2, lots=1), objective="weighted_tardiness")
    times = {"lot 0": 0, "bar 0.0": 14, "bar 0.1": 17}
    slots = tuple(
        Slot(job=job.id, index=0, machine=on, start=times[job.id], end=times[job.id] + work)
        for job in task.jobs
        for on, work in job.operations[0].on.items()
    )
    rooms, jobs = beside(task, task)
    job = PromiseJob(plan=replace(task, rooms=rooms), slots=slots, order=jobs)
    assert promise_faults(job) == []
    result = promise(job, quick())
    assert (result.done, next(slot.end for slot in result.operations if slot.job == "new lot 0")) == (33, 17)
    free = replace(job, plan=replace(job.plan, rooms=()))
    assert promise(free, quick()).done == 26


@pytest.mark.parametrize("seed", range(40))
def test_random_promises_keep_to_the_rooms(seed: int) -> None:
    dice = random.Random(seed)
    task, new = passable(dice, lots=4), passable(dice, lots=3)
    slots = compact_timetable(task, dispatch_by_rule(task, "due"))
    rooms, jobs = beside(task, new)
    job = PromiseJob(plan=replace(task, rooms=rooms), slots=slots, order=jobs, now=dice.choice((0, 10, 25)), by=40)
    assert promise_faults(job) == []
    result = promise(job, quick(40))
    assert [str(fault) for fault in check_promise(job, result).faults] == []
    for one, timetable in choices_as_schedules(job, result):
        assert [str(fault) for fault in check(one, timetable).faults] == []


def setting(lot: Job) -> Job:
    """The lot with glue that sets: none of its bars can be fetched at the instant at which it comes."""
    (press,) = lot.operations
    return replace(lot, operations=(replace(press, hold=press.hold or 5),))


@pytest.mark.parametrize("seed", range(40))
def test_random_breakdowns_keep_to_the_rooms(seed: int) -> None:
    dice = random.Random(seed)
    task = passable(dice, lots=6, hold=True)
    slots = compact_timetable(task, dispatch_by_rule(task, "due"))
    now, machine = dice.randint(5, 40), dice.choice(("press", "saw", "bay"))
    down = Down(machine=machine, start=now, end=now + dice.randint(5, 40))
    job = ReplanJob(plan=task, slots=slots, now=now, firm_until=now + dice.choice((0, 10)), down=(down,))
    result = replan(job, quick())
    assert [str(fault) for fault in check_replan(job, result).faults] == []
    for one, timetable in choices_as_schedules(job, result):
        assert [str(fault) for fault in check(one, timetable).faults] == []
