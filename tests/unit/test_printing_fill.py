"""Paper is laid out by someone who pays for it: how full pages are, seen from outside, and what may begin one of its own."""

from __future__ import annotations

from functools import cache
from itertools import groupby

import numpy
import pytest

from service.printing.sheets import PlanSheets
from solver.documents.texts import say
from solver.language import ENGLISH
from solver.reading.read_order import read_order
from solver.units import Unit
from tests.generators.plans import houses
from tests.orders import DEMOS, demo_building, plant
from tests.paper import page_count, page_text, rendered, text_boxes
from tests.samples import demo_plan, plan_of

HEAD_LINE_PT = 20.0
HEAD_PT, FOOT_PT = 58.0, 40.0  # of a page, not its contents
LEAST = 0.62  # of the pages' height that contents take, the last page of each begun anew apart
BEGINS = {  # what may begin a page, as the right of a page's head tells it; of others the whole file is one
    "loads",  # a truck
    "packing",  # an order
    "rigging",
    "bundles",
    "anchors",
    "saw",  # a machine
}
JUDGED = ("machine-days", "loads", "bundles", "slit", "brake", "packing", "purchase", "saw")


MEAN = {  # of the pages' height that contents take, all pages of a file together
    "installation": 0.74,
    "saw": 0.66,
    "loads": 0.66,
    "packing": 0.66,
}
PAGES_A_PIECE = {  # at most; before paper flowed: installation 0.161 and 0.227, saw 0.331 and 0.296
    "installation": 0.125,
    "saw": 0.28,
    "loads": 0.02,
    "packing": 0.016,
}


def filled(pdf: bytes) -> list[float]:
    """Return how far down the contents of each page reach, 0 to 1 of its height between head and foot."""
    found = []
    for picture in rendered(pdf, 36):
        rows = numpy.flatnonzero((numpy.asarray(picture) < 160).any(axis=1)) * 2
        high = picture.height * 2
        inside = rows[(rows > HEAD_PT) & (rows < high - FOOT_PT)]
        found.append((float(inside.max()) - HEAD_PT) / (high - HEAD_PT - FOOT_PT) if len(inside) else 0.0)
    return found


def head(pdf: bytes, page: int) -> str:
    """Return what a page's head names: what stands highest on it. Its foot comes second in the text, so lines tell nothing."""
    boxes = text_boxes(pdf, page)
    top = max(high for (_, _, _, high), _ in boxes)
    return " ".join(text for (_, low, _, _), text in boxes if low > top - HEAD_LINE_PT)


def test_a_page_s_head_tells_what_it_is_about() -> None:
    """The grouping itself: a page a truck, whose heads differ by the truck and not by the page's number in the foot."""
    pdf = PlanSheets(demo_plan(DEMOS[1]), plant(), made="2031-05-05 06:00").all()["loads"]()
    loads = [str(load.id) for part in demo_plan(DEMOS[1]).loads for load in part.result.loads]
    heads = [head(pdf, page) for page in range(page_count(pdf))]
    assert len(heads) > len(loads) > 1
    assert list(dict.fromkeys(next(load for load in loads if load in text) for text in heads)) == loads
    assert len(set(heads)) == len(loads)
    assert not any("page" in text for text in heads)


@pytest.mark.parametrize("sheet", JUDGED)
@pytest.mark.parametrize(("name", "unit"), [(DEMOS[0], "in"), (DEMOS[1], "mm")])
def test_a_file_has_no_more_pages_than_its_contents_need(name: str, unit: Unit, sheet: str) -> None:
    pdf = PlanSheets(demo_plan(name, unit), plant(), made="2031-05-05 06:00").all()[sheet]()
    count = page_count(pdf)
    full = filled(pdf) if pdf else []
    own = sheet in BEGINS
    for about, some in groupby(range(count), key=lambda page: head(pdf, page) if own else ""):
        pages = list(some)
        assert len(pages) <= sum(full[page] for page in pages) / LEAST + 1, (about, [round(full[page], 2) for page in pages])


@pytest.mark.parametrize("sheet", sorted(MEAN))
@pytest.mark.parametrize("which", ["demo", "ten"])
def test_paper_of_several_houses_is_full_and_little(which: str, sheet: str) -> None:
    """All demo orders in one plan, and ten random houses: what is printed for a house is paid for by the sheet."""
    makers = several(which).all()
    pdfs = [make() for name, make in makers.items() if name.startswith(sheet)]
    full = [share for pdf in pdfs for share in filled(pdf)]
    pieces = len(several(which).index.pieces)
    assert pieces > 400
    assert sum(full) / len(full) >= MEAN[sheet], [round(share, 2) for share in full]
    assert len(full) / pieces <= PAGES_A_PIECE[sheet], (len(full), pieces)


@pytest.mark.parametrize("which", ["demo", "ten"])
def test_a_truck_of_up_to_fourteen_bundles_takes_a_page_with_every_word_of_its_cautions(which: str) -> None:
    """Trucks of 11 to 14 bundles took a second page for 10 to 60 points, most of them the caution about securement."""
    papers = several(which)
    loads = {str(load.id): load for part in papers.index.plan.loads for load in part.result.loads}
    pdf = papers.all()["loads"]()
    pages: dict[str, list[str]] = {}
    for page in range(page_count(pdf)):
        text = " ".join(page_text(pdf, page).split())
        pages.setdefault(text.split(" ")[2], []).append(text)  # "Load sheet", then which
    assert set(pages) == set(loads)
    caution, defer = (" ".join(say(ENGLISH, key).split()) for key in ("caution_road", "defer"))
    for name, texts in pages.items():
        assert caution in " ".join(texts) and defer in " ".join(texts), name
        assert len(texts) == 1 or len(loads[name].placed) > 14, (name, len(loads[name].placed))
    assert any(11 <= len(load.placed) <= 14 for load in loads.values())


@cache
def several(which: str) -> PlanSheets:
    """Return the paper of all demo orders together, or of ten random houses."""
    demos = [demo_building(name) for name in DEMOS]
    buildings = demos if which == "demo" else [read_order(order, plant()) for order in houses(7, 10, plant())]
    return PlanSheets(plan_of(*buildings), plant(), made="2031-05-05 06:00")


def test_a_page_that_is_nearly_empty_is_noticed() -> None:
    """The measure itself: a page of one line is filled by less than a tenth, one of a long list by more than nine."""
    from service.printing.sheet_pages import Column, SheetPages, SheetSetting

    pages = SheetPages("t", SheetSetting(plan="p", made="m"))
    pages.page("s")
    pages.text("a line")
    pages.page("s")
    pages.table((Column(title="a", share=1),), [("x",)] * 36)
    short, long = filled(pages.pdf())
    assert short < 0.1 and long > 0.9
