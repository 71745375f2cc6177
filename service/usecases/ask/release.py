"""Make a plan the floor's: write the rows that saw and dock read, from the plan's stored parts, one part at a time."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any, TypeVar

from service.contracts.plans import PlanReleased
from service.ports import Store, Transaction
from service.usecases.ask.plans import done_plan
from service.usecases.ask.rows import FloorRows
from solver.codec import decode
from solver.domain.cut_plan import CutPlan
from solver.domain.dispatch import Dispatch
from solver.domain.plan import LoadPart, SequencePart, StackPart
from solver.domain.plant import Plant
from solver.domain.takeoff import Takeoff
from solver.domain.timetable import Timetable
from solver.errors import InputError

T = TypeVar("T")


def release_plan(job_id: str, *, store: Store) -> PlanReleased:
    """Make a done plan the one that saw and dock work from. Raises NotFound; releasing again changes nothing."""
    with store.reading() as tx:
        plan_id = done_plan(tx, job_id)
        rows = read_rows(tx, plan_id)
    with store.writing() as tx:
        if not tx.floor.written(plan_id):
            tx.floor.write(plan_id, rows.bars(), rows.bundles(), rows.loads())
        now = tx.plans.released()
        since = now[1] if now is not None and now[0] == plan_id else tx.plans.release(plan_id)
    return PlanReleased(
        plan=plan_id, released_at=since, bars=len(rows.bars()), bundles=len(rows.bundles()), loads=len(rows.loads())
    )


def read_part(tx: Transaction, plan_id: str, digest: str, kind: type[T]) -> T:
    """Return one stored part as the domain's own type. Raises NotFound."""
    data: Any = json.loads(tx.plans.part(plan_id, digest))
    try:
        return decode(kind, data, name="part", unit="mm")
    except InputError as error:  # what we wrote ourselves must read back: a fault here is ours, not the caller's
        raise ValueError(f"part {digest} of plan {plan_id} does not read back: {error}"[:1000]) from error


def read_parts(tx: Transaction, plan_id: str, stage: str, kind: type[T], *, about: str | None = None) -> Iterator[T]:
    """Give the stored parts of one stage, one after the other; only those about something where that is said."""
    for line in tx.plans.parts_of(plan_id, stage):
        if about is None or line.about == about:
            yield read_part(tx, plan_id, line.digest, kind)


def read_rows(tx: Transaction, plan_id: str) -> FloorRows:
    """Return what a plan puts on the floor's pages."""
    rows = FloorRows(plant=next(read_parts(tx, plan_id, "plant", Plant)))
    for takeoff in read_parts(tx, plan_id, "takeoff", Takeoff):
        rows.take_pieces(takeoff)
    for stack in read_parts(tx, plan_id, "stack", StackPart):
        rows.take_bundles(stack)
    for load in read_parts(tx, plan_id, "load", LoadPart):
        rows.take_loads(load)
    for sequence in read_parts(tx, plan_id, "sequence", SequencePart):
        rows.take_order(sequence)
    for timetable in read_parts(tx, plan_id, "schedule", Timetable):
        rows.take_machines(timetable)
        for trucks in read_parts(tx, plan_id, "dispatch", Dispatch):
            rows.take_departures(trucks, timetable.epoch)
    for cut in read_parts(tx, plan_id, "nest", CutPlan):
        rows.take_bars(cut)
    return rows
