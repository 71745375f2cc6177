"""One machine with weighted tardiness: changed orders judged by blocks, and the search against all orders."""

from __future__ import annotations

import itertools
import random
from typing import Any

import numpy as np

from solver.scheduling.one_machine import exchange, exchanged, kick_one, remember


def _line(random_: random.Random, size: int) -> tuple[Any, Any, Any]:
    step = np.array([[random_.randint(1, 40) for _ in range(size)] for _ in range(size + 1)], np.int64)
    due = np.array([random_.randint(0, 20 * size) for _ in range(size)], np.int64)
    return step, due, np.array([random_.randint(0, 9) for _ in range(size)], np.int64)


def _cost(line: tuple[Any, Any, Any], order: list[int]) -> int:
    end, cost, before = 0, 0, -1
    for job in order:
        end += int(line[0][before, job])
        cost += int(line[2][job]) * max(0, end - int(line[1][job]))
        before = job
    return cost


def test_an_exchange_costs_what_the_whole_order_costs_and_is_never_refused_wrongly() -> None:
    random_ = random.Random(5)
    refused = 0
    for _ in range(400):
        size = random_.randint(2, 9)
        line, order = _line(random_, size), np.array(random_.sample(range(size), size), np.int64)
        sums = np.zeros((size + 1, 3), np.int64)
        assert remember(line, order, sums, 0) == _cost(line, order.tolist())
        a, b, d = sorted(random_.sample(range(size + 1), 3))
        c = random_.randint(b, d - 1)
        made = order.tolist()
        made = made[:a] + made[c:d] + made[b:c] + made[a:b] + made[d:]
        cost = _cost(line, made)
        limit = random_.randint(0, 2 * cost + 1)
        found = exchanged(line, order, sums, a, b, c, d, limit)
        assert found == cost if cost <= limit else limit < found <= cost
        refused += found > limit
        exchange(order, a, b, c, d)
        assert order.tolist() == made
    assert 50 < refused < 350


def test_the_search_is_as_good_as_trying_all_orders_and_repeats_itself() -> None:
    random_ = random.Random(6)
    for _ in range(12):
        size = random_.randint(2, 7)
        line = _line(random_, size)
        least = min(_cost(line, list(order)) for order in itertools.permutations(range(size)))
        ends = []
        for _ in range(2):
            home = np.arange(size, dtype=np.int64)
            best, first = home.copy(), _cost(line, home.tolist())
            values = np.array([first, first], np.int64)
            kick_one(line, home, best, values, np.array([7], np.int64), 30)
            ends.append(best.tolist())
            assert values[1] == least == _cost(line, ends[-1])
        assert ends[0] == ends[1]
