"""What each machine does when: all machines in a time, or one machine day by day."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from service.drawings.chart import TimetableChart
from service.drawings.chart_frame import BEFORE, ChartRow
from service.drawings.shapes import Drawing
from solver.documents.timetable import day_name
from solver.domain.timetable import Lateness, Timetable
from solver.language import ENGLISH, Language

_HOUR, _DAY = 3600, 86_400


def timetable_drawing(
    timetable: Timetable,
    *,
    time_zone: str,
    from_s: int | None = None,
    to_s: int | None = None,
    now_s: int | None = None,
    width_pt: float = 920.0,
    language: Language = ENGLISH,
    size: float = 11.0,
    late: Lateness | None = None,
    only: Sequence[str] | None = None,
    called: Callable[[str], str] = str,
) -> Drawing:
    """Return each machine's row from `from_s` to `to_s` (seconds from the epoch; default: all work).

    Days are those of `time_zone`. `late`: the delivery whose chain is marked; every late one if absent. The chain's
    operations have heavy outlines and are joined by a line, the last one ends in a triangle. `only`: the machines to draw.
    `called`: what people call the thing that an operation is about. Work too narrow to be told apart is one box.
    """
    work = timetable.operations
    start = from_s if from_s is not None else min((op.start_s for op in work), default=0)
    end = to_s if to_s is not None else max((op.end_s for op in work), default=_HOUR)
    end = max(end, start + 60)
    machines = list(only) if only is not None else machines_of(timetable)
    rows = [ChartRow(name, name, start, end) for name in machines]
    here = sum(1 for op in work if op.end_s > start and op.start_s < end)
    title = language.say("{machines} machines, {operations} operations", machines=len(machines), operations=here)
    chart = TimetableChart(timetable, rows, title, width_pt=width_pt, size=size, language=language, late=late, called=called)
    chart.hours(time_zone, days=True)
    chart.work()
    if now_s is not None and start <= now_s <= end:
        chart.now(now_s)
    return chart.done()


def machine_drawing(
    timetable: Timetable,
    machine: str,
    *,
    time_zone: str,
    from_s: int = 0,
    days: int = 7,
    now_s: int | None = None,
    width_pt: float = 920.0,
    language: Language = ENGLISH,
    size: float = 11.0,
    late: Lateness | None = None,
    called: Callable[[str], str] = str,
) -> Drawing:
    """Return one machine's work, a row a day of `time_zone` from the day that `from_s` lies in, drawn over its hours."""
    zone, epoch = ZoneInfo(time_zone), datetime.fromisoformat(timetable.epoch)
    midnight = (epoch + timedelta(seconds=from_s)).astimezone(zone).replace(hour=0, minute=0, second=0, microsecond=0)
    firsts = [(midnight + timedelta(days=n)) for n in range(days)]
    lows = [int((first - epoch).total_seconds()) for first in firsts]
    early, late_hour = _hours_used(timetable, machine, lows)
    rows = [
        ChartRow(f"{day_name(first, language)} {first.day}", machine, low + early, low + late_hour)
        for first, low in zip(firsts, lows, strict=True)
    ]
    chart = TimetableChart(timetable, rows, machine, width_pt=width_pt, size=size, language=language, late=late, called=called)
    chart.hours(time_zone, days=False)
    chart.work()
    if now_s is not None:
        chart.now(now_s)
    return chart.done()


def machines_of(timetable: Timetable) -> list[str]:
    """Return the machines of a timetable: the plant's, in its order, then any other that something runs on."""
    known = [machine.id for machine in timetable.job.machines]
    return known + sorted({op.machine for op in timetable.operations} - set(known))


def _hours_used(timetable: Timetable, machine: str, lows: Sequence[int]) -> tuple[int, int]:
    """The whole hours of a day, in seconds, between which the machine is open on any of the days."""
    closed = [BEFORE, *next((one.closed for one in timetable.job.machines if one.id == machine), ())]
    marks: list[int] = []
    for low in lows:
        edges = {low, low + _DAY, *(min(max(t, low), low + _DAY) for pair in closed for t in pair)}
        steps = sorted(edges)
        for a, b in pairwise(steps):
            if not any(x <= a and b <= y for x, y in closed):
                marks += [a - low, b - low]
    if not marks:
        return 0, _DAY
    return min(marks) // _HOUR * _HOUR, -(-max(marks) // _HOUR) * _HOUR
