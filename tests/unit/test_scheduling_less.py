"""Less set-up and flow time once lateness is settled, never at the cost of lateness; small jobs reach the least."""

from __future__ import annotations

import itertools
import random
from dataclasses import replace

import numpy as np
import pytest

from solver.domain.timetable import Goals, Job, Machine, Operation, ScheduleJob
from solver.scheduling.check import check
from solver.scheduling.dispatch import dispatch_by_rule
from solver.scheduling.lists.annealing import time_list
from solver.scheduling.lists.secondary import has_secondary_goals, improve_secondary
from solver.scheduling.lists.shop import build_shop, slots_from_arrays
from solver.scheduling.objectives import objective_value, secondary_costs
from solver.scheduling.schedule import schedule
from tests.unit.test_scheduling_lists import counted, sound
from tests.unit.test_scheduling_schedule import random_task

GOALS = Goals()


def beside(task: ScheduleJob, setup: int, flow: int) -> int:
    goals = task.goals or GOALS
    return goals.setup * setup + goals.flow * flow


def least(task: ScheduleJob) -> tuple[int, int]:
    """Least lateness, and at that the least set-up and flow time, over every list and every choice of machines."""
    shop, named = build_shop(task)
    index, found = named.index, []
    for names in set(itertools.permutations(name for name, _ in named.keys)):
        seen = dict.fromkeys(names, 0)
        order = []
        for name in names:
            order.append(index[name, seen[name]])
            seen[name] += 1
        place = {n: k for k, n in enumerate(order)}
        if any(place[int(shop.before[k])] > place[n] for n in order for k in range(shop.before_at[n], shop.before_at[n + 1])):
            continue
        for pick in itertools.product(*(range(shop.lane_at[n], shop.lane_at[n + 1]) for n in range(len(order)))):
            one = time_list(shop, np.array(order), np.array(pick))
            slots = slots_from_arrays(named, shop, one.pick, one.start, one.end)
            found.append((objective_value(task, slots), beside(task, *secondary_costs(task, slots))))
    return min(found)


@pytest.mark.parametrize("seed", range(12))
def test_small_jobs_reach_the_least_of_all_orders(seed: int) -> None:
    task = replace(random_task(random.Random(seed)), objective="weighted_tardiness", goals=GOALS)
    made = schedule(task, counted(400))
    assert made.status == "optimal"
    assert made.objective is not None
    assert made.setup is not None
    assert made.flow is not None
    assert (made.objective, beside(task, made.setup, made.flow)) == least(task)
    assert check(task, made).sound


@pytest.mark.parametrize("seed", range(12))
def test_never_later_and_never_more_beside(seed: int) -> None:
    """From any rule's timetable, be it the best or not."""
    task = replace(random_task(random.Random(seed)), objective="weighted_tardiness", goals=GOALS)
    start = dispatch_by_rule(task, "long")
    slots = improve_secondary(task, start, counted(400))
    assert sound(task, slots)
    assert objective_value(task, slots) <= objective_value(task, start)
    if objective_value(task, slots) == objective_value(task, start):
        assert beside(task, *secondary_costs(task, slots)) <= beside(task, *secondary_costs(task, start))


def three(goals: Goals | None) -> ScheduleJob:
    """Three jobs of 10, the middle one of another family, all due late; 5 of set-up between families."""
    jobs = tuple(
        Job(id=name, operations=(Operation(on={"m": 10}, family=n),), due=100 + n)
        for name, n in zip("abc", (0, 1, 0), strict=True)
    )
    return ScheduleJob(
        objective="weighted_tardiness", machines=(Machine(id="m", setup=((0, 5), (5, 0))),), jobs=jobs, goals=goals
    )


def test_jobs_of_a_family_come_together_where_nothing_is_late() -> None:
    """By hand: a, c, b end at 10, 20, 35: one set-up, flow 65; a, b, c need two set-ups and end at 10, 25, 40."""
    made = schedule(three(GOALS), counted(400))
    assert (made.status, made.objective, made.setup, made.flow) == ("optimal", 0, 5, 65)


def test_a_second_late_is_not_paid_for_with_set_ups() -> None:
    """Due at 10, 25 and 40 only the order a, b, c is on time, with two set-ups."""
    task = three(replace(GOALS, setup=1_000_000))
    task = replace(task, jobs=tuple(replace(job, due=due) for job, due in zip(task.jobs, (10, 25, 40), strict=True)))
    made = schedule(task, counted(400))
    assert (made.objective, made.setup) == (0, 10)


def test_not_minded_where_nothing_is_asked_or_one_order_holds() -> None:
    assert has_secondary_goals(three(GOALS))
    assert not has_secondary_goals(three(None))
    assert not has_secondary_goals(three(Goals(setup=0, flow=0)))
    assert not has_secondary_goals(replace(three(GOALS), same_order=True))
    assert not has_secondary_goals(replace(three(GOALS), objective="makespan"))
