"""Work that came sooner without need goes back where it was released, and no farther than its place allows."""

from __future__ import annotations

from dataclasses import replace

from solver.domain.timetable import Job, Machine, Operation, Pool, ScheduleJob, Slot
from solver.scheduling.buffers.right_shift import restore_released_times
from solver.scheduling.check import check
from solver.scheduling.objectives import objective_value
from tests.property.test_scheduling_why import as_result


def shop() -> ScheduleJob:
    """Two jobs over a saw and a press; from 20 to 30 the press is closed."""
    steps = (Operation(on={"saw": 4}), Operation(on={"press": 3}, hold=2))
    jobs = (Job(id="a", due=50, operations=steps), Job(id="b", due=50, operations=steps))
    machines = (Machine(id="saw", setup=((0,),)), Machine(id="press", closed=((20, 30),)))
    return ScheduleJob(objective="weighted_tardiness", machines=machines, jobs=jobs)


def slots(*starts: int) -> tuple[Slot, ...]:
    """Return a saw and a press slot for each job."""
    made = []
    for n, start in enumerate(starts):
        machine, work = ("saw", 4) if n % 2 == 0 else ("press", 3)
        made.append(Slot(job="ab"[n // 2], index=n % 2, machine=machine, start=start, end=start + work))
    return tuple(made)


def after(task: ScheduleJob, now: tuple[Slot, ...], released: tuple[Slot, ...], kept: tuple[Slot, ...] = ()) -> list[int]:
    made = restore_released_times(
        task, now, {(one.job, one.index): one for one in kept}, {(one.job, one.index): one for one in released}
    )
    assert check(task, as_result(task, made)).faults == ()
    assert objective_value(task, made) <= objective_value(task, now)
    return [slot.start for slot in sorted(made, key=lambda slot: (slot.job, slot.index))]


SOONER = slots(0, 4, 4, 8)


def test_all_goes_back_where_nothing_is_in_the_way() -> None:
    assert after(shop(), SOONER, slots(6, 10, 10, 14)) == [6, 10, 10, 14]


def test_what_stays_and_what_waits_for_it_are_in_the_way() -> None:
    stays = SOONER[3:]
    assert after(shop(), SOONER, slots(6, 10, 10, 14), stays) == [0, 5, 4, 8]


def test_nothing_goes_into_closed_hours_or_beyond_its_due_date() -> None:
    assert after(shop(), SOONER, slots(6, 19, 10, 24)) == [6, 14, 10, 17]
    task = shop()
    hurried = replace(task, jobs=(task.jobs[0], replace(task.jobs[1], due=15)))
    assert after(hurried, SOONER, slots(6, 10, 10, 14)) == [2, 7, 6, 10]


def test_other_machines_and_later_work_are_left_alone() -> None:
    assert after(shop(), slots(6, 10, 10, 14), slots(0, 4, 4, 8)) == [6, 10, 10, 14]


def test_people_who_are_busy_are_in_the_way() -> None:
    task = replace(shop(), pools=(Pool(id="crew", size=1, uses={"saw": 1, "press": 1}),))
    now = slots(0, 8, 4, 11)
    assert after(task, now, slots(2, 8, 4, 11)) == [0, 8, 4, 11]
    assert after(task, now, slots(0, 8, 4, 16)) == [0, 8, 4, 16]
