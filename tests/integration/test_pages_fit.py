"""Every page in a real browser, by day and by night, on a tablet, a wide screen and a phone: it can be used, and it fits.

Accessibility is judged by axe-core (its rules of WCAG 2.2 A and AA and of good practice, those it calls serious or critical).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

import pytest

from api_tests.conftest import browser
from tests.pages import PageSet, page_routes, quoted, served

__all__ = ["browser"]

SIZES = {"tablet": (1280, 800), "wide": (1920, 1080), "phone": (390, 844)}
SCHEMES = ("light", "dark")
AXE = """axe.run({resultTypes: ['violations']}).then((told) => told.violations
  .filter((one) => ['serious', 'critical'].includes(one.impact))
  .flatMap((one) => one.nodes.map((node) => `${one.id}: ${node.html.slice(0, 200)}`)))"""
MEASURE = """() => {
  const lines = (cell) => {
    const range = document.createRange();
    range.selectNodeContents(cell);
    return new Set([...range.getClientRects()].filter((box) => box.width > 1).map((box) => Math.round(box.bottom / 12))).size;
  };
  const thin = [...document.querySelectorAll('td, th')].filter((cell) => {
    const words = cell.innerText.split(/\\s+/).filter((word) => word).length;
    const free = lines(cell) - cell.querySelectorAll('br, li, p').length;
    return words >= 4 && free >= 4 && words / free < 1.5 && cell.innerText.length / free < 14;
  });
  const broken = [...document.querySelectorAll('td a')].filter((link) => !/\\s/.test(link.innerText) && lines(link) > 1);
  const wide = (name) => document.querySelector(name)?.getBoundingClientRect().width ?? null;
  return {
    over: document.documentElement.scrollWidth - document.documentElement.clientWidth,
    thin: thin.map((cell) => cell.innerText.slice(0, 60)), broken: broken.map((link) => link.innerText),
    widths: ['header.strip', 'main', '.acts'].map(wide).filter((one) => one !== null),
  };
}"""


@dataclass(frozen=True)
class Seen:
    """What was seen of a page on a screen: what axe-core says by scheme, and how it fits."""

    wrong: dict[str, list[str]]
    fit: dict[str, Any]


@pytest.fixture(scope="module")
def pages(tmp_path_factory: pytest.TempPathFactory) -> Iterator[PageSet]:
    made = PageSet(tmp_path_factory.mktemp("pages"))
    yield made
    made.store.close()


@pytest.fixture(scope="module")
def tab(browser: Any, pages: PageSet) -> Iterator[Any]:
    """A page that all tests share."""
    with served(pages) as address:
        context = browser.new_context(base_url=address, locale="en-US")
        page = context.new_page()
        page.set_default_timeout(90_000)
        yield page
        context.close()


@pytest.fixture(scope="module")
def seen(tab: Any, pages: PageSet) -> dict[tuple[str, str], Seen]:
    """Every address on every screen; each is loaded once, then shown in each size and scheme."""
    script = files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")
    made = {}
    for address in (*(one for some in pages.addresses().values() for one in some), "/no-such-page"):
        tab.goto(address)
        tab.evaluate(script)
        for name, (width, height) in SIZES.items():
            tab.set_viewport_size({"width": width, "height": height})
            wrong = {}
            for scheme in SCHEMES:
                tab.emulate_media(color_scheme=scheme)
                wrong[scheme] = tab.evaluate(AXE)
            made[address, name] = Seen(wrong=wrong, fit=tab.evaluate(MEASURE))
    return made


def test_every_route_that_answers_with_a_page_is_looked_at(pages: PageSet) -> None:
    """A page that is added to the application and not to the list fails here."""
    assert page_routes(pages.app) == set(pages.addresses())
    assert all(pages.addresses().values())


def test_no_page_has_what_axe_calls_serious_or_critical(seen: dict[tuple[str, str], Seen]) -> None:
    """In three sizes and two schemes."""
    wrong = {(*at, scheme): found for at, one in seen.items() for scheme, found in one.wrong.items() if found}
    assert {len(one.wrong) for one in seen.values()} == {len(SCHEMES)}
    assert wrong == {}


def test_axe_notices_what_is_put_in_wrong(tab: Any) -> None:
    """A picture without words, grey on grey, and a chart that scrolls but that no key reaches."""
    spoiled = """() => document.querySelector('main').insertAdjacentHTML('beforeend', '<img src="/static/icon.svg">'
      + '<p style="color:#777;background:#888">grey</p>') ?? document.querySelector('.wide').removeAttribute('tabindex')"""
    tab.set_viewport_size({"width": 390, "height": 844})
    tab.emulate_media(color_scheme="light")
    tab.goto("/planner")
    tab.evaluate(files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8"))
    tab.evaluate(spoiled)
    assert {told.partition(":")[0] for told in tab.evaluate(AXE)} == {
        "image-alt", "color-contrast", "scrollable-region-focusable",
    }  # fmt: skip


def test_no_page_scrolls_sideways(seen: dict[tuple[str, str], Seen]) -> None:
    assert {at: one.fit["over"] for at, one in seen.items() if one.fit["over"] > 0} == {}


def test_no_table_has_one_word_a_line(seen: dict[tuple[str, str], Seen]) -> None:
    """Nor is a name broken over lines."""
    assert {at: one.fit["thin"] for at, one in seen.items() if one.fit["thin"]} == {}
    assert {at: one.fit["broken"] for at, one in seen.items() if one.fit["broken"]} == {}


def test_header_content_and_buttons_are_as_wide_as_each_other(seen: dict[tuple[str, str], Seen]) -> None:
    """Content stopped at 1560 px on a wide screen while header and buttons went on."""
    assert {at: one.fit["widths"] for at, one in seen.items() if len(set(one.fit["widths"])) != 1} == {}


def test_a_long_name_keeps_the_orders_beside_the_chart(tab: Any, pages: PageSet) -> None:
    """No table reaches out of its column, and the name stands whole."""
    for width, height in SIZES.values():
        tab.set_viewport_size({"width": width, "height": height})
        tab.goto("/planner")
        out = """() => [...document.querySelectorAll('.two > section')].map((section) => Math.max(...[...section
          .querySelectorAll('table')].map((table) => table.getBoundingClientRect().right), 0) -
          section.getBoundingClientRect().right)"""
        assert max(tab.evaluate(out)) <= 1
        assert pages.documents[0]["site"]["ship_to"]["name"] in " ".join(tab.inner_text("main").split())


def far_cut(pages: PageSet) -> Any:
    """A bar whose first cut lies far from zero, out of a phone's sight."""
    waiting = [bar for bar in pages.bars if all(cut["state"] == "waiting" and cut.get("strokes") for cut in bar["cuts"])]
    return max(waiting, key=lambda bar: bar["cuts"][0]["strokes"][0]["fence"] / bar["length"])


