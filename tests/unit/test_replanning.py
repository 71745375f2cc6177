"""Promises and replanning: what is firm stays, what moves is told, and every way to spoil an answer is caught."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import pytest

from solver.domain.replan import (
    Choice,
    Down,
    LateMaterial,
    PromiseJob,
    PromiseResult,
    ReplanJob,
    ReplanResult,
    Urgent,
    Wait,
)
from solver.domain.timetable import Job, Machine, Operation, Pool, ScheduleJob, Slot
from solver.replanning.check import check_promise, check_replan, choices_as_schedules
from solver.replanning.promise import promise
from solver.replanning.replan import replan
from solver.replanning.validate import promise_faults, replan_faults
from solver.scheduling.check import check
from solver.search import Search


def quick(turns: int = 12) -> Search:
    """A search that ends after it was asked so many times: the same on every machine."""
    left = iter(range(turns, -1, -1))
    return Search(left_s=lambda: float(next(left, 0)))


def plan() -> tuple[ScheduleJob, tuple[Slot, ...]]:
    """Two saws and a press; a, b, c pass press and saw, the press back to back, a closed time from 40 to 50."""
    machines = (Machine(id="press"), Machine(id="saw", closed=((40, 50),)), Machine(id="saw2"))
    step = Operation(on={"saw": 10, "saw2": 12}, pause=True)
    jobs = tuple(
        Job(id=name, operations=(Operation(on={"press": 10}, hold=2), step), due=due, weight=2)
        for name, due in (("a", 30), ("b", 40), ("c", 45), ("d", 60))
    )
    slots = []
    for n, name in enumerate("abcd"):
        slots.append(Slot(job=name, index=0, machine="press", start=10 * n, end=10 * n + 10))
    slots += [
        Slot(job="a", index=1, machine="saw", start=12, end=22),
        Slot(job="b", index=1, machine="saw", start=22, end=32),
        Slot(job="c", index=1, machine="saw2", start=32, end=44),
        Slot(job="d", index=1, machine="saw2", start=44, end=56),
    ]
    return ScheduleJob(objective="weighted_tardiness", machines=machines, jobs=jobs), tuple(slots)


def sound(job: ReplanJob | PromiseJob, result: ReplanResult | PromiseResult) -> bool:
    own = check_replan(job, result) if isinstance(job, ReplanJob) else check_promise(job, result)  # type: ignore[arg-type]
    return own.sound and all(check(*claim).sound for claim in choices_as_schedules(job, result))


@cache
def broken() -> tuple[ReplanJob, ReplanResult]:
    """The press is down from 18 to 30, b runs on it since 10; c's press run was firm."""
    task, slots = plan()
    job = ReplanJob(plan=task, slots=slots, now=15, firm_until=25, down=(Down(machine="press", start=18, end=30),))
    return job, replan(job, quick())


def at(choice: Choice, key: tuple[str, int]) -> Slot:
    return next(slot for slot in choice.operations if (slot.job, slot.index) == key)


def test_a_breakdown_moves_what_it_must_and_nothing_that_began_elsewhere() -> None:
    job, result = broken()
    assert sound(job, result)
    calm = result.choices[0]
    assert at(calm, ("a", 0)).start == 0  # finished
    assert at(calm, ("a", 1)) == Slot(job="a", index=1, machine="saw", start=12, end=22)  # runs
    assert at(calm, ("b", 0)).start >= 30  # may not pause: starts over when the press runs again
    assert {(one.job, one.index) for one in calm.moves if one.forced} == {("b", 0), ("c", 0), ("b", 1)}
    assert result.tardiness_before == 0 < result.lower_bound <= calm.tardiness


def test_running_work_that_may_pause_goes_on_after_the_repair() -> None:
    task, slots = plan()
    job = ReplanJob(plan=task, slots=slots, now=15, firm_until=15, down=(Down(machine="saw", start=16, end=26),))
    result = replan(job, quick())
    assert sound(job, result)
    assert at(result.choices[0], ("a", 1)) == Slot(job="a", index=1, machine="saw", start=12, end=32)


