"""Hours of a plant have no end: no work at night however late its material comes, and the check reads the catalog itself."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from solver.domain.plant import Plant, Shift, Workplace
from solver.domain.stock import CoreStock
from solver.domain.timetable import Job, Machine, Operation, PlannedOperation, ScheduleJob, ScheduleResult, Slot, Timetable
from solver.scheduling.calendar_horizon import double_listed_hours, exceeds_listed_hours, schedule_within_listed_hours
from solver.scheduling.check_hours import faults_in_hours
from solver.scheduling.plant.machines import AFTER_DAYS
from solver.scheduling.plant.shifts import closed_times
from solver.scheduling.plant.timetable import plant_timetable
from solver.search import Search
from solver.units import Seconds
from tests.orders import plant
from tests.unit.test_scheduling_operations import DAY, EPOCH, bare, table_of, work_of

HOUR = 3600


def late_core(days: int) -> Plant:
    """The demo plant with no core before so many days have gone by."""
    ready = (EPOCH + timedelta(days=days)).isoformat()
    grades = {family.core for family in plant().families}
    return replace(
        bare(), cores=tuple(CoreStock(core=core, litres=10**9, ready=ready) for core in sorted(grades)), seasoning_s=0
    )


def test_an_order_whose_core_comes_after_200_days_is_worked_in_the_shifts_of_the_catalog() -> None:
    """The demo plant's longest shift is 06:00 to 22:00 on weekdays; read here by the clock on the wall, for each operation."""
    work = work_of(late_core(200))
    table = table_of(work)
    assert faults_in_hours(plant(), table) == []
    zone, late = ZoneInfo(plant().time_zone), 0
    for one in table.operations:
        if one.start_s < 200 * DAY or one.start_s == one.end_s:
            continue
        late += 1
        for at in (one.start_s, one.end_s - 1):
            wall = (EPOCH + timedelta(seconds=at)).astimezone(zone)
            assert 6 <= wall.hour < 22 and wall.weekday() < 5, (one, wall)
    assert late > 20


def test_hours_are_listed_farther_where_the_work_reaches_their_end() -> None:
    """Lists cut to two days: without longer ones the rest is worked at any hour, and the check says so."""
    work = work_of(bare())
    assert work.hours is not None and work.hours.days >= AFTER_DAYS
    short = replace(work.hours, days=2)
    cut = replace(work, hours=short, job=replace(work.job, machines=short.with_listed_hours(work.job.machines)))
    wrong = table_of(cut)
    assert exceeds_listed_hours(cut, wrong.result.operations)
    assert faults_in_hours(plant(), wrong)
    longer, result = schedule_within_listed_hours(cut, Search(workers=1, left_s=lambda: 0.0))
    assert longer.hours is not None and longer.hours.days > 2 and not exceeds_listed_hours(longer, result.operations)
    assert faults_in_hours(plant(), plant_timetable(longer, result, epoch=EPOCH)) == []
    assert double_listed_hours(cut).job.machines != cut.job.machines


NIGHT = Shift(
    days=("Mon", "Tue", "Wed", "Thu", "Fri"), start="22:00", end="06:00", breaks=(("23:30", "00:15"), ("02:00", "02:30"))
)


def place(*shifts: Shift, closed: tuple[tuple[str, str], ...] = ()) -> Plant:
    return replace(
        plant(), workplaces=(Workplace(id="press", does=("laminate",), shifts=shifts, closed=closed),), holidays=("2031-05-01",)
    )


