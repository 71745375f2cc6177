"""Machines by time: closed hours shaded, work as boxes, what is late by shape: a heavy box with a triangle."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from service.drawings.board import Board
from service.drawings.lettering import width
from service.drawings.outlines import box
from service.drawings.shapes import Drawing, Line, Polygon, Shape, Text
from solver.documents.texts import Language, say
from solver.domain.timetable import PlannedOperation, Timetable

_DAYS = {"en": ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"), "es": ("lun", "mar", "mié", "jue", "vie", "sáb", "dom")}
ROW_PT, BAR_PT = 26.0, 18.0


def timetable_drawing(
    timetable: Timetable,
    *,
    time_zone: str,
    from_s: int | None = None,
    to_s: int | None = None,
    now_s: int | None = None,
    width_pt: float = 920.0,
    language: Language = "en",
    size: float = 11.0,
) -> Drawing:
    """Return each machine's row from `from_s` to `to_s` (seconds from the epoch; default: all work).

    Days are those of `time_zone`. Operations of an order whose delivery is late end in a triangle and a heavy line.
    """
    work = timetable.operations
    start = from_s if from_s is not None else min((op.start_s for op in work), default=0)
    end = to_s if to_s is not None else max((op.end_s for op in work), default=3600)
    end = max(end, start + 60)
    machines = [m.id for m in timetable.job.machines]
    machines += sorted({op.machine for op in work} - set(machines))
    names = max((width(name) * size for name in machines), default=0) + 10
    second = (width_pt - names - 8) / (end - start)  # points in a second
    high = ROW_PT * len(machines)
    board = Board(
        f"{len(machines)} machines, {len(work)} operations", room_pt=(1e12, high), size_nm=(1.0, max(high, 1.0)), unit="mm"
    )

    def x(at: float) -> float:
        return (min(max(at, start), end) - start) * second

    for row, machine in enumerate(timetable.job.machines):
        y = high - ROW_PT * (row + 1)
        for closed in machine.closed:
            if closed[1] > start and closed[0] < end:
                board.add(Polygon(points=box(x(closed[0]), y, x(closed[1]), y + ROW_PT), style="shade"))
    _days(board, timetable.epoch, time_zone, start, end, second, high, language, size)
    late = {(one.order) for one in timetable.deliveries if one.late_s > 0}
    for row, name in enumerate(machines):
        y = high - ROW_PT * (row + 1)
        board.add(Line(a=(-names, y), b=(x(end), y)))
        board.add(Text(at=(-names, y + ROW_PT / 2 - 0.36 * size), text=name, size=size, anchor="start"))
        here = sorted((op for op in work if op.machine == name and op.end_s > start and op.start_s < end), key=_when)
        _row(board, here, y, x, size, late)
    if now_s is not None and start <= now_s <= end:
        board.add(Line(a=(x(now_s), -6), b=(x(now_s), high + 2), style="cut"))
        board.row([((x(now_s), -18), say(language, "now"))], size=size, below=True)
    return board.done()


def _when(op: PlannedOperation) -> tuple[int, str]:
    return op.start_s, op.id


def _row(board: Board, work: Sequence[PlannedOperation], y: float, x: object, size: float, late: set[str]) -> None:
    assert callable(x)
    bottom = y + (ROW_PT - BAR_PT) / 2
    for op in work:
        left, right = x(op.start_s), max(x(op.end_s), x(op.start_s) + 0.8)
        shapes: list[Shape] = [Polygon(points=box(left, bottom, right, bottom + BAR_PT), style="outline")]
        if op.order in late and right - left > 4:
            top = bottom + BAR_PT
            shapes.append(Polygon(points=((right - 4, bottom + 2), (right + 4, bottom + 2), (right, top - 2)), style="solid"))
            shapes.append(Polygon(points=box(left, bottom, right, top), style="bold"))
        board.group(op.id, shapes, title=f"{op.step} {op.about}")
        text = op.about if width(op.about) * size <= right - left - 8 else ""
        if text:
            board.add(Text(at=((left + right) / 2, bottom + BAR_PT / 2 - 0.36 * size), text=text, size=size))


def _days(
    board: Board,
    epoch: str,
    time_zone: str,
    start: int,
    end: int,
    second: float,
    high: float,
    language: Language,
    size: float,
) -> None:
    """Draw a line and the day's name at each midnight, and hours between where there is room."""
    zone = ZoneInfo(time_zone)
    zero = datetime.fromisoformat(epoch)
    first = (zero + timedelta(seconds=start)).astimezone(zone)
    moment = first.replace(minute=0, second=0, microsecond=0)
    step = next((hours for hours in (1, 2, 3, 6, 12) if hours * 3600 * second > 34), 24)
    labels: list[tuple[tuple[float, float], str]] = []
    shown = False
    while (moment - zero).total_seconds() <= end:
        at = (moment - zero).total_seconds()
        if at >= start and (moment.hour % step == 0):
            midnight = moment.hour == 0
            board.add(Line(a=((at - start) * second, 0), b=((at - start) * second, high + (10 if midnight else 4))))
            day = f"{_DAYS[language][moment.weekday()]} {moment.day}"
            if midnight or step < 24:
                labels.append((((at - start) * second, high + 14), day if midnight or not shown else f"{moment.hour}:00"))
                shown = True
        moment = (moment + timedelta(hours=1)).astimezone(zone)
    kept: list[tuple[tuple[float, float], str]] = []
    for place, text in labels:
        if not kept or place[0] - kept[-1][0][0] > (width(text) + width(kept[-1][1])) * size / 2 + 4:
            kept.append((place, text))
    board.row(kept, size=size, below=False)