def cut_in_sight(tab: Any) -> bool:
    """Whether the chalk line stands within what is seen of its drawing."""
    inside = """() => {
      const view = document.querySelector('.bar').getBoundingClientRect();
      const line = document.querySelector('.bar .d-cut').getBoundingClientRect();
      return view.left <= line.left && line.right <= view.right;
    }"""
    return bool(tab.evaluate(inside))


def test_on_a_phone_the_drawing_is_scrolled_to_the_cut(tab: Any, pages: PageSet) -> None:
    """As the page opens, and as it changes in place."""
    bar = far_cut(pages)
    stroke = bar["cuts"][0]["strokes"][0]
    assert stroke["fence"] > 0.55 * bar["length"]
    pull = f"/saw/{bar['machine']}?bar={quoted(bar['id'])}"
    tab.set_viewport_size({"width": 390, "height": 844})
    tab.goto(f"{pull}&pulled={bar['position']}")
    tab.wait_for_function("document.querySelector('.bar').scrollLeft > 0")
    assert cut_in_sight(tab)
    change = """(there) => {
      const link = Object.assign(document.createElement('a'), { href: there });
      document.querySelector('main').append(link);
      link.click();
    }"""
    tab.evaluate(change, f"{pull}&pulled={bar['position']}&ask=wrong")
    tab.wait_for_selector("text=Scrap it: damaged")
    assert cut_in_sight(tab)


def test_on_a_phone_what_to_cut_or_load_stands_above_the_buttons(tab: Any, pages: PageSet) -> None:
    """The tag is seen without a scroll; and at the end of the page no tag of the list is left under the buttons."""
    tab.set_viewport_size({"width": 390, "height": 844})
    bar = far_cut(pages)
    boxes = "(name) => [...document.querySelectorAll(name)].map((one) => one.getBoundingClientRect().toJSON())"
    cutting = f"/saw/{bar['machine']}?bar={quoted(bar['id'])}&pulled={bar['position']}"
    for address in (cutting, f"/dock/{pages.loads[0]['id']}"):
        tab.goto(address)
        (acts,) = tab.evaluate(boxes, ".acts")
        first = tab.evaluate(boxes, "main .tag")[0]
        assert first["top"] > 0 and first["bottom"] <= acts["top"], address
        for number in tab.evaluate(boxes, "main .big"):
            assert number["bottom"] <= acts["top"]
        tab.evaluate("window.scrollTo(0, document.body.scrollHeight)")
        (acts,) = tab.evaluate(boxes, ".acts")
        assert all(one["bottom"] <= acts["top"] for one in tab.evaluate(boxes, "main .tag"))
