"""The busiest machine's order first: what an order costs, exact on tiny ones, and lists around it that keep it."""

from __future__ import annotations

import itertools
import random

import numpy as np
import pytest

from solver.domain.timetable import Goals, Job, Machine, Operation, ScheduleJob
from solver.scheduling.lists.annealing import time_list
from solver.scheduling.lists.bottleneck import (
    SequenceAnnealingChain,
    anneal_sequence,
    busiest_machine,
    one_machine_relaxation,
    sequence_costs,
)
from solver.scheduling.lists.rules import dispatch_rules, rule_list
from solver.scheduling.lists.shop import build_shop, slots_from_arrays
from tests.generators.weeks import week
from tests.unit.test_scheduling_lists import sound

MINUTE = 60


def narrow(dice: random.Random, jobs: int) -> ScheduleJob:
    """A machine that is closed now and then and set up between families, before it a release, behind it a hold and a machine.

    Times are whole pieces of the table of costs, so that the table rounds nothing.
    """
    piece = 15 * MINUTE
    return ScheduleJob(
        objective="weighted_tardiness",
        machines=(
            Machine(id="wide"),
            Machine(
                id="narrow",
                closed=((4 * piece, 6 * piece), (13 * piece, 20 * piece)),
                setup=tuple(tuple(piece * abs(a - b) for b in range(3)) for a in range(3)),
                initial=dice.choice((None, 1)),
            ),
        ),
        jobs=tuple(
            Job(
                id=f"j{n}",
                release=piece * dice.randint(0, 3),
                due=piece * dice.randint(3, 18),
                weight=dice.randint(1, 4),
                operations=(
                    Operation(
                        on={"narrow": piece * dice.randint(1, 3)}, family=dice.randrange(3), hold=piece * dice.randint(0, 2)
                    ),
                    Operation(on={"wide": piece}),
                ),
            )
            for n in range(jobs)
        ),
        goals=Goals(tardiness=1, setup=0, flow=0),
    )


def by_hand(task: ScheduleJob, order: tuple[int, ...]) -> int:
    """What an order on the narrow machine costs if the wide one is never in the way, minute by minute, from the job itself."""
    machine = task.machines[1]
    shut = {minute for low, high in machine.closed for minute in range(low // MINUTE, high // MINUTE)}
    assert machine.setup is not None
    at, family, cost = 0, machine.initial, 0
    for n in order:
        job = task.jobs[n]
        first, second = job.operations
        gap = machine.setup[family][first.family] if family is not None else 0
        start, work = max(at + gap, job.release) // MINUTE, first.on["narrow"] // MINUTE
        while any(minute in shut for minute in range(start, start + work)):
            start += 1
        at, family = (start + work) * MINUTE, first.family
        assert job.due is not None
        cost += job.weight * max(0, at + first.hold + second.on["wide"] - job.due)
    return cost


@pytest.mark.parametrize("seed", range(8))
def test_the_best_of_all_orders_of_six_is_found_and_costs_what_it_does_by_hand(seed: int) -> None:
    task = narrow(random.Random(seed), 6)
    shop, named = build_shop(task)
    assert named.machines[busiest_machine(shop)] == "narrow"
    line = one_machine_relaxation(shop, busiest_machine(shop))
    assert line is not None
    costs = {order: by_hand(task, order) for order in itertools.permutations(range(6))}
    for order in list(costs)[::37]:
        assert sequence_costs(line, np.array(order))[0] == costs[order]
    chain = SequenceAnnealingChain(shop, line, seed)
    for heat in (3_000.0, 1_000.0, 300.0):
        chain.anneal_on(400, heat)
    assert chain.values[1] == min(costs.values()) == costs[tuple(chain.best.tolist())]


@pytest.mark.parametrize("seed", range(4))
def test_an_order_looked_at_only_where_it_changed_costs_what_it_does_whole(seed: int) -> None:
    shop, _ = build_shop(week(seed, orders=8, days=3))
    line = one_machine_relaxation(shop, busiest_machine(shop))
    assert line is not None
    chain = SequenceAnnealingChain(shop, line, seed)
    begun = chain.values[1]
    for heat in (1e8, 1e7, 1e6, 0.1):
        chain.anneal_on(60, heat)
        assert sorted(chain.order) == list(range(len(line.operations)))
        assert sequence_costs(line, chain.order)[0] == chain.values[0]
        assert sequence_costs(line, chain.best)[0] == chain.values[1] <= begun


def test_a_list_around_an_order_keeps_it_and_is_sound() -> None:
    task = week(3, orders=10, days=3)
    shop, named = build_shop(task)
    assert named.machines[busiest_machine(shop)] == "press"
    line = one_machine_relaxation(shop, busiest_machine(shop))
    assert line is not None
    chain = SequenceAnnealingChain(shop, line, 5)
    chain.anneal_on(200, 1e7)
    wanted = line.operations[chain.best]
    for rule in dispatch_rules(shop)[::4]:
        found = time_list(shop, *rule_list(shop, rule, *chain.dispatch_targets()))
        assert (np.diff(found.start[wanted]) > 0).all()
        assert sound(task, slots_from_arrays(named, shop, found.pick, found.start, found.end))


def test_the_line_of_a_machine_is_never_dearer_than_a_whole_timetable() -> None:
    """A relaxation, but for the piece of time to which its table rounds up."""
    task = week(7, orders=10, days=3)
    shop, _ = build_shop(task)
    line = one_machine_relaxation(shop, busiest_machine(shop))
    assert line is not None
    chain = SequenceAnnealingChain(shop, line, 2)
    found = time_list(shop, *rule_list(shop, dispatch_rules(shop)[0], *chain.dispatch_targets()))
    order = np.argsort(found.start[line.operations], kind="stable")
    rounded = line.piece * line.slope.sum()
    assert sequence_costs(line, order)[0] <= found.cost + rounded


def test_a_machine_with_less_than_two_operations_of_its_own_has_no_order() -> None:
    two = {"a": 1, "b": 1}
    jobs = tuple(Job(id=f"j{n}", due=1, operations=(Operation(on=two),)) for n in range(3))
    machines = (Machine(id="a"), Machine(id="b"))
    shop, _ = build_shop(ScheduleJob(objective="weighted_tardiness", machines=machines, jobs=jobs))
    assert one_machine_relaxation(shop, 0) is None


def test_operations_without_due_dates_cost_set_ups_only() -> None:
    setup = ((0, 5), (7, 0))
    steps = [Operation(on={"a": 1}, family=n % 2) for n in range(4)]
    jobs = tuple(Job(id=f"j{n}", operations=(step,)) for n, step in enumerate(steps))
    jobs = (*jobs, Job(id="b", due=9, operations=(Operation(on={"b": 1}),)))
    task = ScheduleJob(
        objective="weighted_tardiness",
        machines=(Machine(id="a", setup=setup), Machine(id="b")),
        jobs=jobs,
        goals=Goals(tardiness=1, setup=3, flow=0),
    )
    shop, _ = build_shop(task)
    line = one_machine_relaxation(shop, 0)
    assert line is not None
    order, best = np.arange(4), np.arange(4)
    values = np.array([sequence_costs(line, order)[0]] * 2)
    assert values[0] == 3 * (5 + 7 + 5)
    anneal_sequence(line, order, best, values, 200, 10.0, np.array([1]))
    assert values[1] == 3 * 5 == sequence_costs(line, best)[0]
