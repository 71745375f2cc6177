"""The frame of a chart of machines by time: a row a machine or a day, closed hours shaded, days and hours above, now."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from service.drawings.board import Board
from service.drawings.lettering import width
from service.drawings.outlines import box
from service.drawings.shapes import At, Drawing, Line, Polygon, Text
from solver.documents.texts import Language
from solver.documents.timetable import DAYS
from solver.documents.why import word
from solver.domain.timetable import PlannedOperation, Timetable

ROW_PT = 28.0
BEFORE = (-10 * 86_400, 0)  # before a plan starts, nothing is open to it
_HOUR = 3600


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the chart: a machine in a time."""

    name: str
    machine: str
    low: int
    high: int

    def holds(self, op: PlannedOperation) -> bool:
        """Return whether an operation runs in this row."""
        return op.machine == self.machine and op.end_s > self.low and op.start_s < self.high


class Frame:
    """Rows over one span of time, and where everything in them lies."""

    def __init__(
        self,
        table: Timetable,
        rows: Sequence[Row],
        title: str,
        *,
        width_pt: float,
        size: float,
        language: Language,
        row_pt: float = ROW_PT,
    ) -> None:
        self.table, self.rows, self.size, self.language, self.row_pt = table, rows, size, language, row_pt
        self.high = row_pt * len(rows)
        self.names = max((width(row.name) * size for row in rows), default=0) + 10
        self.span = max((row.high - row.low for row in rows), default=_HOUR)
        self.second = max(width_pt - self.names - 8, 1) / self.span  # points in a second
        self.room = self.names + self.span * self.second
        self.board = Board(title, room_pt=(1e12, self.high), size_nm=(1.0, max(self.high, 1.0)), unit="mm")
        self.closed = {machine.id: [BEFORE, *sorted(machine.closed)] for machine in table.job.machines}
        self.marks: list[tuple[float, str, bool]] = []  # where, what, whether a day begins

    def x(self, row: Row, at: float) -> float:
        """Return where a time lies along a row, in points; times outside lie at its ends."""
        return (min(max(at, row.low), row.high) - row.low) * self.second

    def y(self, number: int) -> float:
        """Return the bottom of a row, in points; the first row is on top."""
        return self.high - self.row_pt * (number + 1)

    def ground(self) -> None:
        """Draw what the work lies on: closed hours, days and hours, the lines and names of the rows."""
        for number, row in enumerate(self.rows):
            bottom = self.y(number)
            for low, high in self.closed.get(row.machine, ()):
                if high > row.low and low < row.high:
                    self.board.add(
                        Polygon(points=box(self.x(row, low), bottom, self.x(row, high), bottom + self.row_pt), style="shade")
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
        row = self.rows[0] if self.rows else Row("", "", 0, _HOUR)
        first = (zero + timedelta(seconds=row.low)).astimezone(zone)
        moment = first.replace(minute=0, second=0, microsecond=0)
        step = next((hours for hours in (1, 2, 3, 6, 12) if hours * _HOUR * self.second > 38), 24)
        while (moment - zero).total_seconds() <= row.high:
            at = (moment - zero).total_seconds()
            if at >= row.low and moment.hour % step == 0:
                midnight = days and moment.hour == 0
                name = f"{DAYS[self.language][moment.weekday()]} {moment.day}"
                first_of_all = days and not self.marks
                self.marks.append(
                    ((at - row.low) * self.second, name if midnight or first_of_all else f"{moment.hour}:00", midnight)
                )
            moment = (moment + timedelta(hours=1)).astimezone(zone)

    def _ticks(self) -> None:
        kept: list[tuple[At, str]] = []
        for x, text, midnight in sorted(self.marks, key=lambda mark: not mark[2]):  # days first, hours where room is left
            self.board.add(Line(a=(x, 0), b=(x, self.high + (10 if midnight else 4))))
            room = [abs(x - at[0]) - (width(text) + width(other)) * self.size / 2 for at, other in kept]
            if min(room, default=9) > 4:
                kept.append(((x, self.high + 14), text))
        self.board.row(sorted(kept), size=self.size, below=False)

    def now(self, at: int) -> None:
        """Draw the chalk line: now."""
        for number, row in enumerate(self.rows):
            if row.low <= at <= row.high:
                x, bottom = self.x(row, at), self.y(number)
                self.board.add(Line(a=(x, bottom), b=(x, bottom + self.row_pt), style="cut"))
        if len({row.low for row in self.rows}) == 1:
            self.board.row(
                [((self.x(self.rows[0], at), self.high + 14 + 1.25 * self.size), word("now", self.language))],
                size=self.size,
                below=False,
            )

    def done(self) -> Drawing:
        """Return the finished drawing."""
        return self.board.done()
