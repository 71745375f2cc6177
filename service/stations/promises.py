"""The planner's page of promises: when could an order ship that this plan does not hold?"""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response

from service.dependencies import Adapters, Here, Name
from service.stations import views
from service.stations.pages import render_page
from service.usecases.ask.drawings import plan_plant
from service.usecases.ask.jobs import list_jobs
from service.usecases.ask.orders import list_orders
from service.usecases.ask.plans import plan_result, plan_state

router = APIRouter(prefix="/planner/plans/{plan_id}/promises", include_in_schema=False)


def promise_page_values(plan_id: str, here: Adapters) -> dict[str, Any]:
    """Return what a page of promises shows of their plan. Raises NotFound."""
    result, plant = plan_result(plan_id, store=here.store), plan_plant(plan_id, store=here.store)
    plan = plan_state(plan_id, store=here.store)
    return {"tab": "promises", "plan": plan, "result": result, "zone": plant.time_zone, "firm_s": plant.firm_s, "views": views}


@router.get("")
def promises_page(
    request: Request, plan_id: Name, here: Here, order: Annotated[str | None, Query(max_length=400)] = None
) -> Response:
    """Show where a date is asked for (of `order`, unless another is chosen), and what was answered before."""
    values = promise_page_values(plan_id, here)
    held = {one.id for one in values["result"].orders}
    orders = [one for one in list_orders(store=here.store).orders if one.id not in held]
    asked = list_jobs("promise", store=here.store).jobs
    return render_page(request, "plan_promises.html", orders=orders, chosen=order, asked=asked, **values)
