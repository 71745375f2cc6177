"""Whether the service is well, and its counters, for whoever looks after it."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response
from prometheus_client import CONTENT_TYPE_LATEST, generate_latest

from service.api.metrics import job_counts
from service.deps import Here

router = APIRouter(include_in_schema=False)


@router.get("/healthz")
def healthz(here: Here) -> Response:
    """Answer 200 when the store answers."""
    job_counts(here.store)
    return Response('{"status":"well"}', media_type="application/json")


@router.get("/metrics")
def metrics(request: Request) -> Response:
    """Return the counters in Prometheus' text form."""
    return Response(generate_latest(request.app.state.metrics.registry), media_type=CONTENT_TYPE_LATEST)
