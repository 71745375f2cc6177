"""What is this, and its paper again: one page for the saw and the dock, read by scanner or typed."""

from __future__ import annotations

from typing import Annotated
from urllib.parse import parse_qs, quote

from fastapi import APIRouter, Query, Request, Response
from starlette.concurrency import run_in_threadpool
from starlette.responses import RedirectResponse

from service.contracts.scan import Scanned, SoCalled
from service.dependencies import Here
from service.printing.spool import NotPrinted
from service.stations.pages import render_page, request_language
from service.usecases.ask import reprint
from service.usecases.ask.floor import read_bar
from service.usecases.ask.scan import read_scanned, things_called
from solver.domain.ids import short_name
from solver.errors import FieldFault, InputError

router = APIRouter(prefix="/scan", include_in_schema=False)
Text = Annotated[str, Query(max_length=400)]


@router.get("")
def scan_page(
    request: Request, here: Here, code: Text = "", printed: Text = "", problem: Text = "", fix: Text = ""
) -> Response:
    """Show what a code means and where it belongs; without a code, ask for one; of a mark without its order, which is meant."""
    found: Scanned | None = None
    faults: tuple[FieldFault, ...] = (FieldFault("queue", problem, fix),) if problem else ()
    meant: tuple[SoCalled, ...] = ()
    if code.strip():
        try:
            found = read_scanned(code, store=here.store)
        except InputError as error:
            meant = things_called(code, store=here.store)
            faults = () if meant else error.faults
    bar = read_bar(found.bar, store=here.store).bar if found is not None and found.bar else None
    return render_page(
        request, "scan.html", code=code.strip(), found=found, bar=bar, faults=faults, meant=meant, printed=printed,
        short=short_name, can_print=bool(reprint.list_printers(None).queues),
        status=200 if found or not (faults or meant) else 422,
    )  # fmt: skip


@router.post("/print")
async def print_label(request: Request, here: Here) -> Response:
    """Send the paper of a code to the printer, then show how it went."""
    form = parse_qs((await request.body()).decode("utf-8", "replace"))
    code = form.get("code", [""])[0][:400]
    back = f"/scan?code={quote(code, safe='')}"
    queue, style = here.settings.print_queue or None, reprint.label_style(here.settings, request_language(request))
    try:
        # beside the event loop: drawing and spooling take their time
        made = await run_in_threadpool(reprint.reprint, code, style, queue=queue, copies=1, store=here.store)
    except NotPrinted as error:
        return RedirectResponse(f"{back}&problem={quote(error.problem[:300])}&fix={quote(error.fix[:300])}", 303)
    except InputError as error:
        fault = error.faults[0]
        return RedirectResponse(f"{back}&problem={quote(fault.problem[:300])}&fix={quote(fault.fix[:300])}", 303)
    return RedirectResponse(f"{back}&printed={quote(made.request)}", 303)
