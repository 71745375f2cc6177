"""Make a plan that was asked for and store it with the end of its job, in one transaction."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, Protocol

import structlog

from service.contracts.faults import Fault, to_fault
from service.contracts.plans import (
    Document,
    Job,
    LateLine,
    MadeAgain,
    OrderAt,
    PartLine,
    PlanCounts,
    PlanManifest,
    PlanWanted,
    ProofLine,
    YieldLine,
)
from service.ports import Store, Transaction
from service.stored_form import from_stored_text
from service.usecases.make.progress import ProgressReport, ProgressWatcher
from service.usecases.plan_bounds import verified_bounds
from service.usecases.plan_rows import write_plan_rows
from service.usecases.snapshot import read_floor
from service.usecases.stored import plan_contents, written_parts
from solver.domain.building import Building
from solver.domain.floor_snapshot import FloorSnapshot
from solver.domain.plan import Making, Plan
from solver.domain.plant import Plant
from solver.domain.progress import PlanProgress
from solver.domain.takeoff import Takeoff
from solver.errors import InputError, NoPlan
from solver.floor_continuation import stock_of
from solver.reading.read_order import read_order
from solver.search import Search
from solver.units import Nm

log = structlog.get_logger()
MEDIA = {
    ".pdf": "application/pdf",
    ".csv": "text/csv; charset=utf-8",
    ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    ".json": "application/json",
    ".svg": "image/svg+xml",
    ".txt": "text/plain; charset=utf-8",
}


class Pipeline(Protocol):
    """What makes plans: `solver.pipeline.make_plan`."""

    def __call__(  # noqa: D102 - said by the class
        self,
        buildings: tuple[Building, ...],
        plant: Plant,
        search: Search,
        *,
        epoch: str,
        predecessor: str | None = None,
        previous: tuple[Takeoff, ...] = (),
        floor: FloorSnapshot | None = None,
        report: Callable[[PlanProgress], None] = ...,
    ) -> Plan: ...


Tell = Callable[[str, float], None]
Printer = Callable[[Plan, Plant, Path, Tell], None]
Watch = Callable[[Callable[[], ProgressReport]], None]


class _Stopped(Exception):
    """Someone asked to keep nothing while the sheets were drawn."""


def _unwatched(_: Callable[[], ProgressReport]) -> None:
    """Nobody asks how far it is."""


def make_plan_of(
    job: Job,
    token: str,
    plant: Plant,
    search: Search,
    *,
    store: Store,
    pipeline: Pipeline,
    printer: Printer,
    watch: Watch = _unwatched,
) -> None:
    """Make and store the plan of a job that we own; a refusal or an impossibility ends the job with its faults.

    `watch` hears whom to ask how far it is. Stopped at any moment, sheets included, it stores nothing.

    It is planned by the catalog that the job names; `plant` is for jobs of older versions, which name none.

    Running it twice stores one plan. Raises LostLease, having stored nothing, when the job got another owner meanwhile.
    """
    wanted = job.wanted
    assert isinstance(wanted, PlanWanted)
    with store.reading() as tx:
        documents = [tx.orders.document(order.id, order.revision) for order in wanted.orders]
        previous = tuple(_taken_off_before(tx, [order.id for order in wanted.orders]))
        catalog = None if wanted.catalog is None else tx.catalogs.body(wanted.catalog)
        if catalog is not None:  # the one in force where it was asked for; ours may be another file by now
            plant = from_stored_text(Plant, catalog)
        released = tx.plans.released()
        names = [order.id for order in wanted.orders]
        floor = read_floor(tx, wanted.epoch, unit=plant.unit, orders=names, firm_s=plant.firm_s)
    if wanted.rack_slots is not None:
        plant = replace(plant, rack_slots=wanted.rack_slots)
    watched = ProgressWatcher(search.left_s)
    watch(watched.told)
    try:  # no transaction stays open while we think
        buildings = tuple(read_order(document, plant) for document in documents)
        plan = pipeline(
            buildings,
            plant,
            search,
            epoch=wanted.epoch,
            predecessor=None if released is None else released[0],
            previous=previous,
            floor=floor,
            report=watched.on_search_progress,
        )
    except (InputError, NoPlan) as error:
        _fail(job, token, [to_fault(one.path, one.problem, one.fix) for one in error.faults], store=store)
        return
    if search.left_s() <= 0:  # a search that is told to end has no time left at once, and did not take all of it
        plan = replace(plan, seconds=min(plan.seconds, round(watched.elapsed_s(), 3)))
    with store.writing() as tx:  # its own name, not that of its contents: the sheets bear it
        plan_id = tx.plans.new_id()
    plan = replace(plan, id=plan_id)
    if plan.kept is not None:
        plant = plant.stating(stock_of(plant, floor))
    else:  # it did not go on from the floor
        with store.reading() as tx:
            makings = tx.book.makings([piece.id for taken in plan.takeoffs for piece in taken.pieces])
        plan = replace(plan, makings=tuple(Making(piece=piece, making=n) for piece, n in sorted(makings.items())))
    try:
        files, faults = _print(plan, plant, search, printer, watched)
    except _Stopped:
        with store.writing() as tx:
            tx.jobs.end(job.id, token, "cancelled", doing="stopped")
        return
    _store(job, wanted, token, plan, plant, files, faults, store=store)


def _taken_off_before(tx: Transaction, orders: Sequence[str]) -> Iterator[Takeoff]:
    """The newest takeoff of each order in any plan: pieces made alike keep its marks, so that what is cut is used."""
    for order in orders:
        body = tx.plans.newest_part("takeoff", order)
        if body is not None:
            yield from_stored_text(Takeoff, body)


def _print(
    plan: Plan, plant: Plant, search: Search, printer: Printer, watched: ProgressWatcher
) -> tuple[list[Document], list[Fault]]:
    """Draw the sheets; a defect there costs the sheets, never the plan, and is told beside it. Raises _Stopped."""

    def tell(text: str, part: float) -> None:
        watched.draw(text, part)
        if search.stop():
            raise _Stopped

    with tempfile.TemporaryDirectory() as folder:
        try:
            tell("", 0.0)
            printer(plan, plant, Path(folder), tell)
            tell("", 1.0)
        except _Stopped:
            raise
        except Exception as error:
            log.exception("sheets not drawn", plan=plan.id)
            fix, kind = "plan again; if it stays so, tell whoever looks after it", type(error).__name__
            return [], [Fault(path="sheets", problem=f"not drawn ({kind})", fix=fix)]
        return list(_files(Path(folder))), []


def _fail(job: Job, token: str, faults: list[Fault], *, store: Store) -> None:
    with store.writing() as tx:
        tx.jobs.end(job.id, token, "failed", doing="refused", faults=faults)


def _store(
    job: Job,
    wanted: PlanWanted,
    token: str,
    plan: Plan,
    plant: Plant,
    files: list[Document],
    faults: list[Fault],
    *,
    store: Store,
) -> None:
    lines, bodies = written_parts(plan_contents(plan, plant))
    manifest = plan_manifest(plan, wanted.orders, lines, catalog=wanted.catalog)
    with store.writing() as tx:
        if tx.jobs.get(job.id).cancel_asked:  # since we looked last: who was told that nothing is kept is told the truth
            tx.jobs.end(job.id, token, "cancelled", doing="stopped")
            return
        # first, so that a lost lease stores nothing
        tx.jobs.end(job.id, token, "done", doing="done", plan=plan.id, faults=faults)
        tx.plans.add(manifest, bodies, files, job=job.id, faults=faults)
    write_plan_rows(plan.id, store=store)  # after: whoever looks sooner writes them, and the job has ended well without
    verified_bounds(plan.id, store=store)


def canonical_json(data: Any) -> str:
    """Return JSON data as the one text that is hashed and stored."""
    return json.dumps(data, sort_keys=True, separators=(",", ":"))


def plan_manifest(
    plan: Plan, orders: tuple[OrderAt, ...], parts: tuple[PartLine, ...], *, catalog: str | None = None
) -> PlanManifest:
    """Return the manifest of a plan; `catalog`: the digest of the stored one that it was made by."""
    counts = PlanCounts(
        pieces=sum(len(takeoff.pieces) for takeoff in plan.takeoffs),
        bars=sum(len(cut.bars) for cut in plan.cuts),
        bundles=sum(len(stack.result.bundles) for stack in plan.stacks),
        loads=sum(len(load.result.loads) for load in plan.loads),
    )
    return PlanManifest(
        id=plan.id,
        status=plan.status,
        unit=plan.unit,
        plant=plan.plant,
        epoch=plan.timetable.epoch,
        cost=plan.cost,
        lower_bound=plan.lower_bound,
        seconds=plan.seconds,
        counts=counts,
        proofs=tuple(_proofs(plan)),
        deliveries=tuple(
            LateLine(
                order=late.order,
                delivery=late.delivery,
                due_s=late.due_s,
                done_s=late.done_s,
                late_s=late.late_s,
                why=late.why,
            )
            for late in plan.timetable.deliveries
        ),
        orders=orders,
        parts=parts,
        yields=tuple(_yields(plan)),
        predecessor=plan.predecessor,
        catalog=catalog,
        makings=tuple(MadeAgain(piece=one.piece, making=one.making) for one in plan.makings),
    )


def _proofs(plan: Plan) -> Iterable[ProofLine]:
    for proof in plan.proofs:
        yield ProofLine(
            stage=proof.stage,
            about=proof.about,
            status=proof.status,
            value=proof.value,
            lower_bound=proof.lower_bound,
            checked=proof.checked,
        )


def _yields(plan: Plan) -> Iterable[YieldLine]:
    widths = {piece.id: piece.width_nm for takeoff in plan.takeoffs for piece in takeoff.pieces}
    for cut in plan.cuts:
        long = sum(bar.length_nm for bar in cut.bars)
        keep_from = cut.job.keep_from_nm
        kept = sum(bar.drop_nm for bar in cut.bars if keep_from is not None and bar.drop_nm >= keep_from)
        share, waste = (kept / long if long else 0.0), cut.result.waste or 0.0
        yield YieldLine(
            material=cut.name,
            bars=len(cut.bars),
            bar_nm=Nm(long),
            width_nm=max((widths[item.piece] for bar in cut.bars for item in bar.pieces), default=Nm(1)),
            pieces=1 - waste,
            kept=min(share, waste),
            lost=max(0.0, waste - share),
        )


def _files(folder: Path) -> Iterator[Document]:
    for path in sorted(folder.rglob("*")):
        if path.is_file():
            name = path.relative_to(folder).as_posix()
            yield Document(name=name, media_type=MEDIA.get(path.suffix, "application/octet-stream"), body=path.read_bytes())
