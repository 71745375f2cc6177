"""Sheets for a clipboard: black on white, 11 points and up, page x of y, made when and from which plan."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import Any, Literal

from service.drawings.font_files import register_fonts
from service.drawings.lettering import fit_size, shorten_text, text_width, wrap_text
from service.drawings.paper import draw_on_canvas, draw_text_on_canvas
from service.drawings.shapes import Anchor, Drawing
from solver.documents.texts import say
from solver.domain.ids import order_of
from solver.language import ENGLISH, Language
from solver.units import Unit

Paper = Literal["letter", "A4"]
PAPERS_PT: dict[Paper, tuple[float, float]] = {"letter": (612.0, 792.0), "A4": (595.28, 841.89)}
BODY = 11.0
LEADING = 13.6
TIGHT = 12.1  # between lines of 11 pt where a page is to hold them
GUTTER = 10.0  # between the columns of a table
ROW_GAP = 3.6  # around the lines of a table's row
MOST_WEIGHED = 60  # rows of a table that its columns are measured by
ENDLESS = -1e6  # the bottom of a page that never ends, to see how high something is
TICK = "[ ]"  # a cell to tick


def open_canvas(target: Any, size_pt: tuple[float, float], *, title: str) -> Any:
    """Return a canvas that writes the same bytes for the same drawing: no dates, no random ids."""
    from reportlab import rl_config
    from reportlab.pdfgen.canvas import Canvas

    register_fonts()
    rl_config.useA85 = 0  # binary streams: a fifth smaller, and a sixth of the time
    canvas = Canvas(target, pagesize=size_pt, invariant=1, pageCompression=1)
    canvas.setTitle(title)
    canvas.setCreator("sawbill")
    return canvas


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetSetting:
    """What every sheet of one plan says alike; `unit` is the plant's, which a page of the crew's may leave for its order's."""

    plan: str
    made: str
    language: Language = ENGLISH
    paper: Paper = "letter"
    unit: Unit = "in"
    orders: str = ""  # that the plan is of, for sheets on which several may be meant


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column of a table: its title, its share of the width, how it is set."""

    title: str
    share: float
    anchor: Anchor = "start"
    bold: bool = False


Mark = Callable[[Any], None]


class SheetPages:
    """Pages in the making: filled from the top down, numbered when all are known."""

    def __init__(self, title: str, setting: SheetSetting, *, landscape: bool = False, full_scale: bool = False) -> None:
        """Begin a file; `full_scale` asks whoever prints it not to fit its pages to the paper."""
        self.title, self.setting, self.full_scale = title, setting, full_scale
        wide, high = PAPERS_PT[setting.paper]
        self.width, self.height = (high, wide) if landscape else (wide, high)
        self.left, self.right = 40.0, self.width - 32.0
        self.bottom = 42.0
        self.pages: list[list[Mark]] = []
        self.subjects: list[str] = []
        self.units: list[Unit] = []
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

    def page(self, subject: str, unit: Unit | None = None) -> None:
        """Begin a page about something, its figures in a unit: the plant's where none is named."""
        self.pages.append([])
        self.subjects.append(subject)
        self.units.append(unit or self.setting.unit)
        self.y = self.height - 66.0

    def need(self, height: float) -> None:
        """Begin another page about the same where less than that height is left."""
        if self.left_over < height and self.left_over < self.height - 110:
            self._again()

    def _again(self) -> None:
        """Begin another page about the same, in the same unit."""
        self.page(self.subjects[-1], self.units[-1])

    def block(self, build: Callable[[], None], *, again: Callable[[], None] | None = None, apart: float = 0.0) -> None:
        """Set what `build` sets whole: here where there is room for it, `apart` below what stands there, else on the next page.

        What is longer than a page begins here where half of this one is left, and anything where three quarters are: it is
        parted then. `again` sets it on the next page; absent: as `build`.
        """
        marks, high = self._measured(build)
        page = self.height - 66.0 - self.bottom
        apart = apart if self.pages[-1] else 0.0
        if high + apart <= self.left_over:
            self._place(marks, self.y - apart)
            self.y -= high + apart
        elif self.left_over > page * (0.5 if high > page else 0.75):
            self.y -= apart
            build()
        else:
            self._again()
            if again is not None or high > page:
                (again or build)()
            else:
                self._place(marks, self.y)
                self.y -= high

    def height_of(self, build: Callable[[], None]) -> float:
        """Return how high something is that would never need another page."""
        return self._measured(build)[1]

    def _measured(self, build: Callable[[], None]) -> tuple[list[Mark], float]:
        kept = self.pages, self.subjects, self.y, self.bottom
        self.pages, self.subjects, self.y, self.bottom = [[]], [kept[1][-1]], 0.0, ENDLESS
        build()
        marks, high = self.pages[0], -self.y
        self.pages, self.subjects, self.y, self.bottom = kept
        return marks, high

    def _place(self, marks: list[Mark], y: float) -> None:
        def mark(canvas: Any) -> None:
            canvas.saveState()
            canvas.translate(0, y)
            for one in marks:
                one(canvas)
            canvas.restoreState()

        self.add(mark)

    def add(self, mark: Mark) -> None:
        """Add something to this page."""
        self.pages[-1].append(mark)

    def gap(self, height: float = 8.0) -> None:
        """Leave some height free."""
        self.y -= height

    def heading(self, text: str, *, size: float = 14.0, keep: float = 60.0) -> None:
        """Set a heading that stays with what follows it."""
        lines = wrap_text(text, self.room, size, bold=True)
        self.need(len(lines) * size * 1.25 + keep)
        for line in lines:
            self._line(line, size, bold=True)
        self.y -= 3

    def text(self, text: str, *, size: float = BODY, bold: bool = False, indent: float = 0.0) -> None:
        """Set a text, as many lines as it takes."""
        for line in wrap_text(text, self.room - indent, size, bold=bold):
            self.need(size * 1.24)
            self._line(line, size, bold=bold, indent=indent)

    def _line(self, line: str, size: float, *, bold: bool, indent: float = 0.0) -> None:
        self.y -= size * 1.24
        x, y = self.left + indent, self.y + size * 0.24
        self.add(lambda canvas: draw_text_on_canvas(canvas, x, y, line, size, bold=bold))

    def drawing(self, drawing: Drawing, *, most_pt: float | None = None, indent: float = 0.0, keep: bool = False) -> None:
        """Set a drawing, reduced where it would not fit; `keep` leaves the cursor where it is, for another beside it."""
        room_y = most_pt or (self.height - 120)
        factor = min(1.0, (self.room - indent) / drawing.width_pt, room_y / drawing.height_pt)
        high = drawing.height_pt * factor
        self.need(high + 4)
        x, y = self.left + indent, self.y - high
        self.add(lambda canvas: draw_on_canvas(canvas, drawing, x, y, factor=factor))
        if not keep:
            self.y = y - 4

    def beside(self, cells: Sequence[tuple[str, str, Drawing]], *, most_pt: float) -> None:
        """Set drawings beside one another, each under its heading and a line of facts; the row is never parted."""
        wide = (self.room - 14 * (len(cells) - 1)) / len(cells)
        made = []
        for heading, facts, drawing in cells:
            factor = min(1.0, wide / drawing.width_pt, most_pt / drawing.height_pt)
            head, body = wrap_text(heading, wide, 13, bold=True), wrap_text(facts, wide, BODY)
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
                draw_text_on_canvas(canvas, x, top - 13 - n * 16, line, 13, bold=True)
            for n, line in enumerate(body):
                draw_text_on_canvas(canvas, x, top - len(head) * 16 - BODY - n * LEADING, line, BODY)
            draw_on_canvas(canvas, drawing, x, top - above - drawing.height_pt * factor, factor=factor)

        self.add(mark)

    def caution(self, texts: Sequence[str], *, tight: bool = False) -> None:
        """Set cautions in a box: a triangle, the words, and who decides; `tight`: run on, its lines closer to each other."""
        said = [*texts, self.say("defer")]
        lines = [line for text in ([" ".join(said)] if tight else said) for line in wrap_text(text, self.room - 44, BODY)]
        leading = TIGHT if tight else LEADING
        high = len(lines) * leading + 12
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
            draw_text_on_canvas(canvas, left + 19, top - 26, "!", 12, bold=True, anchor="middle")
            for n, line in enumerate(lines):
                draw_text_on_canvas(canvas, left + 38, top - 6 - 11 - n * leading, line, BODY)

        self.add(mark)
        self.y -= high + 8

    def table(
        self,
        columns: Sequence[Column],
        rows: Sequence[Sequence[str]],
        *,
        like: Sequence[Sequence[str]] = (),
        size: float = BODY,
        row_gap: float = ROW_GAP,
    ) -> None:
        """Set a table; its titles stand again on each page, a row is parted only where it is longer than a page.

        `like`: rows of tables that stand over one another, which then have the same columns.
        """
        wides = _widths(columns, like or rows, self.room, size)
        lefts = [self.left + sum(wides[:n]) for n in range(len(columns))]
        leading = size * 1.24

        def titles() -> None:
            cells = [wrap_text(c.title, w - GUTTER, size, bold=True) for c, w in zip(columns, wides, strict=True)]
            high = max(len(cell) for cell in cells) * leading + row_gap
            self._cells(cells, columns, lefts, wides, size, head=True)
            self.y -= high
            self._rule(0.9)

        def cells_of(row: Sequence[str]) -> list[tuple[str, ...]]:
            return [
                (text,) if text == TICK else wrap_text(text, w - GUTTER, size, bold=c.bold)
                for text, c, w in zip(row, columns, wides, strict=True)
            ]

        first = max((len(cell) for cell in cells_of(rows[0])), default=1) if rows else 0
        head = max(len(wrap_text(c.title, w - GUTTER, size, bold=True)) for c, w in zip(columns, wides, strict=True))
        self.need((head + first) * leading + 14)
        titles()
        most = int((self.height - 76.0 - self.bottom - head * leading) / leading)
        for cells in (part for row in rows for part in _parts(cells_of(row), most)):
            high = max(len(cell) for cell in cells) * leading + row_gap
            if self.left_over < high:
                self._again()
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
                    y = top - 2.1 - size * 0.82 - n * leading
                    if line == TICK:
                        canvas.setLineWidth(1)
                        canvas.setStrokeGray(0)
                        canvas.setDash()
                        canvas.rect(left + 1, y - 2, size, size, stroke=1, fill=0)
                    else:
                        draw_text_on_canvas(canvas, x, y, line, size, bold=head or column.bold, anchor=column.anchor)

        self.add(mark)

    def pdf(self) -> bytes:
        """Return all pages as PDF, each with its head and foot; nothing where there is no page."""
        if not self.pages:
            return b""
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
        draw_text_on_canvas(
            canvas, self.left, top, shorten_text(self.title, self.room * 0.5, title, bold=True), title, bold=True
        )
        room = self.room - text_width(self.title, bold=True) * title - 14
        size = fit_size(subject, room, most=15, least=11, bold=True)
        draw_text_on_canvas(
            canvas, self.right, top, shorten_text(subject, room, size, bold=True), size, bold=True, anchor="end"
        )
        canvas.setLineWidth(1.4)
        canvas.setStrokeGray(0)
        canvas.setDash()
        canvas.line(self.left, top - 7, self.right, top - 7)
        foot = f"{self.say('plan', plan=self.setting.plan)}  ·  {self.say('made', when=self.setting.made)}"
        unit = self.units[number - 1]
        if unit == "mm" or unit != self.setting.unit:
            foot += f"  ·  {self.say('lengths_in', unit=self.say('millimetres' if unit == 'mm' else 'feet_inches'))}"
        page = self.say("page", n=number, count=len(self.pages))
        draw_text_on_canvas(canvas, self.left, 24, shorten_text(foot, self.room - 110, BODY), BODY)
        draw_text_on_canvas(canvas, self.right, 24, page, BODY, bold=True, anchor="end")


