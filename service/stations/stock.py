"""The planner's page of the stock: what is there, what is promised, what is used up, what somebody is to count."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Request, Response

from service.dependencies import Adapters, Here
from service.stations.pages import cached_page, render_page, request_language
from service.usecases.ask.events import list_questions
from service.usecases.ask.stock import list_stock
from solver.documents.names import ThingNames

router = APIRouter(prefix="/planner", include_in_schema=False)
ITEMS_A_PAGE, QUESTIONS_SHOWN = 200, 20
After = Annotated[int, Query(ge=0, le=2**53 - 1)]
KINDS = {
    "lot": "stock length",
    "remnant": "remnant",
    "drop": "drop",
    "coil": "coil",
    "strip": "strip",
    "block": "core",
}


@router.get("/stock")
def stock_page(request: Request, here: Here, after: After = 0) -> Response:
    """Show the stock, a page of items at a time, and the questions that only a person can answer."""
    return cached_page(request, lambda: _stock(request, here, after))


def _stock(request: Request, here: Adapters, after: int) -> Response:
    found = list_stock(here.plant, after=after, limit=ITEMS_A_PAGE, store=here.store)
    asked = list_questions(0, QUESTIONS_SHOWN, waiting=True, store=here.store)
    return render_page(
        request, "stock.html", stock=found.stock, more=found.more, unit=found.unit, kinds=KINDS, asked=asked,
        called=ThingNames(here.plant, request_language(request)).of, first=after == 0,
    )  # fmt: skip
