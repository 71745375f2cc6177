"""Loading and stacking with little time or none: always an answer, sound and with true bounds, and then an end."""

from __future__ import annotations

from dataclasses import replace

import pytest

from solver.bundling.check import check as check_stack
from solver.bundling.stack import stack
from solver.domain.bundle import StackJob
from solver.loading.check import check
from solver.loading.load import load
from solver.search import Search
from solver.units import Nm
from tests.generators.loads import random_load
from tests.generators.stacks import LIMITS, piece, small_job


class Clock:
    """A clock that goes on by itself each time it is looked at, and counts the looks after the time was over."""

    def __init__(self, left_s: float, step_s: float = 0.001) -> None:
        self.left, self.step, self.late = left_s, step_s, 0

    def left_s(self) -> float:
        self.left -= self.step
        self.late += self.left <= 0
        return self.left


@pytest.mark.parametrize("seconds", [0.0, 0.05])
@pytest.mark.parametrize("seed", range(0, 60, 3))
def test_a_load_without_time_is_sound(seed: int, seconds: float) -> None:
    job = random_load(seed)
    result = load(job, Search(left_s=Clock(seconds).left_s))
    assert check(job, result).faults == ()
    assert result.status in ("optimal", "feasible")
    assert result.trucks_lower_bound <= result.trucks <= 2 * result.trucks_lower_bound + 1


@pytest.mark.parametrize("seed", [19, 28, 85])
def test_once_time_is_over_loading_does_not_go_on(seed: int) -> None:
    """About 40 to 60 bundles whose bound is not reached at once: the search would go on for tens of thousands of trials."""
    clock = Clock(0.2)
    load(random_load(seed), Search(left_s=clock.left_s))
    assert clock.late < 20


@pytest.mark.parametrize("seed", range(12))
def test_a_stack_without_time_is_sound_and_keeps_to_what_may_be_set_aside(seed: int) -> None:
    job = small_job(seed, set_aside=3)
    job = replace(job, pieces=tuple(item for item in job.pieces if item.length_nm <= job.limits.length_nm))
    slow, quick = stack(job, Search()), stack(job, Search(left_s=lambda: 0.0))
    assert check_stack(job, quick).faults == ()
    assert quick.lower_bound <= len(slow.bundles) <= len(quick.bundles)


def test_once_time_is_over_stacking_looks_for_no_other_order() -> None:
    """Lengths by turns, so that order and stability conflict everywhere: each stack would be searched for its best order."""
    pieces = tuple(piece(number, (96, 180, 120, 240)[number % 4]) for number in range(1, 121))
    job = StackJob(limits=replace(LIMITS, set_aside=4, height_nm=Nm(2 * LIMITS.height_nm)), pieces=pieces)
    clock = Clock(0.02)
    result = stack(job, Search(left_s=clock.left_s))
    assert check_stack(job, result).faults == ()
    assert result.status == "feasible"
    assert clock.late < 300
