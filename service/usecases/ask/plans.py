"""Ask for a plan; look at the plans that came of it."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import UTC, datetime

from service.contracts.jobs import JobAccepted
from service.contracts.plans import (
    Document,
    DocumentList,
    OrderAt,
    PartLine,
    PlanAsked,
    PlanList,
    PlanManifest,
    PlanRead,
    PlanState,
    PlanWanted,
)
from service.ports import Queue, Store, Transaction
from service.settings import Settings
from service.usecases.ask.jobs import submit_job
from service.usecases.ask.order_life import open_orders, order_life
from service.usecases.stored import part_as_public_json, stored_catalog
from solver.domain.plant import Plant
from solver.errors import FaultCollector

LISTED = 50


def ask_plan(asked: PlanAsked, *, plant: Plant, store: Store, queue: Queue, settings: Settings) -> JobAccepted:
    """Ask for a plan of some orders, all open ones where none is named. Raises InputError naming orders that are not stored.

    `plant`: the catalog in force, stored with the job, which names it by its digest: whoever makes the plan plans by it.
    """
    catalog = stored_catalog(plant)
    with store.reading() as tx:
        wanted = replace(_decide(asked, tx, settings), catalog=catalog[0])
    return submit_job(wanted, store=store, queue=queue, catalog=catalog)


def _decide(asked: PlanAsked, tx: Transaction, settings: Settings) -> PlanWanted:
    faults, stored = FaultCollector(), {line.id: line.revision for line in tx.orders.lines()}
    names = asked.orders if asked.orders is not None else open_orders(tx)
    for n, name in enumerate(names):
        if name not in stored:
            faults.add(f"orders[{n}]", f"no order {name!r} is stored", "the id of a stored order")
        elif name in names[:n]:
            faults.add(f"orders[{n}]", f"{name!r} is given twice", "each order once")
        elif asked.orders is not None and order_life(tx, name, stored[name]).state == "withdrawn":
            faults.add(f"orders[{n}]", f"{name!r} is withdrawn", "an order that is open, or this one as a new revision")
    if not names and not stored:
        faults.add("orders", "no order is stored yet", "send an order first")
    elif not names:
        faults.add("orders", "no order is open", "a new order, or one that is held back let go on")
    if len(names) > settings.plan_orders_most:
        faults.add("orders", f"{len(names)} orders at once", f"at most {settings.plan_orders_most}")
    faults.raise_if_any()
    released = tx.plans.released()
    return PlanWanted(
        orders=tuple(OrderAt(id=name, revision=stored[name]) for name in names),
        seconds=min(asked.seconds or settings.plan_seconds, settings.plan_seconds_most),
        seed=asked.seed,
        epoch=asked.epoch or datetime.now(UTC).replace(second=0, microsecond=0).isoformat(),
        predecessor=released[0] if released else None,
        rack_slots=asked.rack_slots,
    )


def catalog_in_force(plant: Plant) -> str:
    """Return the digest under which the catalog that plans are asked for with now is stored."""
    return stored_catalog(plant)[0]


def plan_state(plan_id: str, *, store: Store) -> PlanState:
    """Return a plan as lists tell it. Raises NotFound."""
    with store.reading() as tx:
        return tx.plans.state(plan_id)


def list_plans(*, store: Store) -> PlanList:
    """Return the plans made last, the newest first."""
    with store.reading() as tx:
        return PlanList(plans=tx.plans.newest(LISTED))


def read_plan(plan_id: str, *, store: Store) -> PlanRead:
    """Return a plan without its parts' contents. Raises NotFound."""
    with store.reading() as tx:
        state, manifest = tx.plans.state(plan_id), tx.plans.manifest(plan_id)
    held = {one.name: getattr(manifest, one.name) for one in fields(PlanManifest)}
    return PlanRead(**held, made_at=state.made_at, job=state.job, released=state.released, faults=state.faults)


def plan_result(plan_id: str, *, store: Store) -> PlanManifest:
    """Return what a plan holds. Raises NotFound."""
    with store.reading() as tx:
        return tx.plans.manifest(plan_id)


def plan_part(plan_id: str, digest: str, *, store: Store) -> str:
    """Return the JSON of one part of a plan. Raises NotFound."""
    with store.reading() as tx:
        return part_as_public_json(tx, plan_id, digest)


def plan_parts(plan_id: str, stage: str, *, store: Store) -> tuple[PartLine, ...]:
    """Return the parts of one stage of a plan. Raises NotFound."""
    with store.reading() as tx:
        return tx.plans.parts_of(tx.plans.known(plan_id), stage)


def plan_documents(plan_id: str, *, store: Store) -> DocumentList:
    """Return the files of a plan. Raises NotFound."""
    with store.reading() as tx:
        return DocumentList(documents=tx.plans.documents(tx.plans.known(plan_id)))


def plan_document(plan_id: str, name: str, *, store: Store) -> Document:
    """Return one file of a plan. Raises NotFound."""
    with store.reading() as tx:
        return tx.plans.document(plan_id, name)
