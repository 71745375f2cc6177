"""Promises over HTTP: ask when an order could ship beside a plan, watch, stop, read the answer."""

from __future__ import annotations

from collections.abc import AsyncIterator
from functools import partial
from typing import Annotated

from fastapi import APIRouter, Depends, Response
from fastapi.sse import EventSourceResponse, ServerSentEvent

from service.api.answers import answer, created, shows, takes
from service.api.watching import changes
from service.contracts.promises import PromiseAsked, PromiseList, PromiseState
from service.deps import Here, JsonBody, Name
from service.usecases.ask.promises import ask_promise, cancel_promise, list_promises, promise_state

router = APIRouter(tags=["promises"])


@router.post(
    "/plans/{plan_id}/promises",
    status_code=202,
    responses=shows(PromiseState, status=202, also=(404, 413)),
    openapi_extra=takes(PromiseAsked),
)
def start_promise(plan_id: Name, body: JsonBody, here: Here) -> Response:
    """Ask when an order could ship beside a done plan; the answer comes at the address in `Location`."""
    state = ask_promise(plan_id, body, store=here.store, queue=here.queue, settings=here.settings)
    return created(state, f"/api/promises/{state.id}", 202)


@router.get("/promises", responses=shows(PromiseList))
def get_promises(here: Here) -> Response:
    """List the promises asked for last."""
    return answer(list_promises(store=here.store))


@router.get("/promises/{promise_id}", responses=shows(PromiseState, also=(404,)))
def get_promise(promise_id: Name, here: Here) -> Response:
    """Tell how far a promise is, and its answer once it is done."""
    return answer(promise_state(promise_id, store=here.store))


def _exists(promise_id: Name, here: Here) -> str:
    return promise_state(promise_id, store=here.store).id


@router.get(
    "/promises/{promise_id}/progress",
    response_class=EventSourceResponse,
    responses={404: {"description": "There is no such promise"}},
)
async def get_promise_progress(promise_id: Annotated[str, Depends(_exists)], here: Here) -> AsyncIterator[ServerSentEvent]:
    """Tell each change of a promise's state as a server-sent event `state`, the last one when it has ended."""
    async for state in changes(partial(promise_state, promise_id, store=here.store)):
        yield ServerSentEvent(data=state, event="state", retry=1000)


@router.post("/promises/{promise_id}/cancel", status_code=202, responses=shows(PromiseState, status=202, also=(404,)))
def stop_promise(promise_id: Name, here: Here) -> Response:
    """Stop a promise that waits or is being worked out."""
    return answer(cancel_promise(promise_id, store=here.store), 202)
