"""Every page and every sheet in Spanish: no English is left but ids and what a person wrote."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from functools import cache

import pytest

from service.printing.sheets import PlanSheets
from tests.languages import SPANISH
from tests.orders import demo_building, plant
from tests.pages import LONG_NAME, PageSet
from tests.paper import page_count, page_text
from tests.samples import demo_plan
from tests.unit.test_languages_shown import WORD, left_english

HIDDEN = re.compile(r"<(script|style|template|pre)\b.*?</\1>|<!--.*?-->|<[^>]*>", re.DOTALL)  # `pre`: an order as it was sent
SAID = re.compile(r'\b(?:title|aria-label|placeholder|alt)="([^"]*)"')
FEWEST_WORDS = 20  # a page or sheet with fewer is none
SHEETS_READ = 12  # of one file; the rest are alike


def shown(page: str) -> str:
    """Return the text of a page that people see or hear: between its tags, and in the attributes that are said."""
    return html.unescape(HIDDEN.sub("\n", page) + "\n" + "\n".join(SAID.findall(page)))


@cache
def theirs() -> frozenset[str]:
    """The words of the plant's own ids, of openings that the orders name, and of the customer's name."""
    openings = {
        str(opening.id)
        for name in ("cottage-7", "workshop-3")
        for wall in demo_building(name).walls
        for opening in wall.openings
    }
    written = " ".join((LONG_NAME, *openings, *(str(one.id) for one in plant().workplaces)))
    return frozenset(WORD.findall(written.lower()))


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PageSet]:
    made = PageSet(tmp_path_factory.mktemp("spanish"))
    yield made
    made.store.close()


def test_no_page_has_english_left(pages: PageSet) -> None:
    left: dict[str, set[str]] = {}
    for address in (*(one for some in pages.addresses().values() for one in some), "/no-such-page"):
        told = pages.web.get(address, headers={"Accept-Language": "es", "Accept": "text/html"}).text
        assert '<html lang="es"' in told, address
        assert len(shown(told).split()) > FEWEST_WORDS, address
        words = left_english(shown(told)) - theirs()
        if words:
            left[address] = words
    assert left == {}


@pytest.mark.parametrize("order", ["cottage-7", "workshop-3"])
def test_no_sheet_has_english_left(order: str) -> None:
    left: dict[str, set[str]] = {}
    papers = PlanSheets(demo_plan(order), plant(), made="m", language=SPANISH).all()
    drawn = {name: draw() for name, draw in papers.items()}
    assert len([pdf for pdf in drawn.values() if pdf]) > len(drawn) / 2
    for name, pdf in drawn.items():
        text = " ".join(page_text(pdf, n) for n in range(min(page_count(pdf), SHEETS_READ)))
        words = left_english(" ".join(text.split())) - theirs()
        if words:
            left[name] = words
    assert left == {}
