"""Bundles over HTTP."""

from __future__ import annotations

from fastapi import APIRouter, Response

from service.api.answers import answer, shows
from service.contracts.floor import BundleList, OneBundle
from service.deps import Here, Name
from service.usecases.ask.floor import list_bundles, one_bundle

router = APIRouter(prefix="/bundles", tags=["floor"])


@router.get("", responses=shows(BundleList))
def get_bundles(here: Here) -> Response:
    """List the released plan's bundles in order of need."""
    return answer(list_bundles(store=here.store))


@router.get("/{bundle_id:path}", responses=shows(OneBundle, also=(404,)))
def get_bundle(bundle_id: Name, here: Here) -> Response:
    """Read one bundle, bottom piece first."""
    return answer(one_bundle(bundle_id, store=here.store))
