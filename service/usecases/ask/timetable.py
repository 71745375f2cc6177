"""What each machine of a plan does: the timetable, a machine's calendar, its work in a time."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

from service.contracts.timetable import MachineList
from service.drawings.shapes import Drawing
from service.drawings.timetable import machine_drawing, machines_of, timetable_drawing
from service.errors import NotFound
from service.ports import Store, Transaction
from service.reports.calendars import machine_calendar
from service.reports.machines import machine_list
from service.reports.timetable import timetable_csv
from service.usecases.ask.drawings import plan_part_about, plan_plant
from service.usecases.ask.plans import done_plan
from service.usecases.ask.release import read_parts
from solver.documents.moves import change_between
from solver.documents.texts import Language
from solver.documents.why import reasons
from solver.domain.timetable import Lateness, PlannedOperation, Timetable

WEEK_S = 7 * 86_400
View = Literal["week", "day"]


def plan_timetable(job_id: str, *, store: Store) -> Timetable:
    """Return the timetable of a done plan. Raises NotFound."""
    return plan_part_about(job_id, "schedule", Timetable, "plant", store=store)


def plan_calendar(job_id: str, machine: str, language: Language, *, store: Store) -> str:
    """Return a machine's work as an iCalendar file. Raises NotFound."""
    table, plant = plan_timetable(job_id, store=store), plan_plant(job_id, store=store)
    if machine not in machines_of(table):
        raise NotFound("machine", machine)
    with store.reading() as tx:
        job, row = tx.jobs.get(job_id), plans_before(tx, done_plan(tx, job_id))
        before = next(read_parts(tx, row[0], "schedule", Timetable, about="plant"), None) if row else None
    moves = change_between(before, table).moves if before is not None else ()
    gone = [move.old for move in moves if move.kind == "gone" and move.old is not None]
    made = datetime.fromisoformat(job.ended_at or job.asked_at)
    return machine_calendar(table, machine, plant=plant.id, made=made, sequence=len(row), language=language, gone=gone)


def plans_before(tx: Transaction, plan: str) -> list[str]:
    """Return the plans that came before one, the latest first, from predecessor to predecessor."""
    seen = [plan]
    while (before := tx.plans.manifest(seen[-1]).predecessor) is not None and before not in seen:
        seen.append(before)
    return seen[1:]


def plan_timetable_csv(job_id: str, *, store: Store) -> str:
    """Return the timetable as CSV, times in the plant's zone. Raises NotFound."""
    return timetable_csv(plan_timetable(job_id, store=store), plan_plant(job_id, store=store).time_zone)


def plan_machines(job_id: str, from_s: int, to_s: int | None, *, store: Store) -> MachineList:
    """Return what each machine does from a second of the plan to another, a week where none is given. Raises NotFound."""
    return machine_list(plan_timetable(job_id, store=store), from_s, from_s + WEEK_S if to_s is None else max(to_s, from_s))


def plan_reasons(job_id: str, language: Language, *, store: Store) -> dict[tuple[str, str], tuple[str, ...]]:
    """Return why each late delivery (order, delivery) of a plan is late, in words. Raises NotFound."""
    table = plan_timetable(job_id, store=store)
    late = [one for one in table.deliveries if one.late_s > 0]
    return {(one.order, one.delivery): reasons(one, table.operations, language) for one in late}


@dataclass(frozen=True, slots=True, kw_only=True)
class TimetablePage:
    """What a page shows of a timetable: a week or a day of all machines or of one, and why what is late is late."""

    table: Timetable
    zone: str
    view: View
    at: int
    machine: str | None
    names: list[str]
    drawing: Drawing
    operations: tuple[PlannedOperation, ...]
    machines: MachineList
    late: tuple[tuple[Lateness, tuple[str, ...]], ...]  # each late delivery with its reasons
    marked: Lateness | None  # whose chain alone is marked
    more: bool


def timetable_page(
    job_id: str,
    language: Language,
    *,
    view: View,
    at: int,
    machine: str | None,
    marked: str | None,
    now: datetime,
    store: Store,
) -> TimetablePage:
    """Return the `at`-th week or day of a plan's timetable, of one machine where one is named. `marked`: "order delivery",
    the one whose chain is drawn; all late ones if absent. Raises NotFound."""
    table, zone = plan_timetable(job_id, store=store), plan_plant(job_id, store=store).time_zone
    names = machines_of(table)
    if machine is not None and machine not in names:
        raise NotFound("machine", machine)
    late = [one for one in table.deliveries if one.late_s > 0]
    chosen = next((one for one in late if f"{one.order} {one.delivery}" == marked), None)
    if marked is not None and chosen is None:
        raise NotFound("late delivery", marked)
    low, high = window(table.epoch, zone, view, at)
    now_s = int((now - datetime.fromisoformat(table.epoch)).total_seconds())
    end = max((one.end_s for one in table.operations), default=0)
    some = tuple(one for one in table.operations if one.start_s < high and one.end_s > low and machine in (None, one.machine))
    return TimetablePage(
        table=table,
        zone=zone,
        view=view,
        at=at,
        machine=machine,
        names=names,
        drawing=_drawing(table, zone, low, high, machine=machine, language=language, late=chosen, now_s=now_s),
        operations=some,
        machines=machine_list(table, low, high),
        late=tuple((one, reasons(one, table.operations, language)) for one in late),
        marked=chosen,
        more=end > high,
    )


def draw_part(job_id: str, language: Language, *, view: View, at: int, machine: str | None, store: Store) -> Drawing:
    """Return the drawing of a week or a day of a timetable, or of one machine day by day. Raises NotFound."""
    long_ago = datetime.fromtimestamp(0, UTC)
    shown = timetable_page(job_id, language, view=view, at=at, machine=machine, marked=None, now=long_ago, store=store)
    return shown.drawing


def _drawing(
    table: Timetable,
    zone: str,
    low: int,
    high: int,
    *,
    machine: str | None,
    language: Language,
    late: Lateness | None,
    now_s: int,
) -> Drawing:
    if machine is None:
        return timetable_drawing(table, time_zone=zone, from_s=low, to_s=high, now_s=now_s, language=language, late=late)
    days = -(-(high - low) // 86_400)
    return machine_drawing(table, machine, time_zone=zone, from_s=low, days=days, now_s=now_s, language=language, late=late)


def window(epoch: str, time_zone: str, view: View, at: int) -> tuple[int, int]:
    """Return the seconds from the plan's start at which its `at`-th week (from Monday) or day begins and ends.

    Weeks and days are those of the plant's clock; the first one begins with the plan.
    """
    zone, zero = ZoneInfo(time_zone), datetime.fromisoformat(epoch)
    local = zero.astimezone(zone)
    first = local.date() - timedelta(days=local.weekday() if view == "week" else 0)
    step = 7 if view == "week" else 1
    edges = [datetime.combine(first + timedelta(days=step * n), time(0), zone) for n in (at, at + 1)]
    low, high = (int((edge - zero).total_seconds()) for edge in edges)
    return max(low, 0), high
