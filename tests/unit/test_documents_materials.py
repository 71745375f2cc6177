"""What bars are made from: run, weight and volume by hand, drawn once from what is held, slitting not counted twice."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from service.printing.sheets import PlanSheets
from solver.documents.index import PlanIndex
from solver.documents.lists import purchase_rows
from solver.documents.materials import material_rows
from solver.domain.plan import SlitPart
from solver.domain.stock import CoreStock
from solver.slitting.slit import slit
from solver.slitting.trims import slit_jobs
from solver.units import INCH, Grams, show_volume
from tests.languages import ENGLISH, SPANISH
from tests.orders import DEMOS, plant
from tests.paper import page_count, page_text, spoiled_places
from tests.samples import SEARCH, demo_plan


@cache
def with_slits(name: str) -> PlanIndex:
    plan = demo_plan(name)
    parts = tuple(
        SlitPart(material=material, job=job, result=slit(job, SEARCH))
        for material, job in slit_jobs(plan.cuts, plant(), plant().stated_stock.coils)
    )
    return PlanIndex(replace(plan, slits=parts), plant())


@pytest.mark.parametrize("name", DEMOS)
def test_skins_are_two_a_laminated_bar_with_the_plant_s_reserve(name: str) -> None:
    index = with_slits(name)
    skins = [row for row in material_rows(index) if row.kind == "skin"]
    bare = 0
    for cut in index.plan.cuts:
        if cut.material.count("|") == 2:  # a panel: family, outside, inside
            held = {stock.id for stock in cut.job.stock if stock.count is not None}
            bare += 2 * sum(bar.length_nm for bar in cut.bars if bar.stock not in held)
    assert sum(row.run_nm for row in skins) == pytest.approx(
        bare * (1 + index.plant.reserve_permille / 1000), abs=10
    )  # rounded up for each kind
    widths = {family.developed_nm for family in index.plant.families}
    for row in skins:
        assert row.width_nm in widths
        square_m = row.run_nm / 1e9 * row.width_nm / 1e9
        assert row.needed == pytest.approx(square_m * 4423.479, rel=1e-3)  # 26 ga: 0.906 lb/ft2


@pytest.mark.parametrize("name", DEMOS)
def test_slit_coil_is_the_run_that_slitting_states_without_another_reserve(name: str) -> None:
    index = with_slits(name)
    coils = [row for row in material_rows(index) if row.kind == "coil"]
    assert [row.run_nm for row in coils] == [part.result.steel_nm for part in index.plan.slits]
    assert len(coils) > 1


@pytest.mark.parametrize("name", DEMOS)
def test_core_fills_the_bars_that_are_laminated(name: str) -> None:
    index = with_slits(name)
    rows = [row for row in material_rows(index) if row.kind == "core"]
    assert rows
    for row in rows:
        assert row.thickness_nm is not None
        assert row.needed == pytest.approx(row.run_nm * row.width_nm * row.thickness_nm / 1e24, rel=1e-3)


def test_what_is_held_is_drawn_once() -> None:
    index = with_slits("cottage-7")
    bare = replace(index.plant, coils=(), cores=())
    assert all(row.held == 0 and row.sources == () for row in material_rows(PlanIndex(index.plan, bare)))
    coil = replace(index.plant.coils[0], colour="white", width_nm=index.plant.families[0].developed_nm)
    first = next(row for row in material_rows(index) if row.kind == "skin" and row.item.endswith("white"))
    short = replace(bare, coils=(replace(coil, weight_g=Grams(first.needed // 2)),))
    rows = material_rows(PlanIndex(index.plan, short))
    assert sum(row.held for row in rows) == first.needed // 2
    assert [row.sources for row in rows if row.held] == [(f"{coil.id} ({coil.heat})",)]
    cored = replace(bare, cores=(CoreStock(core=index.plant.families[0].core, litres=5),))
    assert sum(row.held for row in material_rows(PlanIndex(index.plan, cored))) == 5


@pytest.mark.parametrize("name", DEMOS)
def test_what_is_slit_or_laminated_here_is_made_and_not_bought(name: str) -> None:
    rows = [row for row in purchase_rows(with_slits(name)) if row.kind == "bar"]
    assert sum(row.to_buy for row in rows) == 0
    assert sum(row.to_make for row in rows) > 0
    unslit = [row for row in purchase_rows(PlanIndex(demo_plan(name), plant())) if row.kind == "bar"]
    assert sum(row.to_buy for row in unslit) > 0


def test_the_purchase_list_says_skins_coil_core_bars_and_packs() -> None:
    index = with_slits("cottage-7")
    for language, words in (
        (ENGLISH, ("Skins, coil and core", "2 % for remakes", "skin", "slit coil", "core")),
        (SPANISH, ("lámina",)),
    ):
        pdf = PlanSheets(index.plan, plant(), made="m", language=language).purchase()
        text = " ".join("".join(page_text(pdf, page) for page in range(page_count(pdf))).split())
        for word in words:
            assert word in text
        assert all(spoiled_places(pdf, page) == [] for page in range(page_count(pdf)))


def test_volumes_are_shown_in_the_plan_s_unit() -> None:
    assert show_volume(2_832, "in") == "101 ft³"  # a cubic foot is 28.3168 litres: rounded up, so that it suffices
    assert show_volume(2_832, "mm") == "2.83 m³"
    assert INCH**3 * 1728 == 28_316_846_592 * 10**15
