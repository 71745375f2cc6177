"""The timetable on paper: a sheet a machine and day with set-ups and breaks, each week on a landscape page."""

from __future__ import annotations

from dataclasses import replace

import pytest

from service.printing.sheet_pages import BODY, SheetSetting
from service.printing.sheets import PlanSheets
from service.printing.timetable import MACHINES_A_PAGE, weeks_pdf
from solver.documents.index import PlanIndex
from solver.documents.timetable import machine_days, working_intervals, working_weeks
from solver.domain.ids import BarId
from solver.domain.plan import Plan
from solver.domain.timetable import Machine, PlannedOperation, ScheduleJob
from solver.units import Seconds
from tests.languages import ENGLISH, LANGUAGES, SPANISH, Language
from tests.orders import plant
from tests.paper import page_count, page_size, page_text, spoiled_places
from tests.samples import LONG, demo_plan, short_timetable

MADE = "2031-05-02 16:10"
HOUR = 3_600


def operation(name: str, start: int, end: int, **more: object) -> PlannedOperation:
    made = PlannedOperation(
        id=name, order="cottage-7", step="rout", about=name, machine="press", start_s=Seconds(start), end_s=Seconds(end)
    )
    return replace(made, **more)  # type: ignore[arg-type]


def plan_with(*work: PlannedOperation, closed: tuple[tuple[int, int], ...] = (), epoch: str = "") -> Plan:
    """The demo plan with this work on a press that is closed then, from six on a Monday."""
    table = short_timetable()
    job = ScheduleJob(objective="makespan", machines=(Machine(id="press", closed=closed),), jobs=())
    timetable = replace(table, operations=work, job=job, deliveries=(), epoch=epoch or table.epoch)
    return replace(demo_plan("workshop-3"), timetable=timetable)


def papers(plan: Plan, language: Language = ENGLISH) -> PlanSheets:
    return PlanSheets(plan, replace(plant(), time_zone="America/Denver"), made=MADE, language=language)


def words_of(pdf: bytes, page: int) -> str:
    return " ".join(page_text(pdf, page).split())


def test_a_days_lines_stand_in_order_of_time_with_breaks_between_them() -> None:
    plan = plan_with(
        operation("b", 4 * HOUR, 5 * HOUR), operation("a", 0, HOUR), closed=((2 * HOUR, 3 * HOUR), (9 * HOUR, 24 * HOUR))
    )
    (sheet,) = machine_days(PlanIndex(plan, plant()))
    assert (sheet.machine, sheet.day) == ("press", "2031-05-05")
    assert [(line.start[11:16], line.end[11:16], line.step, line.about) for line in sheet.lines] == [
        ("06:00", "07:00", "rout", "a"),
        ("08:00", "09:00", "", ""),  # a break; the night after the last work is none
        ("10:00", "11:00", "rout", "b"),
    ]


def test_work_that_pauses_overnight_stands_on_both_days_but_not_on_a_closed_one() -> None:
    """From Friday 13:00 over the weekend to Monday 07:00."""
    friday = 4 * 24 * HOUR
    plan = plan_with(
        operation("long", friday + 7 * HOUR, friday + 73 * HOUR), closed=((friday + 8 * HOUR, friday + 72 * HOUR),)
    )
    sheets = machine_days(PlanIndex(plan, plant()))
    assert [sheet.day for sheet in sheets] == ["2031-05-09", "2031-05-12"]
    text = words_of(papers(plan).machine_days(), 0)
    assert "13:00 Mon 12 07:00" in text
    assert "Fri 9 13:00 07:00" in text  # both days on one page
    assert page_count(papers(plan).machine_days()) == 1


def test_days_are_those_of_the_plants_clock_also_when_it_changes() -> None:
    """The United States set clocks forward on 10 March 2030 (15 U.S.C. 260a): midnight is 23 hours after midnight."""
    plan = plan_with(
        operation("before", 23 * HOUR - 1_800, 23 * HOUR),
        operation("after", 23 * HOUR, 24 * HOUR),
        epoch="2030-03-10T00:00:00-07:00",
    )
    sheets = machine_days(PlanIndex(plan, replace(plant(), time_zone="America/Denver")))
    assert [(sheet.day, [line.about for line in sheet.lines]) for sheet in sheets] == [
        ("2030-03-10", ["before"]),
        ("2030-03-11", ["after"]),
    ]


