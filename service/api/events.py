"""What happened on the floor, over HTTP."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Response

from service.api.answers import answer, shows, takes
from service.contracts.floor import EventKept, EventList
from service.deps import Here, JsonBody
from service.usecases.ask.events import keep_event, list_events
from solver.domain.event import FloorEvent

router = APIRouter(prefix="/events", tags=["floor"])


@router.post("", responses=shows(EventKept, also=(413,)), openapi_extra=takes(FloorEvent))
def tell_event(body: JsonBody, here: Here) -> Response:
    """Keep an event, once however often it is sent; what did happen is never refused."""
    return answer(keep_event(body, store=here.store))


@router.get("", responses=shows(EventList))
def get_events(
    here: Here, after: Annotated[int, Query(ge=0, le=2**31 - 1)] = 0, limit: Annotated[int, Query(ge=1, le=1000)] = 200
) -> Response:
    """List events in the order in which they were received."""
    return answer(list_events(after, limit, store=here.store))
