"""Weeks and days of a timetable's pages: from Monday, by the plant's clock, over a change of the clock too."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from service.usecases.ask.timetable import View, view_window

ZONE = "America/Denver"
EPOCH = "2031-04-30T06:00:00-06:00"  # a Wednesday


def shown(epoch: str, view: View, at: int) -> tuple[str, str]:
    low, high = view_window(epoch, ZONE, view, at)
    zero, zone = datetime.fromisoformat(epoch), ZoneInfo(ZONE)
    first, last = ((zero + timedelta(seconds=edge)).astimezone(zone) for edge in (low, high))
    return f"{first:%a %d %H:%M}", f"{last:%a %d %H:%M}"


def test_the_first_week_and_day_begin_with_the_plan_and_end_at_midnight() -> None:
    assert shown(EPOCH, "week", 0) == ("Wed 30 06:00", "Mon 05 00:00")
    assert shown(EPOCH, "day", 0) == ("Wed 30 06:00", "Thu 01 00:00")


def test_later_weeks_begin_on_monday_and_follow_each_other() -> None:
    assert shown(EPOCH, "week", 1) == ("Mon 05 00:00", "Mon 12 00:00")
    for view in ("week", "day"):
        for at in range(40):
            assert view_window(EPOCH, ZONE, view, at)[1] == view_window(EPOCH, ZONE, view, at + 1)[0]


@pytest.mark.parametrize(("epoch", "hours"), [("2031-03-08T06:00:00-07:00", 23), ("2031-11-01T06:00:00-06:00", 25)])
def test_a_day_on_which_the_clock_changes_is_as_long_as_it_is(epoch: str, hours: int) -> None:
    low, high = view_window(epoch, ZONE, "day", 1)
    assert high - low == hours * 3600


def test_an_epoch_stated_in_another_offset_means_the_same_instant() -> None:
    assert view_window("2031-04-30T12:00:00+00:00", ZONE, "week", 2) == view_window(EPOCH, ZONE, "week", 2)
