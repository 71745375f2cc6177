"""Settling and the chain of reasons, on random timetables with set-ups, closed hours, pauses, holds, releases and people."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from solver.domain.timetable import Job, Machine, Operation, Pool, ScheduleJob, ScheduleResult, Slot
from solver.scheduling.buffers.repair import compact_timetable
from solver.scheduling.check import check
from solver.scheduling.dispatch import RULES, dispatch_by_rule
from solver.scheduling.objectives import objective_value
from solver.scheduling.plant.lateness_chain import lateness_chain


def random_week(dice: random.Random, *, people: bool, least: int = 0) -> ScheduleJob:
    machines = tuple(
        Machine(
            id=f"m{n}",
            closed=tuple((day * 24 + low, day * 24 + high) for day in range(9) for low, high in ((0, 6), (10, 11), (15, 24))),
            setup=tuple(tuple(dice.randint(0, 4) if a != b else 0 for b in range(3)) for a in range(3)),
            initial=dice.choice((None, 0)),
        )
        for n in range(3)
    )
    jobs = []
    for n in range(12):
        operations = tuple(
            Operation(
                on={f"m{k}": dice.randint(least, 4) for k in dice.sample(range(3), dice.randint(1, 2))},
                family=dice.randrange(3),
                hold=dice.choice((0, 0, 0, 20)),
                pause=dice.random() < 0.6,
            )
            for _ in range(dice.randint(1, 3))
        )
        after = tuple(f"j{k}" for k in range(n) if dice.random() < 0.15)
        release, due = dice.choice((0, 0, 30)), dice.randint(10, 90)
        jobs.append(Job(id=f"j{n}", operations=operations, release=release, due=due, weight=dice.randint(1, 3), after=after))
    pools = (Pool(id="crew", size=2, uses={"m0": 1, "m1": 2}), Pool(id="all", size=3, uses={"m0": 1, "m1": 1, "m2": 2}))
    return ScheduleJob(objective="weighted_tardiness", machines=machines, jobs=tuple(jobs), pools=pools if people else ())


def as_result(task: ScheduleJob, slots: tuple[Slot, ...]) -> ScheduleResult:
    value = objective_value(task, slots)
    return ScheduleResult(
        status="optimal" if value == 0 else "feasible", objective=value, lower_bound=0, operations=slots, seconds=0.0
    )


def sooner(task: ScheduleJob, slot: Slot) -> Slot:
    """The same work begun one unit of time sooner, ending as its machine's hours then say; reckoned unit by unit."""
    machine = next(one for one in task.machines if one.id == slot.machine)
    step = next(job for job in task.jobs if job.id == slot.job).operations[slot.index]
    start = slot.start - 1
    end, left = start, step.on[slot.machine]
    while left:
        left -= not (step.pause and any(low <= end < high for low, high in machine.closed))
        end += 1
    return replace(slot, start=start, end=end)


@pytest.mark.parametrize("seed", range(60))
def test_settled_timetables_are_sound_and_no_later(seed: int) -> None:
    dice = random.Random(seed)
    task = random_week(dice, people=False)
    slots = dispatch_by_rule(task, dice.choice(RULES))
    loose = tuple(replace(slot) for slot in slots)
    settled = compact_timetable(task, loose)
    assert [str(fault) for fault in check(task, as_result(task, settled)).faults] == []
    before = {(slot.job, slot.index): slot.start for slot in slots}
    assert all(slot.start <= before[slot.job, slot.index] for slot in settled)
    assert set(compact_timetable(task, settled)) == set(settled)


@pytest.mark.parametrize("seed", range(60))
def test_settled_timetables_keep_to_the_people_there_are(seed: int) -> None:
    dice = random.Random(seed)
    task = random_week(dice, people=True)
    settled = compact_timetable(task, dispatch_by_rule(task, dice.choice(RULES)))
    assert [str(fault) for fault in check(task, as_result(task, settled)).faults] == []


def test_without_care_for_people_too_many_would_work_at_once() -> None:
    """The check sees it: of 60 random weeks most need the people that dispatch rules do not mind."""
    caught = 0
    for seed in range(60):
        task = random_week(random.Random(seed), people=True)
        caught += any(
            "people are at work" in str(fault) for fault in check(task, as_result(task, dispatch_by_rule(task, "due"))).faults
        )
    assert caught > 30


@pytest.mark.parametrize("people", [False, True])
@pytest.mark.parametrize("seed", range(40))
def test_each_link_of_each_chain_is_tight_back_to_time_zero(seed: int, people: bool) -> None:
    """No time is unexplained, and no operation of a chain could start a unit sooner: a rule of the shop forbids it.

    Work without length is left out: what comes right after it could also come right before it.
    """
    dice = random.Random(seed)
    task = random_week(dice, people=people, least=1)
    slots = compact_timetable(task, dispatch_by_rule(task, dice.choice(RULES)))
    by_name = {f"{slot.job}/{slot.index}": slot for slot in slots}
    result = as_result(task, slots)
    for job in task.jobs:
        links = lateness_chain(task, {(slot.job, slot.index): slot for slot in slots}, job.id)
        at, before = 0, None
        for link in links:
            slot = by_name[link.operation]
            assert link.before == before
            parts = (link.release_s, link.hold_s, link.setup_s, link.closed_s, link.people_s, link.work_s, link.pause_s)
            assert sum(parts) == slot.end - at and min(parts) >= 0
            assert link.idle_s == 0
            at, before = slot.end, link.operation
            if slot.start > 0:
                moved = tuple(sooner(task, one) if one is slot else one for one in slots)
                wrong = check(task, replace(result, operations=moved)).faults
                assert [fault for fault in wrong if fault.path not in ("objective", "status", "lower_bound")], link
        last = by_name[f"{job.id}/{len(job.operations) - 1}"]
        assert at == last.end
