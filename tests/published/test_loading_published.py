"""Loading against published figures. The rule as coded, with its citation; no legal advice, local rules govern."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from solver.domain.load import Deck, LoadBundle, LoadJob, LoadRules, Tractor
from solver.loading.axles import axle_places, group_weights
from solver.loading.check import check
from solver.loading.legal import (
    bridge_lb,
    bridge_limit_lb,
    bridge_rows,
    gross_limit_g,
    group_limit_g,
    legal_height_nm,
    legal_width_nm,
)
from solver.loading.load import load
from solver.loading.tiedowns import (
    UNMARKED_CHAIN_LB,
    chain_wll_lb,
    count_by_length,
    count_by_load,
    direct_tiedowns_suffice,
    tiedown_wll,
    tiedowns_required,
    webbing_wll_lb,
)
from solver.search import Search
from solver.units import FOOT, INCH, MM, Grams, Nm, grams_from_pounds
from tests.generators.loads import flatbed

US, EU = LoadRules(), LoadRules(rule_set="EU")


def g(pounds: float) -> int:
    return int(grams_from_pounds(pounds))


# feet, pounds, working load limit, blocked forward, by length, by load, required (computed from 49 CFR 393.106(d), 393.110;
# rows 2 and 3 rest on 393.110(b) for short heavy articles, from memory)
COUNTS = [
    (5, 1_100, 4_000, False, 1, 1, 1),
    (5, 1_101, 4_000, False, 2, 1, 2),
    (4.5833, 1_237, 4_000, False, 2, 1, 2),
    (6, 200, 4_000, False, 2, 1, 2),
    (10, 9_000, 4_000, False, 2, 2, 2),
    (10.5, 3_000, 4_000, False, 3, 1, 3),
    (20, 4_000, 4_000, False, 3, 1, 3),
    (20, 4_000, 4_000, True, 2, 1, 2),
    (20.5, 4_000, 4_000, False, 4, 1, 4),
    (30, 20_000, 4_000, False, 4, 3, 4),
    (30, 44_000, 4_000, False, 4, 6, 6),
    (30, 44_000, 5_400, False, 4, 5, 5),
    (40, 30_000, 4_000, True, 4, 4, 4),
    (48, 45_000, 5_400, True, 5, 5, 5),
    (53, 20_000, 4_000, False, 7, 3, 7),
]


@pytest.mark.parametrize(("feet", "pounds", "wll", "blocked", "length", "weight", "both"), COUNTS)
def test_tie_downs_are_counted_as_worked(
    feet: float, pounds: int, wll: int, blocked: bool, length: int, weight: int, both: int
) -> None:
    size, mass = round(feet * FOOT), g(pounds)
    assert count_by_length(size, mass, blocked_forward=blocked) == length
    assert count_by_load(mass, g(wll)) == weight
    assert tiedowns_required(size, mass, g(wll), blocked_forward=blocked) == both


@pytest.mark.parametrize(
    ("feet", "pounds", "blocked", "count"),
    [
        (5.00, 1_100, False, 1),
        (5.00, 1_101, False, 2),
        (10.00, 100, False, 2),
        (10.01, 100, False, 3),
        (20.00, 100, False, 3),
        (20.01, 100, False, 4),
        (10.00, 100, True, 1),
        (10.01, 100, True, 2),
    ],
)
def test_tie_downs_step_at_the_published_lengths(feet: float, pounds: int, blocked: bool, count: int) -> None:
    """49 CFR 393.110(b), (c); the pair at 5 ft from memory."""
    assert count_by_length(round(feet * FOOT), g(pounds), blocked_forward=blocked) == count


def test_direct_chains_count_half_their_working_load() -> None:
    """49 CFR 393.106(d): 10,000 lb on four direct 3/8 in grade 70 chains, 4 x 6,600 / 2 = 13,200 >= 5,000."""
    chain = chain_wll_lb("3/8", 70)
    assert chain == 6_600
    assert direct_tiedowns_suffice(g(10_000), [g(chain)] * 4)
    assert not direct_tiedowns_suffice(g(10_000), [g(chain)])


def test_unmarked_working_loads_are_the_published_table() -> None:
    """49 CFR 393.108. A marking governs: 5,400 lb for 4 in webbing is a marked value; unmarked chain counts as grade 30."""
    assert webbing_wll_lb("4") == 4_000
    assert webbing_wll_lb("4", marked_lb=5_400) == 5_400
    assert [webbing_wll_lb(width) for width in ("1 3/4", "2", "3")] == [1_750, 2_000, 3_000]
    assert chain_wll_lb("1/2") == 4_500
    assert UNMARKED_CHAIN_LB["5/16"][80] < UNMARKED_CHAIN_LB["5/16"][70]  # so printed
    assert tiedown_wll(5_400, 4_000, 4_700) == 4_000
    assert LoadRules().tiedown_wll_g == g(4_000)


# 23 U.S.C. 127(a)(2) as tabled in 67 Pa. Code 185.3: axles, then feet and pounds (51 and 57 ft computed from the formula)
BRIDGE = {
    2: {9: 39_000, 10: 40_000},
    3: {10: 43_500, 16: 48_000, 20: 51_000, 24: 54_000, 32: 60_000},
    4: {12: 50_000, 20: 55_500, 22: 56_500, 24: 58_000, 28: 60_500, 32: 63_500, 35: 65_500, 39: 68_000, 40: 68_500,
        45: 72_000, 51: 76_000, 57: 80_000},
    5: {16: 58_000, 20: 60_500, 28: 65_500, 33: 68_500, 35: 70_000, 40: 73_000, 45: 76_000, 47: 77_500, 51: 80_000},
    6: {20: 66_000, 35: 75_000, 43: 80_000},
    7: {24: 74_000, 34: 80_000},
}  # fmt: skip


@pytest.mark.parametrize(("axles", "feet", "pounds"), [(n, ft, lb) for n, row in BRIDGE.items() for ft, lb in row.items()])
def test_the_bridge_formula_is_the_published_table(axles: int, feet: int, pounds: int) -> None:
    assert bridge_limit_lb(feet, axles) == pounds


def test_where_the_law_supersedes_the_formula() -> None:
    """Traps: (4, 36 to 38) is 68,000 by the tandem rule, (2, up to 8) 34,000; (5, 51) raw 79,875 rounds up, not down."""
    assert [bridge_lb(feet, 4) for feet in (36, 37, 38)] == [66_000, 66_500, 67_500]
    assert [bridge_limit_lb(feet, 4) for feet in (35, 36, 37, 38, 39)] == [65_500, 68_000, 68_000, 68_000, 68_000]
    assert [bridge_lb(feet, 2) for feet in (5, 8)] == [35_000, 38_000]
    assert [bridge_limit_lb(feet, 2) for feet in (4, 5, 6, 7, 8)] == [34_000] * 5
    assert bridge_limit_lb(51, 5) == 80_000


def test_the_published_example_of_a_violation_is_found() -> None:
    """FHWA Bridge Formula Weights, the 3-S2 (from memory; limits computed): axles 2 to 5 over 35 ft carry 68,000 of 65,500."""
    feet = (0, 16, 20, 47, 51)
    places = [foot * FOOT for foot in feet]
    weights = [Fraction(g(12_000)), *[Fraction(g(17_000))] * 4]
    rows = {(first, last): (apart, weight, limit) for first, last, apart, weight, limit in bridge_rows(places, weights)}
    for axles, apart, weight, limit in (
        ((1, 5), 51, 80_000, 80_000),
        ((1, 3), 20, 46_000, 51_000),
        ((2, 5), 35, 68_000, 65_500),
    ):
        assert (rows[axles][0], rows[axles][2]) == (apart, g(limit))
        assert rows[axles][1] == pytest.approx(g(weight), abs=2)


def test_federal_axle_and_vehicle_limits() -> None:
    """23 U.S.C. 127(a): 20,000 lb an axle, 34,000 a tandem (over 40 to 96 in), 80,000 gross; 23 CFR 658.15: 102 in."""
    assert group_limit_g(1, 0, US, driven=False) == g(20_000)
    assert group_limit_g(2, 40 * INCH, US, driven=False) == g(20_000)
    assert group_limit_g(2, 41 * INCH, US, driven=False) == g(34_000)
    assert group_limit_g(2, 96 * INCH, US, driven=False) == g(34_000)
    assert group_limit_g(2, 10 * FOOT, US, driven=False) == g(40_000)
    assert gross_limit_g(5, US, articulated=True) == g(80_000)
    assert gross_limit_g(5, replace(US, gross_limit_g=Grams(30_000_000)), articulated=True) == 30_000_000
    assert legal_width_nm(US) == 102 * INCH


def test_european_limits() -> None:
    """96/53/EC Annex I: 40 t on five axles, width 2.55 m, height 4.00 m; drive axle 11.5 t, others 10 t from memory."""
    assert gross_limit_g(5, EU, articulated=True) == 40_000_000
    assert legal_width_nm(EU) == 2_550 * MM
    assert legal_height_nm(EU) == 4_000 * MM
    assert group_limit_g(1, 0, EU, driven=True) == 11_500_000
    assert group_limit_g(1, 0, EU, driven=False) == 10_000_000


def test_limits_rise_only_with_a_permit() -> None:
    permitted = replace(US, permit="P-1, route 40", permit_width_nm=Nm(120 * INCH), permit_gross_g=Grams(g(90_000)))
    assert legal_width_nm(permitted) == 120 * INCH
    assert gross_limit_g(5, permitted, articulated=True) == g(90_000)
    assert legal_width_nm(replace(permitted, permit=None)) == 102 * INCH
    assert gross_limit_g(5, replace(permitted, permit=None), articulated=True) == g(80_000)


DM = 100 * MM
WORKED = Deck(
    id="semi-trailer",
    length_nm=Nm(136 * DM),
    width_nm=Nm(25 * DM),
    height_nm=Nm(12 * DM),
    payload_g=Grams(27_000_000),
    tare_g=Grams(6_750_000),
    kingpin_nm=Nm(16 * DM),  # deck front to axle group 92, since the 5,000 kg piece's middle at 10 is 82 ahead of it
    axle_group_nm=Nm(92 * DM),
    mass_nm=Nm(76 * DM),
    axles=3,
    axle_spread_nm=Nm(26 * DM),
    tractor=Tractor(
        tare_g=Grams(7_300_000),
        steer_to_drive_nm=Nm(36 * DM),
        mass_to_drive_nm=Nm(25 * DM),
        kingpin_to_drive_nm=Nm(6 * DM),
        drive_axles=1,
    ),
)


def test_axle_weights_are_the_worked_example() -> None:
    """Case S9, equations of Krebs and Ehmke (2021), EURO Journal on Transportation and Logistics 10:100043."""
    weight = 5_000_000
    steer, drive, trailer = group_weights(WORKED, weight, weight * 10 * DM)
    kingpin = trailer.weight_g - weight - WORKED.tare_g
    assert float(-kingpin) / 1000 == pytest.approx(6_815.8, abs=0.05)
    assert float(trailer.weight_g) / 1000 == pytest.approx(4_934.2, abs=0.05)
    assert float(steer.weight_g) / 1000 == pytest.approx(6_205.4, abs=0.05)
    assert float(drive.weight_g) / 1000 == pytest.approx(7_910.4, abs=0.05)
    assert steer.weight_g + drive.weight_g + trailer.weight_g == 19_050_000
    places, weights = axle_places((steer, drive, trailer))
    assert [place / DM for place in places] == [-14, 22, 79, 92, 105]
    assert sum(weights) == 19_050_000


def test_taking_a_bundle_off_behind_the_axles_raises_the_drive_axle() -> None:
    """Case S9: why weights are worked out after every drop, not only at departure."""
    front, rear = (20_000_000, 40 * DM), (2_600_000, 125 * DM)
    both = group_weights(WORKED, front[0] + rear[0], front[0] * front[1] + rear[0] * rear[1])
    after = group_weights(WORKED, front[0], front[0] * front[1])
    assert after[1].weight_g > both[1].weight_g
    assert after[2].weight_g < both[2].weight_g


def deck_job(panels: int) -> LoadJob:
    """Two tiers and two lanes of bundles of so many 6 in panels, 24 ft, cover 48 in and a 1 in tongue."""
    height = Nm(panels * 6 * INCH + 7 * INCH // 2)
    bundles = tuple(
        LoadBundle(
            id=f"B{place}",  # type: ignore[arg-type]
            length_nm=Nm(24 * FOOT),
            width_nm=Nm(49 * INCH),
            height_nm=height,
            weight_g=Grams(g(1_520)),
            rank=place,
        )
        for place in range(8)
    )
    return LoadJob(decks=(flatbed(48, cost=100.0),), bundles=bundles)


def test_two_tiers_of_seven_stand_under_the_height_limit_and_two_of_eight_do_not() -> None:
    """Case S3: 162 in less a 60 in deck leaves 102; 2 x (42 + 3.5) = 91 stands, 2 x (48 + 3.5) = 103 does not; 98 in wide."""
    seven, eight = load(deck_job(7), Search()), load(deck_job(8), Search())
    assert (seven.status, seven.trucks) == ("optimal", 1)
    assert (eight.status, eight.trucks) == ("optimal", 2)
    assert seven.loads[0].height_nm == (60 + 91) * INCH
    assert check(deck_job(7), seven).faults == check(deck_job(8), eight).faults == ()
    lanes = {placed.y_nm for placed in seven.loads[0].placed}
    assert max(lanes) - min(lanes) >= 49 * INCH
