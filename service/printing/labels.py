"""Piece labels as PDF: one page a label, two labels a piece, sized for sheets (4 x 6 in, A6) and for label rolls.

Bars and modules are whole printer dots wide at the printer's resolution (203 or 300 dpi), three dots at least.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from io import BytesIO
from typing import Any, Literal

from service.drawings.lettering import fit_size, shorten_text, text_width
from service.drawings.paper import draw_on_canvas, draw_text_on_canvas
from service.drawings.piece import piece_sketch
from service.printing.codes import QUIET_LINEAR, QUIET_QR, code128_values, draw_linear, draw_qr, qr_rows, symbol_modules
from service.printing.sheet_pages import open_canvas
from solver.documents.lift_words import lift_words
from solver.documents.texts import say
from solver.domain.document import PieceLabel
from solver.domain.piece import Piece
from solver.language import ENGLISH, Language
from solver.units import Unit, show_angle, show_length, show_weight

LabelSize = Literal["4x6", "A6", "roll-4x3"]
Dpi = Literal[203, 300]
SIZES_PT: dict[LabelSize, tuple[float, float]] = {
    "4x6": (288.0, 432.0),
    "A6": (105 * 72 / 25.4, 148 * 72 / 25.4),
    "roll-4x3": (288.0, 216.0),
}
LEAST_STEP = 7.6  # points from line to line where facts crowd; beyond that the least of them is left out
_DOTS: dict[Dpi, int] = {203: 3, 300: 5}  # a Code 128 module in printer dots: 0.38 mm and 0.42 mm


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelStyle:
    """How labels are printed: the stock's size, the printer's resolution, the language, the unit said first."""

    size: LabelSize = "4x6"
    dpi: Dpi = 203
    language: Language = ENGLISH
    unit: Unit = "in"


def labels_pdf(
    labels: Iterable[PieceLabel], style: LabelStyle, *, title: str, tell: Callable[[int], None] | None = None
) -> bytes:
    """Return a PDF with one page a label, byte for byte the same when made again; `tell` hears how many are done."""
    buffer = BytesIO()
    canvas = open_canvas(buffer, SIZES_PT[style.size], title=title)
    for n, label in enumerate(labels, 1):
        _Label(canvas, label, style).draw()
        canvas.showPage()
        if tell is not None and n % 100 == 0:
            tell(n)
    canvas.save()
    return buffer.getvalue()


class _Label:
    """One label on the canvas, filled from the top down and from the bottom up; the sketch takes what is left between."""

    def __init__(self, canvas: Any, label: PieceLabel, style: LabelStyle) -> None:
        self.canvas, self.label, self.style = canvas, label, style
        self.width, self.height = SIZES_PT[style.size]
        self.roll = style.size == "roll-4x3"
        self.margin = 9.0
        self.dot = 72.0 / style.dpi
        self.left, self.right = self.margin, self.width - self.margin
        self.top = self.height - self.margin

    def say(self, key: str, **figures: object) -> str:
        return say(self.style.language, key, **figures)

    def draw(self) -> None:
        self._strip()
        self._mark()
        self._figures()
        floor = self._bar_code()
        floor = self._facts(floor)
        self._sketch(floor)

    def text(
        self, x: float, y: float, text: str, size: float, *, room: float, bold: bool = False, anchor: str = "start"
    ) -> None:
        """Set a text that shrinks to fit its room, down to 6.5 points, and is then shortened in its middle."""
        size = fit_size(text, room, most=size, least=6.5, bold=bold)
        kept = shorten_text(text, room, size, bold=bold)
        draw_text_on_canvas(self.canvas, x, y, kept, size, bold=bold, anchor="end" if anchor == "end" else "start")

    def _strip(self) -> None:
        """Which of the two labels this is, white on black, and the number in the order of standing."""
        high = 15.0 if self.roll else 20.0
        size = high * 0.68
        word = self.say(self.label.place)
        wide = text_width(word, bold=True) * size + 12
        self.canvas.setFillGray(0)
        self.canvas.rect(self.left, self.top - high, wide, high, stroke=0, fill=1)
        draw_text_on_canvas(self.canvas, self.left + 6, self.top - high + 0.3 * size, word, size, bold=True, grey=1.0)
        stands = self.say("stands_nth", n=self.label.piece.stands)
        self.text(
            self.right,
            self.top - high + 0.3 * size,
            stands,
            size,
            room=self.right - self.left - wide - 8,
            anchor="end",
            bold=True,
        )
        self.top -= high + 3

    def _mark(self) -> None:
        """The tag: the mark as large as it goes, the order and the wall under it."""
        high = 44.0 if self.roll else 78.0
        piece, canvas = self.label.piece, self.canvas
        left, right, top, bottom = self.left, self.right, self.top, self.top - high
        corner = 12.0
        path = canvas.beginPath()
        path.moveTo(left, bottom)
        for x, y in ((right, bottom), (right, top - corner), (right - corner, top), (left, top)):
            path.lineTo(x, y)
        path.close()
        canvas.setLineWidth(1.4)
        canvas.setStrokeGray(0)
        canvas.setDash()
        canvas.drawPath(path, stroke=1, fill=0)
        canvas.setFillGray(0)
        canvas.rect(left, bottom, 8, high, stroke=0, fill=1)
        room = right - left - 8 - 14 - corner
        size = fit_size(piece.mark, room, most=high * (0.66 if piece.mark.isascii() else 0.56), least=12, bold=True)
        mark = shorten_text(piece.mark, room, size, bold=True)
        under = 10.0 if self.roll else 14.0
        base = bottom + under * 1.5
        draw_text_on_canvas(canvas, left + 15, base + (top - base - 0.76 * size) * 0.5, mark, size, bold=True)
        words = f"{piece.order}  ·  {self.say(piece.role)} {piece.group}"
        self.text(left + 15, bottom + under * 0.5, words, under, room=right - left - 22, bold=False)
        self.top = bottom - 4

    def _figures(self) -> None:
        """Length and weight large, then width and who lifts it; where the crew reads another unit, all of it in that beside."""
        piece, unit, crew = self.label.piece, self.style.unit, self.label.unit
        size = 20.0 if self.roll else 27.0
        wide = self.right - self.left
        length = show_length(piece.length_nm, unit)
        self.text(self.left, self.top - size * 0.82, length, size, room=wide * 0.57, bold=True)
        weight = show_weight(piece.weight_g, unit)
        self.text(self.right, self.top - size * 0.82, weight, size, room=wide * 0.4, bold=True, anchor="end")
        line = self.top - size * 0.82 - (14 if self.roll else 17)
        second = f"{self.say('width')} {show_length(piece.width_nm, unit)}"
        lift = lift_words(self.label.lift, self.style.language)
        small = 10.0 if self.roll else 12.0
        box = text_width(lift, bold=True) * small + 10
        if not self.label.lift.alone:
            self.canvas.setLineWidth(1.6)
            self.canvas.rect(self.right - box, line - 3.5, box, small + 5, stroke=1, fill=0)
            draw_text_on_canvas(self.canvas, self.right - box + 5, line + 0.5, lift, small, bold=True)
        room = wide - (0 if self.label.lift.alone else box + 6)
        self.text(self.left, line, second, small, room=room)
        if crew != unit:
            line -= small + 3
            size_in = f"{show_length(piece.length_nm, crew)} × {show_length(piece.width_nm, crew)}"
            self.text(self.left, line, f"{size_in}  ·  {show_weight(piece.weight_g, crew)}", small, room=wide)
        if self.label.lift.by == "over":
            line -= small + 3
            self.text(self.left, line, self.say("lift_aid"), small, room=wide, bold=True)
        self.top = line - 8

    def _bar_code(self) -> float:
        """Draw the Code 128 along the bottom, its text under it, and return where it ends above."""
        module = _DOTS[self.style.dpi] * self.dot
        values, shown = self._symbol(module)
        high = 20.0 if self.roll else 36.0
        bottom = self.margin + 9
        wide = (symbol_modules(values) - 2 * QUIET_LINEAR) * module
        start = self._on_dot((self.width - wide) / 2)
        draw_linear(self.canvas, start, self._on_dot(bottom), values, module=module, height=high)
        size = fit_size(shown, self.right - self.left, most=9.0, least=6.5)
        draw_text_on_canvas(
            self.canvas, self.width / 2, self.margin, shorten_text(shown, self.right - self.left, size), size, anchor="middle"
        )
        return bottom + high + 4

    def _symbol(self, module: float) -> tuple[tuple[int, ...], str]:
        """Return the id in code set B where it is plain and fits, else its digits in set C; and what is said below.

        The digits are there to be typed on every label: two of them check the others, which a name has nothing for.
        """
        code, digits = self.label.code, self.label.short_code
        shown = f"{' '.join(digits[n : n + 4] for n in range(0, len(digits), 4))}   {code}"
        if code.isascii() and code.isprintable():
            values = code128_values(code, "B")
            if symbol_modules(values) * module <= self.width - 4:
                return values, shown
        return code128_values(digits, "C"), shown

    def _facts(self, floor: float) -> float:
        """Draw the QR code at the right and the facts beside it, and return where they end above."""
        rows = len(qr_rows(self.label.code)) + 2 * QUIET_QR
        most = 60.0 if self.roll else 96.0
        dots = max(3, int(most / (rows * self.dot)))
        side = rows * dots * self.dot
        x, y = self._on_dot(self.right - side + 4), self._on_dot(floor)
        draw_qr(self.canvas, x, y, self.label.code, module=dots * self.dot)
        facts = self._fact_lines()
        room = x - self.left - 2
        size = 9.0 if self.roll else 11.0
        high = max(side, min(self.top - y, len(facts) * size * 1.28))
        facts = facts[: max(1, int(high / LEAST_STEP))]
        step = min(size * 1.28, high / len(facts))
        top = y + high - size
        for n, (fact, bold) in enumerate(facts):
            self.text(self.left, top - n * step, fact, min(size, step / 1.12), room=room, bold=bold)
        return max(y + side, top + size)

    def _fact_lines(self) -> list[tuple[str, bool]]:
        label, piece = self.label, self.label.piece
        lines: list[tuple[str, bool]] = []
        if label.making > 1:
            lines.append((self.say("made_again", n=label.making), True))
        if piece.closing:
            lines.append((self.say("closing"), True))
        if label.bundle is not None:
            where = self.say("in_bundle", bundle=label.bundle_name, n=label.bundle_at, count=label.bundle_of)
            lines.append((where, True))
        if label.film_by is not None:
            lines.append((self.say("film_by", date=label.film_by), True))
        if piece.hand != "none":
            lines.append((self.say("hand_left" if piece.hand == "left" else "hand_right"), True))
        if label.bar is not None:
            lines.append((self.say("on_bar", bar=label.bar_name or label.bar, n=label.bar_at, count=label.bar_of), False))
        lines += [(words, False) for words in self._cut_words(piece)]
        if any(cutout.field_head for cutout in piece.cutouts):
            lines.append((self.say("field_head"), False))
        lines.append((self.say("one_carries"), False))
        return lines

    def _cut_words(self, piece: Piece) -> list[str]:
        words = []
        for side, edge in (("left", piece.left), ("right", piece.right)):
            if edge.kind == "mitre":
                words.append(self.say("mitred", side=self.say(side), angle=show_angle(edge.bevel_udeg)))
            elif edge.kind == "rip":
                words.append(self.say("ripped", side=self.say(side)))
        return words

    def _sketch(self, floor: float) -> None:
        """Draw the piece to scale in what is left, with which end is up and which side is seen."""
        piece = self.label.piece
        size = 8.0 if self.roll else 10.0
        room_y = self.top - floor - size * 1.6
        if room_y < 18:
            return
        drawing = piece_sketch(piece, room_pt=(self.right - self.left, room_y), unit=self.style.unit)
        factor = min(1.0, (self.right - self.left) / drawing.width_pt, room_y / drawing.height_pt)
        x = self.left + (self.right - self.left - drawing.width_pt * factor) / 2
        y = floor + size * 1.5 + (room_y - drawing.height_pt * factor) / 2
        draw_on_canvas(self.canvas, drawing, x, y, factor=factor)
        seen = "seen_flat" if not piece.is_panel else "seen_from_above" if piece.role == "roof_panel" else "outside_face"
        words = self.say(seen)
        fitted = fit_size(words, self.right - self.left, most=size, least=6.0)
        draw_text_on_canvas(self.canvas, self.left, floor + 3, words, fitted)

    def _on_dot(self, points: float) -> float:
        """Return the nearest place on the printer's grid of dots."""
        return round(points / self.dot) * self.dot
