"""A chart of machines by time: set-ups hatched, holds dashed, what makes a delivery late in a chain.

Lateness is told by shape: heavy boxes joined by a line, a triangle at the end.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import pairwise

from service.drawings.chart_frame import GAP_PT, NARROW_PT, ChartFrame, ChartRow
from service.drawings.lettering import text_width
from service.drawings.outlines import box_corners
from service.drawings.shapes import At, Hatch, Line, Polygon, Polyline, Shape, Text
from service.drawings.signs import sign_legend
from solver.documents.lateness_words import short_spoken_name, step_words, word
from solver.documents.timetable import working_intervals
from solver.domain.timetable import Lateness, PlannedOperation, Timetable
from solver.language import Language

BAR_PT = 18.0
JOINED_MOST = 2  # chains; the lines of more hide the work


class TimetableChart(ChartFrame):
    """The work of the rows, and the chains of what is late."""

    def __init__(
        self,
        table: Timetable,
        rows: Sequence[ChartRow],
        title: str,
        *,
        width_pt: float,
        size: float,
        language: Language,
        late: Lateness | None,
        called: Callable[[str], str] = str,
    ) -> None:
        self.called = called
        super().__init__(table, rows, title, width_pt=width_pt, size=size, language=language)
        promises = [late] if late is not None else [delivery for delivery in table.deliveries if delivery.late_s > 0]
        self.chains = [[link.operation for link in promise.chain] or self._last_of(promise) for promise in promises]
        self.narrow, self.gap = self.work_spacing(
            sum(op.end_s > self.from_s and op.start_s < self.to_s for op in table.operations)
        )
        self.late = {name for chain in self.chains for name in chain}
        self.last = {chain[-1] for chain in self.chains if chain}

    def _last_of(self, promise: Lateness) -> list[str]:
        """What to mark of a late delivery without a chain: the last work for its order."""
        mine = [op for op in self.table.operations if op.order == promise.order]
        return [max(mine, key=lambda op: (op.end_s, op.id)).id] if mine else []

    def work(self) -> None:
        """Draw the rows: the ground, holds, set-ups, work; then the chains over them."""
        self.draw_ground()
        by_machine: dict[str, list[PlannedOperation]] = {}
        for op in self.table.operations:
            by_machine.setdefault(op.machine, []).append(op)
        for number, row in enumerate(self.rows):
            bottom = self.y(number)
            here = [op for op in by_machine.get(row.machine, ()) if op.start_s < row.high]
            seen = (op for op in here if op.end_s + op.hold_s > row.low)
            for some in self._crowds(sorted(seen, key=lambda one: (one.start_s, one.id)), row):
                if len(some) == 1:
                    self._operation(some[0], row, bottom)
                else:
                    self._crowd(some, row, bottom)
        for chain in self.chains if len(self.chains) <= JOINED_MOST else ():
            self._joined(chain)
        rows: dict[str, list[ChartRow]] = {}
        for row in self.rows:
            rows.setdefault(row.machine, []).append(row)
        here = [op for op in self.table.operations if any(row.holds(op) for row in rows.get(op.machine, ()))]
        names = {op.id for op in here}
        shown = {
            "closed": any(machine.closed for machine in self.table.job.machines),
            "set_up": any(op.setup_s for op in here),
            "sets": any(op.hold_s for op in here),
            "makes_late": bool(self.late & names),
            "late": bool(self.last & names),
        }
        named = [(key, word(key, self.language)) for key, there in shown.items() if there]
        self.board.add(*sign_legend(named, -self.names, self.room, self.size))

    def _crowds(self, work: Iterable[PlannedOperation], row: ChartRow) -> Iterator[list[PlannedOperation]]:
        """Give a row's work in order: what is too narrow to be told apart, and nearer than can be seen, together."""
        crowd: list[PlannedOperation] = []
        end = 0
        for op in work:
            narrow = (
                op.id not in self.late
                and row.low < op.end_s
                and self.x(row, op.end_s) - self.x(row, op.start_s - op.setup_s) < self.narrow
            )
            if crowd and (not narrow or self.x(row, op.start_s) - self.x(row, end) >= self.gap):
                yield crowd
                crowd, end = [], 0
            if narrow:
                crowd.append(op)
                end = max(end, op.end_s)
            else:
                yield [op]
        if crowd:
            yield crowd

    def _crowd(self, some: Sequence[PlannedOperation], row: ChartRow, row_bottom: float) -> None:
        """Draw narrow work side by side as one box, and what sets after it as one line."""
        bottom, middle = row_bottom + (self.row_pt - BAR_PT) / 2, row_bottom + self.row_pt / 2
        left, end = self.x(row, some[0].start_s), max(op.end_s for op in some)
        right, sets = max(self.x(row, end), left + 0.8), max(op.end_s + op.hold_s for op in some)
        shapes: list[Shape] = []
        if sets > end and end < row.high:
            shapes.append(Line(a=(right, middle), b=(self.x(row, sets), middle), style="hidden"))
        shapes.append(Polygon(points=box_corners(left, bottom, right, bottom + BAR_PT), style="outline"))
        told = [f"{step_words(op.step, self.language)} {self.called(op.about)}" for op in (some[0], some[-1])]
        self.board.group(some[0].id, shapes, title=f"{len(some)}: {', '.join(told)}")

    def _operation(self, op: PlannedOperation, row: ChartRow, row_bottom: float) -> None:
        bottom, middle = row_bottom + (self.row_pt - BAR_PT) / 2, row_bottom + self.row_pt / 2
        top = bottom + BAR_PT
        shapes: list[Shape] = []
        if op.hold_s and op.end_s < row.high:
            ends = self.x(row, op.end_s + op.hold_s)
            shapes.append(Line(a=(self.x(row, op.end_s), middle), b=(ends, middle), style="hidden"))
        if op.setup_s and row.low < op.start_s:
            before, start = self.x(row, op.start_s - op.setup_s), self.x(row, op.start_s)
            if start - before > 1:
                shapes.append(Hatch(points=box_corners(before, bottom + 3, start, top - 3), gap_pt=4.0))
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
        about = self.called(op.about)
        self.board.group(op.id, shapes, title=f"{step_words(op.step, self.language)} {about}")
        boxes = [shape.points for shape in shapes if isinstance(shape, Polygon) and shape.style == "outline"]
        if boxes:
            self._name(about, max(boxes, key=lambda points: points[1][0] - points[0][0]), middle)

    def _name(self, about: str, points: Sequence[At], middle: float) -> None:
        """Letter a box with what it works on, or with the end of its name that is said aloud, where there is room."""
        left, right = points[0][0], points[1][0]
        for text in (about, short_spoken_name(about)):
            if text_width(text) * self.size <= right - left - 8:
                self.board.add(Text(at=((left + right) / 2, middle - 0.36 * self.size), text=text, size=self.size))
                return

    def _body(self, op: PlannedOperation, row: ChartRow, bottom: float, top: float) -> Iterator[Shape]:
        """The work itself: boxes where it runs, a thin frame where it pauses; too narrow for a box, a bar, black if late."""
        left, right = self.x(row, op.start_s), self.x(row, op.end_s)
        seen = ((low, high) for low, high in working_intervals(op, self.closed.get(op.machine, ())) if _meets(low, high, row))
        parts = merge_close_parts((self.x(row, low), self.x(row, high)) for low, high in seen)
        if len(parts) != 1 or right - left > parts[0][1] - parts[0][0] + 1:
            yield Polygon(points=box_corners(left, bottom + 4, right, top - 4), style="thin")
        for low, high in parts:
            corners = box_corners(low, bottom, max(high, low + 0.8), top)
            if op.id not in self.late:
                yield Polygon(points=corners, style="outline" if high - low >= NARROW_PT else "gone")
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


def _meets(low: int, high: int, row: ChartRow) -> bool:
    return low < row.high and high > row.low if high > low else row.low <= low < row.high


def merge_close_parts(parts: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return parts of a row, those closer than a point and a half as one: a break too short to be seen."""
    made: list[tuple[float, float]] = []
    for low, high in parts:
        if made and low - made[-1][1] < GAP_PT:
            made[-1] = (made[-1][0], high)
        else:
            made.append((low, high))
    return made
