"""Every sheet of orders that try it: the longest names, one piece, slivers, hundreds of pieces; both languages and papers."""

from __future__ import annotations

import pytest

from service.drawings.board import DrawingBoard
from service.drawings.expand_shapes import expand_shapes, line_crosses_box, overlapping_texts, text_bounding_box
from service.drawings.shapes import Circle, Line, Tag, Text
from service.printing.sheet_pages import Column, Paper, SheetPages, SheetSetting, _widths
from service.printing.sheets import PlanSheets
from solver.units import Unit
from tests.languages import ENGLISH, LANGUAGES, SPANISH, Language
from tests.orders import DEMOS, plant
from tests.paper import page_count, page_text, spoiled_places
from tests.samples import demo_plan
from tests.stress import stress_plan

OTHERS = {"labels", "bundle-tags"}  # have tests of their own
WAYS: list[tuple[Language, Paper, Unit]] = [
    (ENGLISH, "letter", "in"),
    (SPANISH, "A4", "mm"),
    (SPANISH, "letter", "in"),
    (ENGLISH, "A4", "mm"),
]
MOST_PAGES = 6  # of a file of hundreds: the first and the last ones


def looked_at(count: int) -> list[int]:
    return list(range(count)) if count <= 2 * MOST_PAGES else [*range(MOST_PAGES), *range(count - MOST_PAGES, count)]


def spoiled(papers: PlanSheets) -> list[tuple[str, int, str]]:
    """What is wrong with any sheet of a plan: its name, the page, the lettering."""
    wrong = []
    for name, make in papers.all().items():
        if name not in OTHERS:
            pdf = make()
            wrong += [(name, page + 1, text) for page in looked_at(page_count(pdf)) for text in spoiled_places(pdf, page)]
    return wrong


@pytest.mark.parametrize("kind", ["names", "one", "small", "many"])
@pytest.mark.parametrize(("language", "paper", "unit"), WAYS[:2])
def test_no_sheet_of_a_stress_order_is_spoiled(kind: str, language: Language, paper: Paper, unit: Unit) -> None:
    assert spoiled(PlanSheets(stress_plan(kind, unit), plant(), made="2031-05-05 06:00", language=language, paper=paper)) == []


@pytest.mark.parametrize("name", DEMOS)
@pytest.mark.parametrize(("language", "paper", "unit"), WAYS)
def test_no_sheet_of_a_demo_order_is_spoiled(name: str, language: Language, paper: Paper, unit: Unit) -> None:
    assert spoiled(PlanSheets(demo_plan(name, unit), plant(), made="2031-05-05 06:00", language=language, paper=paper)) == []


def test_stress_orders_are_what_they_say() -> None:
    names = stress_plan("names", "in").takeoffs[0]
    assert max(len(piece.mark) for piece in names.pieces) > 80
    assert len(stress_plan("one", "in").takeoffs[0].pieces) == 1
    assert len(stress_plan("many", "in").takeoffs[0].pieces) > 700


def test_a_row_longer_than_a_page_is_parted_and_loses_nothing() -> None:
    for language in LANGUAGES:
        sheets = SheetPages("t", SheetSetting(plan="p", made="m", language=language))
        sheets.page("s")
        words = [f"w{n}" for n in range(1_500)]
        sheets.table((Column(title="a", share=1), Column(title="b", share=9)), [("x", " ".join(words)), ("y", "z")])
        pdf = sheets.pdf()
        assert all(spoiled_places(pdf, page) == [] for page in range(page_count(pdf)))
        shown = " ".join(page_text(pdf, page) for page in range(page_count(pdf))).split()
        assert [word for word in shown if word.startswith("w")] == words


def test_columns_of_unbreakable_names_still_fit_the_page() -> None:
    columns = [Column(title="title", share=1) for _ in range(9)]
    wides = _widths(columns, [tuple("unbreakable" * 8 for _ in columns)], 540.0, 11.0)
    assert sum(wides) == pytest.approx(540.0)
    assert min(wides) > 40


def test_a_leader_goes_round_other_lettering() -> None:
    board = DrawingBoard("t", room_pt=(400, 300), size_nm=(400, 300), unit="mm")
    board.set_body((0, 0, 400, 100))
    board.tag((200, 112), "in the way", within=(1e9, 1e9))
    board.tag((200, 80), "led-out", within=(1, 1))
    drawing = board.done()
    way = next(shape for shape in drawing.shapes if isinstance(shape, Line))
    assert any(isinstance(shape, Circle) for shape in drawing.shapes)
    assert sum(isinstance(shape, Tag) for shape in drawing.shapes) == 2
    words = [shape for shape in expand_shapes(drawing.shapes, drawing.scale) if isinstance(shape, Text)]
    ends = (way.a[0] * board.scale, way.a[1] * board.scale), (way.b[0] * board.scale, way.b[1] * board.scale)
    assert not any(line_crosses_box(ends, text_bounding_box(text, board.scale)) for text in words)
    assert overlapping_texts(drawing) == []


@pytest.mark.parametrize(
    ("way", "meets"),
    [
        (((0.0, 0.0), (10.0, 10.0)), True),
        (((0.0, 9.0), (9.0, 0.0)), True),
        (((0.0, 12.0), (12.0, 12.0)), False),
        (((-5.0, 8.0), (2.0, 20.0)), False),  # its own box meets, it does not
        (((5.0, -5.0), (5.0, 20.0)), True),
    ],
)
def test_a_line_crosses_a_box_only_where_it_passes_through_it(
    way: tuple[tuple[float, float], tuple[float, float]], meets: bool
) -> None:
    assert line_crosses_box(way, (0.0, 0.0, 10.0, 10.0)) is meets