def test_a_line_names_the_bundles_into_which_the_pieces_of_its_bar_go() -> None:
    index = PlanIndex(demo_plan("workshop-3"), plant())
    bar = next(bar for cut in index.plan.cuts for bar in cut.bars if any(slot.piece in index.places for slot in bar.pieces))
    wanted = {index.places[slot.piece][0].id.rpartition("/")[2] for slot in bar.pieces if slot.piece in index.places}
    plan = plan_with(operation("x", 0, HOUR, bars=(bar.id,)), operation("y", HOUR, 2 * HOUR, bars=(BarId("no-such"),)))
    (sheet,) = machine_days(PlanIndex(plan, plant()))
    assert wanted and set(sheet.lines[0].bundles) == wanted
    assert sheet.lines[1].bundles == ()


@pytest.mark.parametrize(
    ("language", "words"), [(ENGLISH, ("set-up before", "closed", "15 min", "rout")), (SPANISH, ("antes", "cerrado", "fresar"))]
)
def test_a_sheet_tells_set_ups_breaks_and_which_plan_in_the_readers_language(
    language: Language, words: tuple[str, ...]
) -> None:
    plan = plan_with(
        operation("a", HOUR, 2 * HOUR, setup_s=Seconds(900)), operation("b", 4 * HOUR, 5 * HOUR), closed=((2 * HOUR, 3 * HOUR),)
    )
    text = words_of(papers(plan, language).machine_days(), 0)
    assert [word for word in words if word not in text] == []
    assert MADE in text and plan.id in text
    assert ("page 1 of 1" if language is ENGLISH else "página 1 de 1") in text
    assert "press" in text


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_thousand_operations_with_the_longest_names_spoil_no_lettering(language: Language) -> None:
    work = [
        operation(
            f"W6|birch|white#{n:03} {LONG}",
            n * 60,
            n * 60 + 55,
            order=LONG,
            setup_s=Seconds(60 * (n % 3)),
            hold_s=Seconds(HOUR * (n % 2)),
        )
        for n in range(300)
    ]
    made = papers(plan_with(*work, closed=((3_300, 3_360),)), language).machine_days()
    assert page_count(made) > 10
    for page in (0, 1, page_count(made) - 1):
        assert spoiled_places(made, page) == [], page
    assert BODY >= 11


@pytest.mark.parametrize("machines", [1, MACHINES_A_PAGE, MACHINES_A_PAGE + 1])
@pytest.mark.parametrize("language", LANGUAGES)
def test_each_week_is_a_landscape_page_with_no_lettering_reduced_or_spoiled(machines: int, language: Language) -> None:
    names = [f"machine-{n}" for n in range(machines)]
    work = tuple(operation(f"o{n}", n * 50 * HOUR, n * 50 * HOUR + 20 * HOUR, machine=names[n % machines]) for n in range(6))
    job = ScheduleJob(objective="makespan", machines=tuple(Machine(id=name) for name in names), jobs=())
    table = replace(short_timetable(), operations=work, job=job, deliveries=())
    setting = SheetSetting(plan="p", made=MADE, language=language, paper="A4")
    made = weeks_pdf(table, setting, time_zone="America/Denver")
    assert [day.isoformat() for day, _, _ in working_weeks(table, "America/Denver")] == ["2031-05-05", "2031-05-12"]
    assert page_count(made) == 2 * (1 if machines <= MACHINES_A_PAGE else 2)
    wide, high = page_size(made, 0)
    assert wide > high
    for page in range(page_count(made)):
        assert spoiled_places(made, page) == []
    assert "2031-05-05" in page_text(made, 0) and "machine-0" in page_text(made, 0)


def test_a_plan_without_work_prints_no_timetable() -> None:
    assert papers(plan_with()).machine_days() == papers(plan_with()).weeks() == b""


def test_work_is_cut_by_closed_hours_only_where_they_lie_in_it() -> None:
    assert list(working_intervals(operation("a", 10, 50), [(0, 10), (20, 30), (50, 60)])) == [(10, 20), (30, 50)]
    assert list(working_intervals(operation("a", 10, 10), [(0, 20)])) == [(10, 10)]
