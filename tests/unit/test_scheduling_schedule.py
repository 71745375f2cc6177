"""Generic timetables: refused, exact on small jobs, and every way to spoil one is caught."""

from __future__ import annotations

import itertools
import random
import time
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from solver.codec import decode
from solver.domain.timetable import Job, Machine, Operation, ScheduleJob, ScheduleResult, Slot
from solver.scheduling.check import check
from solver.scheduling.dispatch import RULES, dispatch_by_rule
from solver.scheduling.faults import validate
from solver.scheduling.schedule import schedule
from solver.search import Search


def within(seconds: float) -> Search:
    end = time.monotonic() + seconds
    return Search(left_s=lambda: end - time.monotonic())


def faults(data: dict[str, Any]) -> list[str]:
    return [fault.path for fault in validate(decode(ScheduleJob, data, name="$"))]


def test_every_fault_is_named() -> None:
    data: dict[str, Any] = {
        "objective": "makespan",
        "machines": [{"id": "m", "closed": [[5, 3], [10, 20], [15, 30]], "setup": [[0]], "initial": 3}, {"id": "m"}],
        "jobs": [
            {"id": "a", "operations": [{"on": {"x": 1}, "family": 1}], "after": ["zz"]},
            {"id": "b", "operations": []},
            {"id": "c", "operations": [{"on": {}}]},
        ],
    }
    data["jobs"].append({"id": "d", "operations": [{"on": {"m": 1}, "family": 1}]})
    assert set(faults(data)) == {
        "machines[1].id",
        "machines[0].closed[0]",
        "machines[0].closed[2]",
        "machines[0].setup",
        "machines[0].initial",
        "jobs[0].after",
        "jobs[0].operations[0].on.x",
        "jobs[1].operations",
        "jobs[2].operations[0].on",
    }


def test_jobs_that_wait_in_a_circle_are_refused() -> None:
    one = {"id": "a", "operations": [{"on": {"m": 1}}], "after": ["b"]}
    two = {"id": "b", "operations": [{"on": {"m": 1}}], "after": ["a"]}
    assert faults({"objective": "makespan", "machines": [{"id": "m"}], "jobs": [one, two]}) == ["jobs"]


def test_no_jobs_make_an_empty_best_timetable() -> None:
    result = schedule(ScheduleJob(objective="makespan", machines=(), jobs=()), within(1))
    assert (result.status, result.objective, result.operations) == ("optimal", 0, ())


def random_task(dice: random.Random) -> ScheduleJob:
    machines = tuple(
        Machine(
            id=f"m{n}",
            closed=tuple((t, t + dice.randint(1, 4)) for t in (dice.randint(0, 6), dice.randint(12, 18)))
            if dice.random() < 0.5
            else (),
            setup=tuple(tuple(dice.randint(0, 5) for _ in range(2)) for _ in range(2)) if dice.random() < 0.5 else None,
            initial=0 if dice.random() < 0.5 else None,
        )
        for n in range(2)
    )
    machines = tuple(replace(one, initial=None) if one.setup is None else one for one in machines)
    jobs = tuple(
        Job(
            id=f"j{n}",
            operations=tuple(
                Operation(
                    on={f"m{k}": dice.randint(1, 5) for k in dice.sample(range(2), dice.randint(1, 2))},
                    family=dice.randint(0, 1),
                    hold=dice.choice((0, 0, 3)),
                    pause=dice.random() < 0.4,
                )
                for _ in range(dice.randint(1, 2))
            ),
            release=dice.choice((0, 0, 4)),
            due=dice.randint(4, 20),
            weight=dice.randint(1, 3),
            after=("j0",) if n == 2 and dice.random() < 0.5 else (),
        )
        for n in range(3)
    )
    return ScheduleJob(objective=dice.choice(("makespan", "weighted_tardiness")), machines=machines, jobs=jobs)


def brute_force(task: ScheduleJob) -> int:
    """The best objective over all orders of operations and choices of machines, each started as early as can be.

    With set-ups that break the triangle a later start can never help here: every order is tried.
    """
    steps = [(job, n) for job in task.jobs for n in range(len(job.operations))]
    best = None
    for order in set(itertools.permutations(job.id for job, _ in steps)):
        for picks in itertools.product(*(sorted(job.operations[n].on) for job, n in steps)):
            chosen = {(job.id, n): machine for (job, n), machine in zip(steps, picks, strict=True)}
            value = _run(task, order, chosen)
            if value is not None and (best is None or value < best):
                best = value
    assert best is not None
    return best