def worked(catalog: Plant, start: int, end: int, work: int, *, pause: bool = True) -> list[str]:
    job = Job(id="a", operations=(Operation(on={"press": work}, pause=pause),))
    task = ScheduleJob(objective="makespan", machines=(Machine(id="press"),), jobs=(job,))
    slot = Slot(job="a", index=0, machine="press", start=start, end=end)
    result = ScheduleResult(status="feasible", objective=end, lower_bound=0, operations=(slot,), seconds=0.0)
    one = PlannedOperation(id="a/0", step="laminate", about="a", machine="press", start_s=Seconds(start), end_s=Seconds(end))
    table = Timetable(epoch=EPOCH.isoformat(), job=task, result=result, operations=(one,), deliveries=())
    return [fault.problem for fault in faults_in_hours(catalog, table)]


def test_a_night_shift_and_its_breaks_after_midnight_by_the_clock() -> None:
    """By hand, seconds from Monday 06:00: 22:00 is 16 h, the breaks 17:30 to 18:15 and 20:00 to 20:30, the end 24 h."""
    assert EPOCH.weekday() == 0 and EPOCH.hour == 6
    closed = closed_times(place(NIGHT).workplaces[0], place(NIGHT), epoch=EPOCH, days=2)
    assert closed[:4] == ((0, 16 * HOUR), (63_000, 65_700), (72_000, 73_800), (24 * HOUR, 40 * HOUR))
    assert worked(place(NIGHT), 16 * HOUR, 24 * HOUR, 8 * HOUR - 2_700 - 1_800) == []
    assert worked(place(NIGHT), 16 * HOUR, 17 * HOUR, HOUR, pause=False) == []
    (told,) = worked(place(NIGHT), 17 * HOUR, 17 * HOUR + HOUR, HOUR, pause=False)
    assert "begins or ends when it is closed" in told
    (told,) = worked(place(NIGHT), 17 * HOUR, 19 * HOUR, HOUR, pause=False)
    assert "may not pause" in told
    (told,) = worked(place(NIGHT), 17 * HOUR, 19 * HOUR, 2 * HOUR)
    assert "4500 open seconds" in told


def test_holidays_maintenance_and_a_break_at_either_end_of_a_shift() -> None:
    """Thursday 1 May 2031 is a holiday here; maintenance on Tuesday from 08:00 to 09:00."""
    day = Shift(
        days=("Mon", "Tue", "Wed", "Thu", "Fri"), start="06:00", end="14:00", breaks=(("06:00", "06:30"), ("13:30", "15:00"))
    )
    catalog = place(day, closed=(("2031-04-29T08:00:00-06:00", "2031-04-29T09:00:00-06:00"),))
    closed = closed_times(catalog.workplaces[0], catalog, epoch=EPOCH, days=4)
    assert closed[:4] == ((0, 1_800), (27_000, DAY + 1_800), (DAY + 2 * HOUR, DAY + 3 * HOUR), (DAY + 27_000, 2 * DAY + 1_800))
    assert closed[4] == (2 * DAY + 27_000, 4 * DAY)
    assert worked(catalog, DAY + 1_800, DAY + 27_000, 6 * HOUR) == []
    assert worked(catalog, 3 * DAY + 2 * HOUR, 3 * DAY + 3 * HOUR, HOUR)


@pytest.mark.parametrize("start", ["2031-03-08T06:00:00-07:00", "2031-11-01T06:00:00-06:00"])
def test_a_shift_over_the_change_of_clocks_is_as_long_as_the_hours_that_pass(start: str) -> None:
    """US clocks change on 9 March and 2 November 2031 at 02:00: a night from 22:00 to 06:00 has seven hours, and nine."""
    epoch = datetime.fromisoformat(start)
    night = Shift(days=("Sat",), start="22:00", end="06:00")
    catalog = replace(place(night), time_zone="America/Denver", holidays=())
    closed = closed_times(catalog.workplaces[0], catalog, epoch=epoch, days=2)
    passed = 7 if start.startswith("2031-03") else 9
    assert closed == ((0, 16 * HOUR), ((16 + passed) * HOUR, 2 * DAY))
    assert datetime(2031, 3, 9, 9, 0, tzinfo=UTC).astimezone(ZoneInfo("America/Denver")).hour == 3
