"""What each machine does, day by day, as lines for a clipboard: work in order of time, set-ups before it, breaks between."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from solver.documents.index import PlanIndex
from solver.domain.document import DayLine, MachineDay
from solver.domain.ids import short_name
from solver.domain.timetable import PlannedOperation, Timetable
from solver.language import Language

DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
BUNDLES_NAMED = 4  # of a lot of many bars no bundles are named


def day_name(day: date, language: Language) -> str:
    """Return the short name of a day of the week."""
    return language.text(DAYS[day.weekday()], "day")


def date_words(at: date, language: Language) -> str:
    """Return a day as "Mon 28 Apr", without its year."""
    return f"{day_name(at, language)} {at.day:02} {language.text(MONTHS[at.month - 1], 'month')}"


def working_intervals(op: PlannedOperation, closed: Iterable[tuple[int, int]]) -> Iterator[tuple[int, int]]:
    """Give the times at which an operation runs: its span less the closed hours in it, which are in order of time."""
    at: int = op.start_s
    for low, high in closed:
        if low < op.end_s and high > at:
            if low > at:
                yield at, low
            at = min(high, op.end_s)
    if at < op.end_s or op.start_s == op.end_s:
        yield at, op.end_s


def machine_days(index: PlanIndex) -> tuple[MachineDay, ...]:
    """Return a sheet for each machine and day of the plant on which it works: machine by machine, each in order of time."""
    table, zone = index.plan.timetable, ZoneInfo(index.plant.time_zone)
    clock = _Clock(table, zone)
    machines = [one.id for one in table.job.machines]
    machines += sorted({operation.machine for operation in table.operations} - set(machines))
    made = []
    for machine in machines:
        work = sorted((op for op in table.operations if op.machine == machine), key=lambda op: (op.start_s, op.id))
        closed = next((sorted(one.closed) for one in table.job.machines if one.id == machine), [])
        by_day: dict[date, list[PlannedOperation]] = {}
        for op in work:
            for day in sorted({day for low, high in working_intervals(op, closed) for day in clock.days(low, high)}):
                by_day.setdefault(day, []).append(op)
        made += [_sheet(index, machine, day, some, closed, clock) for day, some in sorted(by_day.items())]
    return tuple(made)


def working_weeks(table: Timetable, time_zone: str) -> tuple[tuple[date, int, int], ...]:
    """Return the weeks in which there is work: the Monday, and the first and last second from the plan's start."""
    clock = _Clock(table, ZoneInfo(time_zone))
    days = {day for op in table.operations for day in (clock.at(op.start_s).date(), clock.at(op.end_s).date())}
    mondays = sorted({day - timedelta(days=day.weekday()) for day in days})
    edges = ((day, clock.second(day), clock.second(day + timedelta(days=7))) for day in mondays)
    return tuple((day, max(low, 0), high) for day, low, high in edges)


class _Clock:
    """Seconds from the plan's start as days and times of the plant."""

    def __init__(self, table: Timetable, zone: ZoneInfo) -> None:
        self.zero, self.zone = datetime.fromisoformat(table.epoch), zone

    def at(self, second: int) -> datetime:
        return (self.zero + timedelta(seconds=second)).astimezone(self.zone)

    def second(self, day: date) -> int:
        return int((datetime.combine(day, time(0), self.zone) - self.zero).total_seconds())

    def days(self, low: int, high: int) -> Iterator[date]:
        """The days that a time touches; one that ends at midnight does not touch the next."""
        day, last = self.at(low).date(), self.at(max(low, high - 1)).date()
        while day <= last:
            yield day
            day += timedelta(days=1)


def _sheet(
    index: PlanIndex,
    machine: str,
    day: date,
    work: list[PlannedOperation],
    closed: list[tuple[int, int]],
    clock: _Clock,
) -> MachineDay:
    low, high = clock.second(day), clock.second(day + timedelta(days=1))
    lines = [_line(index, op, clock) for op in work]
    first, last = max(low, work[0].start_s), min(high, max(op.end_s for op in work))
    breaks = [(a, b) for a, b in closed if first <= a and b <= last]
    lines += [DayLine(start=clock.at(a).isoformat(), end=clock.at(b).isoformat(), step="") for a, b in breaks]
    starts = [*(op.start_s for op in work), *(a for a, _ in breaks)]
    order = sorted(range(len(lines)), key=lambda n: (starts[n], n))
    return MachineDay(machine=machine, day=day.isoformat(), lines=tuple(lines[n] for n in order))


def _line(index: PlanIndex, op: PlannedOperation, clock: _Clock) -> DayLine:
    names = bundle_names_of(op, index)
    return DayLine(
        start=clock.at(op.start_s).isoformat(),
        end=clock.at(op.end_s).isoformat(),
        step=op.step,
        about=index.names.of(op.about),
        order=op.order,
        bundles=names if len(names) <= BUNDLES_NAMED else (),
        setup_s=op.setup_s,
        hold_s=op.hold_s,
    )


def bundle_names_of(op: PlannedOperation, index: PlanIndex) -> tuple[str, ...]:
    """Return the names of the bundles into which the pieces of an operation's bars go, as they are said aloud."""
    pieces = [piece for bar in op.bars for piece in index.laid.get(bar, ())]
    found = dict.fromkeys(index.places[piece][0].id for piece in pieces if piece in index.places)
    return tuple(short_name(name) for name in found)
