"""Whether the service is well, and its counters, for whoever looks after it."""

from __future__ import annotations

import json

from fastapi import APIRouter, Request, Response
from prometheus_client import CONTENT_TYPE_LATEST, generate_latest

from service.api.metrics import job_counts_by_status
from service.dependencies import Here

router = APIRouter(include_in_schema=False)


@router.get("/healthz")
def healthz(here: Here) -> Response:
    """Answer 200 when the store answers and can be written to; 503 says what is wrong."""
    job_counts_by_status(here.store)
    problem = here.store.problem()
    if problem:
        return Response(json.dumps({"status": "unwell", "problem": problem}), 503, media_type="application/json")
    return Response('{"status":"well"}', media_type="application/json")


@router.get("/livez")
async def livez() -> Response:
    """Answer 200 from the event loop itself, whatever the store does: what the supervisor asks of its web process."""
    return Response('{"status":"alive"}', media_type="application/json")


@router.get("/metrics")
def metrics(request: Request) -> Response:
    """Return the counters in Prometheus' text form."""
    return Response(generate_latest(request.app.state.metrics.registry), media_type=CONTENT_TYPE_LATEST)
