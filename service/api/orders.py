"""Orders over HTTP."""

from __future__ import annotations

from fastapi import APIRouter, Response

from service.api.answers import created_response, json_response, openapi_body, openapi_responses
from service.contracts.orders import OrderDecided, OrderKept, OrderList, OrderLive
from service.dependencies import Here, JsonBody, Name
from service.usecases.ask.order_life import hold_order, read_live_order, withdraw_order
from service.usecases.ask.orders import list_orders, store_order
from solver.domain.order import Order

router = APIRouter(prefix="/orders", tags=["orders"])


@router.post(
    "", status_code=201, responses=openapi_responses(OrderKept, status=201, also=(413,)), openapi_extra=openapi_body(Order)
)
def send_order(body: JsonBody, here: Here) -> Response:
    """Take an order in; a wrong one is refused with every fault and nothing is stored."""
    kept = store_order(body, here.plant, store=here.store)
    return created_response(kept, f"/api/orders/{kept.id}", 201)


@router.get("", responses=openapi_responses(OrderList))
def get_orders(here: Here) -> Response:
    """List all orders at their newest revision."""
    return json_response(list_orders(store=here.store))


@router.post("/{order_id:path}/withdraw", responses=openapi_responses(OrderDecided, also=(404, 409)))
def withdraw(order_id: Name, here: Here) -> Response:
    """Withdraw an order: planned no more, with what is made of it listed; a new revision brings it back."""
    return json_response(withdraw_order(order_id, store=here.store))


@router.post("/{order_id:path}/hold", responses=openapi_responses(OrderDecided, also=(404,)))
def hold(order_id: Name, here: Here) -> Response:
    """Hold an order back: plans of all open orders leave it out."""
    return json_response(hold_order(order_id, back=True, store=here.store))


@router.delete("/{order_id:path}/hold", responses=openapi_responses(OrderDecided, also=(404,)))
def let_go(order_id: Name, here: Here) -> Response:
    """Let an order that is held back go on."""
    return json_response(hold_order(order_id, back=False, store=here.store))


@router.get("/{order_id:path}", responses=openapi_responses(OrderLive, also=(404,)))
def get_order(order_id: Name, here: Here) -> Response:
    """Read one order with its document, and how far it is."""
    return json_response(read_live_order(order_id, store=here.store))
