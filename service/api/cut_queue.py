"""The cut queue over HTTP: bars in cut order per machine, with their cuts."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Response

from service.api.answers import json_response, openapi_responses
from service.contracts.floor import CutQueue, OneBar
from service.dependencies import Here, Name
from service.usecases.ask.floor import cut_queue, read_bar

router = APIRouter(tags=["floor"])
Machine = Annotated[str | None, Query(min_length=1, max_length=400, pattern=r"^[^\x00-\x1f\x7f]+$")]
After = Annotated[int, Query(ge=0, le=2**31 - 1)]
Limit = Annotated[int, Query(ge=1, le=500)]


@router.get("/cut-queue", responses=openapi_responses(CutQueue))
def get_cut_queue(here: Here, machine: Machine = None, after: After = 0, limit: Limit = 50) -> Response:
    """List the released plan's bars in cut order, after a position, with what was reported of each cut."""
    return json_response(cut_queue(machine, after, limit, store=here.store))


@router.get("/bars/{bar_id:path}", responses=openapi_responses(OneBar, also=(404,)))
def get_bar(bar_id: Name, here: Here) -> Response:
    """Read one bar."""
    return json_response(read_bar(bar_id, store=here.store))