def _run(task: ScheduleJob, order: tuple[str, ...], chosen: dict[tuple[str, int], str]) -> int | None:
    jobs = {job.id: job for job in task.jobs}
    machines = {machine.id: machine for machine in task.machines}
    at = dict.fromkeys(jobs, 0)
    ready = {job.id: job.release for job in task.jobs}
    free: dict[str, tuple[int, int | None]] = {machine.id: (0, machine.initial) for machine in task.machines}
    for name in order:
        job, n = jobs[name], at[name]
        if n == 0:
            if any(at[other] < len(jobs[other].operations) for other in job.after):
                return None
            ready[name] = max([job.release, *(ready[other] for other in job.after)])
        operation, machine = job.operations[n], machines[chosen[name, n]]
        end, family = free[machine.id]
        gap = machine.setup[family][operation.family] if machine.setup is not None and family is not None else 0
        start = max(ready[name], end + gap)
        shut = {unit for low, high in machine.closed for unit in range(low, high)}
        work = operation.on[machine.id]
        while True:
            if operation.pause:
                stop, done = start, 0
                while done < work:
                    done += stop not in shut
                    stop += 1
                if start not in shut:
                    break
            else:
                stop = start + work
                if not shut & set(range(start, stop)):
                    break
            start += 1
        free[machine.id] = (stop, operation.family)
        ready[name] = stop + operation.hold
        at[name] += 1
    if task.objective == "makespan":
        return max(ready.values())
    return sum(job.weight * max(0, ready[job.id] - (job.due or 0)) for job in task.jobs)


@pytest.mark.parametrize("seed", range(40))
def test_small_timetables_are_as_good_as_brute_force(seed: int) -> None:
    task = random_task(random.Random(seed))
    result = schedule(task, within(20))
    assert check(task, result).faults == ()
    assert result.status == "optimal"
    assert result.objective == brute_force(task)


@pytest.mark.parametrize("seed", range(10))
def test_a_set_up_table_need_not_know_families_of_other_machines(seed: int) -> None:
    dice = random.Random(seed)
    task = random_task(dice)
    there = Machine(id="there")
    jobs = tuple(
        replace(job, operations=(*job.operations, Operation(on={"there": dice.randint(1, 4)}, family=90))) for job in task.jobs
    )
    task = replace(task, machines=(*task.machines, there), jobs=jobs)
    assert validate(task) == []
    result = schedule(task, within(20))
    assert check(task, result).faults == ()
    assert (result.status, result.objective) == ("optimal", brute_force(task))


@pytest.mark.parametrize("rule", RULES)
def test_each_dispatch_rule_makes_sound_timetables(rule: str) -> None:
    for seed in range(60):
        task = random_task(random.Random(1000 + seed))
        slots = dispatch_by_rule(task, rule)
        from solver.scheduling.objectives import objective_value

        value = objective_value(task, slots)
        result = ScheduleResult(
            status="optimal" if value == 0 else "feasible", objective=value, lower_bound=0, operations=slots, seconds=0.0
        )
        assert check(task, result).faults == ()


def flow_task() -> ScheduleJob:
    dice = random.Random(5)
    machines = tuple(Machine(id=f"m{n}") for n in range(3))
    jobs = tuple(
        Job(id=f"j{n}", operations=tuple(Operation(on={f"m{k}": dice.randint(1, 9)}) for k in range(3)), due=12, weight=2)
        for n in range(5)
    )
    return ScheduleJob(objective="weighted_tardiness", machines=machines, jobs=jobs, same_order=True)


def test_one_order_on_all_machines_is_as_good_as_trying_all_orders() -> None:
    task = flow_task()
    result = schedule(task, within(60))
    assert check(task, result).faults == ()
    best = None
    for order in itertools.permutations(task.jobs):
        front = [0, 0, 0]
        late = 0
        for job in order:
            for k, operation in enumerate(job.operations):
                front[k] = max(front[k], front[k - 1] if k else 0) + operation.on[f"m{k}"]
            late += job.weight * max(0, front[2] - (job.due or 0))
        best = late if best is None else min(best, late)
    assert result.objective == best


