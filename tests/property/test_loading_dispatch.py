"""The bound on trucks' lateness at one door, against every order and against every way to interrupt the work."""

from __future__ import annotations

import random
from functools import cache
from itertools import permutations

from solver.loading.dispatch import DockWork, end_of_open_time, least_lateness

Closed = tuple[tuple[int, int], ...]


def random_work(dice: random.Random, most: int, longest: int) -> tuple[DockWork, ...]:
    return tuple(
        DockWork(ready_s=dice.randint(0, 12), work_s=dice.randint(1, longest), due_s=dice.randint(0, 20))
        for _ in range(dice.randint(1, most))
    )


def random_closed(dice: random.Random) -> Closed:
    at, made = 0, []
    for _ in range(dice.randint(0, 3)):
        begin = at + dice.randint(1, 6)
        at = begin + dice.randint(1, 5)
        made.append((begin, at))
    return tuple(made)


def second_by_second(start: int, work_s: int, closed: Closed) -> int:
    now = start
    while work_s:
        work_s -= not any(begin <= now < end for begin, end in closed)
        now += 1
    return now


def best_order(work: tuple[DockWork, ...], closed: Closed) -> int:
    """The least largest lateness of trucks loaded one after the other without interruption."""

    def most_late(order: tuple[DockWork, ...]) -> int:
        now, worst = 0, -1000
        for item in order:
            now = second_by_second(max(now, item.ready_s), item.work_s, closed)
            worst = max(worst, now - item.due_s)
        return worst

    return min(most_late(order) for order in permutations(work))


def best_with_stops(work: tuple[DockWork, ...], closed: Closed) -> int:
    """The least largest lateness when each second may go to any truck that is ready."""

    @cache
    def rest(now: int, left: tuple[int, ...]) -> int:
        if not any(left):
            return -1000
        if any(begin <= now < end for begin, end in closed):
            return rest(now + 1, left)
        options = []
        for n, item in enumerate(work):
            if left[n] and item.ready_s <= now:
                after = (*left[:n], left[n] - 1, *left[n + 1 :])
                done = -1000 if after[n] else now + 1 - item.due_s
                options.append(max(done, rest(now + 1, after)))
        return min(options) if options else rest(now + 1, left)

    return rest(0, tuple(item.work_s for item in work))


def test_the_bound_is_what_free_interruption_could_reach() -> None:
    for seed in range(300):
        dice = random.Random(seed)
        work, closed = random_work(dice, 4, 3), random_closed(dice)
        assert least_lateness(work, closed) == best_with_stops(work, closed), seed


def test_no_order_of_trucks_beats_the_bound_and_where_all_are_ready_one_reaches_it() -> None:
    reached = 0
    for seed in range(300):
        dice = random.Random(seed)
        work, closed = random_work(dice, 5, 6), random_closed(dice)
        bound, best = least_lateness(work, closed), best_order(work, closed)
        assert bound <= best, seed
        reached += bound == best
        ready = tuple(DockWork(ready_s=0, work_s=item.work_s, due_s=item.due_s) for item in work)
        assert least_lateness(ready, closed) == best_order(ready, closed), seed
    assert reached > 150


def test_work_stands_still_while_the_door_is_closed() -> None:
    closed = ((4, 10), (12, 13))
    assert end_of_open_time(0, 4, closed) == 4  # done as the door closes
    assert end_of_open_time(0, 5, closed) == 11
    assert end_of_open_time(5, 3, closed) == 14
    assert end_of_open_time(10, 2, closed) == 12
    for seed in range(200):
        dice = random.Random(seed)
        start, length, shut = dice.randint(0, 20), dice.randint(1, 15), random_closed(dice)
        assert end_of_open_time(start, length, shut) == second_by_second(start, length, shut), seed
