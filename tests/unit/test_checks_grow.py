"""Checks of large timetables grow no faster than sorting does: counted in steps of the interpreter, not in seconds."""

from __future__ import annotations

import random
import sys
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from types import FrameType
from typing import Any

from solver.domain.timetable import Buffer, BufferStay, Job, Machine, Operation, Pool, ScheduleJob, ScheduleResult
from solver.plan_check import _levels
from solver.scheduling.buffers.overfull import overfull_buffers
from solver.scheduling.buffers.serial import serial_schedule
from solver.scheduling.check import check
from solver.scheduling.objectives import objective_value

TWICE = 2.4  # how much more twice as much may take: 2 log(2n) / log(n), and a little


def steps(run: Callable[[], object]) -> int:
    """Return how many instructions the interpreter runs for something."""
    count = 0

    def trace(frame: FrameType, event: str, _arg: Any) -> Any:
        nonlocal count
        frame.f_trace_opcodes = True
        count += event == "opcode"
        return trace

    before = sys.gettrace()
    sys.settrace(trace)
    try:
        run()
    finally:
        sys.settrace(before)
    return count


def line_of(size: int) -> tuple[ScheduleJob, ScheduleResult]:
    """Jobs through a press and a saw that closes every night, each brought before a room and fetched by the next machine."""
    closed = tuple((100 * n + 60, 100 * n + 100) for n in range(size))
    machines = (Machine(id="press", closed=closed, setup=((0, 1), (1, 0)), initial=0), Machine(id="saw", closed=closed))
    jobs, stays = [], []
    for n in range(size):
        press, saw = Operation(on={"press": 7}, family=n % 2), Operation(on={"saw": 9}, pause=True)
        jobs.append(Job(id=f"lot {n}", operations=(press,)))
        jobs.append(Job(id=f"bar {n}", operations=(saw,), after=(f"lot {n}",), due=10 * n))
        stays.append(BufferStay(job=f"lot {n}", until=f"bar {n}"))
    task = ScheduleJob(
        objective="weighted_tardiness",
        machines=machines,
        jobs=tuple(jobs),
        pools=(Pool(id="crew", size=2, uses={"press": 1, "saw": 1}),),
        rooms=(Buffer(id="between", size=4, stays=tuple(stays)),),
        soft_rooms=True,
    )
    slots = serial_schedule(task)
    return task, ScheduleResult(
        status="feasible",
        objective=objective_value(task, slots),
        lower_bound=0,
        operations=slots,
        seconds=0.0,
        overfull=overfull_buffers(task, slots),
    )


def test_the_check_of_twice_as_much_takes_about_twice_as_long() -> None:
    small, large = line_of(150), line_of(300)
    for task, result in (small, large):
        assert check(task, result).faults == ()
    assert steps(lambda: check(*large)) < TWICE * steps(lambda: check(*small))


def test_the_check_still_sees_what_a_sweep_might_miss() -> None:
    """A person too few, a room too small, an hour in the night: each is seen."""
    task, result = line_of(60)
    few = replace(task, pools=(replace(task.pools[0], size=1),))
    assert any(fault.path == "pools.crew" for fault in check(few, result).faults)
    small = replace(task, soft_rooms=False, rooms=(replace(task.rooms[0], size=1),))
    assert any(fault.path == "rooms.between" for fault in check(small, result).faults)
    night = tuple(replace(slot, start=slot.start + 60, end=slot.end + 60) for slot in result.operations)
    assert any("closed hours" in fault.problem for fault in check(task, replace(result, operations=night)).faults)


def test_what_waits_is_counted_in_one_sweep_as_it_is_instant_by_instant() -> None:
    dice = random.Random(7)
    spans = [(low, low + dice.randint(0, 40)) for low in (dice.randint(0, 100) for _ in range(300))]
    made = _levels(spans)
    assert {(low, there) for low, _, there in made} == {(low, sum(a <= low < b for a, b in spans)) for low, _, _ in made}
    assert all(one[1] == two[0] for one, two in pairwise(made))
    long = [(3 * n, 3 * n + 900) for n in range(2_000)]
    assert steps(lambda: _levels(long)) < TWICE * steps(lambda: _levels(long[:1_000]))
