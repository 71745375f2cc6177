"""The rigging sheet's figures against published ones, and every bundle and heavy piece on it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from service.printing.sheets import PlanSheets
from solver.documents.rigging import SLING_UDEG, fork_rating_g, rig_sheets, sling_leg_g
from solver.domain.bundle import Bundle
from solver.domain.ids import BundleId
from solver.units import FOOT, INCH, Grams, MicroDeg, Nm, grams_from_pounds, pounds_from_grams
from tests.orders import DEMOS, plant
from tests.paper import page_count, page_text
from tests.samples import demo_index, demo_plan


def bundle(pounds_heavy: float, width_in: int, *, length_ft: int = 10) -> Bundle:
    return Bundle(
        id=BundleId("o/B01"),
        kind="panels",
        pieces=(),
        first_stands=1,
        length_nm=Nm(length_ft * FOOT),
        width_nm=Nm(width_in * INCH),
        height_nm=Nm(30 * INCH),
        weight_g=grams_from_pounds(pounds_heavy),
        centre_across_nm=Nm(width_in * INCH // 2),
        lift_nm=(Nm(3 * FOOT), Nm(7 * FOOT)),
    )


@pytest.mark.parametrize(
    ("rated_lb", "centre_in", "load_lb"),
    [(3_000, 30, 2_400), (5_000, 36, 3_333.333), (4_000, 48, 2_000)],
)
def test_a_truck_s_rating_follows_the_moment_of_the_load(rated_lb: float, centre_in: int, load_lb: float) -> None:
    """29 CFR 1910.178 App. A-5: 3,000 lb at 24 in is 72,000 in-lb, so 2,400 lb with its centre at 30 in; others by it."""
    needed = fork_rating_g(bundle(load_lb, 2 * centre_in), Nm(24 * INCH))
    assert pounds_from_grams(needed) == pytest.approx(rated_lb, abs=0.01)


def test_a_narrow_bundle_needs_a_truck_rated_for_its_weight_at_least() -> None:
    assert pounds_from_grams(fork_rating_g(bundle(1_000, 30), Nm(24 * INCH))) == pytest.approx(1_000, abs=0.01)


def test_a_mass_off_the_middle_counts_from_the_worse_side() -> None:
    leaning = replace(bundle(1_000, 48), centre_across_nm=Nm(20 * INCH))
    assert pounds_from_grams(fork_rating_g(leaning, Nm(24 * INCH))) == pytest.approx(1_000 * 28 / 24, abs=0.01)


@pytest.mark.parametrize(("angle", "factor"), [(60, 1.155), (45, 1.414), (30, 2.000)])
def test_sling_legs_pull_by_the_published_factors(angle: int, factor: float) -> None:
    """1 / sin of the angle from level: 60 degrees 1.155, 45 1.414, 30 2.000 (statics)."""
    leg = sling_leg_g(Grams(1_000_000), MicroDeg(angle * 1_000_000))
    assert leg / 500_000 == pytest.approx(factor, abs=5e-4)
    assert [udeg / 1e6 for udeg in SLING_UDEG] == [60, 45, 30]


@pytest.mark.parametrize("name", DEMOS)
def test_every_bundle_and_every_heavy_piece_is_on_the_sheet(name: str) -> None:
    index = demo_index(name)
    (sheet,) = rig_sheets(index)
    assert [row.bundle.id for row in sheet.rows] == list(index.bundles)
    lifts = {piece.id: index.plant.lift(piece.weight_g) for piece in index.pieces.values()}
    assert sum(row.count for row in sheet.crews) == len(lifts)
    assert len(sheet.hands) == sum(not lift.alone for lift in lifts.values()) > 0
    assert [row.stands for row in sheet.hands] == sorted(row.stands for row in sheet.hands)
    heaviest = max(piece.weight_g for piece in index.pieces.values())
    assert max(row.heaviest_g for row in sheet.crews) == heaviest
    for row in sheet.rows:
        assert row.spread_nm == row.bundle.lift_nm[-1] - row.bundle.lift_nm[0] > 0
        assert row.bundle.lift_nm[0] <= row.bundle.centre_nm <= row.bundle.lift_nm[-1]


def test_a_bundle_over_two_forks_reach_is_lifted_with_a_spreader() -> None:
    plan = demo_plan("cottage-7")
    part = plan.stacks[0]
    first = part.result.bundles[0]
    longer = replace(first, length_nm=Nm(24 * FOOT + 1))
    stacks = (replace(part, result=replace(part.result, bundles=(longer, *part.result.bundles[1:]))),)
    papers = PlanSheets(replace(plan, stacks=stacks), plant(), made="m")
    (sheet,) = rig_sheets(papers.index)
    assert [row.spreader for row in sheet.rows] == [True] + [False] * (len(sheet.rows) - 1)
    pdf = papers.rigging()
    text = " ".join("".join(page_text(pdf, page) for page in range(page_count(pdf))).split())
    for words in ("SPREADER", "qualified rigger", "29 CFR 1910.178", "HSE L23", "nobody under or beside the load"):
        assert words in text
