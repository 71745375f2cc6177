"""Codes on paper over HTTP: what one means, its paper again, and the way to a printer."""

from __future__ import annotations

from typing import Annotated, Literal

from fastapi import APIRouter, Query, Response

from service.api.answers import json_response, openapi_body, openapi_responses
from service.contracts.scan import LabelSizeName, PrintAsked, Printers, Scanned, SentToPrinter
from service.dependencies import Here, JsonBody, Words
from service.languages import choose_language
from service.usecases.ask import reprint
from service.usecases.ask.scan import read_scanned
from solver.codec import decode

router = APIRouter(tags=["labels"])
Code = Annotated[str, Query(max_length=400)]


@router.get("/scan", responses=openapi_responses(Scanned))
def get_scan(code: Code, here: Here) -> Response:
    """Say what a scanned or typed code means in the plan on the floor."""
    return json_response(read_scanned(code, store=here.store))


@router.get("/labels", responses={422: {"description": "The code means nothing here, or its piece was scrapped"}})
def get_labels(
    code: Code,
    here: Here,
    language: Words,
    size: Annotated[LabelSizeName | None, Query()] = None,
    dpi: Annotated[Literal["203", "300"] | None, Query()] = None,
) -> Response:
    """Fetch the two labels of a piece, the tag of a bundle or the sheet of a load, as PDF."""
    style = reprint.label_style(here.settings, language, size=size, dpi=None if dpi is None else 300 if dpi == "300" else 203)
    pdf = reprint.labels_or_sheet_pdf(read_scanned(code, store=here.store), style, store=here.store)
    return Response(pdf, headers={"Content-Disposition": "inline; filename=label.pdf"}, media_type="application/pdf")


@router.get("/printers", responses=openapi_responses(Printers))
def get_printers(here: Here) -> Response:
    """List the print queues that this machine's spooler takes work for."""
    return json_response(reprint.list_printers(here.settings.print_queue or None))


@router.post("/prints", responses=openapi_responses(SentToPrinter, also=(503,)), openapi_extra=openapi_body(PrintAsked))
def print_labels(body: JsonBody, here: Here) -> Response:
    """Print a piece's labels or a bundle's tag again; 503 says why nothing came out, and what to do instead."""
    asked = decode(PrintAsked, body, name="print")
    queue = asked.queue or here.settings.print_queue or None
    style = reprint.label_style(here.settings, choose_language(here.settings.language, ""), size=asked.size, dpi=asked.dpi)
    return json_response(reprint.reprint(asked.code, style, queue=queue, copies=asked.copies, store=here.store))
