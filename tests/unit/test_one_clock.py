"""One time zone a plant: whatever offset an instant is stored with, people read the plant's clock, with the zone said once."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from service.reports.tables import plan_tables
from service.stations.views import date_time_text, instant_text
from tests.plans import demo_plan, demo_plant

TEMPLATES = Path(__file__).parents[2] / "service/stations/templates"


@pytest.mark.parametrize("zone, shown", [("America/Denver", "2031-04-28 06:30"), ("Europe/Madrid", "2031-04-28 14:30")])
def test_an_instant_in_utc_is_shown_by_the_plants_clock(zone: str, shown: str) -> None:
    """12:30 UTC: UTC-6 in Denver and UTC+2 in Madrid in summer (tz database)."""
    assert instant_text("2031-04-28T12:30:00.000Z", zone) == shown == date_time_text("2031-04-28T12:30:00+00:00", 0, zone)
    assert instant_text(None, zone) == "–"


def test_tables_of_a_plan_that_starts_in_utc_show_the_plants_clock() -> None:
    """Offsets in Denver are -06:00 in summer and -07:00 in winter (tz database); a plan's start may be written in any."""
    plan = demo_plan()
    utc = replace(plan, timetable=replace(plan.timetable, epoch="2031-04-28T12:00:00+00:00"))
    local = replace(plan, timetable=replace(plan.timetable, epoch="2031-04-28T06:00:00-06:00"))
    assert demo_plant().time_zone == "America/Denver"
    one, two = plan_tables(utc, demo_plant())["departures"], plan_tables(local, demo_plant())["departures"]
    assert one.equals(two)
    times = [text for row in one.to_dict("records") for text in row.values() if re.match(r"\d{4}-\d\d-\d\dT", str(text))]
    assert times and all(str(text).endswith(("-06:00", "-07:00")) for text in times)


def test_no_page_cuts_an_instant_by_hand() -> None:
    """Pages show instants by `shown_at` and `date_time_text` alone, which know the zone."""
    for path in sorted(TEMPLATES.glob("*.html")):
        text = path.read_text(encoding="utf-8")
        assert not re.search(r"_at\[|_at\.replace|views\.day|need_by\[|dock_due\[", text), path
        for name in ("asked_at", "received_at", "need_by", "leaves_at", "leave_by", "starts_at", "ships", "not_before"):
            for shown in re.findall(rf"\{{\{{[^}}]*\b\w+(?:\.\w+)*\.{name}\b[^}}]*\}}\}}", text):
                assert "shown_at(" in shown or "moment(" in shown, (path, shown)


@pytest.mark.parametrize("name", ["planner_base.html", "dock.html", "dock_loads.html"])
def test_the_zone_is_said_once_on_a_page(name: str) -> None:
    assert (TEMPLATES / name).read_text(encoding="utf-8").count("zone=zone") == 1
    others = [path.name for path in TEMPLATES.glob("*.html") if "of {zone}" in path.read_text(encoding="utf-8")]
    assert sorted(others) == ["dock.html", "dock_loads.html", "planner_base.html"]
