"""Loads over HTTP."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Response

from service.api.answers import json_response, openapi_responses
from service.api.cut_queue import After, Limit
from service.contracts.floor import LoadList, MayLoad, OneLoad
from service.dependencies import Here, Name
from service.usecases.ask.floor import loads_on_floor, may_load, read_load

router = APIRouter(prefix="/loads", tags=["floor"])
Said = Annotated[str, Query(min_length=1, max_length=400, pattern=r"^[^\x00-\x1f\x7f]+$")]


@router.get("", responses=openapi_responses(LoadList))
def get_loads(here: Here, after: After = 0, limit: Limit = 50, left: bool = False) -> Response:
    """List the loads of all releases that have not left, or those that have; a page's worth after so many."""
    return json_response(loads_on_floor(after, limit, left=left, store=here.store))


@router.get("/{load_id:path}/may-load", responses=openapi_responses(MayLoad, also=(404,)))
def get_may_load(load_id: Name, bundle: Said, here: Here) -> Response:
    """Tell whether a bundle (its id, or the serial on its tag) may go on now, and every reason why not."""
    return json_response(may_load(load_id, bundle, store=here.store))


@router.get("/{load_id:path}", responses=openapi_responses(OneLoad, also=(404,)))
def get_load(load_id: Name, here: Here) -> Response:
    """Read one load."""
    return json_response(read_load(load_id, store=here.store))
