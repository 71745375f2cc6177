"""Codes on paper against GS1's published numbers."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum.iso7064 import mod_97_10

from solver.documents.codes import (
    ScannedCode,
    check_digit,
    check_pair,
    gs1_digital_link,
    has_valid_check_digit,
    has_valid_check_pair,
    making_name,
    parse_making_name,
    read_code,
    short_code,
    sscc_for_name,
)

# GS1 syntax dictionary tests (check N2), GS1 and GS1 India examples (N3), a GS1 web example from memory (N4)
VALID = (
    "02345673",
    "416000336108",
    "1234567890128",
    "12345678901231",
    "123456789012345675",
    "6291041500213",
    "8904000210037",
    "036000241457",
    "05412345000013",
    "09506000134352",
    "054123450013",
    "376104250021234569",
    "95012345612345677",
)
INVALID = ("12345673", "416000336109", "1234567890129", "12345678901232", "123456789012345670", "02345673 ", "1 2")


@pytest.mark.parametrize("code", VALID)
def test_published_check_digits_pass(code: str) -> None:
    assert has_valid_check_digit(code)
    assert check_digit(code[:-1]) == code[-1]


@pytest.mark.parametrize("code", INVALID)
def test_published_wrong_codes_fail(code: str) -> None:
    assert not has_valid_check_digit(code)


def test_one_digit_wrong_is_always_noticed() -> None:
    code = "376104250021234569"
    for place in range(18):
        for digit in "0123456789":
            if digit != code[place]:
                assert not has_valid_check_digit(code[:place] + digit + code[place + 1 :])


def test_a_container_code_of_the_demonstration_prefix_has_eighteen_digits_and_its_check_digit() -> None:
    code = sscc_for_name("952", "cottage-7/B01")
    assert len(code) == 18
    assert code.startswith("0952")
    assert has_valid_check_digit(code)
    assert code == sscc_for_name("952", "cottage-7/B01") != sscc_for_name("952", "cottage-7/B02")


def test_the_digital_link_is_the_key_00_and_nothing_else() -> None:
    # GS1 Digital Link: AI 00 is a key without qualifiers (GS1 syntax dictionary)
    assert gs1_digital_link("376104250021234569") == "https://id.gs1.org/00/376104250021234569"


def test_a_number_that_is_no_container_code_gets_no_link() -> None:
    for wrong in ("376104250021234568", "02345673", "37610425002123456X", ""):
        with pytest.raises(ValueError, match="serial shipping container code"):
            gs1_digital_link(wrong)


def test_short_codes_are_twelve_digits_and_tell_ten_thousand_pieces_apart() -> None:
    made = {short_code(f"cottage-7/L1.S-{n}") for n in range(10_000)}
    assert len(made) == 10_000
    assert all(len(code) == 12 and mod_97_10.is_valid(code) for code in made)


@given(st.from_regex(r"[0-9]{1,30}", fullmatch=True))
def test_check_pairs_are_those_of_the_standard(digits: str) -> None:
    """Against python-stdnum's ISO/IEC 7064 MOD 97-10."""
    assert check_pair(digits) == mod_97_10.calc_check_digits(digits)
    assert has_valid_check_pair(digits + check_pair(digits))


def test_the_standards_own_example_holds() -> None:
    """ISO/IEC 7064:2003, MOD 97-10: 794 takes 44 (from memory; stdnum's documentation has 4354111611551114 with 31)."""
    assert check_pair("794") == "44"
    assert check_pair("4354111611551114") == "31"


@given(st.from_regex(r"[a-z0-9-]{1,12}/L1\.S-[0-9]{2}", fullmatch=True))
def test_every_wrong_digit_and_every_two_neighbours_that_changed_places_are_noticed(name: str) -> None:
    code = short_code(name)
    wrong = {code[:n] + digit + code[n + 1 :] for n in range(12) for digit in "0123456789"}
    wrong |= {code[:n] + code[n + 1] + code[n] + code[n + 2 :] for n in range(11)}
    for text in wrong - {code}:
        assert read_code(text) == ScannedCode("short", text, sound=False), (code, text)
        assert not mod_97_10.is_valid(text)
    for text in (code[:-1], code + "0", code[1:]):
        assert read_code(text).sound is False
    assert read_code(f"{code[:4]} {code[4:8]} {code[8:]}") == ScannedCode("short", code)  # as it is printed


def test_what_labels_of_a_second_making_say_is_read_as_piece_and_making() -> None:
    assert making_name("cottage-7/L1.S-02", 1) == "cottage-7/L1.S-02"
    assert parse_making_name(making_name("cottage-7/L1.S-02", 12)) == ("cottage-7/L1.S-02", 12)
    for name in ("cottage-7/L1.S-02", "x#", "#", "a#b", "a#-1"):
        assert parse_making_name(name) == (name, 1)


def test_check_digit_refuses_letters() -> None:
    with pytest.raises(ValueError, match="not all digits"):
        check_digit("12A4")


SERIAL = "376104250021234569"  # GS1 syntax dictionary tests (check N2)


@pytest.mark.parametrize(
    "text",
    [SERIAL, "00" + SERIAL, "(00)" + SERIAL, "(00) 3 7610425 002123456 9", "]C100" + SERIAL, "\x1d00" + SERIAL,
     f"https://id.gs1.org/00/{SERIAL}", f"]Q1HTTPS://EXAMPLE.COM/a/00/{SERIAL}?x=1"],
)  # fmt: skip
def test_a_serial_is_read_in_every_form_on_a_tag(text: str) -> None:
    assert read_code(text) == ScannedCode("serial", SERIAL)


def test_a_misread_serial_is_known_as_one_and_a_name_stays_a_name() -> None:
    assert read_code(SERIAL[:-1] + "0") == ScannedCode("serial", SERIAL[:-1] + "0", sound=False)
    assert read_code("0123456789") == ScannedCode("short", "0123456789", sound=False)
    for name in ("cottage-7/L1.S-02", "00A", "]", ""):
        assert read_code(name) == ScannedCode("name", name)
