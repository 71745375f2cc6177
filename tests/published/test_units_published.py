"""Published conversions and roundings."""

from __future__ import annotations

from datetime import date

import pytest

from solver.units import FOOT, INCH, grams_from_pounds, parse_length, pounds_from_grams, show_length


def test_a_rafter_length_is_rounded_to_the_nearest_sixteenth() -> None:
    """111.12 in = 9 ft 3 1/8 in. Source: US Navy builder manual (check D1)."""
    assert show_length(parse_length("111.12 in"), "in") == "9' 3 1/8\""


def test_inch_foot_and_pound_are_exact() -> None:
    """1 in = 25.4 mm, 1 ft = 0.3048 m, 1 lb = 0.45359237 kg, 1/16 in = 1.5875 mm (check D2: definitions, from memory)."""
    assert (INCH, FOOT, INCH // 16) == (25_400_000, 304_800_000, 1_587_500)
    assert parse_length("25.4 mm") == INCH
    assert grams_from_pounds(4000) == 1_814_369
    assert pounds_from_grams(453_592_370) == 1_000_000


@pytest.mark.parametrize(
    ("inches", "shown"),
    [("16.221 in", "1' 4 1/4\""), ("23.589 in", "1' 11 9/16\""), ("28.844 in", "2' 4 7/8\""), ("9.600 in", '9 5/8"')],
)
def test_jack_rafter_differences_to_the_sixteenth(inches: str, shown: str) -> None:
    """16 1/4, 23 9/16, 28 7/8 and 9 5/8 in (checks.md section 5, computed from the rafter table)."""
    assert show_length(parse_length(inches), "in") == shown


@pytest.mark.parametrize(
    ("day", "week"),
    [
        (date(1985, 4, 12), (1985, 15, 5)),
        (date(2006, 12, 31), (2006, 52, 7)),
        (date(2005, 1, 1), (2004, 53, 6)),
        (date(2026, 12, 31), (2026, 53, 4)),
    ],
)
def test_weeks_are_counted_by_iso_8601(day: date, week: tuple[int, int, int]) -> None:
    """Source: ISO 8601 examples (checks D4, D5); the library is trusted, the convention is ours to keep."""
    assert tuple(day.isocalendar()) == week
