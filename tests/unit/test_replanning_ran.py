"""A timetable as it ran: what the floor told done is done, what it should have told and did not is placed again."""

from __future__ import annotations

from dataclasses import replace

import pytest

from solver.domain.replan import ReplanJob, Undone
from solver.domain.timetable import Job, Machine, Operation, ScheduleJob, Slot
from solver.replanning.actual_timetable import ActualTimetable, actual_timetable
from solver.replanning.check import check_replan, choices_as_schedules
from solver.replanning.replan import replan
from solver.replanning.validate import replan_faults
from solver.scheduling.check import check
from tests.unit.test_replanning import plan, quick


def goes_on(ran: ActualTimetable, now: int, firm: int) -> dict[tuple[str, int], Slot]:
    """The calm choice, proved, by operation."""
    job = ReplanJob(plan=ran.task, slots=ran.slots, now=now, firm_until=firm, undone=ran.undone)
    assert replan_faults(job) == []
    result = replan(job, quick())
    assert check_replan(job, result).faults == ()
    assert all(check(*claim).sound for claim in choices_as_schedules(job, result))
    return {(slot.job, slot.index): slot for slot in result.choices[0].operations}


def test_what_ran_as_planned_is_as_it_was() -> None:
    task, slots = plan()
    ran = actual_timetable(
        task, slots, now=35, reported={("a", 1): 22, ("b", 1): 34}, reportable={(name, 1) for name in "abcd"}
    )
    assert (ran.task, set(ran.slots), ran.undone, ran.sooner) == (task, set(slots), (), ())


def test_what_should_be_told_and_is_not_is_placed_again_with_all_that_waits_for_it() -> None:
    task, slots = plan()
    after = Job(id="e", operations=(Operation(on={"press": 1}),), after=("b",), due=50)
    task = replace(task, jobs=(*task.jobs, after))
    slots = (*slots, Slot(job="e", index=0, machine="press", start=40, end=41))
    ran = actual_timetable(task, slots, now=43, reported={("a", 1): 22}, reportable={("a", 1), ("b", 1)})
    assert ran.undone == (Undone(job="b", index=1), Undone(job="e", index=0))
    placed = goes_on(ran, 43, 43)
    assert placed["b", 1].start >= 43 and placed["e", 0].start >= placed["b", 1].end
    assert placed["c", 1] == Slot(job="c", index=1, machine="saw2", start=32, end=44)  # runs, and nobody would tell


def test_what_was_done_sooner_takes_no_machine_any_more_nor_does_what_it_waited_for() -> None:
    task, slots = plan()
    ran = actual_timetable(task, slots, now=35, reported={("a", 1): 22, ("d", 1): 33}, reportable={("a", 1)})
    assert ran.sooner == (("d", 0), ("d", 1))
    by_key = {(slot.job, slot.index): slot for slot in ran.slots}
    assert by_key["d", 0] == Slot(job="d", index=0, machine="press", start=0, end=0)  # when is not told: as soon as can be
    # saw2 runs c since 32: told at 33, done before it can only be at 32
    assert by_key["d", 1] == Slot(job="d", index=1, machine="saw2", start=32, end=32)
    placed = goes_on(ran, 35, 35)
    assert placed["d", 1] == by_key["d", 1]


def test_a_machine_that_did_other_work_than_planned_does_the_planned_work_again() -> None:
    machines = (Machine(id="saw", setup=((0, 5), (5, 0))),)
    jobs = tuple(Job(id=name, operations=(Operation(on={"saw": 10}, family=n),), due=99) for n, name in enumerate("ab"))
    task = ScheduleJob(objective="weighted_tardiness", machines=machines, jobs=jobs)
    slots = (Slot(job="a", index=0, machine="saw", start=0, end=10), Slot(job="b", index=0, machine="saw", start=15, end=25))
    ran = actual_timetable(task, slots, now=8, reported={("b", 0): 7}, reportable={("a", 0), ("b", 0)})
    assert ran.sooner == (("b", 0),)
    assert ran.undone == (Undone(job="a", index=0),)  # it cannot have run from 0 to 10
    assert [slot for slot in ran.slots if slot.job == "b"] == [Slot(job="b", index=0, machine="saw", start=7, end=7)]
    assert goes_on(ran, 8, 8)["a", 0].start == 12  # set up for it after b


def test_no_set_up_is_asked_of_what_was_done_sooner() -> None:
    machines = (Machine(id="saw", setup=((0, 5), (5, 0)), initial=0),)
    jobs = tuple(Job(id=name, operations=(Operation(on={"saw": 10}, family=n % 2),), due=99) for n, name in enumerate("abc"))
    task = ScheduleJob(objective="weighted_tardiness", machines=machines, jobs=jobs)
    slots = tuple(Slot(job=name, index=0, machine="saw", start=15 * n, end=15 * n + 10) for n, name in enumerate("abc"))
    ran = actual_timetable(task, slots, now=20, reported={("a", 0): 9, ("c", 0): 19}, reportable={(name, 0) for name in "abc"})
    by_job = {slot.job: slot for slot in ran.slots}
    assert by_job["c"].start == by_job["c"].end == 10  # not in the set-up from 10 to 15
    placed = goes_on(ran, 20, 20)
    assert placed["b", 0] == slots[1]


def test_glue_that_was_cut_before_it_had_set_as_long_as_planned_holds_no_longer() -> None:
    task, slots = plan()
    ran = actual_timetable(
        task, slots, now=42, reported={("a", 1): 22, ("b", 1): 32, ("d", 1): 41}, reportable={(name, 1) for name in "abd"}
    )
    steps = next(job for job in ran.task.jobs if job.id == "d").operations
    assert steps[0].hold == 1  # pressed at 40, cut at 41
    assert ran.undone == (Undone(job="c", index=1),)  # the saw cannot have run c from 32 to 44
    assert goes_on(ran, 42, 42)["d", 0].end <= 41


@pytest.mark.parametrize(
    ("undone", "path", "says"),
    [
        (Undone(job="d", index=1), "undone[0]", "should not have begun"),
        (Undone(job="z", index=0), "undone[0]", "should not have begun"),
        (Undone(job="a", index=0), "undone", "a 1 has begun, and a 0 is not done"),
    ],
)
def test_what_cannot_be_undone_is_refused(undone: Undone, path: str, says: str) -> None:
    task, slots = plan()
    (fault,) = replan_faults(ReplanJob(plan=task, slots=slots, now=15, undone=(undone,)))
    assert fault.path == path and says in fault.problem


def test_undone_work_that_is_left_in_the_past_is_caught() -> None:
    task, slots = plan()
    job = ReplanJob(plan=task, slots=slots, now=25, undone=(Undone(job="a", index=1),))
    result = replan(job, quick())
    assert check_replan(job, result).sound
    choice = result.choices[0]
    old = tuple(slots[4] if (one.job, one.index) == ("a", 1) else one for one in choice.operations)
    moves = tuple(one for one in choice.moves if (one.job, one.index) != ("a", 1))
    spoiled = replace(result, choices=(replace(choice, operations=old, moves=moves, moved=len(moves)), *result.choices[1:]))
    assert any("is not done and starts at 12" in fault.problem for fault in check_replan(job, spoiled).faults)
