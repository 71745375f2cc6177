"""One order of jobs on all machines: the constraint program and the check against trying everything."""

from __future__ import annotations

import itertools
import random
import time
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Literal

import pytest

from solver.domain.timetable import Job, Machine, Operation, ScheduleJob, ScheduleResult, Slot
from solver.scheduling.check import check
from solver.scheduling.schedule import schedule
from solver.search import Search


def within(seconds: float) -> Search:
    end = time.monotonic() + seconds
    return Search(workers=1, left_s=lambda: end - time.monotonic())


def random_flow(dice: random.Random) -> ScheduleJob:
    """Return two to four jobs of one to three operations, each on one to three of as many machines, some visits repeated."""
    names = [f"m{n}" for n in range(dice.randint(2, 3))]
    jobs = tuple(
        Job(
            id=f"j{n}",
            release=dice.choice((0, 0, 3)),
            due=dice.randint(3, 15),
            weight=dice.randint(1, 3),
            operations=tuple(
                Operation(
                    on={name: dice.randint(0, 6) for name in dice.sample(names, dice.randint(1, min(2, len(names))))},
                    hold=dice.choice((0, 0, 2)),
                )
                for _ in range(dice.randint(1, 3))
            ),
        )
        for n in range(dice.randint(2, 4))
    )
    machines = tuple(Machine(id=name) for name in names)
    objective: Literal["makespan", "weighted_tardiness"] = dice.choice(("makespan", "weighted_tardiness"))
    return ScheduleJob(objective=objective, machines=machines, jobs=jobs, same_order=True)


def least(task: ScheduleJob) -> int:
    """Return the value of the best order and choice of machines; in an order each operation starts as soon as it can."""
    best = None
    for order in itertools.permutations(task.jobs):
        steps = [(job, n, step) for job in order for n, step in enumerate(job.operations)]
        for machines in itertools.product(*(step.on for _, _, step in steps)):
            free: dict[str, int] = {}
            ready: dict[str, int] = {}
            for (job, _, step), machine in zip(steps, machines, strict=True):
                start = max(ready.get(job.id, job.release), free.get(machine, 0))
                free[machine] = start + step.on[machine]
                ready[job.id] = free[machine] + step.hold
            late = sum(job.weight * max(0, ready[job.id] - (job.due or 0)) for job in order)
            value = max(ready.values()) if task.objective == "makespan" else late
            best = value if best is None else min(best, value)
    assert best is not None
    return best


@pytest.mark.parametrize("seed", range(60))
def test_what_is_called_optimal_is_as_good_as_trying_everything(seed: int) -> None:
    task = random_flow(random.Random(seed))
    result = schedule(task, within(60))
    assert [str(fault) for fault in check(task, result).faults] == []
    assert (result.status, result.objective) == ("optimal", least(task))


def shop(routes: dict[str, str]) -> ScheduleJob:
    """Return jobs of one hour an operation by the letters of their machines."""
    letters = sorted(set("".join(routes.values())))
    jobs = tuple(Job(id=name, operations=tuple(Operation(on={one: 1}) for one in route)) for name, route in routes.items())
    machines = tuple(Machine(id=one) for one in letters)
    return ScheduleJob(objective="makespan", machines=machines, jobs=jobs, same_order=True)


def faults(task: ScheduleJob, starts: Mapping[str, Sequence[int]]) -> str:
    slots = tuple(
        Slot(job=job.id, index=n, machine=next(iter(step.on)), start=starts[job.id][n], end=starts[job.id][n] + 1)
        for job in task.jobs
        for n, step in enumerate(job.operations)
    )
    value = max(slot.end for slot in slots)
    result = ScheduleResult(status="feasible", objective=value, lower_bound=0, operations=slots, seconds=0.0)
    return "\n".join(str(fault) for fault in check(task, result).faults)


def test_orders_that_go_in_a_circle_over_three_machines_are_caught() -> None:
    task = shop({"one": "ab", "two": "bc", "three": "ca"})
    around = {"one": (0, 2), "two": (0, 2), "three": (0, 2)}
    assert "different orders" in faults(task, around)
    assert faults(replace(task, same_order=False), around) == ""
    assert faults(task, {"one": (0, 1), "two": (2, 3), "three": (4, 5)}) == ""


def test_a_job_amid_another_is_caught() -> None:
    task = shop({"one": "aa", "two": "a"})
    amid = {"one": (0, 2), "two": (1,)}
    assert "amid" in faults(task, amid)
    assert faults(replace(task, same_order=False), amid) == ""
    assert faults(task, {"one": (0, 1), "two": (2,)}) == ""


def test_one_order_holds_nobody_back_who_is_on_another_machine() -> None:
    jobs = tuple(Job(id=name, operations=(Operation(on={"a": 4, "b": 4}),)) for name in ("one", "two"))
    task = ScheduleJob(objective="makespan", machines=(Machine(id="a"), Machine(id="b")), jobs=jobs, same_order=True)
    result = schedule(task, within(60))
    assert (result.status, result.objective) == ("optimal", 4)
