"""Work lies in the shifts of the catalog, outside holidays; what may not pause lies in one stretch of them."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from solver.domain.plan import Plan
from solver.domain.plant import Plant, Shift, Workplace

UNBROKEN = ("laminate",)  # the glue sets
DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
Span = tuple[int, int]


def faults_of_hours(plan: Plan, plant: Plant) -> Iterator[str]:
    """Give every operation that works when its workplace is closed, or not as long as the catalog says (bundles, trucks)."""
    work = plan.timetable.operations
    epoch = datetime.fromisoformat(plan.timetable.epoch)
    last = epoch + timedelta(seconds=max((one.end_s for one in work), default=0))
    places = {place.id: place for place in plant.workplaces}
    opened = {name: open_spans(place, plant, epoch, last) for name, place in places.items()}
    handled: dict[str, int] = {bundle.id: len(bundle.pieces) for part in plan.stacks for bundle in part.result.bundles}
    handled |= {load.id: len(load.placed) for part in plan.loads for load in part.result.loads}
    for one in work:
        if one.machine not in places:
            yield f"{one.id} is on {one.machine}, which is not there"
            continue
        if one.end_s == one.start_s:
            continue
        inside = [(max(a, one.start_s), min(b, one.end_s)) for a, b in opened[one.machine] if b > one.start_s and a < one.end_s]
        if not inside or inside[0][0] != one.start_s or inside[-1][1] != one.end_s:
            yield f"{one.id} begins or ends when {one.machine} is closed"
        elif one.step in UNBROKEN and len(inside) > 1:
            yield f"{one.id} pauses and may not"
        if one.step in ("bundle", "load"):
            place, there = places[one.machine], sum(b - a for a, b in inside)
            if there != place.per_run_s + place.per_item_s * handled.get(one.about, 0):
                yield f"{one.id} takes {there} s"


def open_spans(place: Workplace, plant: Plant, epoch: datetime, last: datetime) -> list[Span]:
    """Return when a workplace is open, in seconds from the epoch, apart and in order.

    Shifts go by the clock on the wall; one that ends no later than it starts ends on the next day.
    """
    zone = ZoneInfo(plant.time_zone)
    first_day, last_day = epoch.astimezone(zone).date() - timedelta(days=1), last.astimezone(zone).date()
    days = [first_day + timedelta(days=n) for n in range((last_day - first_day).days + 1)]
    worked = [
        span
        for day in days
        if day.isoformat() not in plant.holidays
        for shift in place.shifts
        if DAYS[day.weekday()] in shift.days
        for span in _stretches(day, shift, zone)
    ]
    shut = [(datetime.fromisoformat(low), datetime.fromisoformat(high)) for low, high in place.closed]
    marks: list[tuple[int, int, int]] = []
    for spans, on, off in ((worked, 1, 0), (shut, 0, 1)):
        for low, high in spans:
            a, b = (round((at.astimezone(UTC) - epoch).total_seconds()) for at in (low, high))
            marks += [(a, on, off), (b, -on, -off)]
    return _open(marks)


def _stretches(day: date, shift: Shift, zone: ZoneInfo) -> Iterator[tuple[datetime, datetime]]:
    """The stretches of a day's shift between its breaks."""
    at = _clock(day, shift.start, zone)
    close = _next(at, day, shift.end, zone)
    begun = [(_not_before(at, day, a, zone), b) for a, b in shift.breaks]
    for low, text in sorted(begun):
        if at < low < close:
            yield at, low
        at = max(at, min(_next(low, low.date(), text, zone), close))
    if at < close:
        yield at, close


def _clock(day: date, text: str, zone: ZoneInfo) -> datetime:
    hour, minute = (int(one) for one in text.split(":")[:2])
    day += timedelta(days=hour // 24)
    return datetime(day.year, day.month, day.day, hour % 24, minute, tzinfo=zone)


def _next(after: datetime, day: date, text: str, zone: ZoneInfo) -> datetime:
    at = _clock(day, text, zone)
    return at if at > after else _clock(day + timedelta(days=1), text, zone)


def _not_before(start: datetime, day: date, text: str, zone: ZoneInfo) -> datetime:
    at = _clock(day, text, zone)
    return at if at >= start else _clock(day + timedelta(days=1), text, zone)


def _open(marks: list[tuple[int, int, int]]) -> list[Span]:
    """Stretches in which at least one shift runs and nothing shuts the place; those that touch are one."""
    found: list[Span] = []
    on = shut = 0
    before = 0
    for at, more, less in sorted(marks):
        if on > 0 and shut == 0 and at > before:
            if found and found[-1][1] == before:
                found[-1] = (found[-1][0], at)
            else:
                found.append((before, at))
        before, on, shut = at, on + more, shut + less
    return found
