"""What happened on the floor, over HTTP: told, listed, and followed as it comes."""

from __future__ import annotations

from collections.abc import AsyncIterator
from typing import Annotated

from fastapi import APIRouter, Header, Query, Response
from fastapi.sse import EventSourceResponse, ServerSentEvent

from service.api.answers import json_response, openapi_body_any, openapi_responses
from service.api.streams import stream_events_after
from service.contracts.floor import EventKept, EventList
from service.dependencies import Here, JsonBody
from service.usecases.ask.events import list_events, store_event_data
from solver.domain.event import KINDS, FloorEvent

router = APIRouter(prefix="/events", tags=["floor"])
CURSOR_MOST = 2**53 - 1
Cursor = Annotated[int, Query(ge=0, le=CURSOR_MOST)]


@router.post(
    "",
    responses=openapi_responses(EventKept, status=201, also=(404, 409, 413)) | openapi_responses(EventKept),
    openapi_extra=openapi_body_any(FloorEvent, *KINDS.values()),
)
def tell_event(body: JsonBody, here: Here) -> Response:
    """Keep an event, once however often it is sent: 201 the first time; what did happen is never refused."""
    kept = store_event_data(body, store=here.store)
    return json_response(kept, 201 if kept.new else 200)


@router.get("", responses=openapi_responses(EventList))
def get_events(here: Here, after: Cursor = 0, limit: Annotated[int, Query(ge=1, le=1000)] = 200) -> Response:
    """List events in the order in which they were received, after a cursor; none that comes later is ever before it."""
    return json_response(list_events(after, limit, store=here.store))


@router.get("/stream", response_class=EventSourceResponse)
async def stream_events(
    here: Here, after: Cursor = 0, last_event_id: Annotated[str | None, Header(pattern=r"^\d{1,15}$")] = None
) -> AsyncIterator[ServerSentEvent]:
    """Send events as they come (server-sent events), after a cursor or, resumed, after `Last-Event-ID`."""
    begins = after if last_event_id is None else int(last_event_id)
    async for seq, event in stream_events_after(begins, store=here.store):
        yield ServerSentEvent(data=event, event="event", id=str(seq), retry=1000)
