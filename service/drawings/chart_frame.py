"""The frame of a chart of machines by time: a row a machine or a day, closed hours shaded, days and hours above, now."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from service.drawings.board import DrawingBoard
from service.drawings.lettering import text_width
from service.drawings.outlines import box_corners
from service.drawings.shapes import At, Drawing, Line, Polygon, Text
from solver.documents.lateness_words import word
from solver.documents.timetable import day_name
from solver.domain.timetable import PlannedOperation, Timetable
from solver.language import Language

ROW_PT = 28.0
BEFORE = (-10 * 86_400, 0)  # before a plan starts, nothing is open to it
_HOUR = 3600
NARROW_PT, GAP_PT = 3.0, 1.5  # an operation that cannot be lettered or told apart, a break that cannot be seen
CROWDED, CROWDED_NARROW_PT, CROWDED_GAP_PT = 1_500, 12.0, 6.0  # from so many operations on


@dataclass(frozen=True, slots=True)
class ChartRow:
    """One line of the chart: a machine in a time."""

    name: str
    machine: str
    low: int
    high: int

    def holds(self, op: PlannedOperation) -> bool:
        """Return whether an operation runs in this row."""
        return op.machine == self.machine and op.end_s > self.low and op.start_s < self.high


class ChartFrame:
    """Rows over one span of time, and where everything in them lies."""

    def __init__(
        self,
        table: Timetable,
        rows: Sequence[ChartRow],
        title: str,
        *,
        width_pt: float,
        size: float,
        language: Language,
        row_pt: float = ROW_PT,
    ) -> None:
        self.table, self.rows, self.size, self.language, self.row_pt = table, rows, size, language, row_pt
        self.high = row_pt * len(rows)
        self.names = max((text_width(row.name) * size for row in rows), default=0) + 10
        self.span = max((row.high - row.low for row in rows), default=_HOUR)
        self.second = max(width_pt - self.names - 8, 1) / self.span  # points in a second
        self.room = self.names + self.span * self.second
        self.board = DrawingBoard(title, room_pt=(1e12, self.high), size_nm=(1.0, max(self.high, 1.0)), unit="mm")
        self.from_s, self.to_s = min((row.low for row in rows), default=0), max((row.high for row in rows), default=_HOUR)
        self.closed = {name: [BEFORE, *closed] for name, closed in self.closed_hours_by_machine(table).items()}
        self.marks: list[tuple[float, str, bool]] = []  # where, what, whether a day begins

    def work_spacing(self, operations: int) -> tuple[float, float]:
        """Return how narrow work is, and how near to the next, in points, to be drawn as one box with it.

        Of few operations what cannot be told apart; of very many what nobody would read: a day shows it, or a machine alone.
        """
        return (NARROW_PT, GAP_PT) if operations <= CROWDED else (CROWDED_NARROW_PT, CROWDED_GAP_PT)

    def closed_hours_by_machine(self, table: Timetable) -> dict[str, list[tuple[int, int]]]:
        """Return the closed hours of each machine of a timetable that the rows see, in order of time."""
        return {
            machine.id: [pair for pair in sorted(machine.closed) if pair[1] > self.from_s and pair[0] < self.to_s]
            for machine in table.job.machines
        }

    def x(self, row: ChartRow, at: float) -> float:
        """Return where a time lies along a row, in points; times outside lie at its ends."""
        return (min(max(at, row.low), row.high) - row.low) * self.second

    def y(self, number: int) -> float:
        """Return the bottom of a row, in points; the first row is on top."""
        return self.high - self.row_pt * (number + 1)

    def draw_ground(self) -> None:
        """Draw what the work lies on: closed hours, days and hours, the lines and names of the rows."""
        for number, row in enumerate(self.rows):
            bottom = self.y(number)
            for low, high in self.closed.get(row.machine, ()):
                if high > row.low and low < row.high:
                    self.board.add(
                        Polygon(
                            points=box_corners(self.x(row, low), bottom, self.x(row, high), bottom + self.row_pt), style="shade"
                        )
                    )
        self._ticks()
        for number, row in enumerate(self.rows):
            bottom = self.y(number)
            at = (-self.names, bottom + self.row_pt / 2 - 0.36 * self.size)
            self.board.add(Line(a=(-self.names, bottom), b=(self.span * self.second, bottom)))
            self.board.add(Text(at=at, text=row.name, size=self.size, anchor="start"))

    def hours(self, time_zone: str, *, days: bool) -> None:
        """Take the days and hours to letter above: of the whole span, or of the first row where each row is a day."""
        zone, zero = ZoneInfo(time_zone), datetime.fromisoformat(self.table.epoch)
        row = self.rows[0] if self.rows else ChartRow("", "", 0, _HOUR)
        first = (zero + timedelta(seconds=row.low)).astimezone(zone)
        moment = first.replace(minute=0, second=0, microsecond=0)
        step = next((hours for hours in (1, 2, 3, 6, 12) if hours * _HOUR * self.second > 38), 24)
        while (moment - zero).total_seconds() <= row.high:
            at = (moment - zero).total_seconds()
            if at >= row.low and moment.hour % step == 0:
                midnight = days and moment.hour == 0
                name = f"{day_name(moment, self.language)} {moment.day}"
                first_of_all = days and not self.marks
                self.marks.append(
                    ((at - row.low) * self.second, name if midnight or first_of_all else f"{moment.hour}:00", midnight)
                )
            moment = (moment + timedelta(hours=1)).astimezone(zone)

    def _ticks(self) -> None:
        kept: list[tuple[At, str]] = []
        for x, text, midnight in sorted(self.marks, key=lambda mark: not mark[2]):  # days first, hours where room is left
            self.board.add(Line(a=(x, 0), b=(x, self.high + (10 if midnight else 4))))
            room = [abs(x - at[0]) - (text_width(text) + text_width(other)) * self.size / 2 for at, other in kept]
            if min(room, default=9) > 4:
                kept.append(((x, self.high + 14), text))
        self.board.add_text_row(sorted(kept), size=self.size, below=False)

    def now(self, at: int) -> None:
        """Draw the chalk line: now."""
        for number, row in enumerate(self.rows):
            if row.low <= at <= row.high:
                x, bottom = self.x(row, at), self.y(number)
                self.board.add(Line(a=(x, bottom), b=(x, bottom + self.row_pt), style="cut"))
        if len({row.low for row in self.rows}) == 1:
            self.board.add_text_row(
                [((self.x(self.rows[0], at), self.high + 14 + 1.25 * self.size), word("now", self.language))],
                size=self.size,
                below=False,
            )

    def done(self) -> Drawing:
        """Return the finished drawing."""
        return self.board.done()
