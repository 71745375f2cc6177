"""Lettering: fractions and marks as runs, widths as the embedded font has them, texts that fit."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as some
from reportlab.pdfbase import pdfmetrics

from service.drawings.font_files import BOLD, REGULAR, register_fonts
from service.drawings.lettering import fit_size, plain_width, shorten_text, split_text_runs, text_width, wrap_text
from solver.units import SIXTEENTH, show_length


def kinds(text: str) -> list[tuple[str, str]]:
    return [(run.kind, run.text) for run in split_text_runs(text)]


def test_feet_inches_and_a_fraction_become_marks_and_a_real_fraction() -> None:
    assert kinds("12' 6 1/2\"") == [
        ("plain", "12"),
        ("foot", "′"),
        ("plain", " 6"),
        ("top", "1"),
        ("slash", "⁄"),
        ("bottom", "2"),
        ("inch", "″"),
    ]


def test_a_lone_fraction_of_an_inch_has_no_gap_before_it() -> None:
    assert kinds('5/8"') == [("top", "5"), ("slash", "⁄"), ("bottom", "8"), ("inch", "″")]
    assert split_text_runs('5/8"')[0].gap == 0
    assert split_text_runs('6 5/8"')[1].gap > 0


@pytest.mark.parametrize("text", ["pitch 8/12", "screw 1/4-14 x 7", "don't", 'say "cut"', "2031-05-12", "W6|birch|white#001"])
def test_what_is_no_length_stays_as_it_is(text: str) -> None:
    assert kinds(text) == [("plain", text)]


def test_every_sixteenth_prints_its_own_fraction_and_marks() -> None:
    for n in range(1, 16):
        found = kinds(show_length(n * SIXTEENTH, "in"))
        top, bottom = (int(text) for kind, text in found if kind in ("top", "bottom"))
        assert top * 16 == n * bottom
        assert found[-1][0] == "inch"


def test_widths_are_those_of_the_embedded_font() -> None:
    register_fonts()
    for bold, font in ((False, REGULAR), (True, BOLD)):
        for letter in [*map(chr, range(32, 127)), *"áéíóúüñÑ¿¡·–—×°ºß"]:
            real = pdfmetrics.stringWidth(letter, font, 1000)
            assert plain_width(letter, bold) * 1000 == pytest.approx(real, abs=1), letter


@given(some.text(alphabet="abc def-./W1'\"0123456789", max_size=60), some.floats(20, 200), some.sampled_from([7.0, 11.0]))
def test_wrapped_lines_fit_and_lose_no_letter(text: str, room: float, size: float) -> None:
    lines = wrap_text(text, room, size)
    assert all(text_width(line) * size <= room + 1e-6 or len(line) == 1 for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")


@given(some.text(alphabet="abcdefghij-/", min_size=1, max_size=60), some.floats(20, 200))
def test_a_clipped_text_fits_and_keeps_both_ends(text: str, room: float) -> None:
    short = shorten_text(text, room, 10)
    assert text_width(short) * 10 <= room or len(short) == 1
    if short != text and len(short) > 4:
        assert "..." in short
        assert text.startswith(short.split("...")[0])
        assert text.endswith(short.split("...")[-1])


def test_a_text_is_set_as_large_as_its_room_allows() -> None:
    assert fit_size("abc", 1000, most=40, least=6) == 40
    size = fit_size("abc", 30, most=40, least=6)
    assert text_width("abc") * size == pytest.approx(30)
    assert fit_size("a" * 500, 30, most=40, least=6) == 6
