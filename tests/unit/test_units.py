"""Lengths are read and printed exactly, or refused with a reason."""

from __future__ import annotations

import pickle

import pytest
from hypothesis import given
from hypothesis import strategies as st

from solver.errors import FieldFault, InputError, NoPlan
from solver.units import (
    FOOT,
    INCH,
    MM,
    LengthError,
    Unit,
    exact_length_text,
    isqrt_nearest,
    length_as_number,
    length_from_json,
    parse_length,
    rounded_shop_number,
    show_length,
    show_weight,
)


@pytest.mark.parametrize(
    ("text", "nm"),
    [
        ("12' 6 1/2\"", 12 * FOOT + 6 * INCH + INCH // 2),
        ("12'-6 1/2\"", 12 * FOOT + 6 * INCH + INCH // 2),
        ("12' 6-1/2\"", 12 * FOOT + 6 * INCH + INCH // 2),
        ("12′ 6 1/2″", 12 * FOOT + 6 * INCH + INCH // 2),
        ("3810 mm", 3810 * MM),
        ("5/8 in", 15_875_000),
        ("23 5/8 inch", 23 * INCH + 5 * INCH // 8),  # a general unit library reads 14.375 in here
        ("0.0217 in", 551_180),
        ("9'", 9 * FOOT),
        ("20 ft", 20 * FOOT),
        ('36"', 36 * INCH),
        ("-6'", -6 * FOOT),
        ("-1' 6\"", -(FOOT + 6 * INCH)),
        ("3.81 m", 3810 * MM),
        ("1/64 in", 396_875),
    ],
)
def test_lengths_are_read_as_people_write_them(text: str, nm: int) -> None:
    assert parse_length(text) == nm


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "12",
        "6 1/2",
        "12 furlongs",
        "1/0 in",
        "6\" 12'",
        '6" 6"',
        "' 6",
        "NaN mm",
        "1e9 mm",
        "--3 mm",
        "12' x",
        "9" * 200,
    ],
)
def test_what_is_no_length_is_refused(text: str) -> None:
    with pytest.raises(LengthError):
        parse_length(text)


@pytest.mark.parametrize("value", [True, None, [], float("nan"), float("inf"), 1e30, 12])
def test_numbers_that_state_no_sane_length_are_refused(value: object) -> None:
    with pytest.raises(LengthError):
        length_from_json(value, None if value == 12 else "mm")


@given(st.integers(-(2 * 10**15), 2 * 10**15), st.sampled_from(["mm", "in"]))
def test_a_length_printed_as_a_number_is_read_back_to_the_same_nanometre(nm: int, unit: Unit) -> None:
    assert length_from_json(length_as_number(nm, unit), unit) == nm


@given(st.integers(-(2 * 10**15), 2 * 10**15), st.sampled_from(["mm", "in"]))
def test_a_length_printed_exactly_is_read_back_to_the_same_nanometre(nm: int, unit: Unit) -> None:
    assert parse_length(exact_length_text(nm, unit)) == nm


@given(st.integers(0, 10**12))
def test_a_shown_length_is_within_half_a_sixteenth(nm: int) -> None:
    assert abs(parse_length(show_length(nm, "in")) - nm) <= INCH // 32
    assert abs(parse_length(show_length(nm, "mm")) - nm) <= MM // 20


@pytest.mark.parametrize(
    ("nm", "unit", "shown"),
    [
        (12 * FOOT + 6 * INCH + INCH // 2, "in", "12' 6 1/2\""),
        (12 * FOOT + 3 * INCH + 5 * INCH // 16, "in", "12' 3 5/16\""),
        (5 * INCH // 8, "in", '5/8"'),
        (0, "in", '0"'),
        (FOOT - 1, "in", "1' 0\""),
        (-6 * INCH, "in", '-6"'),
        (3810 * MM, "mm", "3810 mm"),
        (3810 * MM + 250_000, "mm", "3810.3 mm"),
        (-40_000, "mm", "0 mm"),
    ],
)
def test_lengths_are_shown_as_the_trade_writes_them(nm: int, unit: Unit, shown: str) -> None:
    assert show_length(nm, unit) == shown


@given(st.integers(0, 10**30))
def test_the_nearest_root_is_nearest(value: int) -> None:
    root = isqrt_nearest(value)
    assert (2 * root - 1) ** 2 <= 4 * value or root == 0
    assert 4 * value <= (2 * root + 1) ** 2


def test_weights_are_shown_in_the_units_of_the_plant() -> None:
    assert show_weight(82_098, "in") == "181 lb"
    assert show_weight(82_098, "mm") == "82.1 kg"


def test_faults_survive_the_way_between_processes() -> None:
    fault = FieldFault("stock[0].length", "-1 is below 0", "at least 0")
    for error in (InputError(fault, fault), NoPlan(fault)):
        again = pickle.loads(pickle.dumps(error))
        assert type(again) is type(error)
        assert again.faults == error.faults
        assert "stock[0].length" in str(again)
    wrong = pickle.loads(pickle.dumps(LengthError("no", "yes")))
    assert (wrong.problem, wrong.fix) == ("no", "yes")


@pytest.mark.parametrize(
    ("nm", "unit", "number"),
    [(354 * INCH, "in", 354.0), (2_608_071_237, "in", 102.6875), (-INCH // 32, "in", -0.0), (2_608_071_237, "mm", 2608.1)],
)
def test_a_number_for_a_table_is_rounded_as_the_shop_reads_it(nm: int, unit: Unit, number: float) -> None:
    """102.679970157 in reads 8' 6 11/16": the number beside it says no more than that."""
    assert rounded_shop_number(nm, unit) == number
