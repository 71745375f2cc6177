"""Labels and tags as a crew reads them: what they say, nothing off the label, nothing on other lettering."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from service.printing.bundles import tags_pdf
from service.printing.labels import SIZES_PT, LabelSize, LabelStyle, labels_pdf
from service.printing.sheets import PlanSheets
from solver.documents.bundles import bundle_tags
from solver.documents.index import PlanIndex
from solver.documents.labels import labels_of, piece_labels
from solver.documents.loads import load_sheets
from solver.documents.saw import saw_sheets
from solver.domain.ids import OrderId
from solver.units import Grams, show_length
from tests.languages import LANGUAGES, SPANISH, Language
from tests.orders import plant
from tests.paper import page_count, page_size, page_text, spoiled_places
from tests.samples import LONG, demo_index, demo_plan, hard_labels, label, panel


def as_read(text: str) -> str:
    """Return the letters and digits of a text, as a reader of PDF finds them: marks and fractions are strokes and shifts."""
    return re.sub(r"\W", "", text)


SIZES: tuple[LabelSize, ...] = ("4x6", "A6", "roll-4x3")


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("size", SIZES)
def test_no_lettering_leaves_a_label_or_lies_on_other_lettering(size: LabelSize, language: Language) -> None:
    labels = hard_labels()
    pdf = labels_pdf(labels, LabelStyle(size=size, language=language), title="test")
    assert page_count(pdf) == len(labels)
    for page in range(len(labels)):
        assert page_size(pdf, page) == pytest.approx(SIZES_PT[size], abs=0.01)
        assert spoiled_places(pdf, page) == []


@pytest.mark.parametrize("size", SIZES)
def test_no_lettering_of_a_demo_order_is_spoiled(size: LabelSize) -> None:
    labels = list(piece_labels(demo_index("ell-12")))[::7]
    pdf = labels_pdf(labels, LabelStyle(size=size), title="test")
    for page in range(len(labels)):
        assert spoiled_places(pdf, page) == []


def test_a_label_says_what_the_crew_needs() -> None:
    text = page_text(labels_pdf([label(panel(closing=True), busy=True)], LabelStyle(), title="test"))
    for words in (
        "FOOT END",
        "L1.S-03",
        "cottage-7",
        "stands no. 31",
        "width 4 0",  # foot and inch marks are drawn
        "98 lb",
        "2 LIFT",
        "CLOSING PANEL",
        "B1003: 105 from top of 118",
        "12 of 100",
        "mitre left 45.0°",
        "Strip film by 2031-06-11",
        "arrow points UP",
        "Gloves",
    ):
        assert words in text


def test_spanish_labels_say_it_in_spanish() -> None:
    labels = [label(panel(), place="inside_face", busy=True)]
    text = page_text(labels_pdf(labels, LabelStyle(language=SPANISH), title="test"))
    for words in ("CARA INTERIOR", "se monta n.º 31", "LEVANTAR ENTRE 2", "inglete", "Quitar película", "la flecha va ARRIBA"):
        assert words in text


def test_a_metric_plant_reads_millimetres_first() -> None:
    text = page_text(labels_pdf([label(panel())], LabelStyle(unit="mm"), title="test"))
    assert text.index("3048 mm") < text.index("width 1219.2 mm")
    assert "44.5 kg" in text


def test_every_piece_has_two_labels_foot_end_and_inside_face() -> None:
    index = demo_index()
    labels = piece_labels(index)
    assert len(labels) == 2 * len(index.pieces)
    assert {one.place for one in labels} == {"foot_end", "inside_face"}
    cut = [piece for sheet in saw_sheets(index) for bar in sheet.bars for piece in (slot.piece for slot in bar.bar.pieces)]
    assert sorted(one.piece.id for one in labels[::2]) == sorted(cut)
    by_machine = {sheet.machine: [slot.piece for bar in sheet.bars for slot in bar.bar.pieces] for sheet in saw_sheets(index)}
    assert [one.piece.id for one in labels[::2]] == [piece for machine in sorted(by_machine) for piece in by_machine[machine]]
    first = labels[0].piece.id
    assert labels_of(index, first) == labels[:2]
    with pytest.raises(KeyError):
        labels_of(index, "cottage-7/no-such")


def test_labels_name_the_bar_and_the_bundle_that_the_plan_gives() -> None:
    index = demo_index()
    for one in piece_labels(index)[::9]:
        bar = next(bar for cut in index.plan.cuts for bar in cut.bars if bar.id == one.bar)
        assert bar.pieces[one.bar_at - 1].piece == one.piece.id
        bundle = index.bundles[str(one.bundle)]
        assert bundle.pieces[-one.bundle_at].piece == one.piece.id


def test_film_comes_off_so_many_days_after_the_delivery() -> None:
    index = demo_index()
    by = {one.piece.part: one.film_by for one in piece_labels(index) if one.piece.is_panel}
    assert plant().film_days == 30
    assert by["L1"] == "2031-06-11"  # on site 2031-05-12


def test_team_lifts_follow_the_published_shares() -> None:
    # HSE L23, Manual handling, paragraph 120: two lift 2/3, three 1/2 of the sum; 2 x 20 kg is 26.6 as printed
    index = PlanIndex(demo_plan("cottage-7"), replace(plant(), two_lift_g=Grams(20_000)))
    lifts = [index.plant.lift(grams) for grams in (20_000, 20_001, 26_660, 26_667, 30_000, 30_001)]
    assert [(lift.by, lift.people) for lift in lifts] == [
        ("hands", 1), ("hands", 2), ("hands", 2), ("hands", 3), ("hands", 3), ("over", 3)
    ]  # fmt: skip


def test_a_tag_lists_its_pieces_from_the_top() -> None:
    index = demo_index()
    for tag in bundle_tags(index):
        assert [row.piece for row in tag.rows] == [lay.piece for lay in reversed(tag.bundle.pieces)]
        assert tag.rows[0].at == 1
        assert sum(row.weight_g for row in tag.rows) == tag.bundle.weight_g


def test_a_tag_and_a_bundle_sheet_name_the_truck_with_its_order_and_the_place_on_it() -> None:
    """The truck as its sheet names it, and what that sheet's row of the bundle says, read off the paper."""
    papers = PlanSheets(demo_plan("cottage-7"), plant(), made="2031-05-05 06:00")
    rows = {row.bundle: (sheet, row) for sheet in load_sheets(papers.index) for row in sheet.rows}
    assert rows.keys() == papers.index.bundles.keys()
    for bundle, (sheet, row) in rows.items():
        front, left, up = (show_length(at, "in") for at in (row.x_nm, row.y_nm, row.z_nm))
        for pdf in (papers.bundle_tags(bundle), papers.bundles(bundle)):
            text = as_read(page_text(pdf))
            assert as_read(f"Truck {sheet.load.id} · goes on {row.at} of {len(sheet.rows)}") in text
            assert as_read(f"{front} from the front, {left} from the left, {up} up") in text


@pytest.mark.parametrize("sheet", ["rigging", "installation-cottage-7", "bundles", "bundle-tags", "loads"])
def test_no_truck_is_named_without_its_order(sheet: str) -> None:
    """The first truck of each order is called L01."""
    pdf = PlanSheets(demo_plan("cottage-7"), plant(), made="2031-05-05 06:00").all()[sheet]()
    texts = [page_text(pdf, page) for page in range(page_count(pdf))]
    assert any("cottage-7/L01" in text for text in texts) or sheet.startswith("installation")
    assert [text for text in texts if re.search(r"(?<!cottage-7/)\bL0\d\b", text)] == []


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_lettering_of_a_tag_is_spoiled(language: Language) -> None:
    index = demo_index("ell-12")
    tags = [*bundle_tags(demo_index()), *bundle_tags(index)]
    long = replace(tags[0], name="B1234-of-a-very-long-name", bundle=replace(tags[0].bundle, order=OrderId(LONG)))
    tags.append(long)
    pdf = tags_pdf(tags, LabelStyle(language=language), title="test")
    for page in range(len(tags)):
        assert spoiled_places(pdf, page) == []
