"""One machine with weighted tardiness: changed orders judged by blocks, and the search against all orders."""

from __future__ import annotations

import itertools
import random
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from solver.domain.timetable import Job, Machine, Operation, ScheduleJob
from solver.scheduling.permutations.flow_shop import OrderSearch, build_flow_shop, flow_as_one_machine
from solver.scheduling.permutations.one_machine import (
    best_exchange,
    best_move_earlier,
    best_move_later,
    descend_by_block_exchange,
    exchange_blocks,
    exchanged_blocks_cost,
    iterated_local_search,
    wake_neighbours,
    write_prefix_sums,
)
from solver.search import Search

Line = tuple[Any, Any, Any, int]


def _line(random_: random.Random, size: int, tie: int) -> Line:
    step = np.array([[random_.randint(1, 40) for _ in range(size)] for _ in range(size + 1)], np.int64)
    due = np.array([random_.randint(0, 20 * size) for _ in range(size)], np.int64)
    return step, due, np.array([random_.randint(0, 9) for _ in range(size)], np.int64), tie


def _cost(line: Line, order: list[int]) -> int:
    end, cost, before = 0, 0, -1
    for job in order:
        end += int(line[0][before, job])
        cost += int(line[2][job]) * max(0, end - int(line[1][job])) + line[3] * end
        before = job
    return cost


def _swapped(order: list[int], a: int, b: int, c: int, d: int) -> list[int]:
    return order[:a] + order[c:d] + order[b:c] + order[a:b] + order[d:]


def _drawn(random_: random.Random, n: int) -> tuple[Line, Any, Any]:
    size = random_.randint(2, 9)
    line, order = _line(random_, size, n % 2), np.array(random_.sample(range(size), size), np.int64)
    sums = np.zeros((size + 1, 3), np.int64)
    assert write_prefix_sums(line, order, sums, 0) == _cost(line, order.tolist())
    return line, order, sums


def test_an_exchange_costs_what_the_whole_order_costs_and_is_never_refused_wrongly() -> None:
    random_ = random.Random(5)
    refused = 0
    for n in range(400):
        line, order, sums = _drawn(random_, n)
        a, b, d = sorted(random_.sample(range(len(order) + 1), 3))
        c = random_.randint(b, d - 1)
        made = _swapped(order.tolist(), a, b, c, d)
        cost = _cost(line, made)
        limit = random_.randint(0, 2 * cost + 1)
        found = exchanged_blocks_cost(line, order, sums, a, b, c, d, limit)
        assert found == cost if cost <= limit else limit < found <= cost
        refused += found > limit
        exchange_blocks(order, a, b, c, d)
        assert order.tolist() == made
    assert 50 < refused < 350


@pytest.mark.parametrize("way", ["later", "sooner"])
def test_a_block_goes_to_the_best_place_of_all_within_the_limit(way: str) -> None:
    random_ = random.Random(8)
    nowhere = 0
    for n in range(400):
        line, order, sums = _drawn(random_, n)
        size, old = len(order), order.tolist()
        if way == "later":
            a = random_.randint(0, size - 2)
            b = random_.randint(a + 1, size - 1)
            costs = {d: _cost(line, _swapped(old, a, b, b, d)) for d in range(b + 1, size + 1)}
        else:
            a = random_.randint(1, size - 1)
            b = random_.randint(a + 1, size)
            costs = {d: _cost(line, _swapped(old, d, a, a, b)) for d in range(a)}
        least = min(costs.values())
        limit = max(0, least + random_.randint(-20, 20))
        found, far = (best_move_later if way == "later" else best_move_earlier)(line, order, sums, a, b, limit)
        assert found == min(least, limit + 1)
        assert far == 0 if least > limit else costs[far] == least
        nowhere += least > limit
    assert 50 < nowhere < 350


def test_of_all_moves_of_a_block_and_exchanges_of_a_job_the_best_is_found() -> None:
    random_ = random.Random(9)
    for n in range(100):
        line, order, sums = _drawn(random_, n)
        size, at = len(order), random_.randrange(len(order))
        moves = [(at, b, b, d) for b in range(at + 1, size) for d in range(b + 1, size + 1)]
        moves += [(a, at, at, d) for a in range(at) for d in range(at + 1, size + 1)]
        moves += [(min(at, k), min(at, k) + 1, max(at, k), max(at, k) + 1) for k in range(size) if k != at]
        costs = {move: _cost(line, _swapped(order.tolist(), *move)) for move in moves}
        least, a, b, c, d = best_exchange(line, order, sums, at, 10**9)
        assert least == min(costs.values()) == costs[a, b, c, d]
        assert best_exchange(line, order, sums, at, least - 1)[0] == least


