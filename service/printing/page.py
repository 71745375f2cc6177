"""Sheets for a clipboard: black on white, 11 points and up, page x of y, made when and from which plan."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import Any, Literal

from service.drawings.lettering import clip, fit_size, width, wrap
from service.drawings.paper import draw, draw_text, register_fonts
from service.drawings.shapes import Anchor, Drawing
from solver.documents.texts import Language, say
from solver.units import Unit

Paper = Literal["letter", "A4"]
PAPERS_PT: dict[Paper, tuple[float, float]] = {"letter": (612.0, 792.0), "A4": (595.28, 841.89)}
BODY = 11.0
LEADING = 13.6
GUTTER = 10.0  # between the columns of a table
TICK = "[ ]"  # a cell to tick


def open_canvas(target: Any, size_pt: tuple[float, float], *, title: str) -> Any:
    """Return a canvas that writes the same bytes for the same drawing: no dates, no random ids."""
    from reportlab.pdfgen.canvas import Canvas

    register_fonts()
    canvas = Canvas(target, pagesize=size_pt, invariant=1, pageCompression=1)
    canvas.setTitle(title)
    canvas.setCreator("sawbill")
    return canvas


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """What every sheet of one plan says alike."""

    plan: str
    made: str
    language: Language = "en"
    paper: Paper = "letter"
    unit: Unit = "in"


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column of a table: its title, its share of the width, how it is set."""

    title: str
    share: float
    anchor: Anchor = "start"
    bold: bool = False


Mark = Callable[[Any], None]


