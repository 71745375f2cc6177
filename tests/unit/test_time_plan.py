"""A plan's time is divided before its stages begin; what one leaves goes to those after it; none has more than there is."""

from __future__ import annotations

import pytest

from solver.search import Search
from solver.time_budget import StageTimeBudget


class Clock:
    def __init__(self, seconds: float) -> None:
        self.seconds = seconds

    def left_s(self) -> float:
        return self.seconds


def test_stages_have_their_share_of_what_is_left_and_the_reserve_stays() -> None:
    clock = Clock(100.0)
    time = StageTimeBudget(Search(left_s=clock.left_s), {"nest": 1, "load": 1, "schedule": 2}, 20.0)
    assert time.of("nest").left_s() == pytest.approx(20.0)
    clock.seconds = 98.0  # nesting took 2 s only
    assert time.of("load").left_s() == pytest.approx(78.0 / 3)
    clock.seconds = 90.0
    assert time.of("schedule").left_s() == pytest.approx(70.0)


def test_a_stage_begun_when_time_is_over_has_none() -> None:
    clock = Clock(-3.0)
    time = StageTimeBudget(Search(left_s=clock.left_s), {"nest": 1, "load": 1}, 5.0)
    assert time.of("nest").over()
    assert time.of("load").over()


def test_a_stage_is_asked_for_once() -> None:
    time = StageTimeBudget(Search(), {"nest": 1}, 0.0)
    time.of("nest")
    with pytest.raises((KeyError, ZeroDivisionError)):
        time.of("nest")
