"""Plans over HTTP: ask, watch, stop, fetch, release."""

from __future__ import annotations

from collections.abc import AsyncIterator
from functools import partial
from typing import Annotated

from fastapi import APIRouter, Depends, Response
from fastapi.sse import EventSourceResponse, ServerSentEvent

from service.api.answers import answer, created, shows, takes
from service.api.watching import changes
from service.contracts.changes import PlanChanges
from service.contracts.plans import PlanAsked, PlanList, PlanManifest, PlanReleased, PlanState
from service.deps import Here, JsonBody, Name
from service.usecases.ask.changes import plan_changes
from service.usecases.ask.plans import ask_plan, cancel_plan, list_plans, plan_part, plan_result, plan_state
from service.usecases.ask.release import release_plan
from solver.codec import decode

router = APIRouter(prefix="/plans", tags=["plans"])


@router.post("", status_code=202, responses=shows(PlanState, status=202, also=(413,)), openapi_extra=takes(PlanAsked))
def start_plan(body: JsonBody, here: Here) -> Response:
    """Start a plan; watch it at the address in `Location`, or its `/progress`."""
    asked = decode(PlanAsked, body, name="$")
    state = ask_plan(asked, store=here.store, queue=here.queue, settings=here.settings)
    return created(state, f"/api/plans/{state.id}", 202)


@router.get("", responses=shows(PlanList))
def get_plans(here: Here) -> Response:
    """List the plans asked for last."""
    return answer(list_plans(store=here.store))


@router.get("/{plan_id}", responses=shows(PlanState, also=(404,)))
def get_plan(plan_id: Name, here: Here) -> Response:
    """Tell how far a plan is."""
    return answer(plan_state(plan_id, store=here.store))


def _exists(plan_id: Name, here: Here) -> str:
    return plan_state(plan_id, store=here.store).id


@router.get(
    "/{plan_id}/progress", response_class=EventSourceResponse, responses={404: {"description": "There is no such plan"}}
)
async def get_progress(plan_id: Annotated[str, Depends(_exists)], here: Here) -> AsyncIterator[ServerSentEvent]:
    """Tell each change of a plan's state as a server-sent event `state`, the last one when it has ended."""
    async for state in changes(partial(plan_state, plan_id, store=here.store)):
        yield ServerSentEvent(data=state, event="state", retry=1000)


@router.post("/{plan_id}/cancel", status_code=202, responses=shows(PlanState, status=202, also=(404,)))
def stop_plan(plan_id: Name, here: Here) -> Response:
    """Stop a plan that waits or is being made."""
    return answer(cancel_plan(plan_id, store=here.store), 202)


@router.get("/{plan_id}/result", responses=shows(PlanManifest, also=(404,)))
def get_result(plan_id: Name, here: Here) -> Response:
    """Fetch a done plan: status, proof, promises, and the digest of each part."""
    return answer(plan_result(plan_id, store=here.store))


@router.get("/{plan_id}/changes", responses=shows(PlanChanges, also=(404,)))
def get_changes(plan_id: Name, here: Here) -> Response:
    """Tell what a done plan keeps, changes and drops of orders that were taken off before."""
    return answer(plan_changes(plan_id, store=here.store))


@router.get("/{plan_id}/parts/{digest}", responses={404: {"description": "There is no such part"}})
def get_part(plan_id: Name, digest: Name, here: Here) -> Response:
    """Fetch one part as its stage wrote it; lengths in mm, or in the part's own `unit`."""
    body = plan_part(plan_id, digest, store=here.store)
    return Response(body, headers={"ETag": f'"{digest}"'}, media_type="application/json")


@router.post("/{plan_id}/release", responses=shows(PlanReleased, also=(404,)))
def make_plan_the_floors(plan_id: Name, here: Here) -> Response:
    """Make a done plan the one that saw and dock work from."""
    return answer(release_plan(plan_id, store=here.store))
