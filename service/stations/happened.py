"""The planner's page of what happened: tell it, and ask how the plan can go on."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from functools import partial
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Request, Response

from service.contracts.jobs import JobState
from service.dependencies import Here, Name
from service.stations import views
from service.stations.pages import render_page, request_language
from service.usecases.ask import floor
from service.usecases.ask.drawings import plan_plant
from service.usecases.ask.jobs import list_jobs
from service.usecases.ask.plans import plan_result, plan_state
from service.usecases.ask.replans import read_plan_vocabulary
from solver.documents.names import ThingNames
from solver.domain.disruptions import Disruptions

router = APIRouter(prefix="/planner", include_in_schema=False)


@router.get("/plans/{plan_id}/happened")
def happened_page(request: Request, plan_id: Name, here: Here) -> Response:
    """Ask what happened to a plan; list what was asked before."""
    state, result = plan_state(plan_id, store=here.store), plan_result(plan_id, store=here.store)
    plant = plan_plant(plan_id, store=here.store)
    scrapped = floor.waiting_for_remake(store=here.store)
    known, zone, called = (
        read_plan_vocabulary(plan_id, scrapped, store=here.store),
        plant.time_zone,
        ThingNames(plant, request_language(request)).of,
    )
    waiting = tuple(piece for piece in scrapped if piece in known.pieces)
    begins = max(datetime.now(UTC), datetime.fromisoformat(result.epoch)).astimezone(ZoneInfo(zone))
    asked = list_jobs("replan", of=plan_id, store=here.store).jobs
    return render_page(
        request, "happened.html", plan=state, result=result, known=known, scrapped=waiting, zone=zone, views=views,
        begins=begins.strftime("%Y-%m-%dT%H:%M"), asked=asked[:8], summary=partial(disruption_summary, called), called=called,
    )  # fmt: skip


def disruption_summary(called: Callable[[str], str], state: JobState) -> str:
    """Return what was told to have happened, as the names of machines, materials, orders and pieces."""
    told = state.happened or Disruptions()
    names = [*(one.machine for one in told.down), *(called(one.material) for one in told.late)]
    names += [*(one.order for one in told.rush), *told.remake]
    return ", ".join(dict.fromkeys(names))