def base() -> tuple[ScheduleJob, ScheduleResult]:
    machines = (
        Machine(id="saw", closed=((20, 30),), setup=((0, 4), (4, 0)), initial=0),
        Machine(id="press"),
    )
    jobs = (
        Job(id="a", operations=(Operation(on={"press": 5}, hold=3), Operation(on={"saw": 6}, family=1)), due=10),
        Job(id="b", operations=(Operation(on={"press": 4}), Operation(on={"saw": 5, "press": 9})), release=2, due=9, weight=3),
        Job(id="c", operations=(Operation(on={"saw": 12}, pause=True),), after=("b",), due=30),
    )
    task = ScheduleJob(objective="weighted_tardiness", machines=machines, jobs=jobs)
    return task, schedule(task, within(20))


def moved(result: ScheduleResult, key: tuple[str, int], **changes: Any) -> ScheduleResult:
    slots = tuple(replace(slot, **changes) if (slot.job, slot.index) == key else slot for slot in result.operations)
    return replace(result, operations=slots)


def slot_of(result: ScheduleResult, key: tuple[str, int]) -> Slot:
    return next(slot for slot in result.operations if (slot.job, slot.index) == key)


def by(result: ScheduleResult, key: tuple[str, int], shift: int) -> ScheduleResult:
    slot = slot_of(result, key)
    return moved(result, key, start=slot.start + shift, end=slot.end + shift)


SPOILED: dict[str, tuple[Callable[[ScheduleResult], ScheduleResult], str]] = {
    "an operation is lost": (lambda r: replace(r, operations=r.operations[1:]), "is missing"),
    "an operation is done twice": (lambda r: replace(r, operations=(*r.operations, r.operations[0])), "is done twice"),
    "an operation nobody asked for": (
        lambda r: replace(r, operations=(*r.operations, Slot(job="z", index=0, machine="saw", start=90, end=91))),
        "was not asked for",
    ),
    "on a machine that cannot": (lambda r: moved(r, ("a", 1), machine="press"), "which cannot do it"),
    "on a machine that is not there": (lambda r: moved(r, ("a", 1), machine="lathe"), "which cannot do it"),
    "before time zero": (lambda r: moved(r, ("a", 0), start=-5, end=0), "0 or later"),
    "shorter than the work": (lambda r: moved(r, ("a", 0), end=slot_of(r, ("a", 0)).end - 1), "works"),
    "before its release": (lambda r: moved(r, ("b", 0), start=0, end=4), "before"),
    "before its hold is over": (lambda r: by(r, ("a", 1), slot_of(r, ("a", 0)).end - slot_of(r, ("a", 1)).start), "before"),
    "before the job it waits for": (lambda r: moved(r, ("c", 0), start=0, end=12), "before"),
    "in closed hours": (lambda r: moved(r, ("a", 1), start=21, end=27), "closed hours"),
    "begun in closed hours": (lambda r: moved(r, ("c", 0), start=25, end=42), "begins or ends in closed hours"),
    "two at one time": (
        lambda r: moved(r, ("b", 0), start=slot_of(r, ("a", 0)).start, end=slot_of(r, ("a", 0)).start + 4),
        "free",
    ),
    "without the set-up": (lambda r: by(r, ("a", 1), -100), "free and set up"),
    "a wrong value": (lambda r: replace(r, objective=(r.objective or 0) + 1), "is true"),
    "a bound above the value": (lambda r: replace(r, lower_bound=(r.objective or 0) + 5), "above the value"),
    "called optimal below the value": (lambda r: replace(r, lower_bound=(r.objective or 0) - 1), "optimal only at the bound"),
    "unknown, yet a plan": (lambda r: replace(r, status="unknown"), "yet there is a plan"),
}


def test_what_is_spoiled_was_sound() -> None:
    task, result = base()
    assert result.objective is not None and result.objective > 0
    assert check(task, result).faults == ()


@pytest.mark.parametrize("name", SPOILED)
def test_a_spoiled_timetable_is_caught(name: str) -> None:
    task, result = base()
    spoil, words = SPOILED[name]
    said = "\n".join(str(fault) for fault in check(task, spoil(result)).faults)
    assert words in said, said


def test_machines_in_different_orders_are_caught_where_one_order_is_asked_for() -> None:
    task = flow_task()
    free = schedule(replace(task, same_order=False), within(10))
    swapped = [slot.job for slot in sorted(free.operations, key=lambda s: s.start) if slot.machine == "m0"]
    slots, at = [], 0
    for n in range(3):
        for name in swapped if n != 1 else reversed(swapped):
            work = next(job for job in task.jobs if job.id == name).operations[n].on[f"m{n}"]
            slots.append(Slot(job=name, index=n, machine=f"m{n}", start=at, end=at + work))
            at += work
    result = replace(free, operations=tuple(slots))
    assert any("one order" in fault.fix for fault in check(task, result).faults)
