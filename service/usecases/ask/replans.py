"""Tell what happened to a plan, watch for how it can go on, read the answer again."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any
from uuid import uuid4

from service.contracts.plans import Job, PlanManifest, ReplanWanted
from service.contracts.replans import ReplanList, Replanned, ReplanState
from service.errors import NotFound
from service.ports import Queue, Store, Transaction
from service.settings import Settings
from service.usecases.ask.plans import done_plan
from service.usecases.ask.release import read_parts
from solver.codec import decode
from solver.domain.happening import Happened, Known, faults_of, materials_of, seconds_from
from solver.domain.plant import Plant
from solver.domain.takeoff import Takeoff
from solver.domain.timetable import Timetable
from solver.errors import FieldFault, InputError

LISTED = 50


def ask_replan(plan_id: str, data: Any, *, store: Store, queue: Queue, settings: Settings) -> ReplanState:
    """Store a replanning's job and send it once it is really in the database.

    Raises NotFound for a plan that is not done, InputError with every fault of what is said to have happened.
    """
    with store.writing() as tx:
        manifest = tx.plans.manifest(done_plan(tx, plan_id))
        happened = decode(Happened, data, name="$")
        now_s, faults = _now(happened, manifest)
        faults += faults_of(happened, known_of(tx, manifest), epoch=manifest.epoch, now_s=now_s)
        if faults:
            raise InputError(*faults)
        wanted = ReplanWanted(
            of=plan_id,
            plan=manifest.id,
            orders=manifest.orders,
            happened=happened,
            seconds=settings.replan_seconds,
            seed=1,
            now_s=now_s,
            firm_until_s=now_s + next(read_parts(tx, manifest.id, "plant", Plant)).firm_s,
        )
        state = state_of(tx.jobs.add(uuid4().hex, wanted), tx.plans.released())
    queue.send(state.id)
    return state


def _now(happened: Happened, manifest: PlanManifest) -> tuple[int, list[FieldFault]]:
    """From when on work may be placed, in seconds from the plan's start, never before it, and what is wrong with it."""
    now = datetime.now(UTC).isoformat()
    try:
        return max(0, seconds_from(manifest.epoch, happened.at or now)), []
    except ValueError as error:
        fix = "an instant such as 2031-05-05T06:00:00-06:00"
        return max(0, seconds_from(manifest.epoch, now)), [FieldFault("at", f"{happened.at!r} is no instant ({error})", fix)]


def known_of(tx: Transaction, manifest: PlanManifest) -> Known:
    """Return what of a plan can be named in what happened."""
    table = next(read_parts(tx, manifest.id, "schedule", Timetable))
    takeoffs = read_parts(tx, manifest.id, "takeoff", Takeoff)
    return Known(
        machines=tuple(machine.id for machine in table.job.machines),
        materials=materials_of(table),
        orders=tuple(order.id for order in manifest.orders),
        pieces=frozenset(str(piece.id) for takeoff in takeoffs for piece in takeoff.pieces),
    )


def known_to(plan_id: str, *, store: Store) -> Known:
    """Return what of a done plan can be named in what happened. Raises NotFound."""
    with store.reading() as tx:
        return known_of(tx, tx.plans.manifest(done_plan(tx, plan_id)))


def state_of(job: Job, released: tuple[str, str] | None) -> ReplanState:
    """Return what the web tells of a replanning's job. Raises NotFound where something else was asked for."""
    wanted = job.wanted
    if not isinstance(wanted, ReplanWanted):
        raise NotFound("replan", job.id)
    return ReplanState(
        id=job.id,
        status=job.status,
        doing=job.doing,
        fraction=job.fraction,
        plan=wanted.of,
        happened=wanted.happened,
        asked_at=job.asked_at,
        ended_at=job.ended_at,
        cancel_asked=job.cancel_asked,
        released=released is not None and wanted.plan == released[0],
        answer=None if job.answer is None else decode(Replanned, json.loads(job.answer), name="answer"),
        faults=job.faults,
    )


def replan_state(replan_id: str, *, store: Store) -> ReplanState:
    """Return how far a replanning is, or its answer. Raises NotFound."""
    with store.reading() as tx:
        return state_of(tx.jobs.get(replan_id), tx.plans.released())


def list_replans(*, store: Store) -> ReplanList:
    """Return what was asked last."""
    with store.reading() as tx:
        released = tx.plans.released()
        return ReplanList(replans=tuple(state_of(job, released) for job in tx.jobs.newest(LISTED, "replan")))


def cancel_replan(replan_id: str, *, store: Store) -> ReplanState:
    """Stop a replanning that waits or is being worked out; one that ended stays as it is. Raises NotFound."""
    with store.writing() as tx:
        return state_of(tx.jobs.ask_cancel(replan_id), tx.plans.released())
