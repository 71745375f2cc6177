"""One order of jobs on a line of machines: the loops that judge all places at once, against timing every order plainly."""

from __future__ import annotations

import itertools
import random
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from solver.domain.timetable import Job, Machine, Operation, ScheduleJob
from solver.jit import COMPILED
from solver.scheduling.check import check
from solver.scheduling.model_size import MOST_CONSTRAINTS, WORTH_A_MODEL, estimate_constraint_count
from solver.scheduling.objectives import objective_value
from solver.scheduling.permutations.flow_shop import build_flow_shop
from solver.scheduling.permutations.insertion import (
    FAR,
    LANES,
    MachineLine,
    anneal_by_reinsertion,
    descend_by_reinsertion,
    insert_job,
    insert_jobs_in_turn,
    iterated_greedy,
    new_workspace,
    remove_job,
    time_jobs_from,
    write_insertion_costs,
)
from solver.scheduling.permutations.line_search import MachineLineSearch, flow_as_machine_line
from solver.scheduling.schedule import schedule
from solver.search import Search, deterministic_search

needs_loops = pytest.mark.skipif(not COMPILED, reason="the search is used where loops are compiled (requirements/fast.in)")


def random_line(dice: random.Random, jobs: int) -> ScheduleJob:
    """Return a flow shop of one order, some jobs without a due date, some holds and releases."""
    machines = dice.randint(2, 5)
    return ScheduleJob(
        objective="weighted_tardiness",
        same_order=True,
        machines=tuple(Machine(id=f"m{k}") for k in range(machines)),
        jobs=tuple(
            Job(
                id=f"j{n}",
                release=dice.choice((0, 0, dice.randint(1, 30))),
                due=None if dice.random() < 0.1 else dice.randint(0, 10 * jobs + 20 * machines),
                weight=dice.randint(0, 5),
                operations=tuple(
                    Operation(on={f"m{k}": dice.randint(0, 20)}, hold=dice.choice((0, 0, 0, dice.randint(1, 9))))
                    for k in range(machines)
                ),
            )
            for n in range(jobs)
        ),
    )


def cost(task: ScheduleJob, order: Sequence[int]) -> int:
    """Return the weighted tardiness of an order, each operation as soon as its job and its machine are free."""
    free: dict[str, int] = {}
    total = 0
    for n in order:
        job = task.jobs[n]
        ready = job.release
        for step in job.operations:
            ((machine, work),) = step.on.items()
            free[machine] = max(ready, free.get(machine, 0)) + work
            ready = free[machine] + step.hold
        total += job.weight * max(0, ready - job.due) if job.due is not None else 0
    return total


def line(task: ScheduleJob) -> MachineLine:
    flow = build_flow_shop(task)
    assert flow is not None
    made = flow_as_machine_line(flow)
    assert made is not None
    return made


