"""Plans over HTTP: fetch, release; what makes them is a job."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Response

from service.api.answers import json_response, openapi_responses
from service.contracts.changes import PlanChanges
from service.contracts.plans import PlanList, PlanRead, PlanReleased, ReleaseDrops, ReleaseTakenBack
from service.dependencies import Here, Name
from service.usecases.ask.changes import plan_changes
from service.usecases.ask.plans import list_plans, plan_part, read_plan
from service.usecases.ask.release import release_drops, release_plan, take_release_back

router = APIRouter(prefix="/plans", tags=["plans"])


@router.get("", responses=openapi_responses(PlanList))
def get_plans(here: Here) -> Response:
    """List the plans made last."""
    return json_response(list_plans(store=here.store))


@router.get("/{plan_id}", responses=openapi_responses(PlanRead, also=(404,)))
def get_plan(plan_id: Name, here: Here) -> Response:
    """Fetch a plan: status, proof, promises, the digest of each part, and whether it is the floor's."""
    return json_response(read_plan(plan_id, store=here.store))


@router.get("/{plan_id}/changes", responses=openapi_responses(PlanChanges, also=(404,)))
def get_changes(plan_id: Name, here: Here) -> Response:
    """Tell what a plan keeps, changes and drops of orders that were taken off before."""
    return json_response(plan_changes(plan_id, store=here.store))


@router.get("/{plan_id}/parts/{digest}", responses={404: {"description": "There is no such part"}})
def get_part(plan_id: Name, digest: Name, here: Here) -> Response:
    """Fetch one part as its stage wrote it; lengths in mm, or in the part's own `unit`."""
    body = plan_part(plan_id, digest, store=here.store)
    return Response(body, headers={"ETag": f'"{digest}"'}, media_type="application/json")


@router.post("/{plan_id}/release", responses=openapi_responses(PlanReleased, also=(404,)))
def make_plan_the_floors(plan_id: Name, here: Here, drop: Annotated[bool, Query()] = False) -> Response:
    """Make a plan the one that saw and dock work from; refused with what they would lose, unless `drop` is true."""
    return json_response(release_plan(plan_id, drop=drop, store=here.store))


@router.delete("/{plan_id}/release", responses=openapi_responses(ReleaseTakenBack, also=(404, 409)))
def take_plan_back(plan_id: Name, here: Here) -> Response:
    """Take the floor's plan back while nothing was done by it; refused with what was done."""
    return json_response(take_release_back(plan_id, store=here.store))


@router.get("/{plan_id}/release", responses=openapi_responses(ReleaseDrops, also=(404,)))
def get_release(plan_id: Name, here: Here) -> Response:
    """Tell what saw and dock would lose by the release of a plan, and which trucks stay."""
    return json_response(release_drops(plan_id, store=here.store))
