"""Orders over HTTP."""

from __future__ import annotations

from fastapi import APIRouter, Response

from service.api.answers import answer, created, shows, takes
from service.contracts.orders import OrderKept, OrderList, OrderRead
from service.deps import Here, JsonBody, Name
from service.usecases.ask.orders import keep_order, list_orders, read_stored_order
from solver.domain.order import Order

router = APIRouter(prefix="/orders", tags=["orders"])


@router.post("", status_code=201, responses=shows(OrderKept, status=201, also=(413,)), openapi_extra=takes(Order))
def send_order(body: JsonBody, here: Here) -> Response:
    """Take an order in; a wrong one is refused with every fault and nothing is stored."""
    kept = keep_order(body, here.plant, store=here.store)
    return created(kept, f"/api/orders/{kept.id}", 201)


@router.get("", responses=shows(OrderList))
def get_orders(here: Here) -> Response:
    """List all orders at their newest revision."""
    return answer(list_orders(store=here.store))


@router.get("/{order_id:path}", responses=shows(OrderRead, also=(404,)))
def get_order(order_id: Name, here: Here) -> Response:
    """Read one order with its document."""
    return answer(read_stored_order(order_id, store=here.store))
