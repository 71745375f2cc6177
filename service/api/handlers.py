"""One place where faults become HTTP."""

from __future__ import annotations

from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, Response

from service.api.guards import refusal_json
from service.errors import Conflict, NotFound
from service.printing.spool import NotPrinted
from service.stations.pages import error_page, request_language, wants_page
from solver.errors import FieldFault, InputError, NoPlan


def add_fault_handlers(app: FastAPI) -> None:
    """Tell the application how each kind of fault is answered."""
    app.add_exception_handler(InputError, _refused)
    app.add_exception_handler(NoPlan, _impossible)
    app.add_exception_handler(NotFound, _not_found)
    app.add_exception_handler(Conflict, _conflict)
    app.add_exception_handler(NotPrinted, _not_printed)
    app.add_exception_handler(RequestValidationError, _malformed)
    app.add_exception_handler(HTTPException, _http)


def _refused(request: Request, error: Exception) -> Response:
    faults = list(error.faults) if isinstance(error, InputError) else []
    size = any(fault.path == "document" and "over the limit" in fault.problem for fault in faults)
    return JSONResponse(refusal_json(faults, language=request_language(request)), 413 if size else 422)


def _impossible(request: Request, error: Exception) -> Response:
    faults = list(error.faults) if isinstance(error, NoPlan) else []
    return JSONResponse(refusal_json(faults, "impossible", request_language(request)), 422)


def _conflict(request: Request, error: Exception) -> Response:
    status, faults = (error.status, list(error.faults)) if isinstance(error, Conflict) else ("refused", [])
    return JSONResponse(refusal_json(faults, status, request_language(request)), 409)


def _not_printed(request: Request, error: Exception) -> Response:
    problem, fix = (error.problem, error.fix) if isinstance(error, NotPrinted) else ("", "")
    return JSONResponse(refusal_json([FieldFault("queue", problem, fix)], language=request_language(request)), 503)


def _not_found(request: Request, error: Exception) -> Response:
    what, name = (error.what, error.name) if isinstance(error, NotFound) else ("thing", "")
    if wants_page(request):
        return error_page(request, 404, what=what, name=name)
    fault = FieldFault(what, f"there is no {what} {name!r}"[:500], "an id from a list")
    return JSONResponse(refusal_json([fault], "not_found", request_language(request)), 404)


def _malformed(request: Request, error: Exception) -> Response:
    told: list[Any] = list(error.errors()) if isinstance(error, RequestValidationError) else []
    faults = [
        FieldFault(".".join(str(part) for part in one["loc"]), f"{one['msg']}"[:300], "a value as the API's description says")
        for one in told
    ]
    if wants_page(request):
        return error_page(request, 404, what="page", name=request.url.path)
    return JSONResponse(refusal_json(faults, language=request_language(request)), 422)


def _http(request: Request, error: Exception) -> Response:
    status = error.status_code if isinstance(error, HTTPException) else 500
    if wants_page(request):
        return error_page(request, status, what="page", name=request.url.path)
    fault = FieldFault("request", error.detail if isinstance(error, HTTPException) else "", "see /api/openapi.json")
    headers = error.headers if isinstance(error, HTTPException) else None
    refused = refusal_json([fault], "not_found" if status == 404 else "refused", request_language(request))
    return JSONResponse(refused, status, headers=headers)
