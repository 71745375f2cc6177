"""Sheets and labels of a plan over HTTP."""

from __future__ import annotations

from urllib.parse import quote

from fastapi import APIRouter, Response

from service.api.answers import json_response, openapi_responses
from service.contracts.plans import DocumentList
from service.dependencies import Here, Name
from service.usecases.ask.plans import plan_document, plan_documents

router = APIRouter(prefix="/plans/{plan_id}/documents", tags=["documents"])


@router.get("", responses=openapi_responses(DocumentList, also=(404,)))
def get_documents(plan_id: Name, here: Here) -> Response:
    """List the files of a done plan."""
    return json_response(plan_documents(plan_id, store=here.store))


@router.get("/{name:path}", responses={404: {"description": "There is no such file"}})
def get_document(plan_id: Name, name: Name, here: Here) -> Response:
    """Fetch one file, to keep or to print."""
    found = plan_document(plan_id, name, store=here.store)
    said = f"inline; filename*=UTF-8''{quote(found.name.rpartition('/')[2], safe='')}"
    return Response(found.body, headers={"Content-Disposition": said}, media_type=found.media_type)
