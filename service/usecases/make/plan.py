"""Make a plan that was asked for and store it with the end of its job, in one transaction."""

from __future__ import annotations

import hashlib
import json
import tempfile
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, Protocol

import structlog

from service.contracts.faults import Fault, told
from service.contracts.plans import (
    Document,
    Job,
    LateLine,
    OrderAt,
    PartLine,
    PartStage,
    PlanCounts,
    PlanManifest,
    PlanWanted,
    ProofLine,
    YieldLine,
)
from service.ports import Store, Transaction
from solver.codec import decode, encode
from solver.domain.building import Building
from solver.domain.plan import Plan
from solver.domain.plant import Plant
from solver.domain.takeoff import Takeoff
from solver.errors import InputError, NoPlan
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
    ) -> Plan: ...


Tell = Callable[[str, float], None]
Printer = Callable[[Plan, Plant, Path, Tell], None]


def make_plan_of(
    job: Job, token: str, plant: Plant, search: Search, *, store: Store, pipeline: Pipeline, printer: Printer
) -> None:
    """Make and store the plan of a job that we own; a refusal or an impossibility ends the job with its faults.

    Running it twice stores one plan. Raises LostLease, having stored nothing, when the job got another owner meanwhile.
    """
    wanted = job.wanted
    assert isinstance(wanted, PlanWanted)
    with store.reading() as tx:
        documents = [tx.orders.document(order.id, order.revision) for order in wanted.orders]
        previous = tuple(_taken_off_before(tx, [order.id for order in wanted.orders]))
    if wanted.rack_slots is not None:
        plant = replace(plant, rack_slots=wanted.rack_slots)
    try:  # no transaction stays open while we think
        buildings = tuple(read_order(document, plant) for document in documents)
        plan = pipeline(buildings, plant, search, epoch=wanted.epoch, predecessor=wanted.predecessor, previous=previous)
    except (InputError, NoPlan) as error:
        _fail(job, token, [told(one.path, one.problem, one.fix) for one in error.faults], store=store)
        return
    if search.stop():
        with store.writing() as tx:
            tx.jobs.end(job.id, token, "cancelled", doing="stopped")
        return
    files, faults = _print(plan, plant, search, printer)
    _store(job, wanted.orders, token, plan, plant, files, faults, store=store)


def _taken_off_before(tx: Transaction, orders: Sequence[str]) -> Iterator[Takeoff]:
    """The newest takeoff of each order in any plan: pieces made alike keep its marks, so that what is cut is used."""
    for order in orders:
        body = tx.plans.newest_part("takeoff", order)
        if body is not None:
            yield decode(Takeoff, json.loads(body), name="part", unit="mm")


def _print(plan: Plan, plant: Plant, search: Search, printer: Printer) -> tuple[list[Document], list[Fault]]:
    """Draw the sheets; a defect there costs the sheets, never the plan, and is told beside it."""
    with tempfile.TemporaryDirectory() as folder:
        try:
            printer(plan, plant, Path(folder), lambda text, part: search.tell(text, 0.95 + 0.05 * part))
        except Exception as error:
            log.exception("sheets not drawn", plan=plan.id)
            problem = f"not drawn ({type(error).__name__})"
            return [], [Fault(path="sheets", problem=problem, fix="plan again; if it stays so, tell whoever looks after it")]
        return list(_files(Path(folder))), []


def _fail(job: Job, token: str, faults: list[Fault], *, store: Store) -> None:
    with store.writing() as tx:
        tx.jobs.end(job.id, token, "failed", doing="refused", faults=faults)


def _store(
    job: Job,
    orders: tuple[OrderAt, ...],
    token: str,
    plan: Plan,
    plant: Plant,
    files: list[Document],
    faults: list[Fault],
    *,
    store: Store,
) -> None:
    lines, bodies = [], []
    for stage, about, part in plan_contents(plan, plant):
        body = canonical(encode(part))
        digest = hashlib.sha256(body.encode()).hexdigest()
        lines.append(PartLine(stage=stage, about=about, digest=digest))
        bodies.append((digest, body))
    manifest = manifest_of(plan, orders, tuple(lines))
    with store.writing() as tx:
        # first, so that a lost lease stores nothing
        tx.jobs.end(job.id, token, "done", doing="done", plan=plan.id, faults=faults)
        tx.plans.add(manifest, bodies, files)


def canonical(data: Any) -> str:
    """Return JSON data as the one text that is hashed and stored."""
    return json.dumps(data, sort_keys=True, separators=(",", ":"))


def plan_contents(plan: Plan, plant: Plant) -> Iterator[tuple[PartStage, str, Any]]:
    """Give each part of a plan with its stage and what it is about; the catalog that it was made with is one."""
    yield "plant", plant.id, plant
    for takeoff in plan.takeoffs:
        yield "takeoff", takeoff.building.order, takeoff
    for stack in plan.stacks:
        yield "stack", stack.order, stack
    for cut in plan.cuts:
        yield "nest", cut.material, cut
    for sequence in plan.sequences:
        yield "sequence", sequence.machine, sequence
    for slit in plan.slits:
        yield "slit", slit.material, slit
    yield "schedule", "plant", plan.timetable
    for load in plan.loads:
        yield "load", load.order, load
    if plan.rack is not None:
        yield "rack", "panel-saw", plan.rack
    if plan.dispatch is not None:
        yield "dispatch", "plant", plan.dispatch


def manifest_of(plan: Plan, orders: tuple[OrderAt, ...], parts: tuple[PartLine, ...]) -> PlanManifest:
    """Return the manifest of a plan."""
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
            material=cut.material,
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
