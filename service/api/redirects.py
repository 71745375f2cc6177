"""Addresses of earlier versions, in which a plan was found under its job: each leads to where the thing is now."""

from __future__ import annotations

from urllib.parse import quote

from fastapi import APIRouter, Request
from starlette.convertors import Convertor, register_url_convertor
from starlette.responses import RedirectResponse

from service.dependencies import Here
from service.errors import NotFound
from service.usecases.ask.jobs import job_state

router = APIRouter(include_in_schema=False)
OF_THE_JOB = ("progress", "cancel", "keep")


class JobIdConvertor(Convertor[str]):
    """An id as jobs have them; no plan has one like it."""

    regex = "[0-9a-f]{32}"

    def convert(self, value: str) -> str:
        """Return the id."""
        return value

    def to_string(self, value: str) -> str:
        """Return the id."""
        return value


register_url_convertor("job", JobIdConvertor())


def _to(request: Request, path: str) -> RedirectResponse:
    """Say for ever where a thing is; what is posted is posted there again."""
    where, query = quote(path, safe="/"), request.url.query
    return RedirectResponse(f"{where}?{query}" if query else where, 308)


def _plan_of(job_id: str, here: Here) -> str:
    plan = job_state(job_id, store=here.store, kind="plan").plan
    if plan is None:
        raise NotFound("plan of the job", job_id)
    return plan


@router.get("/api/plans/{job_id:job}")
def redirect_to_job(request: Request, job_id: str, here: Here) -> RedirectResponse:
    """How far it is was asked here."""
    return _to(request, f"/api/jobs/{job_state(job_id, store=here.store, kind='plan').id}")


@router.api_route("/api/plans/{job_id:job}/{rest:path}", methods=["GET", "POST"])
def redirect_plan_address(request: Request, job_id: str, rest: str, here: Here) -> RedirectResponse:
    """What belongs to the job is there, all else at the plan."""
    if rest in OF_THE_JOB:
        return _to(request, f"/api/jobs/{job_state(job_id, store=here.store, kind='plan').id}/{rest}")
    plan = f"/api/plans/{_plan_of(job_id, here)}"
    return _to(request, plan if rest == "result" else f"{plan}/{rest}")


@router.get("/api/promises")
def redirect_promises(request: Request) -> RedirectResponse:
    """Promises are jobs."""
    return RedirectResponse("/api/jobs?kind=promise", 308)


@router.get("/api/replans")
def redirect_replans(request: Request) -> RedirectResponse:
    """Replans are jobs."""
    return RedirectResponse("/api/jobs?kind=replan", 308)


@router.api_route("/api/promises/{rest:path}", methods=["GET", "POST"])
@router.api_route("/api/replans/{rest:path}", methods=["GET", "POST"])
def redirect_promise_or_replan(request: Request, rest: str) -> RedirectResponse:
    """Promises and replans are jobs."""
    return _to(request, f"/api/jobs/{rest}")


@router.get("/planner/replans/{job_id}")
@router.get("/planner/plans/{plan_id}/promises/{job_id}")
def redirect_job_page(request: Request, job_id: str) -> RedirectResponse:
    """Every kind of job has its page at one address."""
    return _to(request, f"/planner/jobs/{job_id}")


@router.get("/planner/plans/{job_id:job}")
def redirect_plan_page(request: Request, job_id: str, here: Here) -> RedirectResponse:
    """The plan's page, or its job's as long as there is no plan."""
    plan = job_state(job_id, store=here.store, kind="plan").plan
    if plan is None:
        return RedirectResponse(f"/planner/jobs/{job_id}", 307)
    return _to(request, f"/planner/plans/{plan}")


@router.get("/planner/plans/{job_id:job}/{rest:path}")
def redirect_plan_subpage(request: Request, job_id: str, rest: str, here: Here) -> RedirectResponse:
    """A page of the plan."""
    return _to(request, f"/planner/plans/{_plan_of(job_id, here)}/{rest}")
