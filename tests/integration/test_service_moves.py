"""The page that tells what a plan moves of the timetable that was on the floor, and the timetable as lists to read."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import icalendar
import pytest

from solver.domain.plan import Plan
from solver.units import Seconds
from tests.integration.test_service_pages import Pages
from tests.service_fakes import fake_plan


@pytest.fixture
def pages(tmp_path: Path) -> Iterator[Pages]:
    made = Pages(tmp_path)
    with made.web:
        yield made


def later_by(seconds: int) -> Any:
    """A pipeline whose plan does all work that much later than the fake plan, its last delivery too."""

    def made(*args: Any, **named: Any) -> Plan:
        plan = fake_plan(*args, **named)
        table = plan.timetable
        work = tuple(
            replace(op, start_s=Seconds(op.start_s + seconds), end_s=Seconds(op.end_s + seconds)) for op in table.operations
        )
        promised = tuple(replace(one, done_s=Seconds(one.done_s + seconds)) for one in table.deliveries)
        moved = replace(table, operations=work, deliveries=promised)
        return replace(plan, id=f"later-{seconds}", timetable=moved, predecessor=named["predecessor"])

    return made


def test_a_plan_without_one_before_it_says_so(pages: Pages) -> None:
    text = pages.read(f"/planner/plans/{pages.make()}/changes")
    assert "No plan was on the floor when this one was asked for" in text
    assert "What changed in the timetable" not in text


def test_a_plan_tells_what_it_moves_of_the_one_on_the_floor(pages: Pages) -> None:
    pages.make()
    base = f"/planner/plans/{pages.make(release=False, pipeline=later_by(5_400))}/changes"
    text = pages.read(base).replace("\u2011", "-")
    assert "moved 2 as before 0 later 2 farthest move 1 h 30 min all moves together 3 h 0 min" in text
    assert "shed-1 D1 due 2031-04-21 07:23 2031-04-21 07:40 2031-04-21 09:10 1 h 30 min later late by" in text
    assert "panel-saw-1 2031-04-21 06:00 panel-saw-1 2031-04-21 07:30 1 h 30 min later" in text
    assert "Operations that were to be over" not in text
    markup = pages.web.get(base, params={"view": "day"}).text
    assert ">where it was</text>" in markup and ">later</text>" in markup
    spanish = pages.read(base, "es")
    assert "Qué cambió en el horario" in spanish and "1 h 30 min después" in spanish


def test_moves_are_paged_and_the_week_of_the_first_is_shown(pages: Pages) -> None:
    """A move of three weeks: the first page shows where the old places are, the fourth where the new ones are."""
    pages.make()
    base = f"/planner/plans/{pages.make(release=False, pipeline=later_by(21 * 86_400))}/changes"
    first = pages.web.get(base).text
    assert 'data-id="was ' in first
    assert "&amp;at=1" in first
    last = pages.web.get(base, params={"at": 3}).text
    assert 'data-id="was ' not in last and ">later</text>" in last
    beyond = pages.read(f"{base}?first=2")
    assert "Everything is done where and when" not in beyond and "the longest move first" not in beyond
    assert pages.web.get(base, params={"first": -1}).status_code == 404
    assert pages.web.get(base, params={"view": "year"}).status_code == 404


def test_the_same_timetable_again_says_that_nothing_moved(pages: Pages) -> None:
    pages.make()
    text = pages.read(f"/planner/plans/{pages.make(release=False, pipeline=later_by(0))}/changes")
    assert "moved 0 as before 2" in text
    assert "Everything is done where and when it was to be done before." in text


def test_a_day_is_a_list_by_machine_open_where_it_is_short(pages: Pages) -> None:
    base = f"/planner/plans/{pages.make()}/timetable"
    day = pages.read(f"{base}?view=day")
    assert "As a list panel-saw-1 2 operations, 06:00 –" in day
    assert "06:00 – " in day.split("As a list")[1]
    assert '<details class="list" open>' in pages.web.get(base, params={"view": "day"}).text
    assert '<details class="list"><summary>' in pages.web.get(base).text  # a week: closed
    assert '<details class="list" open>' in pages.web.get(base, params={"machine": "panel-saw-1"}).text
    assert "Nothing is done in this time." in pages.read(f"{base}?view=day&at=900")


def test_a_calendar_of_a_later_plan_has_the_same_ids_and_a_higher_number(pages: Pages) -> None:
    """RFC 5545, 3.8.7.4: three plans, each released before the next was asked for, are numbered 0, 1, 2."""
    found = []
    for name in (0, 600, 1_200):
        plan = pages.make(pipeline=later_by(name))
        raw = pages.web.get(f"/api/plans/{plan}/machines/panel-saw-1/calendar.ics").content
        read = list(icalendar.Calendar.from_ical(raw).walk("VEVENT"))
        stamps = {event.decoded("DTSTAMP") for event in read}
        assert len(stamps) == 1
        assert stamps.pop().year >= 2024  # when it was made, not when it begins
        found.append(({str(event["UID"]) for event in read}, {int(event["SEQUENCE"]) for event in read}))
    assert [number for _, number in found] == [{0}, {1}, {2}]
    assert found[0][0] == found[1][0] == found[2][0]


def test_a_calendar_cancels_work_that_the_plan_on_the_floor_had_and_this_one_has_not(pages: Pages) -> None:
    def shorter(*args: Any, **named: Any) -> Plan:
        plan: Plan = later_by(600)(*args, **named)
        return replace(plan, timetable=replace(plan.timetable, operations=plan.timetable.operations[:1]))

    pages.make()
    plan = pages.make(release=False, pipeline=shorter)
    raw = pages.web.get(f"/api/plans/{plan}/machines/panel-saw-1/calendar.ics").content
    read = list(icalendar.Calendar.from_ical(raw).walk("VEVENT"))
    assert [str(event.get("STATUS", "")) for event in read] == ["", "CANCELLED"]


def test_the_head_of_a_list_tells_of_all_work_also_where_the_list_is_cut(monkeypatch: pytest.MonkeyPatch, pages: Pages) -> None:
    monkeypatch.setattr("service.stations.timetable.LISTED", 1)
    text = pages.read(f"/planner/plans/{pages.make()}/timetable?view=day")
    assert "panel-saw-1 2 operations, 06:00 – 06:18" in text
    assert "1 to 1 of 2" in text
