"""Bundling against published figures: foam stress, forklift moments, serial codes, contiguous stacks."""

from __future__ import annotations

from dataclasses import replace

import pytest

from solver.bundling.rules import foam_capacity_g, is_too_heavy, timbers_needed
from solver.bundling.sscc import assign_ssccs, check_digit, is_valid_sscc, make_sscc
from solver.bundling.stack import stack
from solver.domain.bundle import StackJob
from solver.search import Search
from solver.units import GRAMS_PER_POUND, INCH, Grams, Nm, grams_from_pounds
from tests.generators.stacks import LIMITS, piece

PSI_PA = 6894.757293168  # pound-force per square inch, by definition of the pound, the inch and standard gravity


def seven_panels() -> StackJob:
    return StackJob(limits=LIMITS, pieces=tuple(piece(number, 288) for number in range(1, 8)))


def test_seven_24_ft_panels_weigh_1520_lb_and_press_181_hundredths_psi_on_five_timbers() -> None:
    """Case S1: limit 3.6 psi at 1 % deformation, EPS15 (ASTM D6817), the density of ASTM C578 Type I."""
    bundle = stack(seven_panels(), Search()).bundles[0]
    pounds = bundle.weight_g / float(GRAMS_PER_POUND)
    assert pounds == pytest.approx(1520.06, abs=0.05)
    assert len(bundle.dunnage_nm) == 5
    assert pounds / (5 * 3.5 * 48) == pytest.approx(1.81, abs=0.005)


def test_two_tiers_of_seven_panels_need_six_timbers() -> None:
    """Case S1: on five timbers two tiers press 3.62 psi, over 3.6; six carry them (ASTM D6817)."""
    bottom = seven_panels().pieces[0]
    weight = int(grams_from_pounds(1520.06))
    assert timbers_needed(weight, bottom, LIMITS) == 5
    assert timbers_needed(weight, bottom, replace(LIMITS, tiers=2)) == 6
    assert foam_capacity_g(5, bottom, LIMITS) < 2 * weight <= foam_capacity_g(6, bottom, LIMITS)


def test_the_foam_limit_in_pascal_is_36_tenths_psi() -> None:
    """ASTM D6817, EPS15: 3.6 psi at 1 %; 24,821 Pa."""
    assert LIMITS.core_stress_pa == int(3.6 * PSI_PA)


@pytest.mark.parametrize(
    ("rated", "centre", "width", "allowed"),
    [
        (3_000, 24, 60, 2_400),  # 29 CFR 1910.178 App. A-5: 72,000 in-lb, 60 in load, centre 30 in (check H1)
        (5_000, 24, 72, 3_333),  # check H2, computed from the same rule
        (4_000, 24, 96, 2_000),  # check H2
        (3_000, 24, 48, 3_000),  # at the rated centre
        (3_000, 24, 30, 3_000),  # nearer than that: the rating itself
    ],
)
def test_a_forklift_lifts_its_moment_and_no_more(rated: int, centre: int, width: int, allowed: int) -> None:
    limits = replace(
        LIMITS,
        weight_g=Grams(10_000_000),
        forklift_g=Grams(int(grams_from_pounds(rated))),
        forklift_centre_nm=Nm(centre * INCH),
    )
    assert not is_too_heavy(int(grams_from_pounds(allowed)) - 1, width * INCH, limits)
    assert is_too_heavy(int(grams_from_pounds(allowed + 1)), width * INCH, limits)


@pytest.mark.parametrize(
    "code",
    [
        "02345673",
        "416000336108",
        "1234567890128",
        "12345678901231",
        "123456789012345675",  # GS1 barcode syntax dictionary, tests (check N2)
        "6291041500213",
        "8904000210037",
        "036000241457",
        "05412345000013",
        "09506000134352",
        "054123450013",  # GS1, GS1 India (check N3)
        "95012345612345677",
        "376104250021234569",  # GS1 web examples, from memory (check N4)
        "106141412345678908",  # EPCIS example 9.6.3 mapped to digits, from memory (check N5)
    ],
)
def test_published_codes_end_in_their_check_digit(code: str) -> None:
    assert is_valid_sscc(code)
    assert check_digit(code[:-1]) == code[-1]


@pytest.mark.parametrize(
    "code", ["12345673", "416000336109", "1234567890129", "12345678901232", "123456789012345670", "1234567890123 45675", ""]
)
def test_published_wrong_codes_are_told(code: str) -> None:
    """GS1 barcode syntax dictionary, tests of its check digit linter (check N2)."""
    assert not is_valid_sscc(code)


def test_a_serial_code_is_extension_prefix_reference_and_check_digit() -> None:
    """Example of the EPC mapping: prefix 0614141, extension 1, serial 234567890 (check N5, from memory)."""
    assert make_sscc("0614141", 234567890, extension=1) == "106141412345678908"
    with pytest.raises(ValueError, match="does not fit"):
        make_sscc("0614141", 10**9)


def test_serial_codes_stay_with_their_names_and_never_repeat_in_a_list() -> None:
    names = [f"cottage-7/B{number:02d}" for number in range(1, 400)]
    codes = assign_ssccs("952", names)
    assert codes == assign_ssccs("952", names)
    assert len(set(codes)) == len(names)
    assert all(is_valid_sscc(code) and len(code) == 18 and code[1:4] == "952" for code in codes)
    crowded = assign_ssccs("952123456789", [str(number) for number in range(5_000)])
    assert len(set(crowded)) == 5_000


def test_closing_a_stack_only_when_the_next_piece_fails_is_never_beaten() -> None:
    """Case S10: limits of height and weight are hereditary, so first-fail gives the fewest: here 7 a stack by height."""
    job = StackJob(limits=LIMITS, pieces=tuple(piece(number, 96) for number in range(1, 31)))
    assert [len(bundle.pieces) for bundle in stack(job, Search()).bundles] == [6, 6, 6, 6, 6]  # 5 stacks, then alike heights
    assert -(-30 // 7) == 5


def test_a_bundle_with_other_contents_has_another_code_and_the_same_again_the_same() -> None:
    """GS1 General Specifications: no SSCC is given to two logistic units within a year; a name alone is no unit."""
    job = replace(seven_panels(), company_prefix="952")
    first, again = stack(job, Search()).bundles, stack(job, Search()).bundles
    assert [one.serial for one in first] == [one.serial for one in again]
    fewer = stack(replace(job, pieces=job.pieces[:-1]), Search()).bundles
    assert [one.id for one in fewer] == [one.id for one in first]
    assert {one.serial for one in fewer}.isdisjoint(one.serial for one in first)
