"""The stock over HTTP: what is there, one item with its history, and movements."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path, Query, Response

from service.api.answers import json_response, openapi_body_any, openapi_responses
from service.contracts.scan import LabelSizeName
from service.contracts.stock import MovementKept, StockList, StockRead
from service.dependencies import Here, JsonBody, Words
from service.usecases.ask.reprint import label_style
from service.usecases.ask.stock import list_stock, move_stock, read_stock_item, stock_item_label
from solver.domain import event as told

router = APIRouter(prefix="/stock", tags=["stock"])
Number = Annotated[int, Path(ge=1, le=2**53 - 1)]
KINDS = (told.Received, told.Counted, told.Drawn, told.Returned, told.StockScrapped, told.Moved, told.Reserved, told.Freed)


@router.get("", responses=openapi_responses(StockList))
def get_stock(
    here: Here,
    after: Annotated[int, Query(ge=0, le=2**53 - 1)] = 0,
    limit: Annotated[int, Query(ge=1, le=1000)] = 1000,
    gone: bool = False,
) -> Response:
    """List stock items by number; with `gone`, those too of which nothing is left."""
    return json_response(list_stock(here.plant, after=after, limit=limit, gone=gone, store=here.store))


@router.get("/{item}", responses=openapi_responses(StockRead, also=(404,)))
def get_item(item: Number, here: Here) -> Response:
    """Tell of one item: where it lies and came from, who holds it, and what happened to it."""
    return json_response(read_stock_item(item, here.plant, store=here.store))


@router.get(
    "/{item}/label",
    responses={
        200: {"description": "The label", "content": {"application/pdf": {}}},
        404: {"description": "There is no such item"},
    },
    response_class=Response,
)
def get_label(
    item: Number,
    here: Here,
    language: Words,
    size: Annotated[LabelSizeName | None, Query()] = None,
) -> Response:
    """Fetch the label of an item, as PDF."""
    pdf = stock_item_label(item, here.plant, label_style(here.settings, language, size=size), store=here.store)
    return Response(pdf, headers={"Content-Disposition": "inline; filename=label.pdf"}, media_type="application/pdf")


@router.post(
    "/movements",
    responses=openapi_responses(MovementKept, status=201, also=(404, 409, 413)),
    openapi_extra=openapi_body_any(*KINDS),
)
def move(body: JsonBody, here: Here) -> Response:
    """Keep a movement, once however often it is sent: received, counted, drawn, returned, scrapped, moved, reserved, freed."""
    made = move_stock(body, here.plant, store=here.store)
    return json_response(made, 201 if made.event.new else 200)
