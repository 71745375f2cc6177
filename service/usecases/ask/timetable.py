"""What each machine of a plan does: the timetable, a machine's calendar, its work in a time."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, time, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

from service.contracts.timetable import MachineList
from service.drawings.shapes import Drawing
from service.drawings.timetable import machine_drawing, timetable_drawing
from service.errors import NotFound
from service.ports import Store, Transaction
from service.reports.calendars import machine_calendar
from service.reports.machines import machine_list
from service.reports.timetable import timetable_csv
from service.stored_form import from_stored_text
from service.usecases.plan_rows import (
    nameable_texts,
    operations_between,
    plan_catalog,
    plan_thing_names,
    timetable_head,
    timetable_with_marked,
    write_plan_rows,
)
from solver.documents.lateness_words import lateness_reasons
from solver.documents.names import ThingNames
from solver.domain.timetable import Lateness, PlannedOperation, Timetable
from solver.language import ENGLISH, Language

WEEK_S = 7 * 86_400
LATE_MOST = 30  # deliveries whose reasons a page tells
View = Literal["week", "day"]


def ensure_plan_rows(plan_id: str, *, store: Store) -> str:
    """Return the id of a plan, its rows written. Raises NotFound."""
    with store.reading() as tx:
        plan = tx.plans.known(plan_id)
    write_plan_rows(plan, store=store)
    return plan


def plan_names(plan_id: str, texts: Collection[str], language: Language, *, store: Store) -> ThingNames:
    """Return what people call the things of a plan, the bars among some texts by their numbers. Raises NotFound."""
    plan = ensure_plan_rows(plan_id, store=store)
    with store.reading() as tx:
        return plan_thing_names(tx, plan, language, texts)


def plan_calendar(plan_id: str, machine: str, language: Language, *, store: Store) -> str:
    """Return a machine's work as an iCalendar file. Raises NotFound."""
    plan = ensure_plan_rows(plan_id, store=store)
    with store.reading() as tx:
        head, plant = timetable_head(tx, plan), plan_catalog(tx, plan)
        if machine not in head.machines:
            raise NotFound("machine", machine)
        state, row = tx.plans.state(plan_id), plans_before(tx, plan)
        work = operations_between(tx, plan, machine=machine)
        gone = [from_stored_text(PlannedOperation, one) for one in tx.rows.gone(plan, machine)]
        names = plan_thing_names(tx, plan, language, nameable_texts((*work, *gone)))
    made = datetime.fromisoformat(state.made_at)
    return machine_calendar(
        names.table(replace(head.table, operations=work)),
        machine,
        plant=plant.id,
        made=made,
        sequence=len(row),
        language=language,
        gone=[names.operation(one) for one in gone],
    )


def plans_before(tx: Transaction, plan: str) -> list[str]:
    """Return the plans that came before one, the latest first, from predecessor to predecessor."""
    seen = [plan]
    while (before := tx.plans.manifest(seen[-1]).predecessor) is not None and before not in seen:
        seen.append(before)
    return seen[1:]


def plan_timetable_csv(plan_id: str, *, store: Store) -> str:
    """Return the timetable as CSV, times in the plant's zone. Raises NotFound."""
    plan = ensure_plan_rows(plan_id, store=store)
    with store.reading() as tx:
        table = replace(timetable_head(tx, plan).table, operations=operations_between(tx, plan))
        return timetable_csv(table, plan_thing_names(tx, plan, ENGLISH, nameable_texts(table.operations)))


def plan_machines(plan_id: str, from_s: int, to_s: int | None, *, store: Store) -> MachineList:
    """Return what each machine does from a second of the plan to another, a week where none is given. Raises NotFound."""
    plan, until = ensure_plan_rows(plan_id, store=store), from_s + WEEK_S if to_s is None else max(to_s, from_s)
    with store.reading() as tx:
        table = replace(timetable_head(tx, plan).table, operations=operations_between(tx, plan, from_s, until))
    return machine_list(table, from_s, until)


def plan_reasons(plan_id: str, language: Language, *, store: Store) -> dict[tuple[str, str], tuple[str, ...]]:
    """Return why the late deliveries (order, delivery) of a plan are late, in words, of the first so many. Raises NotFound."""
    plan = ensure_plan_rows(plan_id, store=store)
    with store.reading() as tx:
        head = timetable_head(tx, plan)
        late = [one for one in head.table.deliveries if one.late_s > 0][:LATE_MOST]
        chains = {link.operation for one in late for link in one.chain}
        table = timetable_with_marked(tx, plan, head, (), chains)
        table = plan_thing_names(tx, plan, language, nameable_texts(table.operations)).table(table)
    return {(one.order, one.delivery): lateness_reasons(one, table.operations, language) for one in late}


