"""Ask for a plan, watch it, stop it, look at what came of it."""

from __future__ import annotations

from datetime import UTC, datetime
from uuid import uuid4

from service.contracts.plans import (
    Document,
    DocumentList,
    Job,
    OrderAt,
    PartLine,
    PlanAsked,
    PlanList,
    PlanManifest,
    PlanState,
    PlanWanted,
)
from service.errors import NotFound
from service.ports import Queue, Store, Transaction
from service.settings import Settings
from solver.errors import Faults

LISTED = 50


def ask_plan(asked: PlanAsked, *, store: Store, queue: Queue, settings: Settings) -> PlanState:
    """Store a job and send it once it is really in the database. Raises InputError naming orders that are not stored."""
    with store.writing() as tx:
        wanted = _decide(asked, tx, settings)
        job = tx.jobs.add(uuid4().hex, wanted)
    queue.send(job.id)
    return state_of(job)


def _decide(asked: PlanAsked, tx: Transaction, settings: Settings) -> PlanWanted:
    faults, stored = Faults(), {line.id: line.revision for line in tx.orders.lines()}
    names = asked.orders if asked.orders is not None else tuple(sorted(stored))
    for n, name in enumerate(names):
        if name not in stored:
            faults.add(f"orders[{n}]", f"no order {name!r} is stored", "the id of a stored order")
        elif name in names[:n]:
            faults.add(f"orders[{n}]", f"{name!r} is given twice", "each order once")
    if not names:
        faults.add("orders", "no order is stored yet", "send an order first")
    if len(names) > settings.plan_orders_most:
        faults.add("orders", f"{len(names)} orders at once", f"at most {settings.plan_orders_most}")
    faults.raise_any()
    released = tx.plans.released()
    return PlanWanted(
        orders=tuple(OrderAt(id=name, revision=stored[name]) for name in names),
        seconds=min(asked.seconds or settings.plan_seconds, settings.plan_seconds_most),
        seed=asked.seed,
        epoch=asked.epoch or datetime.now(UTC).replace(second=0, microsecond=0).isoformat(),
        predecessor=released[0] if released else None,
        rack_slots=asked.rack_slots,
    )


def state_of(job: Job, released: tuple[str, str] | None = None) -> PlanState:
    """Return what the web tells of a plan's job. Raises NotFound where something else was asked for."""
    if not isinstance(job.wanted, PlanWanted):
        raise NotFound("plan", job.id)
    return PlanState(
        id=job.id,
        status=job.status,
        doing=job.doing,
        fraction=job.fraction,
        orders=job.wanted.orders,
        asked_at=job.asked_at,
        ended_at=job.ended_at,
        cancel_asked=job.cancel_asked,
        plan=job.plan,
        released=released is not None and job.plan == released[0],
        faults=job.faults,
    )


def plan_state(job_id: str, *, store: Store) -> PlanState:
    """Return how far a plan is. Raises NotFound."""
    with store.reading() as tx:
        return state_of(tx.jobs.get(job_id), tx.plans.released())


def list_plans(*, store: Store) -> PlanList:
    """Return the plans asked for last."""
    with store.reading() as tx:
        released = tx.plans.released()
        return PlanList(plans=tuple(state_of(job, released) for job in tx.jobs.newest(LISTED, "plan")))


def cancel_plan(job_id: str, *, store: Store) -> PlanState:
    """Stop a plan that waits or is being made; one that ended stays as it is. Raises NotFound."""
    with store.writing() as tx:
        return state_of(tx.jobs.ask_cancel(job_id))


def plan_result(job_id: str, *, store: Store) -> PlanManifest:
    """Return what a done plan holds. Raises NotFound for a plan that is not (yet) done."""
    with store.reading() as tx:
        return tx.plans.manifest(done_plan(tx, job_id))


def done_plan(tx: Transaction, job_id: str) -> str:
    """Return the plan that a job made. Raises NotFound."""
    plan = tx.jobs.get(job_id).plan
    if plan is None:
        raise NotFound("result of plan", job_id)
    return plan


def plan_part(job_id: str, digest: str, *, store: Store) -> str:
    """Return the JSON of one part of a done plan. Raises NotFound."""
    with store.reading() as tx:
        return tx.plans.part(done_plan(tx, job_id), digest)


def plan_parts(job_id: str, stage: str, *, store: Store) -> tuple[PartLine, ...]:
    """Return the parts of one stage of a done plan. Raises NotFound."""
    with store.reading() as tx:
        return tx.plans.parts_of(done_plan(tx, job_id), stage)


def plan_documents(job_id: str, *, store: Store) -> DocumentList:
    """Return the files of a done plan. Raises NotFound."""
    with store.reading() as tx:
        return DocumentList(documents=tx.plans.documents(done_plan(tx, job_id)))


def plan_document(job_id: str, name: str, *, store: Store) -> Document:
    """Return one file of a done plan. Raises NotFound."""
    with store.reading() as tx:
        return tx.plans.document(done_plan(tx, job_id), name)
