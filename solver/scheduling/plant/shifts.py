"""Shifts, breaks, holidays and planned maintenance as closed times, in seconds from a plan's epoch."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from solver.domain.plant import Plant, Shift, Workplace

DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def closed_times(place: Workplace, plant: Plant, *, epoch: datetime, days: int) -> tuple[tuple[int, int], ...]:
    """Return the closed intervals of a workplace over `days` from the aware instant `epoch`, in whole seconds."""
    zone = ZoneInfo(plant.time_zone)
    local = epoch.astimezone(zone)
    open_times: list[tuple[int, int]] = []
    for n in range(-1, days + 1):
        day = local.date() + timedelta(days=n)
        if day.isoformat() in plant.holidays:
            continue
        for shift in place.shifts:
            if DAYS[day.weekday()] in shift.days:
                open_times.extend(_shift_times(shift, day, zone, epoch))
    shut = [(_since(datetime.fromisoformat(a), epoch), _since(datetime.fromisoformat(b), epoch)) for a, b in place.closed]
    return _gaps(sorted(open_times), shut, days * 86_400)


def _since(instant: datetime, epoch: datetime) -> int:
    return int((instant - epoch).total_seconds())


def _at(day: date, clock: str, zone: ZoneInfo) -> datetime:
    if clock == "24:00":
        return datetime.combine(day + timedelta(days=1), time(0), zone)
    return datetime.combine(day, time.fromisoformat(clock), zone)


def _shift_times(shift: Shift, day: date, zone: ZoneInfo, epoch: datetime) -> list[tuple[int, int]]:
    """The open times of one shift: from its start to its end (next day if not later), less its breaks."""
    start = _at(day, shift.start, zone)

    def next_at(clock: str, *, late: bool) -> datetime:
        """When the clock shows that next, at the start itself only if it is for a beginning."""
        at = _at(day, clock, zone)
        return at if at > start or (at == start and not late) else _at(day + timedelta(days=1), clock, zone)

    made, at, end = [], start, next_at(shift.end, late=True)
    for low, high in sorted((next_at(a, late=False), next_at(b, late=True)) for a, b in shift.breaks):
        if at < min(low, end):
            made.append((_since(at, epoch), _since(min(low, end), epoch)))
        at = max(at, high)
    if at < end:
        made.append((_since(at, epoch), _since(end, epoch)))
    return made


def _gaps(opened: list[tuple[int, int]], shut: list[tuple[int, int]], end: int) -> tuple[tuple[int, int], ...]:
    closed: list[tuple[int, int]] = []
    at = 0
    for low, high in opened:
        if low > at:
            closed.append((at, min(low, end)))
        at = max(at, high)
        if at >= end:
            break
    if at < end:
        closed.append((at, end))
    merged: list[tuple[int, int]] = []
    for low, high in sorted((max(0, a), min(end, b)) for a, b in (*closed, *shut) if b > 0 and a < end):
        if merged and low <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(merged[-1][1], high))
        elif low < high:
            merged.append((low, high))
    return tuple(merged)
