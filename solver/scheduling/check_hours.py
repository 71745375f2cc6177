"""Proves that work lies in the hours that the plant's catalog gives, day by day; a job's own list of them is not read."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from solver.domain.plant import Plant, Shift, Workplace
from solver.domain.timetable import PlannedOperation, Timetable
from solver.domain.work_ids import operation_id
from solver.errors import FaultCollector, FieldFault

CHECKED = "each operation worked in the shifts of the catalog: outside breaks, holidays and maintenance, for its whole time"
WEEK = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
Span = tuple[int, int]


def faults_in_hours(plant: Plant, table: Timetable) -> list[FieldFault]:
    """Return a fault for each operation that begins, ends or works when its workplace is closed.

    Of a timetable that goes on after something happened, work that had begun is as it ran; what began after that may pause
    for longer than the catalog says, for a machine that was down.
    """
    faults = FaultCollector()
    places = {place.id: place for place in plant.workplaces}
    weeks = {name: _Opened(place, plant, datetime.fromisoformat(table.epoch)) for name, place in places.items()}
    steps = {operation_id(job.id, n): step for job in table.job.jobs for n, step in enumerate(job.operations)}
    for one in table.operations:
        if table.replanned_s is not None and one.start_s < table.replanned_s:
            continue
        if one.machine not in weeks or one.id not in steps:
            faults.add(f"timetable.{one.id}", f"is on {one.machine}", "a workplace of the catalog")
            continue
        step, opened = steps[one.id], weeks[one.machine]
        work = step.on.get(one.machine, 0)
        if not work:
            continue
        there = opened.seconds(one.start_s, one.end_s)
        longest = one.end_s - one.start_s
        if not (opened.seconds(one.start_s, one.start_s + 1) and opened.seconds(one.end_s - 1, one.end_s)):
            faults.add(
                f"timetable.{one.id}", _said(one, plant, table, "begins or ends when it is closed"), "hours of the catalog"
            )
        elif there < longest and not step.pause:
            faults.add(f"timetable.{one.id}", _said(one, plant, table, "may not pause and is"), "one stretch of open hours")
        elif there < work or (there > work and table.replanned_s is None):
            faults.add(f"timetable.{one.id}", _said(one, plant, table, f"has {there} open seconds for it"), f"{work}")
    return faults.found


def _said(one: PlannedOperation, plant: Plant, table: Timetable, what: str) -> str:
    zone, epoch = ZoneInfo(plant.time_zone), datetime.fromisoformat(table.epoch).astimezone(UTC)
    low, high = ((epoch + timedelta(seconds=at)).astimezone(zone) for at in (one.start_s, one.end_s))
    return f"{one.machine} {what}: {low:%a %Y-%m-%d %H:%M} to {high:%a %Y-%m-%d %H:%M}"


class _Opened:
    """The open hours of a workplace, found for one local day at a time as they are asked for."""

    def __init__(self, place: Workplace, plant: Plant, epoch: datetime) -> None:
        self.place, self.zone, self.holidays = place, ZoneInfo(plant.time_zone), set(plant.holidays)
        self.zero = epoch.timestamp()
        self.down = [self._span(datetime.fromisoformat(a), datetime.fromisoformat(b)) for a, b in place.closed]
        self.days: dict[date, list[Span]] = {}

    def seconds(self, start: int, end: int) -> int:
        """Return how long it is open from start to end."""
        first = (datetime.fromtimestamp(self.zero + start, self.zone) - timedelta(days=1)).date()
        last = datetime.fromtimestamp(self.zero + end, self.zone).date()
        spans = [span for n in range((last - first).days + 1) for span in self._day(first + timedelta(days=n))]
        marks: list[tuple[int, int, int]] = []  # time, by how many shifts, by how many works of maintenance it changes
        for low, high in spans:
            marks += [(low, 1, 0), (high, -1, 0)]
        for low, high in self.down:
            marks += [(low, 0, 1), (high, 0, -1)]
        found = on = shut = 0
        before = start
        for time, more, less in sorted(marks):
            at = min(max(time, start), end)
            found += at - before if on > 0 and shut == 0 else 0
            before, on, shut = at, on + more, shut + less
        return found

    def _day(self, day: date) -> list[Span]:
        """What of the shifts that begin on a day is open."""
        if day not in self.days:
            on = (
                []
                if day.isoformat() in self.holidays
                else [one for one in self.place.shifts if WEEK[day.weekday()] in one.days]
            )
            self.days[day] = [span for shift in on for span in self._open(shift, day)]
        return self.days[day]

    def _open(self, shift: Shift, day: date) -> Iterator[Span]:
        at = self._clock(day, shift.start)
        end = self._after(at, day, shift.end)
        begun = (self._clock(day, a) for a, _ in shift.breaks)
        pauses = [low if low >= at else low + timedelta(days=1) for low in begun]
        for low, (_, text) in sorted(zip(pauses, shift.breaks, strict=True)):
            if at < min(low, end):
                yield self._span(at, min(low, end))
            at = max(at, self._after(low, low.date(), text))
        if at < end:
            yield self._span(at, end)

    def _after(self, start: datetime, day: date, text: str) -> datetime:
        """The next time that a clock shows something, after a time of a day."""
        at = self._clock(day, text)
        return at if at > start else self._clock(day + timedelta(days=1), text)

    def _clock(self, day: date, text: str) -> datetime:
        hour, minute = (int(part) for part in text.split(":")[:2])
        return datetime(day.year, day.month, day.day, hour % 24, minute, tzinfo=self.zone) + timedelta(days=hour // 24)

    def _span(self, low: datetime, high: datetime) -> Span:
        return int(low.timestamp() - self.zero), int(high.timestamp() - self.zero)
