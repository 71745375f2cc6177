"""Tell what happened to a plan, and ask how it can go on."""

from __future__ import annotations

from collections.abc import Collection
from datetime import UTC, datetime
from typing import Any

from service.contracts.jobs import JobAccepted
from service.contracts.plans import PlanManifest, ReplanWanted
from service.ports import Queue, Store, Transaction
from service.settings import Settings
from service.usecases.ask.jobs import submit_job
from service.usecases.ask.timetable import ensure_plan_rows
from service.usecases.plan_rows import plan_catalog, timetable_head
from solver.codec import decode
from solver.domain.disruptions import Disruptions, Vocabulary, disruption_faults, seconds_after_epoch
from solver.errors import FieldFault, InputError


def ask_replan(plan_id: str, data: Any, *, store: Store, queue: Queue, settings: Settings) -> JobAccepted:
    """Ask how a plan can go on.

    Raises NotFound, InputError with every fault of what is said to have happened.
    """
    ensure_plan_rows(plan_id, store=store)
    with store.reading() as tx:
        wanted = _decide(plan_id, data, tx, settings)
    return submit_job(wanted, store=store, queue=queue)


def _decide(plan_id: str, data: Any, tx: Transaction, settings: Settings) -> ReplanWanted:
    manifest = tx.plans.manifest(plan_id)
    happened = decode(Disruptions, data, name="$")
    now_s, faults = _now(happened, manifest)
    faults += disruption_faults(happened, plan_vocabulary(tx, manifest, happened.remake), epoch=manifest.epoch, now_s=now_s)
    if faults:
        raise InputError(*faults)
    return ReplanWanted(
        plan=manifest.id,
        orders=manifest.orders,
        happened=happened,
        seconds=settings.replan_seconds,
        seed=1,
        now_s=now_s,
        firm_until_s=now_s + plan_catalog(tx, manifest.id).firm_s,
    )


def _now(happened: Disruptions, manifest: PlanManifest) -> tuple[int, list[FieldFault]]:
    """From when on work may be placed, in seconds from the plan's start, never before it, and what is wrong with it."""
    now = datetime.now(UTC).isoformat()
    try:
        return max(0, seconds_after_epoch(manifest.epoch, happened.at or now)), []
    except ValueError as error:
        fix = "an instant such as 2031-05-05T06:00:00-06:00"
        return max(0, seconds_after_epoch(manifest.epoch, now)), [
            FieldFault("at", f"{happened.at!r} is no instant ({error})", fix)
        ]


def plan_vocabulary(tx: Transaction, manifest: PlanManifest, pieces: Collection[str]) -> Vocabulary:
    """Return what of a plan, whose rows are written, can be named in what happened; of its pieces those among some."""
    return Vocabulary(
        machines=tuple(machine.id for machine in timetable_head(tx, manifest.id).table.job.machines),
        materials=tx.rows.names(manifest.id, "material"),
        orders=tuple(order.id for order in manifest.orders),
        pieces=frozenset(tx.rows.numbers(manifest.id, "piece", pieces)),
    )


def read_plan_vocabulary(plan_id: str, pieces: Collection[str], *, store: Store) -> Vocabulary:
    """Return what of a plan can be named in what happened; of its pieces those among some. Raises NotFound."""
    plan = ensure_plan_rows(plan_id, store=store)
    with store.reading() as tx:
        return plan_vocabulary(tx, tx.plans.manifest(plan), pieces)