@dataclass(frozen=True, slots=True, kw_only=True)
class TimetablePage:
    """What a page shows of a timetable: a week or a day of all machines or of one, and why what is late is late."""

    table: Timetable
    zone: str
    view: View
    at: int
    machine: str | None
    names: list[str]
    called: Callable[[str], str]  # what people call the thing that an operation is about
    drawing: Drawing
    operations: tuple[PlannedOperation, ...]
    machines: MachineList
    late: tuple[tuple[Lateness, tuple[str, ...]], ...]  # late deliveries with their reasons, of many the first
    untold: int  # how many more are late
    marked: Lateness | None  # whose chain alone is marked
    more: bool


def timetable_page(
    plan_id: str,
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
    plan = ensure_plan_rows(plan_id, store=store)
    with store.reading() as tx:
        head, zone = timetable_head(tx, plan), plan_catalog(tx, plan).time_zone
        if machine is not None and machine not in head.machines:
            raise NotFound("machine", machine)
        late = [one for one in head.table.deliveries if one.late_s > 0]
        chosen = next((one for one in late if f"{one.order} {one.delivery}" == marked), None)
        if marked is not None and chosen is None:
            raise NotFound("late delivery", marked)
        low, high = view_window(head.table.epoch, zone, view, at)
        told = late[:LATE_MOST] if chosen is None or chosen in late[:LATE_MOST] else [chosen, *late[: LATE_MOST - 1]]
        chains = {link.operation for one in told for link in one.chain}
        work = operations_between(tx, plan, low, high)
        table = timetable_with_marked(tx, plan, head, work, chains)
        names = plan_thing_names(tx, plan, language, nameable_texts(table.operations))
    now_s = int((now - datetime.fromisoformat(table.epoch)).total_seconds())
    in_chains = [names.operation(one) for one in table.operations if one.id in chains]
    some = tuple(one for one in table.operations if one.start_s < high and one.end_s > low and machine in (None, one.machine))
    return TimetablePage(
        table=table,
        zone=zone,
        view=view,
        at=at,
        machine=machine,
        names=list(head.machines),
        called=names.of,
        drawing=_drawing(table, head.machines, zone, low, high, machine=machine, names=names, late=chosen, now_s=now_s),
        operations=some,
        machines=machine_list(table, low, high),
        late=tuple((one, lateness_reasons(one, in_chains, language)) for one in told),
        untold=len(late) - len(told),
        marked=chosen,
        more=head.end_s > high,
    )


def draw_timetable(plan_id: str, language: Language, *, to_s: int, store: Store) -> Drawing:
    """Return the picture of a plan's timetable from its first work to a second of it. Raises NotFound."""
    plan = ensure_plan_rows(plan_id, store=store)
    with store.reading() as tx:
        head, zone = timetable_head(tx, plan), plan_catalog(tx, plan).time_zone
        work = operations_between(tx, plan, 0, to_s)
        chains = {link.operation for one in head.table.deliveries if one.late_s > 0 for link in one.chain[-1:]}
        table = timetable_with_marked(tx, plan, head, work, chains)
        called = plan_thing_names(tx, plan, language, nameable_texts(table.operations)).of
    begins, until = min((one.start_s for one in work), default=0), min(to_s, head.end_s + 3_600)
    return timetable_drawing(
        table, time_zone=zone, from_s=begins, to_s=until, language=language, only=head.machines, called=called
    )


def draw_timetable_part(plan_id: str, language: Language, *, view: View, at: int, machine: str | None, store: Store) -> Drawing:
    """Return the drawing of a week or a day of a timetable, or of one machine day by day. Raises NotFound."""
    long_ago = datetime.fromtimestamp(0, UTC)
    shown = timetable_page(plan_id, language, view=view, at=at, machine=machine, marked=None, now=long_ago, store=store)
    return shown.drawing


def _drawing(
    table: Timetable,
    machines: Sequence[str],
    zone: str,
    low: int,
    high: int,
    *,
    machine: str | None,
    names: ThingNames,
    late: Lateness | None,
    now_s: int,
) -> Drawing:
    if machine is None:
        return timetable_drawing(
            table,
            time_zone=zone,
            from_s=low,
            to_s=high,
            now_s=now_s,
            language=names.language,
            late=late,
            only=machines,
            called=names.of,
        )
    days = -(-(high - low) // 86_400)
    return machine_drawing(
        table,
        machine,
        time_zone=zone,
        from_s=low,
        days=days,
        now_s=now_s,
        language=names.language,
        late=late,
        called=names.of,
    )


def view_window(epoch: str, time_zone: str, view: View, at: int) -> tuple[int, int]:
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
