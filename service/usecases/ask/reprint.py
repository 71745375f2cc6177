"""One label or tag again, from the plan on the floor: read what it needs of the plan, and no more."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Literal, cast
from zoneinfo import ZoneInfo

from service.contracts.scan import Printers, Scanned, SentToPrinter
from service.ports import Store, Transaction
from service.printing.labels import Dpi, LabelSize, LabelStyle
from service.printing.sheets import PlanSheets
from service.printing.spool import list_print_queues, print_pdf
from service.settings import Settings
from service.usecases.ask.scan import read_scanned
from service.usecases.stored import plan_from_manifest, read_parts
from solver.domain.cut_plan import CutPlan
from solver.domain.plan import LoadPart, Making, Plan, StackPart
from solver.domain.plant import Plant
from solver.domain.takeoff import Takeoff
from solver.domain.timetable import ScheduleJob, ScheduleResult, Timetable
from solver.errors import FieldFault, InputError
from solver.language import Language

MEDIA: dict[LabelSize, str] = {"4x6": "Custom.4x6in", "A6": "A6", "roll-4x3": "Custom.4x3in"}


def label_style(settings: Settings, language: Language, *, size: LabelSize | None = None, dpi: Dpi | None = None) -> LabelStyle:
    """Return how labels are printed: as asked for, else as the service is set."""
    usual = cast(LabelSize, settings.label_size), cast(Dpi, settings.label_dpi)
    return LabelStyle(size=size or usual[0], dpi=dpi or usual[1], language=language)


def labels_or_sheet_pdf(found: Scanned, style: LabelStyle, *, store: Store) -> bytes:
    """Return the two labels of a piece, the tag of a bundle or the sheet of a load, as PDF. Raises InputError.

    A piece that was scrapped gets the labels of its next making: their codes are never those of the making before.
    """
    with store.reading() as tx:
        plant = next(read_parts(tx, found.plan, "plant", Plant))
        plan = _part_of(tx, found, plant)
    made = datetime.now(ZoneInfo(plant.time_zone)).strftime("%Y-%m-%d %H:%M")
    papers = PlanSheets(plan, plant, made=made, language=style.language, size=style.size, dpi=style.dpi)
    if found.kind == "piece":
        return papers.labels(found.id)
    return papers.bundle_tags(found.id) if found.kind == "bundle" else papers.loads(found.id)


def _part_of(tx: Transaction, found: Scanned, plant: Plant) -> Plan:
    """Return a plan that holds only the order's own parts and the bars of its pieces."""
    takeoffs = tuple(read_parts(tx, found.plan, "takeoff", Takeoff, about=found.order))
    materials = {str(piece.material) for takeoff in takeoffs for piece in takeoff.pieces if piece.id == found.id}
    cuts = [cut for cut in read_parts(tx, found.plan, "nest", CutPlan) if cut.material in materials]
    stacks = read_parts(tx, found.plan, "stack", StackPart, about=found.order)
    loads = read_parts(tx, found.plan, "load", LoadPart, about=found.order)
    plan = plan_from_manifest(tx.plans.manifest(found.plan), (*takeoffs, *stacks, *cuts, *loads), timetable=_NO_TIMETABLE)
    makings = (Making(piece=found.id, making=found.making),) if found.making > 1 else ()
    return replace(plan, unit=plant.unit, makings=makings)


_NO_TIMETABLE = Timetable(
    epoch="",
    job=ScheduleJob(objective="weighted_tardiness", machines=(), jobs=()),
    result=ScheduleResult(status="optimal", objective=0, lower_bound=0, operations=(), seconds=0.0),
    operations=(),
    deliveries=(),
)


def reprint(code: str, style: LabelStyle, *, queue: str | None, copies: int, store: Store) -> SentToPrinter:
    """Send a piece's labels or a bundle's tag to a print queue. Raises InputError, and NotPrinted with what to do instead."""
    found = read_scanned(code, store=store)
    if found.kind == "load":
        raise InputError(
            FieldFault("code", f"{found.id} is a load", "a piece's label or a bundle's tag; sheets are on the page")
        )
    kind: Literal["piece", "bundle"] = "piece" if found.kind == "piece" else "bundle"
    pdf = labels_or_sheet_pdf(found, style, store=store)
    request = print_pdf(pdf, queue=queue, title=f"sawbill {found.id}", copies=copies, media=MEDIA[style.size])
    return SentToPrinter(request=request, kind=kind, id=found.id, copies=copies)


def list_printers(usual: str | None) -> Printers:
    """Return the queues that this machine's spooler takes work for."""
    return Printers(queues=list_print_queues(), usual=usual)
