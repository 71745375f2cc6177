"""The planner's pages of a timetable: a week or a day of all machines or of one, and why what is late is late."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime
from itertools import groupby
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response

from service.dependencies import Here, Name
from service.stations import views
from service.stations.pages import render_page, request_language
from service.usecases.ask.plans import plan_result, plan_state
from service.usecases.ask.timetable import View, timetable_page
from solver.documents.lateness_words import step_words
from solver.domain.timetable import PlannedOperation

router = APIRouter(prefix="/planner", include_in_schema=False)
LISTED = 300
PageNumber = Annotated[int, Query(ge=0, le=1_000)]
First = Annotated[int, Query(ge=0, le=10_000_000)]
Asked = Annotated[str | None, Query(max_length=400)]


@router.get("/plans/{plan_id}/timetable")
def show_timetable(
    request: Request,
    plan_id: Name,
    here: Here,
    view: View = "week",
    at: PageNumber = 0,
    machine: Asked = None,
    late: Asked = None,
    first: First = 0,
) -> Response:
    """Show what each machine does, a week or a day a page, one machine day by day, and what makes deliveries late."""
    state = plan_state(plan_id, store=here.store)
    result = plan_result(plan_id, store=here.store)
    shown = timetable_page(
        plan_id, request_language(request), view="week" if machine else view, at=at, machine=machine, marked=late,
        now=datetime.now(UTC), store=here.store,
    )  # fmt: skip
    return render_page(
        request, "plan_timetable.html", tab="timetable", plan=state, result=result, zone=shown.zone, views=views,
        shown=shown, lists=work_lists_by_machine(shown.operations, shown.names, shown.table.epoch, shown.zone, first),
        step_words=step_words,
        first=first, listed=LISTED, late={link.operation for promise, _ in shown.late for link in promise.chain},
    )  # fmt: skip


def work_lists_by_machine(
    work: Iterable[PlannedOperation], machines: Sequence[str], epoch: str, zone: str, first: int = 0
) -> list[tuple[str, list[PlannedOperation], list[tuple[str, list[PlannedOperation]]]]]:
    """Return work as lists to read: each machine that has any, all of it, and by the day of the plant on which it starts.

    By day stand `LISTED` operations of all machines by time, from the `first` on.
    """
    told = sorted(work, key=lambda one: (one.start_s, one.id))
    listed = {one.id for one in told[first : first + LISTED]}
    made = []
    for machine in machines:
        mine = [one for one in told if one.machine == machine]
        some = (one for one in mine if one.id in listed)
        days = groupby(some, key=lambda one: views.date_time_text(epoch, one.start_s, zone)[:10])
        if mine:
            made.append((machine, mine, [(day, list(ones)) for day, ones in days]))
    return made