def order_ids_of_pieces(pieces: Iterable[str], language: Language) -> str:
    """Return the orders that pieces belong to, by their ids, for the head of a sheet; how many, where they are too many."""
    found = dict.fromkeys(str(order_of(piece)) for piece in pieces)
    return ", ".join(found) if len(found) <= 3 else say(language, "order_count", n=len(found))


def _parts(cells: list[tuple[str, ...]], most: int) -> list[list[tuple[str, ...]]]:
    """Return a row's cells, parted where they have more lines than a page takes."""
    longest = max(len(cell) for cell in cells)
    return [[cell[n : n + most] for cell in cells] for n in range(0, longest, most)]


def _widths(columns: Sequence[Column], rows: Sequence[Sequence[str]], room: float, size: float) -> list[float]:
    """Return the columns' widths: no word of a title or cell breaks; of some ways the one whose rows take the fewest lines."""
    seen = rows[:: len(rows) // MOST_WEIGHED + 1]
    words = [[(word, True) for word in column.title.split(" ")] for column in columns]
    for row in rows[:400]:
        for some, text, column in zip(words, row, columns, strict=True):
            some += [(word, column.bold) for word in text.split(" ") if text != TICK]
    widest = [max((text_width(word, bold=bold) for word, bold in some), default=0.0) * size for some in words]
    least = _capped([max(min(wide, room * 0.4) + GUTTER + 0.01, 14.0) for wide in widest], room)
    asked = [
        [
            0.0 if text == TICK else text_width(text, bold=column.bold) * size + GUTTER
            for text, column in zip(row, columns, strict=True)
        ]
        for row in seen
    ] + [[text_width(column.title, bold=True) * size + GUTTER for column in columns]]
    shares, spare = [column.share for column in columns], room - sum(least)
    ways = []
    for part in (1.0, 0.9, 0.7, 0.4):  # how many of a column's cells shall have their line whole
        enough = [sorted(row[n] for row in asked)[int(part * (len(asked) - 1))] for n in range(len(columns))]
        more = [max(0.0, all_ - low) for all_, low in zip(enough, least, strict=True)]
        for wanted in (shares, [one + 1.0 for one in more]):
            ways.append([low + one for low, one in zip(least, _shared(wanted, more, spare), strict=True)])
    return min(
        ways, key=lambda wides: sum(_lines(row, wides) ** 1.5 for row in asked)
    )  # a few rows of many lines look bad, too


def _lines(asked: Sequence[float], wides: Sequence[float]) -> int:
    """Return about how many lines a row takes."""
    return max(math.ceil((one - GUTTER) / max(1.0, wide - GUTTER) - 1e-6) for one, wide in zip(asked, wides, strict=True))


def _shared(shares: Sequence[float], asked: Sequence[float], room: float) -> list[float]:
    """Return parts of a room, by share: who asks for less than its share gets that, and the others share what it leaves.

    What nobody asks for is shared by all.
    """
    parts, left, hungry = [0.0] * len(shares), room, set(range(len(shares)))
    while hungry:
        a_share = left / sum(shares[n] for n in hungry)
        fed = {n for n in hungry if asked[n] <= shares[n] * a_share}
        if not fed:
            break
        for n in fed:
            parts[n] = asked[n]
            left -= asked[n]
        hungry -= fed
    last = hungry or set(range(len(shares)))
    a_share = left / sum(shares[n] for n in last)
    return [part + shares[n] * a_share if n in last else part for n, part in enumerate(parts)]


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
