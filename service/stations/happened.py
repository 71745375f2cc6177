"""The planner's pages of what happened: tell it, watch for how the plan can go on, choose."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Annotated, Literal
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Query, Request, Response

from service.contracts.replans import ReplanState
from service.deps import Here, Name
from service.stations import views
from service.stations.pages import page
from service.usecases.ask import floor
from service.usecases.ask.drawings import plan_plant
from service.usecases.ask.plans import plan_result, plan_state
from service.usecases.ask.replans import known_to, list_replans, replan_state
from solver.documents.why import step_words

router = APIRouter(prefix="/planner", include_in_schema=False)
MOVES_A_PAGE = 50
PageNumber = Annotated[int, Query(ge=0, le=100_000)]


@router.get("/plans/{plan_id}/happened")
def happened(request: Request, plan_id: Name, here: Here) -> Response:
    """Ask what happened to a plan; list what was asked before."""
    state, result = plan_state(plan_id, store=here.store), plan_result(plan_id, store=here.store)
    known, zone = known_to(plan_id, store=here.store), plan_plant(plan_id, store=here.store).time_zone
    waiting = tuple(piece for piece in floor.waiting_for_remake(store=here.store) if piece in known.pieces)
    begins = max(datetime.now(UTC), datetime.fromisoformat(result.epoch)).astimezone(ZoneInfo(zone))
    asked = [one for one in list_replans(store=here.store).replans if one.plan == plan_id]
    return page(
        request, "happened.html", plan=state, result=result, known=known, scrapped=waiting, zone=zone, views=views,
        begins=begins.strftime("%Y-%m-%dT%H:%M"), asked=asked[:8], summary=summary,
    )  # fmt: skip


@router.get("/replans/{replan_id}")
def replan(
    request: Request, replan_id: Name, here: Here, choice: Literal["calm", "on_time"] = "calm", at: PageNumber = 0
) -> Response:
    """Show how far the answer is, or the ways to go on side by side and what moves in one of them."""
    state = replan_state(replan_id, store=here.store)
    choices = state.answer.choices if state.answer else ()
    shown = next((one for one in choices if one.name == choice), choices[0] if choices else None)
    on_floor = {one.id for one in choices if plan_state(one.id, store=here.store).released}
    first = at * MOVES_A_PAGE
    moves = shown.moves[first : first + MOVES_A_PAGE] if shown else ()
    return page(
        request, "replan.html", replan=state, shown=shown, on_floor=on_floor, moves=moves, at=at, views=views,
        more=shown is not None and len(shown.moves) > first + MOVES_A_PAGE, first=first,
        step_words=step_words, summary=summary,
    )  # fmt: skip


def summary(state: ReplanState) -> str:
    """Return what was told to have happened, as the names of machines, materials, orders and pieces."""
    told = state.happened
    names = [*(one.machine for one in told.down), *(views.material_words(one.material) for one in told.late)]
    names += [*(one.order for one in told.rush), *told.remake]
    return ", ".join(dict.fromkeys(names))