def test_an_exchange_wakes_whoever_has_a_new_neighbour_and_nobody_else() -> None:
    random_ = random.Random(10)
    for _ in range(200):
        size = random_.randint(2, 12)
        old = random_.sample(range(size), size)
        a, b, d = sorted(random_.sample(range(size + 1), 3))
        c = random_.randint(b, d - 1)
        order, awake = np.array(old, np.int64), np.zeros(size, np.bool_)
        exchange_blocks(order, a, b, c, d)
        wake_neighbours(order, awake, a, b, c, d)
        links = [set(itertools.pairwise([-1, *jobs, -1])) for jobs in (old, order.tolist())]
        assert set(np.flatnonzero(awake)) == {job for link in links[1] - links[0] for job in link} - {-1}


def test_a_descent_never_worsens_an_order_and_ends_with_all_asleep() -> None:
    random_ = random.Random(11)
    bettered = 0
    for n in range(60):
        line, order, sums = _drawn(random_, n)
        awake, before = np.ones(len(order), np.bool_), _cost(line, order.tolist())
        cost = descend_by_block_exchange(line, order, sums, before, np.array([3], np.int64), awake)
        assert cost == _cost(line, order.tolist()) <= before
        assert not awake.any()
        bettered += cost < before
    assert bettered > 40


@pytest.mark.parametrize("tie", [0, 1])
def test_the_search_is_as_good_as_trying_all_orders_and_repeats_itself(tie: int) -> None:
    random_ = random.Random(6)
    for _ in range(12):
        size = random_.randint(2, 7)
        line = _line(random_, size, tie)
        least = min(_cost(line, list(order)) for order in itertools.permutations(range(size)))
        ends = []
        for _ in range(2):
            home = np.arange(size, dtype=np.int64)
            best, first = home.copy(), _cost(line, home.tolist())
            values = np.array([first, first], np.int64)
            iterated_local_search(line, home, best, values, np.array([7], np.int64), 60)
            ends.append(best.tolist())
            assert values[1] == least == _cost(line, ends[-1])
            assert values[0] == _cost(line, home.tolist())
        assert ends[0] == ends[1]


def _task(random_: random.Random, size: int, *, by: int = 1) -> ScheduleJob:
    """Jobs with set-ups, some due at their end of a random order, some never; times `by` as long."""
    setup = tuple(tuple(by * random_.randint(0, 30) for _ in range(size + 1)) for _ in range(size + 1))
    jobs = tuple(
        Job(
            id=f"j{n}",
            operations=(Operation(on={"m": by * random_.randint(5, 20)}, family=n),),
            due=by * random_.randint(0, 15 * size) if n else None,
            weight=random_.randint(1, 9),
        )
        for n in range(size)
    )
    return ScheduleJob(objective="weighted_tardiness", machines=(Machine(id="m", setup=setup, initial=size),), jobs=jobs)


@pytest.mark.parametrize("by", [1, 10**13])
def test_what_a_search_over_orders_says_is_the_tardiness_of_its_order_however_long_the_times(by: int) -> None:
    random_ = random.Random(4)
    for _ in range(6):
        flow = build_flow_shop(_task(random_, random_.randint(3, 6), by=by))
        assert flow is not None
        line = flow_as_one_machine(flow)
        assert line is not None
        assert line[0][3] == (by == 1)  # ends decide only where the numbers leave room for it
        search = OrderSearch(flow, 1)
        search.improve(100_000, Search(), 0)
        least = min(flow.value(order) for order in itertools.permutations(range(len(flow.jobs))))
        assert search.value == flow.value(search.best) == least


def test_ends_decide_nothing_where_there_are_no_set_ups() -> None:
    task = _task(random.Random(4), 5)
    flow = build_flow_shop(replace(task, machines=tuple(replace(one, setup=None, initial=None) for one in task.machines)))
    assert flow is not None
    found = flow_as_one_machine(flow)
    assert found is not None
    assert (found[0][3], found[1]) == (0, 1)


def test_ends_decide_between_orders_of_equal_tardiness_only() -> None:
    random_ = random.Random(3)
    for _ in range(10):
        flow = build_flow_shop(_task(random_, 5))
        assert flow is not None
        found = flow_as_one_machine(flow)
        assert found is not None
        (step, due, weight, tie), unit = found
        for order in itertools.permutations(range(5)):
            ends = _cost((step, due, 0 * weight, 1), list(order))
            assert 0 < ends < unit
            assert _cost((step, due, weight, tie), list(order)) == unit * flow.value(order) + ends