def test_running_work_that_a_breakdown_draws_out_keeps_the_people_that_firm_work_counted_on() -> None:
    """a runs on the saw until 32 in place of 22; the other saw's firm work, from 24 on, needs the one person who runs it."""
    task, slots = plan()
    task = replace(task, pools=(Pool(id="crew", size=1, uses={"saw": 1, "saw2": 1}),))
    elsewhere = {
        ("b", 1): Slot(job="b", index=1, machine="saw2", start=24, end=36),
        ("c", 1): Slot(job="c", index=1, machine="saw2", start=50, end=62),
        ("d", 1): Slot(job="d", index=1, machine="saw2", start=62, end=74),
    }
    released = tuple(elsewhere.get((slot.job, slot.index), slot) for slot in slots)
    job = ReplanJob(plan=task, slots=released, now=15, firm_until=30, down=(Down(machine="saw", start=16, end=26),))
    result = replan(job, quick())
    assert sound(job, result)
    assert at(result.choices[0], ("a", 1)).end == 32
    assert at(result.choices[0], ("b", 1)).start >= 32
    assert any(one.forced and (one.job, one.index) == ("b", 1) for one in result.choices[0].moves)


def test_nothing_happened_so_nothing_moves() -> None:
    task, slots = plan()
    job = ReplanJob(plan=task, slots=slots, now=15, firm_until=25)
    result = replan(job, quick())
    assert result.choices[0].moved == 0 and result.choices[0].moves == () and len(result.choices) == 1
    assert sound(job, result)


def test_late_material_a_rush_and_a_remake() -> None:
    task, slots = plan()
    remake = Job(id="a again", operations=(Operation(on={"saw": 4, "saw2": 4}, pause=True),))
    job = ReplanJob(
        plan=task,
        slots=slots,
        now=15,
        firm_until=18,
        late=(LateMaterial(job="c", release=33),),
        urgent=(Urgent(job="d", due=40, weight=9),),
        added=(remake,),
        waits=(Wait(job="d", after="a again"),),
    )
    assert replan_faults(job) == []
    result = replan(job, quick())
    assert sound(job, result)
    for choice in result.choices:
        assert at(choice, ("c", 0)).start >= 33
        assert at(choice, ("d", 0)).start >= at(choice, ("a again", 0)).end
    assert len(result.choices) == 1 or result.choices[1].tardiness < result.choices[0].tardiness


def moved(result: ReplanResult, key: tuple[str, int], start: int) -> ReplanResult:
    calm = result.choices[0]
    slots = tuple(
        replace(slot, start=start, end=start + slot.end - slot.start) if (slot.job, slot.index) == key else slot
        for slot in calm.operations
    )
    return replace(result, choices=(replace(calm, operations=slots), *result.choices[1:]))


def calmly(change: Callable[[Choice], Choice]) -> Callable[[ReplanResult], ReplanResult]:
    return lambda result: replace(result, choices=(change(result.choices[0]), *result.choices[1:]))


SPOILED: dict[str, tuple[Callable[[ReplanResult], ReplanResult], str]] = {
    "finished work moved": (lambda r: moved(r, ("a", 0), 1), "is finished and moved"),
    "running work moved": (lambda r: moved(r, ("a", 1), 13), "is firm or running and moved"),
    "an operation is lost": (calmly(lambda c: replace(c, operations=c.operations[1:])), "an operation is missing"),
    "a move is not told": (calmly(lambda c: replace(c, moves=c.moves[1:])), "calm.moves"),
    "a move is told wrongly": (calmly(lambda c: replace(c, moves=(replace(c.moves[0], start=99), *c.moves[1:]))), "calm.moves"),
    "fewer moves are stated": (calmly(lambda c: replace(c, moved=c.moved - 1)), "calm.moved"),
    "other machines are stated": (calmly(lambda c: replace(c, machines=c.machines + 1)), "calm.machines"),
    "far moves are stated": (calmly(lambda c: replace(c, far=c.far + 1)), "calm.far"),
    "less shift is stated": (calmly(lambda c: replace(c, shifted=c.shifted - 1)), "calm.shifted"),
    "less lateness is stated": (calmly(lambda c: replace(c, tardiness=c.tardiness - 1)), "calm.tardiness"),
    "an ending is not told": (calmly(lambda c: replace(c, endings=c.endings[1:])), "calm.endings"),
    "work moved into the firm window": (lambda r: moved(r, ("d", 1), 24), "moved into the firm window"),
    "a bound above the value": (lambda r: replace(r, lower_bound=r.choices[0].tardiness + 1), "calm.lower_bound"),
    "the same choice twice": (lambda r: replace(r, choices=(r.choices[0], replace(r.choices[0], name="on_time"))), "less late"),
}


