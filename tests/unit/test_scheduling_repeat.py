"""The same timetable for the same seed when asked: no clock decides when such a search ends."""

from __future__ import annotations

import random
import time
from typing import Any

import pytest

from service.usecases.make.stages import run_stage
from solver.domain.timetable import Goals, Job, Machine, Operation, ScheduleJob
from solver.scheduling.check import check
from solver.scheduling.lists.annealing import best_dispatch_timetable
from solver.scheduling.lists.portfolio import improve_large
from solver.scheduling.objectives import objective_value
from solver.scheduling.schedule import schedule
from solver.search import deterministic_search


def shop(*, jobs: int, on: int, late: bool) -> dict[str, Any]:
    """Return a job shop too hard to prove in a moment, as JSON data."""
    dice = random.Random(4)
    return {
        "objective": "weighted_tardiness" if late else "makespan",
        "repeat": True,
        "time_limit_s": 1,
        "machines": [{"id": f"m{n}"} for n in range(on)],
        "jobs": [
            {
                "id": f"j{n}",
                "due": 40 * on,
                "operations": [{"on": {f"m{k}": dice.randint(1, 99)}} for k in dice.sample(range(on), on)],
            }
            for n in range(jobs)
        ],
    }


@pytest.mark.parametrize("late", [False, True])
@pytest.mark.parametrize("seed", [1, 2])
def test_the_same_seed_gives_the_same_timetable_without_a_proof(late: bool, seed: int) -> None:
    job = {**shop(jobs=20, on=15, late=late), "seed": seed}
    first, second = (run_stage("schedule", job) for _ in range(2))
    assert first["status"] == "feasible"
    assert {**first, "seconds": 0} == {**second, "seconds": 0}


def test_a_clock_is_never_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    """With a clock that leaps the answer stays the same."""
    job = shop(jobs=8, on=8, late=True)
    first = run_stage("schedule", job)
    now = iter(range(0, 10**9, 10**4))
    monkeypatch.setattr(time, "monotonic", lambda: float(next(now)))
    second = run_stage("schedule", job)
    assert first["operations"] == second["operations"]


def large(dice: random.Random) -> ScheduleJob:
    jobs = tuple(
        Job(
            id=f"j{n}",
            due=dice.randint(20, 200),
            weight=dice.randint(1, 5),
            operations=tuple(
                Operation(on={f"m{k}": dice.randint(1, 9) for k in dice.sample(range(4), 2)}, family=dice.randrange(2))
                for _ in range(4)
            ),
        )
        for n in range(60)
    )
    machines = tuple(Machine(id=f"m{n}", setup=((0, 3), (3, 0))) for n in range(4))
    return ScheduleJob(objective="weighted_tardiness", machines=machines, jobs=jobs, goals=Goals())


def test_moves_on_large_timetables_repeat_and_more_work_finds_more() -> None:
    task = large(random.Random(3))
    few, again, many = (improve_large(task, None, deterministic_search(seconds, seed=5)) for seconds in (0.1, 0.1, 0.8))
    assert few == again
    costs = [objective_value(task, slots) for slots in (many, few, best_dispatch_timetable(task))]
    assert costs == sorted(set(costs))


def test_asked_for_no_work_it_gives_the_best_rule_at_once() -> None:
    task = large(random.Random(3))
    result = schedule(task, deterministic_search(0.0, seed=1))
    assert check(task, result).faults == ()