@pytest.mark.parametrize("seed", range(40))
def test_every_place_costs_what_the_whole_order_costs(seed: int) -> None:
    dice = random.Random(seed)
    jobs = dice.choice((2, 3, 7, LANES - 1, LANES, LANES + 1, 2 * LANES + 3)) if COMPILED or seed < 5 else 5
    task = random_line(dice, jobs)
    on, order = line(task), dice.sample(range(jobs), jobs)
    room, held = new_workspace(on), np.array(order, np.int64)
    assert time_jobs_from(on, room, held, 0, jobs) == cost(task, order)
    place = dice.randrange(jobs)
    job = order.pop(place)
    remove_job(held, place, jobs)
    assert time_jobs_from(on, room, held, place, jobs - 1) == cost(task, order)
    true = [cost(task, [*order[:at], job, *order[at:]]) for at in range(jobs)]
    write_insertion_costs(on, room, held, jobs - 1, job, FAR)
    assert room.costs[:jobs].tolist() == true
    limit = sorted(true)[jobs // 3]
    write_insertion_costs(on, room, held, jobs - 1, job, limit)
    for told, real in zip(room.costs[:jobs].tolist(), true, strict=True):
        assert told == real if real <= limit else limit < told <= real
    insert_job(held, place, jobs, job)
    assert time_jobs_from(on, room, held, place, jobs) == true[place]


def test_building_puts_each_job_at_its_best_place() -> None:
    dice = random.Random(7)
    task = random_line(dice, 12)
    on, order = line(task), np.zeros(12, np.int64)
    room, given = new_workspace(on), np.array(dice.sample(range(12), 12), np.int64)
    made: list[int] = []
    for size in range(12):
        told = insert_jobs_in_turn(on, room, given, order, size, size + 1)
        job = int(given[size])
        made = min(([*made[:at], job, *made[at:]] for at in range(size, -1, -1)), key=lambda one: cost(task, one))
        assert (told, order[: size + 1].tolist()) == (cost(task, made), made)


@pytest.mark.parametrize("heat", [0.01, 50.0])
def test_a_heat_bath_knows_what_its_orders_cost_and_keeps_the_best(heat: float) -> None:
    task = random_line(random.Random(3), 20)
    on, order = line(task), np.arange(20)
    begun = cost(task, order.tolist())
    best, values = order.copy(), np.array([begun, begun], np.int64)
    dice, room = np.array([5], np.int64), new_workspace(on)
    least = begun
    for _ in range(40):
        anneal_by_reinsertion(on, room, order, best, values, dice, 1, heat)
        least = min(least, cost(task, order.tolist()))
        assert values.tolist() == [cost(task, order.tolist()), least]
        assert sorted(order.tolist()) == list(range(20))
    assert cost(task, best.tolist()) == least < begun


@pytest.mark.parametrize("seed", range(6))
def test_after_a_descent_no_job_has_a_better_place(seed: int) -> None:
    dice = random.Random(seed)
    task = random_line(dice, 9)
    on, order = line(task), np.array(dice.sample(range(9), 9), np.int64)
    room, begun = new_workspace(on), cost(task, order.tolist())
    time_jobs_from(on, room, order, 0, 9)
    told = descend_by_reinsertion(on, room, order, np.array([seed + 1], np.int64))
    found = order.tolist()
    assert told == cost(task, found) <= begun
    for place in range(9):
        left = found[:place] + found[place + 1 :]
        assert min(cost(task, [*left[:at], found[place], *left[at:]]) for at in range(9)) == told


@pytest.mark.parametrize("jobs", [2, 3, 12])
def test_iterated_greedy_knows_what_its_orders_cost_and_keeps_the_best(jobs: int) -> None:
    task = random_line(random.Random(3), jobs)
    on, order = line(task), np.arange(jobs)
    begun = cost(task, order.tolist())
    best, values = order.copy(), np.array([begun, begun], np.int64)
    dice, room = np.array([5], np.int64), new_workspace(on)
    for _ in range(20):
        before = int(values[1])
        iterated_greedy(on, room, order, best, values, dice, 1, 5.0)
        assert values.tolist() == [cost(task, order.tolist()), cost(task, best.tolist())]
        assert values[1] <= min(before, values[0])
        assert sorted(order.tolist()) == list(range(jobs))
    assert values[1] < begun or jobs < 12


def test_a_cold_bath_takes_the_best_place_and_a_hot_one_takes_all() -> None:
    """Two jobs of equal work, one late by 1 whichever goes first, the other by 3: odds of exp(-2 / heat)."""
    jobs = tuple(
        Job(id=f"j{n}", due=due, operations=(Operation(on={"a": 1}), Operation(on={"b": 1}))) for n, due in enumerate((1, 0))
    )
    task = replace(random_line(random.Random(1), 2), machines=(Machine(id="a"), Machine(id="b")), jobs=jobs)
    task = replace(task, jobs=(replace(jobs[0], weight=1), replace(jobs[1], weight=3)))
    on = line(task)
    worth = {order: cost(task, order) for order in itertools.permutations(range(2))}
    near, far = sorted(worth, key=lambda order: worth[order])
    assert worth[far] - worth[near] == 2
    for heat, least, most in ((0.1, 0, 0), (2.0, 0.24, 0.30), (1e6, 0.46, 0.54)):  # exp(-1) / (1 + exp(-1)) = 0.269
        order, dice, seen = np.array(near, np.int64), np.array([11], np.int64), 0
        best, values = order.copy(), np.array([worth[near]] * 2, np.int64)
        for _ in range(4_000):
            anneal_by_reinsertion(on, new_workspace(on), order, best, values, dice, 1, heat)
            seen += order.tolist() == list(far)
        assert least <= seen / 4_000 <= most


@needs_loops
@pytest.mark.parametrize("seed", range(20))
def test_small_lines_are_searched_to_their_optimum(seed: int) -> None:
    task = random_line(random.Random(100 + seed), 6)
    least = min(cost(task, order) for order in itertools.permutations(range(6)))
    flow = build_flow_shop(task)
    assert flow is not None
    search = MachineLineSearch(flow, line(task), deterministic_search(0.3, seed=seed))
    assert [one.greedy for one in search.chains] == [True, False]
    assert objective_value(task, search.improve(deterministic_search(0.3, seed=seed), 0)) == least
    for chain in search.chains:  # each alone finds it too
        assert chain.values[1] == least


@needs_loops
def test_the_search_repeats_gives_sound_timetables_and_finds_more_with_more_work() -> None:
    task = random_line(random.Random(9), 150)
    assert estimate_constraint_count(task) > WORTH_A_MODEL
    asked = ((0.1, 4), (0.1, 4), (2.0, 4), (0.1, 5))
    few, again, many, other = (schedule(task, deterministic_search(seconds, seed=seed)) for seconds, seed in asked)
    assert few == again
    assert [check(task, one).faults for one in (few, many, other)] == [(), (), ()]
    assert (many.objective or 0) < (few.objective or 0)
    assert other.operations != few.operations


@needs_loops
def test_asked_for_no_work_it_still_gives_a_timetable() -> None:
    task = random_line(random.Random(9), 60)
    assert check(task, schedule(task, deterministic_search(0.0, seed=1))).faults == ()


def test_what_the_loops_do_not_count_is_not_given_to_them() -> None:
    task = random_line(random.Random(2), 5)
    far = replace(task.jobs[0], operations=(Operation(on={"m0": 2**31}), *task.jobs[0].operations[1:]))
    one = tuple(replace(job, operations=job.operations[:1]) for job in task.jobs)
    for other in (replace(task, objective="makespan"), replace(task, jobs=(far, *task.jobs[1:])), replace(task, jobs=one)):
        flow = build_flow_shop(other)
        assert flow is not None
        assert flow_as_machine_line(flow) is None


def wide(jobs: int, machines: int, *, closed: bool, same_order: bool, setup: bool) -> ScheduleJob:
    shut = ((5, 9),) if closed else ()
    table = ((0, 1), (1, 0)) if setup else None
    steps = tuple(Operation(on={f"m{k}": 3}, family=k % 2, pause=True) for k in range(machines))
    return ScheduleJob(
        objective="weighted_tardiness",
        same_order=same_order,
        machines=tuple(Machine(id=f"m{k}", closed=shut, setup=table) for k in range(machines)),
        jobs=tuple(Job(id=f"j{n}", due=4 * n, operations=steps) for n in range(jobs)),
    )


def test_a_models_size_is_told_before_it_is_built() -> None:
    """Of a small one the constraints that name two operations, and the arcs, are as many as told."""
    pytest.importorskip("ortools")
    from solver.scheduling.cp_model import ScheduleCpModel

    for same_order, setup in ((True, False), (False, True), (True, True), (False, False)):
        task = wide(7, 3, closed=False, same_order=same_order, setup=setup)
        proto = ScheduleCpModel(task, 1_000).model.proto
        circuits = [one.circuit for one in proto.constraints if one.has_circuit()]
        arcs = sum(1 for one in circuits for a, b in zip(one.tails, one.heads, strict=True) if a != b and a and b)
        pairs = sum(1 for one in proto.constraints if one.has_linear() and len(one.enforcement_literal) == 3)
        assert pairs + arcs == estimate_constraint_count(task)


@pytest.mark.parametrize("closed", [False, True])
def test_no_model_is_built_above_the_limit(closed: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """350 jobs on 50 machines, one order: six million constraints; with closed hours only a rule is left, and it is sound."""
    from solver.scheduling import cp_model

    def never(*_: Any, **__: Any) -> None:
        raise AssertionError("a model is built")

    monkeypatch.setattr(cp_model, "ScheduleCpModel", never)
    large, small = (wide(jobs, 10, closed=closed, same_order=True, setup=False) for jobs in (180, 20))
    assert estimate_constraint_count(large) > MOST_CONSTRAINTS > WORTH_A_MODEL > estimate_constraint_count(small)
    result = schedule(large, deterministic_search(0.05, seed=1))
    assert check(large, result).faults == ()
    with pytest.raises(AssertionError, match="a model is built"):
        schedule(small, Search(seed=1))
