"""A chart of machines by time: set-ups hatched, holds dashed, what makes a delivery late in a chain.

Lateness is told by shape: heavy boxes joined by a line, a triangle at the end.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise

from service.drawings.frame import Frame, Row
from service.drawings.lettering import width
from service.drawings.outlines import box
from service.drawings.shapes import At, Hatch, Line, Polygon, Polyline, Shape, Text
from service.drawings.signs import signs
from solver.documents.texts import Language
from solver.documents.timetable import worked
from solver.documents.why import plain, step_words, word
from solver.domain.timetable import Lateness, PlannedOperation, Timetable

BAR_PT = 18.0
JOINED_MOST = 2  # chains; the lines of more hide the work


class Chart(Frame):
    """The work of the rows, and the chains of what is late."""

    def __init__(
        self,
        table: Timetable,
        rows: Sequence[Row],
        title: str,
        *,
        width_pt: float,
        size: float,
        language: Language,
        late: Lateness | None,
    ) -> None:
        super().__init__(table, rows, title, width_pt=width_pt, size=size, language=language)
        promises = [late] if late is not None else [one for one in table.deliveries if one.late_s > 0]
        self.chains = [[link.operation for link in one.chain] or self._last_of(one) for one in promises]
        self.late = {name for chain in self.chains for name in chain}
        self.last = {chain[-1] for chain in self.chains if chain}

    def _last_of(self, promise: Lateness) -> list[str]:
        """What to mark of a late delivery without a chain: the last work for its order."""
        mine = [op for op in self.table.operations if op.order == promise.order]
        return [max(mine, key=lambda op: (op.end_s, op.id)).id] if mine else []

    def work(self) -> None:
        """Draw the rows: the ground, holds, set-ups, work; then the chains over them."""
        self.ground()
        for number, row in enumerate(self.rows):
            bottom = self.y(number)
            here = [op for op in self.table.operations if op.machine == row.machine and op.start_s < row.high]
            for op in sorted(here, key=lambda one: (one.start_s, one.id)):
                if op.end_s + op.hold_s > row.low:
                    self._operation(op, row, bottom)
        for chain in self.chains if len(self.chains) <= JOINED_MOST else ():
            self._joined(chain)
        here = [op for op in self.table.operations if any(row.holds(op) for row in self.rows)]
        names = {op.id for op in here}
        shown = {
            "closed": any(machine.closed for machine in self.table.job.machines),
            "set_up": any(op.setup_s for op in here),
            "sets": any(op.hold_s for op in here),
            "makes_late": bool(self.late & names),
            "late": bool(self.last & names),
        }
        named = [(key, word(key, self.language)) for key, there in shown.items() if there]
        self.board.add(*signs(named, -self.names, self.room, self.size))

    def _operation(self, op: PlannedOperation, row: Row, row_bottom: float) -> None:
        bottom, middle = row_bottom + (self.row_pt - BAR_PT) / 2, row_bottom + self.row_pt / 2
        top = bottom + BAR_PT
        shapes: list[Shape] = []
        if op.hold_s and op.end_s < row.high:
            ends = self.x(row, op.end_s + op.hold_s)
            shapes.append(Line(a=(self.x(row, op.end_s), middle), b=(ends, middle), style="hidden"))
        if op.setup_s and row.low < op.start_s:
            before, start = self.x(row, op.start_s - op.setup_s), self.x(row, op.start_s)
            if start - before > 1:
                shapes.append(Hatch(points=box(before, bottom + 3, start, top - 3), gap_pt=4.0))
        if op.end_s > row.low:
            left = self.x(row, op.start_s)
            right = max(self.x(row, op.end_s), left + 0.8)
            shapes.extend(self._body(op, row, bottom, top))
            if op.id in self.last and op.end_s <= row.high:
                shapes.append(
                    Polygon(points=((right - 4, bottom - 4), (right + 4, bottom - 4), (right, bottom + 5)), style="solid")
                )
        if not shapes:
            return
        about = plain(op.about)
        self.board.group(op.id, shapes, title=f"{step_words(op.step, self.language)} {about}")
        boxes = [shape.points for shape in shapes if isinstance(shape, Polygon) and shape.style == "outline"]
        if boxes:
            self._name(about, max(boxes, key=lambda points: points[1][0] - points[0][0]), middle)

    def _name(self, about: str, points: Sequence[At], middle: float) -> None:
        """Letter a box with what it works on, or with the end of its name that is said aloud, where there is room."""
        left, right = points[0][0], points[1][0]
        for text in (about, about.rpartition("/")[2] if "#" not in about else "#" + about.rpartition("#")[2]):
            if width(text) * self.size <= right - left - 8:
                self.board.add(Text(at=((left + right) / 2, middle - 0.36 * self.size), text=text, size=self.size))
                return

    def _body(self, op: PlannedOperation, row: Row, bottom: float, top: float) -> Iterator[Shape]:
        """The work itself: boxes where it runs, a thin frame where it pauses; too narrow for a box, a bar, black if late."""
        left, right = self.x(row, op.start_s), self.x(row, op.end_s)
        seen = ((low, high) for low, high in worked(op, self.closed.get(op.machine, ())) if _meets(low, high, row))
        parts = merged((self.x(row, low), self.x(row, high)) for low, high in seen)
        if len(parts) != 1 or right - left > parts[0][1] - parts[0][0] + 1:
            yield Polygon(points=box(left, bottom + 4, right, top - 4), style="thin")
        for low, high in parts:
            corners = box(low, bottom, max(high, low + 0.8), top)
            if op.id not in self.late:
                yield Polygon(points=corners, style="outline" if high - low >= 3 else "gone")
            elif high - low < 6:
                yield Polygon(points=corners, style="solid")
            else:
                yield Polygon(points=corners, style="outline")
                yield Polygon(points=corners, style="bold")

    def _joined(self, chain: Sequence[str]) -> None:
        """A line from the end of each operation of a chain to the start of the next, level, down and level."""
        by_id = {op.id: op for op in self.table.operations}
        for one, two in pairwise(chain):
            a, b = self._place(by_id[one], by_id[one].end_s), self._place(by_id[two], by_id[two].start_s)
            if a is not None and b is not None and a != b:
                middle = max(a[0], b[0] - 4)
                self.board.add(Polyline(points=(a, (middle, a[1]), (middle, b[1]), b), style="edge"))

    def _place(self, op: PlannedOperation, at: int) -> At | None:
        for number, row in enumerate(self.rows):
            if row.machine == op.machine and row.low <= at <= row.high:
                return self.x(row, at), self.y(number) + self.row_pt / 2
        return None


def _meets(low: int, high: int, row: Row) -> bool:
    return low < row.high and high > row.low if high > low else row.low <= low < row.high


def merged(parts: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    """Parts of a row, those closer than a point and a half as one: a break too short to be seen."""
    made: list[tuple[float, float]] = []
    for low, high in parts:
        if made and low - made[-1][1] < 1.5:
            made[-1] = (made[-1][0], high)
        else:
            made.append((low, high))
    return made
