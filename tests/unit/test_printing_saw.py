"""Saw sheets with bars that are drawn as one: read back, every bar still gives just the pieces that it gives."""

from __future__ import annotations

import re
from dataclasses import replace

from service.printing.saw import group_alike_bars, saw_pdf
from service.printing.sheet_pages import SheetSetting
from solver.documents.index import PlanIndex
from solver.documents.saw import saw_sheets
from solver.units import Nm
from tests.orders import plant
from tests.paper import page_count, page_text
from tests.replay.reading import saw_bars
from tests.samples import demo_plan


def test_each_bar_of_bars_drawn_as_one_gives_its_own_pieces_by_its_own_cuts() -> None:
    index = PlanIndex(demo_plan("cottage-7", "mm"), plant("mm"))
    (sheet,) = (sheet for sheet in saw_sheets(index) if sheet.bars[0].panel)
    assert max(len(bars) for bars in group_alike_bars(sheet.bars)) > 2
    pdf = saw_pdf((sheet,), SheetSetting(plan="p", made="m", unit="mm"), unit="mm")
    ids = {piece.mark: str(piece.id) for piece in index.pieces.values()}
    read = list(saw_bars([page_text(pdf, page) for page in range(page_count(pdf))], ids, index.plant))
    told = {bar.bar.id.partition("#")[2]: bar for bar in read}
    panels = [bar for bar in sheet.bars if bar.panel]
    assert list(told) == [str(bar.at) for bar in panels]
    for bar in panels:
        other = told[str(bar.at)]
        assert [piece.piece for piece in other.pieces] == [piece.piece for piece in bar.pieces]
        assert [(cut.kind, cut.piece) for cut in other.cuts] == [(cut.kind, cut.piece) for cut in bar.cuts]
        for one, two in zip(other.cuts, bar.cuts, strict=True):
            assert abs(one.near_nm - two.near_nm) <= 51_000  # a tenth of a millimetre, as printed


def test_bars_that_differ_in_anything_that_hands_follow_are_not_drawn_as_one() -> None:
    index = PlanIndex(demo_plan("cottage-7"), plant())
    bars = next(bars for sheet in saw_sheets(index) for bars in group_alike_bars(sheet.bars) if len(bars) > 2)
    first, second, *_ = bars
    cut, piece = second.cuts[0], second.pieces[0]
    for other in (
        replace(second, cuts=(replace(cut, near_nm=Nm(cut.near_nm + 1)), *second.cuts[1:])),
        replace(second, pieces=(replace(piece, turn="over"), *second.pieces[1:])),
        replace(second, pieces=(replace(piece, rips=("left",)), *second.pieces[1:])),
        replace(second, pieces=(replace(piece, openings=piece.openings + 1), *second.pieces[1:])),
        replace(second, what="another"),
        replace(second, bar=replace(second.bar, length_nm=Nm(second.bar.length_nm + 1))),
    ):
        assert group_alike_bars([first, other]) == [(first,), (other,)]


def test_paper_says_trim_only_where_there_is_a_length_to_trim_as_the_tablet_does() -> None:
    """A bar of no trim whose first piece leans begins with a slanted cut from zero: "trim the end" was said there, too."""
    index = PlanIndex(demo_plan("cottage-7"), plant())
    bar, cut = next((bar, bar.cuts[0]) for sheet in saw_sheets(index) for bar in sheet.bars if bar.cuts[0].kind == "trim")
    sheet = next(sheet for sheet in saw_sheets(index) if bar in sheet.bars)
    for near, said, other in ((25_000_000, "trim the end", "cut the end slanted"), (0, "cut the end slanted", "trim the end")):
        first = replace(cut, near_nm=Nm(near), far_nm=Nm(50_000_000))
        one = replace(sheet, bars=(replace(bar, cuts=(first, *bar.cuts[1:])),))
        text = re.sub(r"\s+", " ", page_text(saw_pdf((one,), SheetSetting(plan="p", made="m"), unit="in"), 0))
        assert said in text and other not in text
