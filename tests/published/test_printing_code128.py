"""Code 128 and GS1-128 characters against published worked examples (ISO/IEC 15417 rules; checks N6 to N9)."""

from __future__ import annotations

import pytest
from reportlab.graphics.barcode import code128 as other

from service.printing.codes import (
    StartSet,
    bar_widths,
    code128_values,
    draw_linear,
    draw_qr,
    gs1_128_values,
    qr_rows,
    symbol_modules,
)


def weighted_sum(values: tuple[int, ...]) -> int:
    return values[0] + sum(n * value for n, value in enumerate(values[1:-1], 1))


@pytest.mark.parametrize(
    ("text", "start", "total", "check"),
    [
        ("PJJ123C", "A", 878, 54),  # check N7
        ("ABCDEF", "A", 866, 42),
        ("abcdef", "B", 1539, 97),
        ("345678", "C", 485, 73),
    ],
)
def test_check_characters_of_published_examples(text: str, start: StartSet, total: int, check: int) -> None:
    values = code128_values(text, start)
    assert weighted_sum(values) == total
    assert values[-1] == check


def test_the_start_set_changes_the_check_character() -> None:
    # check N9: start B for PJJ123C gives 55, also valid, so the set is fixed by the caller
    assert code128_values("PJJ123C", "B")[-1] == 55


@pytest.mark.parametrize(
    ("serial", "data", "total", "check"),
    [
        ("123456789012345675", (0, 12, 34, 56, 78, 90, 12, 34, 56, 75), 3544, 42),  # check N8
        ("376104250021234569", (0, 37, 61, 4, 25, 0, 21, 23, 45, 69), 2316, 50),
    ],
)
def test_gs1_128_of_a_container_code(serial: str, data: tuple[int, ...], total: int, check: int) -> None:
    values = gs1_128_values("00" + serial)
    assert values[:2] == (105, 102)
    assert values[2:-1] == data
    assert weighted_sum(values) == total
    assert values[-1] == check


def test_the_table_of_bars_is_that_of_another_encoder() -> None:
    for value in range(106):
        theirs = "".join(str("abcd".index(letter.lower()) + 1) for letter in other._patterns[value])
        assert "".join(map(str, bar_widths((value,))[:6])) == theirs
        assert sum(map(int, theirs)) == 11


def test_widths_end_in_the_stop_character_of_13_modules() -> None:
    values = code128_values("A", "B")
    assert sum(bar_widths(values)) == 11 * len(values) + 13
    assert symbol_modules(values) == sum(bar_widths(values)) + 20


@pytest.mark.parametrize(("text", "start"), [("12345", "C"), ("12a4", "C"), ("a", "A"), ("é", "B"), ("\t", "B")])
def test_text_that_a_set_cannot_say_is_refused(text: str, start: StartSet) -> None:
    with pytest.raises(ValueError, match=r"digits|lacks"):
        code128_values(text, start)


def test_qr_sizes_are_as_the_standard_says() -> None:
    # ISO/IEC 18004: side 17 + 4 x version; the Digital Link of an SSCC is version 3 at level M (checks, section 6)
    assert len(qr_rows("https://id.gs1.org/00/376104250021234569")) == 29
    assert len(qr_rows("HELLO WORLD")) == 21


class Pen:
    def __init__(self) -> None:
        self.rects: list[tuple[float, float, float, float]] = []
        self.paths = 0

    def beginPath(self) -> Pen:  # noqa: N802 - reportlab's name
        return self

    def rect(self, *box: float) -> None:
        self.rects.append((box[0], box[1], box[2], box[3]))

    def drawPath(self, path: object, **_: int) -> None:  # noqa: N802 - reportlab's name
        self.paths += 1

    def setFillGray(self, grey: float) -> None:  # noqa: N802 - reportlab's name
        assert grey == 0

    def saveState(self) -> None:  # noqa: N802 - reportlab's name
        self.at = (0.0, 0.0, 1.0)

    def transform(self, wide: float, _b: float, _c: float, _high: float, x: float, y: float) -> None:
        self.at = (x, y, wide)

    def addLiteral(self, text: str) -> None:  # noqa: N802 - reportlab's name
        *boxes, last = text.split(" re")  # operators of ISO 32000: rectangles, then one fill
        assert last.strip() == "f"
        x, y, scale = self.at
        for box in boxes:
            left, low, wide, high = map(int, box.split())
            self.rects.append((x + scale * left, y + scale * low, scale * wide, scale * high))
        self.paths += 1

    def restoreState(self) -> None:  # noqa: N802 - reportlab's name
        self.at = (0.0, 0.0, 1.0)


def test_bars_are_drawn_as_one_path() -> None:
    pen = Pen()
    values = code128_values("345678", "C")
    draw_linear(pen, 10, 20, values, module=2, height=30)
    assert pen.paths == 1
    assert len(pen.rects) == 3 * len(values) + 4
    assert pen.rects[0] == (10, 20, 4, 30)  # start C begins with a bar of 2 modules


def test_a_qr_code_is_drawn_upright_not_mirrored() -> None:
    # readers forgive a mirrored symbol, so the corner without a finder is looked for: lower right (ISO/IEC 18004)
    pen = Pen()
    side = draw_qr(pen, 0, 0, "cottage-7/L1.S-03", module=1)
    assert pen.paths == 1

    def runs_of_seven(left: float, low: float) -> int:
        return sum(1 for x, y, wide, _ in pen.rects if wide == 7 and x == left and y in (low, low + 6))

    size = len(qr_rows("cottage-7/L1.S-03"))
    far, top = 4 + size - 7, 4 + size - 7
    assert side == size + 8
    assert runs_of_seven(4, top) == 2  # upper left
    assert runs_of_seven(far, top) == 2  # upper right
    assert runs_of_seven(4, 4) == 2  # lower left
    assert runs_of_seven(far, 4) == 0
