"""A plan of an order in millimetres and one in feet and inches: the plant reads its own unit, each crew its order's."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from functools import cache

import pytest

from service.drawings.figures import length_figure
from service.printing.sheets import PlanSheets
from solver.units import Unit, show_length, show_weight
from tests.orders import demo_building, plant
from tests.paper import page_count, page_text
from tests.samples import plan_of

METRIC, FEET = "workshop-3", "cottage-7"
FOR_THE_PLANT = ("saw", "bevel", "router", "drill", "brake", "pieces", "bundles", "loads", "purchase")
FOR_THE_CREW = ("installation", "anchors", "packing", "rigging")
POUNDS, KILOS = re.compile(r"\d lb\b"), re.compile(r"\d kg\b")
# over a yard in millimetres; not the years and the standard's number that sheets quote, nor 11 15 of 11 15/16 in: foot and inch
# marks and fractions are drawn, not text
MILLIMETRES = re.compile(r"(?<![\w.,/-])(?!2031|1910|1[01]1[135](?![\d.]))[1-9]\d{3}(?:\.\d)?(?![\w/-]|\.\d)")


@cache
def papers(unit: Unit) -> PlanSheets:
    """Return the paper of a plant in a unit; the plan's first order is the other one's."""
    orders = [replace(demo_building(METRIC), unit="mm"), replace(demo_building(FEET), unit="in")]
    first = orders if unit == "in" else orders[::-1]
    return PlanSheets(plan_of(*first, catalog=plant(unit)), plant(unit), made="2031-05-05 06:00")


def as_read(text: str) -> str:
    """Return a length as a reader of PDF finds it: foot and inch marks are strokes."""
    return text.replace("'", "").replace('"', "")


def pages(sheet: str, unit: Unit) -> Iterator[str]:
    """Yield the text of each page of a sheet."""
    made = papers(unit)
    pdf = made.installation() if sheet == "installation" else made.all()[sheet]()
    yield from (page_text(pdf, page) for page in range(page_count(pdf)))


@pytest.mark.parametrize("sheet", FOR_THE_PLANT)
def test_the_plant_reads_its_own_unit_whatever_the_first_order_says(sheet: str) -> None:
    inches, metric = "".join(pages(sheet, "in")), "".join(pages(sheet, "mm"))
    assert MILLIMETRES.search(metric)
    assert not MILLIMETRES.search(inches)
    assert not KILOS.search(inches)
    assert not POUNDS.search(metric)
    assert "lengths in millimetres" in metric
    assert "lengths in" not in inches


@pytest.mark.parametrize("unit", ["in", "mm"])
@pytest.mark.parametrize("sheet", FOR_THE_CREW)
def test_the_crew_reads_the_unit_of_its_order_at_either_plant(sheet: str, unit: Unit) -> None:
    seen, figures = set(), {True: 0, False: 0}
    for text in pages(sheet, unit):
        metric = METRIC in text.split("plan sample")[0]
        seen.add(metric)
        figures[metric] += len(MILLIMETRES.findall(text))
        if metric:
            assert not POUNDS.search(text)
            assert "lengths in millimetres" in text
        else:
            assert not KILOS.search(text)
            assert ("lengths in feet and inches" in text) == (unit == "mm")
    assert seen == {True, False}
    assert figures[True] > 5
    assert figures[False] == 0


@pytest.mark.parametrize("unit", ["in", "mm"])
def test_a_label_says_the_plant_s_unit_and_the_crew_s_beside_where_they_differ(unit: Unit) -> None:
    index = papers(unit).index
    for order, crew in ((METRIC, "mm"), (FEET, "in")):
        piece = next(piece for piece in index.pieces.values() if piece.order == order and piece.is_panel)
        text = page_text(papers(unit).labels(piece.id))
        units: set[Unit] = {unit, "mm" if crew == "mm" else "in"}
        for one in ("in", "mm"):
            assert (as_read(show_length(piece.length_nm, one)) in text) == (one in units)
            assert (show_weight(piece.weight_g, one) in text) == (one in units)


@pytest.mark.parametrize("unit", ["in", "mm"])
def test_a_bundle_s_tag_says_both_where_they_differ(unit: Unit) -> None:
    index = papers(unit).index
    for order, crew in ((METRIC, "mm"), (FEET, "in")):
        bundle = next(bundle for bundle in index.bundles.values() if bundle.order == order)
        text = page_text(papers(unit).bundle_tags(bundle.id))
        for one in ("in", "mm"):
            assert (show_weight(bundle.weight_g, one) in text) == (one in {unit, crew})


def test_figures_of_a_metric_elevation_are_those_of_its_walls() -> None:
    """What is read off the paper is the building's own size, so that the unit is not a mere word in the foot."""
    building = demo_building(METRIC)
    text = "".join(text for text in pages("installation", "in") if METRIC in text)
    for wall in building.walls:
        assert length_figure(wall.length_nm, "mm") in text
