"""Gauge weights, panel weight and turns of the demo plant against published tables and worked cases."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import product

import pytest

from service.catalog import read_plant
from solver.domain.plant import EdgeKind, PanelFamily
from tests.shared import case

MG_PER_LB, M2_PER_FT2 = Fraction(453_592_370, 1000), Fraction(9_290_304, 100_000_000)

# gauge: nominal galvanized lb/ft2. Source: SMACNA sheet citing ASTM A924/A653 (checks.md section 3)
GALVANIZED = {18: "2.156", 20: "1.656", 22: "1.406", 24: "1.156", 26: "0.906", 28: "0.781", 29: "0.719", 30: "0.656"}
# Manufacturers' Standard Gauge, lb/ft2 (checks.md section 3: column from memory)
STANDARD = {18: "2.000", 20: "1.500", 22: "1.250", 24: "1.000", 26: "0.750", 28: "0.625", 29: "0.5625", 30: "0.500"}


def mg_per_m2(pounds_per_square_foot: str) -> Fraction:
    return Fraction(pounds_per_square_foot) * MG_PER_LB / M2_PER_FT2


@pytest.mark.parametrize("gauge", GALVANIZED)
def test_the_gauge_table_keeps_its_own_identity(gauge: int) -> None:
    """Galvanized = standard gauge + 2.5 oz/ft2 = 0.15625 lb/ft2: catches a column that is shifted a row."""
    assert abs(Fraction(GALVANIZED[gauge]) - Fraction(STANDARD[gauge]) - Fraction(15625, 100_000)) <= Fraction(1, 1000)


def test_skins_and_profiles_weigh_what_their_gauge_says() -> None:
    plant = read_plant()
    for family in plant.families:
        assert abs(family.skin_mg_per_m2 - mg_per_m2(GALVANIZED[family.skin_gauge])) < 1, family.id
    for profile in plant.profiles:
        assert abs(profile.mg_per_m2 - mg_per_m2(GALVANIZED[profile.gauge])) < 1, profile.id


def test_a_core_weighs_at_least_what_astm_c578_asks() -> None:
    """EPS Type I: at least 0.90 lb/ft3. Source: ASTM C578 (checks.md section 3)."""
    least = Fraction(90, 100) * Fraction(45_359_237, 100_000) / Fraction(28_316_846_592, 10**12)
    for family in read_plant().families:
        assert family.core == "EPS Type I"
        assert 0 <= family.core_g_per_m3 - least < 1


def test_a_six_inch_panel_of_4_by_20_feet_weighs_180_96_lb() -> None:
    """Two 26 ga skins and a Type I core: 2.262 lb/ft2, 180.96 lb (checks.md section 3, computed; no glue, no edges)."""
    family = read_plant().family("W6")
    area = Fraction(80) * M2_PER_FT2
    grams = area * (2 * Fraction(family.skin_mg_per_m2, 1000) + Fraction(family.thickness_nm, 10**9) * family.core_g_per_m3)
    assert float(grams * 1000 / MG_PER_LB) == pytest.approx(180.96, abs=0.02)


EDGES: dict[str, tuple[EdgeKind, bool]] = {
    "tongue/groove, centred": ("tongue_groove", True),
    "tongue/groove, off centre": ("tongue_groove", False),
    "half-lap (outer lip one edge, inner lip other)": ("half_lap", True),
    "alike edges, centred (spline)": ("spline", True),
    "alike edges, off centre": ("spline", False),
    "plain square edges": ("plain", True),
}


def family_of(edges: str, *, alike: bool, directional: bool) -> PanelFamily:
    kind, centred = EDGES[edges]
    return replace(read_plant().families[0], edges=kind, joint_centred=centred, faces_alike=alike, directional=directional)


@pytest.mark.parametrize(("edges", "alike"), list(product(EDGES, (True, False))))
def test_turns_follow_from_the_edges(edges: str, *, alike: bool) -> None:
    """Case G4: 3-D half turns of the edge profile; a directional finish removes the turns that run backwards."""
    row = f"{edges} | faces {'alike' if alike else 'differ'} | plain finish"
    expected = set(case("G4")["expected"][row])
    assert set(family_of(edges, alike=alike, directional=False).turns(faces_alike=alike)) == expected
    still = expected - {"end_for_end", "over_end"}
    assert set(family_of(edges, alike=alike, directional=True).turns(faces_alike=alike)) == still
