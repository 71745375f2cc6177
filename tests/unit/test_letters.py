"""Letters on paper: what the embedded fonts have, joined and in the order of drawing; the rest is refused by its name."""

from __future__ import annotations

import unicodedata
from io import BytesIO
from typing import Any

import pypdfium2 as pdfium
import pytest
from arabic_reshaper import ArabicReshaper
from hypothesis import given, settings
from hypothesis import strategies as st

from service.catalog import plant_from_json, read_plant
from service.drawings.font_files import BOLD, REGULAR, register_fonts, wide_font
from service.drawings.lettering import plain_width, split_text_runs, text_width
from service.drawings.paper import draw_text_on_canvas
from service.drawings.scripts import LATIN_1, PLAIN, usual_font_suffices, visual_order
from service.printing.sheet_pages import open_canvas
from solver.errors import InputError
from solver.printable_letters import first_unprintable_letter, printable_code_points
from solver.reading.read_order import read_order
from tests.service_fakes import order_document

# a street in several scripts; in presentation forms as Unicode's charts name them, right to left
GREEK, CYRILLIC, VIETNAMESE = "Οδός Ερμού 7", "улица Мира 7", "Đường Trần Phú 7"


def glyphs(bold: bool) -> set[int]:
    return set(wide_font(bold).face.charToGlyph)


def joins_or_stands(letter: str) -> bool:
    """Whether an Arabic letter's forms are all in both fonts; one that joins but has no forms would stand unjoined."""
    shaper = ArabicReshaper(configuration={"support_ligatures": True, "ARABIC LIGATURE ALLAH": False, "delete_harakat": False})
    alone = shaper.reshape(letter)
    if unicodedata.category(letter) == "Lo" and letter != "\u0621" and alone == letter:
        return False
    forms = {
        form for text in (letter, letter + "ب", "ب" + letter, f"ب{letter}ب", "ل" + letter) for form in shaper.reshape(text)
    }
    return all(ord(form) in glyphs(False) & glyphs(True) for form in forms)


def test_the_letters_that_are_taken_are_those_that_both_fonts_have_and_can_set() -> None:
    both = glyphs(False) & glyphs(True)
    wanted = set()
    for point in both:
        letter = chr(point)
        category, turned = unicodedata.category(letter), unicodedata.bidirectional(letter) in ("R", "AL")
        if point > 0xFFFF or not (category[0] in "LNPS" or category == "Zs") or unicodedata.normalize("NFC", letter) != letter:
            continue
        if 0xFB1D <= point <= 0xFDFF or 0xFE70 <= point <= 0xFEFF or (turned and not 0x590 <= point <= 0x6FF):
            continue
        if 0x600 <= point <= 0x6FF and not joins_or_stands(letter):
            continue
        wanted.add(point)
    assert printable_code_points() == wanted | {0x200C}  # the non-joiner is heard, and not drawn
    assert len(wanted) > 4_000


def test_letters_of_the_usual_font_are_set_in_it_with_their_widths() -> None:
    from reportlab.pdfbase import pdfmetrics

    register_fonts()
    known = set(pdfmetrics.getFont(REGULAR).face.charToGlyph) & set(pdfmetrics.getFont(BOLD).face.charToGlyph)
    for letter in [*map(chr, range(32, 127)), *map(chr, LATIN_1), *PLAIN]:
        assert usual_font_suffices(letter) and ord(letter) in known, letter


@pytest.mark.parametrize(
    ("text", "drawn"),
    [
        ("תל אביב", "ביבא לת"),  # Hebrew: only turned
        ("רחוב 15", "15 בוחר"),  # numbers stay (UAX 9, rule L2)
        ("محمد", "\ufeaa\ufee4\ufea4\ufee3"),  # initial, medial, medial, final (Unicode chart FE70)
        ("لا", "\ufefb"),  # lam with alef
        ("e\u0301", "é"),  # composed (UAX 15)
        ("Plot 1", "Plot 1"),
    ],
)
def test_texts_are_joined_and_turned(text: str, drawn: str) -> None:
    assert visual_order(text) == drawn