@pytest.mark.parametrize("how", SPOILED)
def test_each_spoiled_answer_is_caught(how: str) -> None:
    job, result = broken()
    spoil, says = SPOILED[how]
    told = [f"{fault.path} {fault.problem}" for fault in check_replan(job, spoil(result)).faults]
    assert any(says in one for one in told), told


def new_order() -> tuple[Job, ...]:
    press = Job(id="n press", operations=(Operation(on={"press": 10}, hold=2),))
    return press, Job(id="n saw", operations=(Operation(on={"saw": 10, "saw2": 12}),), after=("n press",))


def test_a_promise_leaves_everything_where_it_is_and_is_proved() -> None:
    task, slots = plan()
    job = PromiseJob(plan=task, slots=slots, order=new_order(), now=15)
    result = promise(job, quick())
    # by hand: the press is free at 40, holds to 52; the saw is free and open at 52
    assert (result.status, result.done, result.lower_bound) == ("optimal", 62, 62)
    assert sound(job, result)
    assert result.earlier is None


def test_a_gap_is_used() -> None:
    task, slots = plan()
    job = PromiseJob(plan=task, slots=slots, order=(Job(id="n", operations=(Operation(on={"saw": 7}),)),), now=15)
    assert promise(job, quick()).done == 39  # between 32 and the closed time at 40


def test_what_would_have_to_give_for_an_earlier_date() -> None:
    task, slots = plan()
    job = PromiseJob(plan=task, slots=slots, order=new_order(), now=15, firm_until=20, by=45)
    result = promise(job, quick(40))
    assert result.done == 62 and sound(job, result)
    assert result.earlier is not None and result.earlier.reached and result.earlier.done <= 45
    for slip in result.earlier.slips:
        assert slip.late > slip.late_before
    spoiled = replace(result, earlier=replace(result.earlier, done=result.earlier.done - 1))
    assert not check_promise(job, spoiled).sound
    firm = replace(result.earlier.operations[0], start=1, end=11)
    assert not check_promise(job, replace(result, earlier=replace(result.earlier, operations=(firm,)))).sound


def test_what_has_to_give_is_never_told_for_a_date_later_than_without() -> None:
    plan_, slots = plan()
    job = PromiseJob(plan=plan_, slots=slots, order=new_order(), now=10, firm_until=1_000, by=1)  # nothing may give
    result = promise(job, quick())
    assert result.earlier is not None
    assert (result.earlier.done, result.earlier.slips, result.earlier.moved) == (result.done, (), 0)
    last = max(result.operations, key=lambda slot: slot.end)
    later = replace(last, start=last.start + 500, end=last.end + 500)
    operations = tuple(later if slot == last else slot for slot in result.earlier.operations)
    worse = replace(result.earlier, done=later.end, operations=operations)
    assert [fault.problem for fault in check_promise(job, replace(result, earlier=worse)).faults] == [
        f"{later.end} is later than without giving anything"
    ]


def test_a_promise_before_now_or_with_a_false_end_is_caught() -> None:
    task, slots = plan()
    job = PromiseJob(plan=task, slots=slots, order=new_order(), now=15)
    result = promise(job, quick())
    assert not check_promise(job, replace(result, done=61)).sound
    early = tuple(replace(slot, start=0, end=10) for slot in result.operations)
    assert not check_promise(job, replace(result, operations=early)).sound


def test_every_fault_of_a_question_is_told_at_once() -> None:
    task, slots = plan()
    bad = (Job(id="a", operations=()), Job(id="n", operations=(Operation(on={"lathe": 1}),)))
    paths = {fault.path for fault in promise_faults(PromiseJob(plan=task, slots=slots[1:], order=bad))}
    assert {"order[0].id", "order[0].operations", "order[1].operations[0].on.lathe", "slots"} <= paths
    job = ReplanJob(
        plan=task,
        slots=(*slots, slots[0]),
        now=0,
        down=(Down(machine="lathe", start=5, end=5),),
        late=(LateMaterial(job="z", release=1),),
        waits=(Wait(job="a", after="z"),),
    )
    told = {fault.path for fault in replan_faults(job)}
    assert told == {"slots[8]", "down[0].machine", "down[0].end", "late", "waits[0].after"}
