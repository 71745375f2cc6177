"""The planner's pages of promises: when could an order ship that this plan does not hold, and what would have to give?"""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response

from service.contracts.plans import ENDED
from service.deps import Here, Name, Wired
from service.errors import NotFound
from service.stations import views
from service.stations.pages import page
from service.usecases.ask.drawings import plan_plant, short_name
from service.usecases.ask.orders import list_orders
from service.usecases.ask.plans import plan_result, plan_state
from service.usecases.ask.promises import list_promises, promise_state

router = APIRouter(prefix="/planner/plans/{plan_id}/promises", include_in_schema=False)


def _about(plan_id: str, here: Wired) -> dict[str, Any]:
    result, plant = plan_result(plan_id, store=here.store), plan_plant(plan_id, store=here.store)
    plan = plan_state(plan_id, store=here.store)
    return {"tab": "promises", "plan": plan, "result": result, "zone": plant.time_zone, "firm_s": plant.firm_s, "views": views}


@router.get("")
def promises(
    request: Request, plan_id: Name, here: Here, order: Annotated[str | None, Query(max_length=400)] = None
) -> Response:
    """Show where a date is asked for (of `order`, unless another is chosen), and what was answered before."""
    values = _about(plan_id, here)
    held = {one.id for one in values["result"].orders}
    orders = [one for one in list_orders(store=here.store).orders if one.id not in held]
    asked = list_promises(store=here.store).promises
    return page(request, "plan_promises.html", orders=orders, chosen=order, asked=asked, **values)


@router.get("/{promise_id}")
def promise(request: Request, plan_id: Name, promise_id: Name, here: Here) -> Response:
    """Show how far an answer is, the answer, or why there is none."""
    asked = promise_state(promise_id, store=here.store)
    if asked.plan != plan_id:
        raise NotFound("promise", promise_id)
    return page(request, "plan_promise.html", asked=asked, ended=ENDED, short=short_name, **_about(plan_id, here))