@given(st.text(st.sampled_from(sorted(map(chr, printable_code_points()))), min_size=1, max_size=12), st.booleans())
@settings(deadline=None)
def test_whatever_is_taken_is_drawn_with_letters_of_its_font_as_wide_as_was_reckoned(text: str, bold: bool) -> None:
    if first_unprintable_letter(text) is not None:
        return
    drawn = visual_order(text)
    font = wide_font(bold)
    if not usual_font_suffices(text):
        assert {ord(letter) for letter in drawn} <= glyphs(bold), (text, drawn)
        assert plain_width(text, bold) == pytest.approx(font.stringWidth(drawn, 1.0))


def printed(*texts: str) -> tuple[bytes, str]:
    buffer = BytesIO()
    canvas = open_canvas(buffer, (400, 60 * len(texts)), title="letters")
    for n, text in enumerate(texts):
        draw_text_on_canvas(canvas, 10, 60 * n + 20, text, 14)
    canvas.showPage()
    canvas.save()
    return buffer.getvalue(), str(pdfium.PdfDocument(buffer.getvalue())[0].get_textpage().get_text_range())


@pytest.mark.parametrize("text", [GREEK, CYRILLIC, VIETNAMESE, "Երևան", "თბილისი", "Łódź", "Kırşehir"])
def test_what_is_printed_reads_back(text: str) -> None:
    assert text in printed(text)[1]


def test_no_letter_becomes_a_question_mark_and_a_page_of_other_letters_stays_small() -> None:
    body, text = printed(GREEK, CYRILLIC, "שדרות רוטשילד", "شارع محمد")
    assert "?" not in text
    assert len(body) < 40_000
    assert len(pdfium.PdfDocument(body)[0].get_textpage().get_text_range().splitlines()) >= 4
    assert b"DejaVu" in body and b"DejaVu" not in printed("Plot 1")[0]  # not there where no letter wants it


def test_a_line_with_letters_from_right_to_left_is_one_run() -> None:
    assert [run.text for run in split_text_runs("רחוב 12' 6 1/2\"")] == ["רחוב 12' 6 1/2\""]
    assert text_width(CYRILLIC) == pytest.approx(text_width(CYRILLIC[:6]) + text_width(CYRILLIC[6:]))


def to(name: str, *lines: str) -> dict[str, Any]:
    order: dict[str, Any] = order_document()
    order["site"]["ship_to"].update(name=name, lines=list(lines))
    return order


def test_an_order_with_letters_that_paper_lacks_is_refused_with_each_of_them() -> None:
    plant = read_plant(None)
    assert read_order(to(GREEK, CYRILLIC, "محمد", "e\u0301"), plant).ship_to.name == GREEK
    with pytest.raises(InputError) as caught:
        read_order(to("東京 7", "Plot", "สวน", "q\u0301"), plant)
    told = {fault.path: fault.problem for fault in caught.value.faults}
    assert list(told) == ["site.ship_to.name", "site.ship_to.lines[1]", "site.ship_to.lines[2]"]
    assert "'東' (U+6771 CJK UNIFIED IDEOGRAPH-6771)" in told["site.ship_to.name"]
    assert "U+0E2A THAI CHARACTER SO SUA" in told["site.ship_to.lines[1]"]
    assert "U+0301 COMBINING ACUTE ACCENT" in told["site.ship_to.lines[2]"]


def test_a_catalog_with_letters_that_paper_lacks_is_refused_by_path() -> None:
    import tomllib
    from importlib.resources import files

    data = tomllib.loads(files("service").joinpath("data/plant.toml").read_text(encoding="utf-8"))
    data["families"][0]["stock"][0]["id"] = "二十四"
    with pytest.raises(InputError) as caught:
        plant_from_json(data)
    assert caught.value.faults[0].path == "plant.families[0].stock[0].id"
