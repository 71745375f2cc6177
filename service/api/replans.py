"""How a plan goes on, over HTTP: tell what happened, watch, stop, fetch the choices."""

from __future__ import annotations

from fastapi import APIRouter, Response

from service.api.answers import answer, created, shows, takes
from service.contracts.replans import ReplanList, ReplanState
from service.deps import Here, JsonBody, Name
from service.usecases.ask.replans import ask_replan, cancel_replan, list_replans, replan_state
from solver.domain.happening import Happened

router = APIRouter(tags=["replans"])


@router.post(
    "/plans/{plan_id}/replans",
    status_code=202,
    responses=shows(ReplanState, status=202, also=(404, 413)),
    openapi_extra=takes(Happened),
)
def tell_what_happened(plan_id: Name, body: JsonBody, here: Here) -> Response:
    """Ask how a done plan goes on after what happened; each choice becomes a plan that can be looked at and released."""
    state = ask_replan(plan_id, body, store=here.store, queue=here.queue, settings=here.settings)
    return created(state, f"/api/replans/{state.id}", 202)


@router.get("/replans", responses=shows(ReplanList))
def get_replans(here: Here) -> Response:
    """List what was asked last."""
    return answer(list_replans(store=here.store))


@router.get("/replans/{replan_id}", responses=shows(ReplanState, also=(404,)))
def get_replan(replan_id: Name, here: Here) -> Response:
    """Tell how far an answer is, and its choices once it is done."""
    return answer(replan_state(replan_id, store=here.store))


@router.post("/replans/{replan_id}/cancel", status_code=202, responses=shows(ReplanState, status=202, also=(404,)))
def stop_replan(replan_id: Name, here: Here) -> Response:
    """Stop an answer that waits or is being worked out."""
    return answer(cancel_replan(replan_id, store=here.store), 202)