class Sheets:
    """Pages in the making: filled from the top down, numbered when all are known."""

    def __init__(self, title: str, setting: Setting, *, landscape: bool = False, full_scale: bool = False) -> None:
        """Begin a file; `full_scale` asks whoever prints it not to fit its pages to the paper."""
        self.title, self.setting, self.full_scale = title, setting, full_scale
        wide, high = PAPERS_PT[setting.paper]
        self.width, self.height = (high, wide) if landscape else (wide, high)
        self.left, self.right = 40.0, self.width - 32.0
        self.bottom = 42.0
        self.pages: list[list[Mark]] = []
        self.subjects: list[str] = []
        self.y = 0.0

    @property
    def room(self) -> float:
        """Width between the margins, points."""
        return self.right - self.left

    @property
    def left_over(self) -> float:
        """Height left on this page, points."""
        return self.y - self.bottom

    def say(self, key: str, /, **figures: object) -> str:
        """Return words in the sheets' language."""
        return say(self.setting.language, key, **figures)

    def page(self, subject: str) -> None:
        """Begin a page about something."""
        self.pages.append([])
        self.subjects.append(subject)
        self.y = self.height - 66.0

    def need(self, height: float) -> None:
        """Begin another page about the same where less than that height is left."""
        if self.left_over < height and self.left_over < self.height - 110:
            self.page(self.subjects[-1])

    def add(self, mark: Mark) -> None:
        """Add something to this page."""
        self.pages[-1].append(mark)

    def gap(self, height: float = 8.0) -> None:
        """Leave some height free."""
        self.y -= height

    def heading(self, text: str, *, size: float = 14.0, keep: float = 60.0) -> None:
        """Set a heading that stays with what follows it."""
        lines = wrap(text, self.room, size, bold=True)
        self.need(len(lines) * size * 1.25 + keep)
        for line in lines:
            self._line(line, size, bold=True)
        self.y -= 3

    def text(self, text: str, *, size: float = BODY, bold: bool = False, indent: float = 0.0) -> None:
        """Set a text, as many lines as it takes."""
        for line in wrap(text, self.room - indent, size, bold=bold):
            self.need(size * 1.24)
            self._line(line, size, bold=bold, indent=indent)

    def _line(self, line: str, size: float, *, bold: bool, indent: float = 0.0) -> None:
        self.y -= size * 1.24
        x, y = self.left + indent, self.y + size * 0.24
        self.add(lambda canvas: draw_text(canvas, x, y, line, size, bold=bold))

    def drawing(self, drawing: Drawing, *, most_pt: float | None = None, indent: float = 0.0, keep: bool = False) -> None:
        """Set a drawing, reduced where it would not fit; `keep` leaves the cursor where it is, for another beside it."""
        room_y = most_pt or (self.height - 120)
        factor = min(1.0, (self.room - indent) / drawing.width_pt, room_y / drawing.height_pt)
        high = drawing.height_pt * factor
        self.need(high + 4)
        x, y = self.left + indent, self.y - high
        self.add(lambda canvas: draw(canvas, drawing, x, y, factor=factor))
        if not keep:
            self.y = y - 4

    def beside(self, cells: Sequence[tuple[str, str, Drawing]], *, most_pt: float) -> None:
        """Set drawings beside one another, each under its heading and a line of facts; the row is never parted."""
        wide = (self.room - 14 * (len(cells) - 1)) / len(cells)
        made = []
        for heading, facts, drawing in cells:
            factor = min(1.0, wide / drawing.width_pt, most_pt / drawing.height_pt)
            head, body = wrap(heading, wide, 13, bold=True), wrap(facts, wide, BODY)
            made.append((head, body, drawing, factor, len(head) * 16 + len(body) * LEADING + 6))
        high = max(top + drawing.height_pt * factor for _, _, drawing, factor, top in made)
        self.need(high + 10)
        for n, (head, body, drawing, factor, above) in enumerate(made):
            self._cell(self.left + n * (wide + 14), head, body, drawing, factor, above)
        self.y -= high + 14

    def _cell(self, x: float, head: Sequence[str], body: Sequence[str], drawing: Drawing, factor: float, above: float) -> None:
        top = self.y

        def mark(canvas: Any) -> None:
            for n, line in enumerate(head):
                draw_text(canvas, x, top - 13 - n * 16, line, 13, bold=True)
            for n, line in enumerate(body):
                draw_text(canvas, x, top - len(head) * 16 - BODY - n * LEADING, line, BODY)
            draw(canvas, drawing, x, top - above - drawing.height_pt * factor, factor=factor)

        self.add(mark)

    def caution(self, texts: Sequence[str]) -> None:
        """Set cautions in a box: a triangle, the words, and who decides."""
        lines = [line for text in texts for line in wrap(text, self.room - 44, BODY)]
        lines += wrap(self.say("defer"), self.room - 44, BODY)
        high = len(lines) * LEADING + 12
        self.need(high + 6)
        top, left, right = self.y, self.left, self.right

        def mark(canvas: Any) -> None:
            canvas.setLineWidth(1.4)
            canvas.setStrokeGray(0)
            canvas.setDash()
            canvas.rect(left, top - high, right - left, high, stroke=1, fill=0)
            path = canvas.beginPath()
            path.moveTo(left + 8, top - 29)
            path.lineTo(left + 19, top - 10)
            path.lineTo(left + 30, top - 29)
            path.close()
            canvas.setLineWidth(2)
            canvas.drawPath(path, stroke=1, fill=0)
            draw_text(canvas, left + 19, top - 26, "!", 12, bold=True, anchor="middle")
            for n, line in enumerate(lines):
                draw_text(canvas, left + 38, top - 6 - 11 - n * LEADING, line, BODY)

        self.add(mark)
        self.y -= high + 8

    def table(self, columns: Sequence[Column], rows: Sequence[Sequence[str]], *, size: float = BODY) -> None:
        """Set a table; its titles stand again on each page, a row is parted only where it is longer than a page."""
        wides = _widths(columns, rows, self.room, size)
        lefts = [self.left + sum(wides[:n]) for n in range(len(columns))]
        leading = size * 1.24

        def titles() -> None:
            cells = [wrap(c.title, w - GUTTER, size, bold=True) for c, w in zip(columns, wides, strict=True)]
            high = max(len(cell) for cell in cells) * leading + 5
            self._cells(cells, columns, lefts, wides, size, head=True)
            self.y -= high
            self._rule(0.9)

        def cells_of(row: Sequence[str]) -> list[tuple[str, ...]]:
            return [
                (text,) if text == TICK else wrap(text, w - GUTTER, size, bold=c.bold)
                for text, c, w in zip(row, columns, wides, strict=True)
            ]

        first = max((len(cell) for cell in cells_of(rows[0])), default=1) if rows else 0
        head = max(len(wrap(c.title, w - GUTTER, size, bold=True)) for c, w in zip(columns, wides, strict=True))
        self.need((head + first) * leading + 14)
        titles()
        most = int((self.height - 76.0 - self.bottom - head * leading) / leading)
        for cells in (part for row in rows for part in _parts(cells_of(row), most)):
            high = max(len(cell) for cell in cells) * leading + 5
            if self.left_over < high:
                self.page(self.subjects[-1])
                titles()
            self._cells(cells, columns, lefts, wides, size, head=False)
            self.y -= high
            self._rule(0.3)
        self.y -= 6

    def _rule(self, line: float) -> None:
        y, left, right = self.y, self.left, self.right

        def mark(canvas: Any) -> None:
            canvas.setLineWidth(line)
            canvas.setStrokeGray(0 if line > 0.5 else 0.4)
            canvas.setDash()
            canvas.line(left, y, right, y)

        self.add(mark)

    def _cells(
        self,
        cells: Sequence[Sequence[str]],
        columns: Sequence[Column],
        lefts: Sequence[float],
        wides: Sequence[float],
        size: float,
        *,
        head: bool,
    ) -> None:
        top, leading = self.y, size * 1.24

        def mark(canvas: Any) -> None:
            for lines, column, left, wide in zip(cells, columns, lefts, wides, strict=True):
                x = {"start": left, "middle": left + wide / 2 - 5, "end": left + wide - GUTTER}[column.anchor]
                for n, line in enumerate(lines):
                    y = top - 3 - size * 0.82 - n * leading
                    if line == TICK:
                        canvas.setLineWidth(1)
                        canvas.setStrokeGray(0)
                        canvas.setDash()
                        canvas.rect(left + 1, y - 2, size, size, stroke=1, fill=0)
                    else:
                        draw_text(canvas, x, y, line, size, bold=head or column.bold, anchor=column.anchor)

        self.add(mark)

    def pdf(self) -> bytes:
        """Return all pages as PDF, each with its head and foot."""
        if not self.pages:
            self.page("")
            self.text(self.say("none"))
        buffer = BytesIO()
        canvas = open_canvas(buffer, (self.width, self.height), title=self.title)
        if self.full_scale:
            canvas.setViewerPreference("PrintScaling", "None")
        for n, (marks, subject) in enumerate(zip(self.pages, self.subjects, strict=True), 1):
            self._frame(canvas, subject, n)
            for mark in marks:
                mark(canvas)
            canvas.showPage()
        canvas.save()
        return buffer.getvalue()

    def _frame(self, canvas: Any, subject: str, number: int) -> None:
        top = self.height - 44
        title = fit_size(self.title, self.room * 0.5, most=17, least=11, bold=True)
        draw_text(canvas, self.left, top, clip(self.title, self.room * 0.5, title, bold=True), title, bold=True)
        room = self.room - width(self.title, bold=True) * title - 14
        size = fit_size(subject, room, most=15, least=11, bold=True)
        draw_text(canvas, self.right, top, clip(subject, room, size, bold=True), size, bold=True, anchor="end")
        canvas.setLineWidth(1.4)
        canvas.setStrokeGray(0)
        canvas.setDash()
        canvas.line(self.left, top - 7, self.right, top - 7)
        foot = f"{self.say('plan', plan=self.setting.plan)}  ·  {self.say('made', when=self.setting.made)}"
        if self.setting.unit == "mm":
            foot += f"  ·  {self.say('lengths_in', unit=self.say('millimetres'))}"
        page = self.say("page", n=number, count=len(self.pages))
        draw_text(canvas, self.left, 24, clip(foot, self.room - 110, BODY), BODY)
        draw_text(canvas, self.right, 24, page, BODY, bold=True, anchor="end")


