"""Timetables against classical instances with known optima, and the worked calendar cases."""

from __future__ import annotations

import time
from datetime import UTC, datetime

import pytest

from service.catalog import read_plant
from solver.domain.timetable import Job, Machine, Operation, ScheduleJob
from solver.scheduling.check import check
from solver.scheduling.plant.shifts import closed_times
from solver.scheduling.schedule import schedule
from solver.search import Search
from tests.published.scheduling_jobs import job_shop
from tests.shared import case, instances

# Fisher and Thompson (1963), "Probabilistic learning combinations of local job-shop scheduling rules": 6 x 6, optimum 55
FT06 = (
    "2 1 0 3 1 6 3 7 5 3 4 6",
    "1 8 2 5 4 10 5 10 0 10 3 4",
    "2 5 3 4 5 8 0 9 1 1 4 7",
    "1 5 0 5 2 5 3 3 4 8 5 9",
    "2 9 1 3 4 5 5 4 0 3 3 1",
    "1 3 3 3 5 9 0 10 4 4 2 1",
)


def within(seconds: float) -> Search:
    end = time.monotonic() + seconds
    return Search(left_s=lambda: end - time.monotonic())


def test_the_six_by_six_job_shop_takes_55() -> None:
    rows = [[[int(a), int(b)] for a, b in zip(row.split()[::2], row.split()[1::2], strict=True)] for row in FT06]
    task = job_shop(rows)
    result = schedule(task, within(60))
    assert (result.objective, result.lower_bound, result.status) == (55, 55, "optimal")
    assert check(task, result).sound


@pytest.mark.parametrize(("name", "optimum"), [("la01", 666), ("ft10", 930)])
def test_job_shops_reach_their_published_optimum(name: str, optimum: int) -> None:
    """Lawrence (1984) la01 = 666; Fisher and Thompson (1963) ft10 = 930 (proved by Carlier and Pinson 1989)."""
    task = job_shop(next(item for item in instances("scheduling/job_shop") if item["name"] == name)["jobs"])
    result = schedule(task, within(60))
    assert result.objective == optimum
    assert (result.status == "optimal") == (result.lower_bound == optimum)
    assert name != "la01" or result.status == "optimal"  # the other's proof takes longer than a test may
    assert check(task, result).sound


def test_one_machine_with_weighted_tardiness_reaches_the_library_optimum() -> None:
    """wt40_001: optimum 913 (OR-Library, wtopt40)."""
    found = next(item for item in instances("scheduling/single_machine_weighted_tardiness") if item["name"] == "wt40_001")
    jobs = tuple(
        Job(id=f"j{n}", operations=(Operation(on={"m": work}),), due=due, weight=weight)
        for n, (work, weight, due) in enumerate(zip(found["p"], found["w"], found["due"], strict=True))
    )
    task = ScheduleJob(objective="weighted_tardiness", machines=(Machine(id="m"),), jobs=jobs)
    result = schedule(task, within(15))
    assert result.objective == 913
    assert check(task, result).sound


MINUTE = 60
SHIFT = ((0, 360), (600, 610), (720, 750), (870, 1440))  # case S7: 06:00-14:30, breaks 10:00-10:10, 12:00-12:30


def one(work: int, *, pause: bool, release: int = 0, closed: tuple[tuple[int, int], ...] = SHIFT) -> tuple[int, int]:
    operation = Operation(on={"saw": work}, pause=pause)
    task = ScheduleJob(
        objective="makespan",
        machines=(Machine(id="saw", closed=closed),),
        jobs=(Job(id="j", operations=(operation,), release=release),),
    )
    result = schedule(task, within(10))
    assert check(task, result).sound
    return result.operations[0].start, result.operations[0].end


def test_work_that_may_pause_goes_on_after_the_break() -> None:
    assert case("S7")["expected"]["cut_240_start_0900_may_pause"] == "ends 13:40"
    assert one(240, pause=True, release=540) == (540, 13 * 60 + 40)


def test_work_that_may_not_pause_starts_at_six_or_another_day() -> None:
    assert case("S7")["expected"]["cut_240_no_pause"] == "06:00 only"
    assert one(240, pause=False)[0] == 360


def test_a_lot_longer_than_any_stretch_never_fits_a_shift() -> None:
    assert case("S7")["expected"]["lot_of_300_min_no_pause"] == "never fits"
    assert one(300, pause=False)[0] == 1440  # only after the last closed time that is stated


def test_a_hold_runs_in_closed_hours() -> None:
    """Laminate ends Friday 13:00, hold 24 h: the cut may start Monday 06:00 (case S7)."""
    day = 1440
    closed = ((0, 4 * day + 360), (4 * day + 870, 7 * day + 360))
    steps = (Operation(on={"press": 60}, hold=day), Operation(on={"saw": 30}))
    machines = (Machine(id="press", closed=closed), Machine(id="saw", closed=closed))
    job = Job(id="lot", operations=steps, release=4 * day + 720)
    task = ScheduleJob(objective="makespan", machines=machines, jobs=(job,))
    result = schedule(task, within(10))
    assert [(slot.start, slot.end) for slot in result.operations] == [
        (4 * day + 720, 4 * day + 780),
        (7 * day + 360, 7 * day + 390),
    ]


def test_shifts_breaks_and_holidays_become_closed_times() -> None:
    plant = read_plant()
    router = next(place for place in plant.workplaces if place.id == "router")
    epoch = datetime(2031, 5, 26, 12, 0, tzinfo=UTC)  # Memorial Day 2031, a holiday of the demo plant; 06:00 in Denver
    closed = closed_times(router, plant, epoch=epoch, days=2)
    assert closed[0] == (0, 24 * 3600)
    assert closed[1] == (27 * 3600, 27 * 3600 + 600)  # Tuesday's break at 09:00
    assert all(low < high for low, high in closed)
