"""Bundles over HTTP."""

from __future__ import annotations

from fastapi import APIRouter, Response

from service.api.answers import json_response, openapi_responses
from service.api.cut_queue import After, Limit
from service.contracts.floor import BundleList, OneBundle
from service.dependencies import Here, Name
from service.usecases.ask.floor import bundles_on_floor, read_bundle

router = APIRouter(prefix="/bundles", tags=["floor"])


@router.get("", responses=openapi_responses(BundleList))
def get_bundles(here: Here, after: After = 0, limit: Limit = 50, left: bool = False) -> Response:
    """List the bundles of all releases in order of need that have not left, or those that have; a page's worth."""
    return json_response(bundles_on_floor(after, limit, left=left, store=here.store))


@router.get("/{bundle_id:path}", responses=openapi_responses(OneBundle, also=(404,)))
def get_bundle(bundle_id: Name, here: Here) -> Response:
    """Read one bundle, bottom piece first."""
    return json_response(read_bundle(bundle_id, store=here.store))