def _parts(cells: list[tuple[str, ...]], most: int) -> list[list[tuple[str, ...]]]:
    """Return a row's cells, parted where they have more lines than a page takes."""
    longest = max(len(cell) for cell in cells)
    return [[cell[n : n + most] for cell in cells] for n in range(0, longest, most)]


def _widths(columns: Sequence[Column], rows: Sequence[Sequence[str]], room: float, size: float) -> list[float]:
    """Return the columns' widths: their shares of the room, but none so narrow that a word of its title or cells breaks.

    What the narrow ones need more is taken from the others in proportion to what they can spare.
    """

    def need(n: int) -> float:
        words = [(word, True) for word in columns[n].title.split(" ")]
        words += [(word, columns[n].bold) for row in rows[:400] for word in row[n].split(" ") if row[n] != TICK]
        widest = max((width(word, bold=bold) for word, bold in words), default=0.0) * size
        return min(widest, room * 0.4) + GUTTER

    total = sum(column.share for column in columns)
    wides = [column.share / total * room for column in columns]
    least = _capped([max(need(n), 14.0) for n in range(len(columns))], room)
    lack = sum(max(0.0, low - wide) for low, wide in zip(least, wides, strict=True))
    spare = sum(max(0.0, wide - low) for low, wide in zip(least, wides, strict=True))
    if lack <= 0:
        return wides
    part = min(1.0, lack / spare) if spare else 0.0
    return [low if wide < low else wide - (wide - low) * part for low, wide in zip(least, wides, strict=True)]


def _capped(least: Sequence[float], room: float) -> list[float]:
    """Return widths that fit the room together: the widest are cut to one size, where they must their words break."""
    if sum(least) <= room:
        return list(least)
    left, cap = room, 0.0
    for n, wide in enumerate(sorted(least)):
        cap = left / (len(least) - n)
        if wide >= cap:
            break
        left -= wide
    return [min(wide, cap) for wide in least]
