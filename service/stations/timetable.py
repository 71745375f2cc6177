"""The planner's pages of a timetable: a week or a day of all machines or of one, and why what is late is late."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response

from service.deps import Here, Name
from service.stations import views
from service.stations.pages import language_of, page
from service.usecases.ask.plans import plan_result, plan_state
from service.usecases.ask.timetable import View, timetable_page
from solver.documents.why import step_words

router = APIRouter(prefix="/planner", include_in_schema=False)
LISTED = 400
PageNumber = Annotated[int, Query(ge=0, le=1_000)]
Asked = Annotated[str | None, Query(max_length=400)]


@router.get("/plans/{plan_id}/timetable")
def timetable(
    request: Request,
    plan_id: Name,
    here: Here,
    view: View = "week",
    at: PageNumber = 0,
    machine: Asked = None,
    late: Asked = None,
) -> Response:
    """Show what each machine does, a week or a day a page, one machine day by day, and what makes deliveries late."""
    state = plan_state(plan_id, store=here.store)
    result = plan_result(plan_id, store=here.store)
    shown = timetable_page(
        plan_id, language_of(request), view="week" if machine else view, at=at, machine=machine, marked=late,
        now=datetime.now(UTC), store=here.store,
    )  # fmt: skip
    return page(
        request, "plan_timetable.html", tab="timetable", plan=state, result=result, zone=shown.zone, views=views,
        shown=shown, operations=shown.operations[:LISTED], unlisted=len(shown.operations[LISTED:]), step_words=step_words,
    )  # fmt: skip
