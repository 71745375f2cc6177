"""The first page: where do you work?"""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from service.dependencies import Here
from service.stations.pages import render_page
from service.usecases.ask.floor import bars_left, trucks_left
from service.usecases.ask.orders import list_orders

router = APIRouter(include_in_schema=False)


@router.get("/")
def home_page(request: Request, here: Here) -> Response:
    """Show the three stations and what waits at each."""
    left = sum(waiting for waiting, _ in bars_left(store=here.store).values())
    orders = list_orders(store=here.store).orders
    return render_page(request, "home.html", orders=len(orders), bars=left, loads=trucks_left(store=here.store))
