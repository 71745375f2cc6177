"""Jobs over HTTP: ask for what takes a while; watch it, stop it, fetch what came of it, whatever its kind."""

from __future__ import annotations

from collections.abc import AsyncIterator
from functools import partial
from typing import Annotated

from fastapi import APIRouter, Depends, Query, Response
from fastapi.sse import EventSourceResponse, ServerSentEvent

from service.api.answers import created_response, json_response, openapi_body, openapi_responses
from service.api.streams import stream_changes
from service.contracts.jobs import JobAccepted, JobList, JobState
from service.contracts.plans import JobKind, PlanAsked
from service.contracts.promises import PromiseAsked
from service.dependencies import Here, JsonBody, Name
from service.usecases.ask.jobs import cancel_job, finish_job_early, job_state, list_jobs
from service.usecases.ask.plans import ask_plan
from service.usecases.ask.promises import ask_promise
from service.usecases.ask.replans import ask_replan
from solver.codec import decode
from solver.domain.disruptions import Disruptions

router = APIRouter(tags=["jobs"])


def _accepted(job: JobAccepted) -> Response:
    return created_response(job, f"/api/jobs/{job.job}", 202)


@router.post(
    "/plans",
    status_code=202,
    responses=openapi_responses(JobAccepted, status=202, also=(413,)),
    openapi_extra=openapi_body(PlanAsked),
)
def start_plan(body: JsonBody, here: Here) -> Response:
    """Start a plan of some orders, of all where none is named; the plan is named by the job once it is done."""
    asked = decode(PlanAsked, body, name="$")
    return _accepted(ask_plan(asked, plant=here.plant, store=here.store, queue=here.queue, settings=here.settings))


@router.post(
    "/plans/{plan_id}/promises",
    status_code=202,
    responses=openapi_responses(JobAccepted, status=202, also=(404, 413)),
    openapi_extra=openapi_body(PromiseAsked),
)
def start_promise(plan_id: Name, body: JsonBody, here: Here) -> Response:
    """Ask when an order could ship beside a plan; the job's answer tells it."""
    return _accepted(ask_promise(plan_id, body, store=here.store, queue=here.queue, settings=here.settings))


@router.post(
    "/plans/{plan_id}/replans",
    status_code=202,
    responses=openapi_responses(JobAccepted, status=202, also=(404, 413)),
    openapi_extra=openapi_body(Disruptions),
)
def start_replan(plan_id: Name, body: JsonBody, here: Here) -> Response:
    """Ask how a plan goes on after what happened; each choice in the job's answer is a plan of its own."""
    return _accepted(ask_replan(plan_id, body, store=here.store, queue=here.queue, settings=here.settings))


@router.get("/jobs", responses=openapi_responses(JobList))
def get_jobs(here: Here, kind: Annotated[JobKind | None, Query()] = None) -> Response:
    """List the jobs asked for last, of one kind or of all."""
    return json_response(list_jobs(kind, store=here.store))


@router.get("/jobs/{job_id}", responses=openapi_responses(JobState, also=(404,)))
def get_job(job_id: Name, here: Here) -> Response:
    """Tell how far a job is, and what came of it."""
    return json_response(job_state(job_id, store=here.store))


def _exists(job_id: Name, here: Here) -> str:
    return job_state(job_id, store=here.store).id


@router.get(
    "/jobs/{job_id}/progress", response_class=EventSourceResponse, responses={404: {"description": "There is no such job"}}
)
async def get_progress(job_id: Annotated[str, Depends(_exists)], here: Here) -> AsyncIterator[ServerSentEvent]:
    """Tell each change of a job's state as a server-sent event `state`, the last one when it has ended."""
    async for state in stream_changes(partial(job_state, job_id, store=here.store)):
        yield ServerSentEvent(data=state, event="state", retry=1000)


@router.post("/jobs/{job_id}/cancel", status_code=202, responses=openapi_responses(JobState, status=202, also=(404,)))
def stop_job(job_id: Name, here: Here) -> Response:
    """Stop a job that waits or is worked on; nothing of it is kept."""
    return json_response(cancel_job(job_id, store=here.store), 202)


@router.post("/jobs/{job_id}/keep", status_code=202, responses=openapi_responses(JobState, status=202, also=(404,)))
def stop_and_keep_job(job_id: Name, here: Here) -> Response:
    """End the search of a plan that is being made, and keep what it has: checked, with its sheets."""
    return json_response(finish_job_early(job_id, store=here.store), 202)
