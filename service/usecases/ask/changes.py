"""What a plan changes of orders that were taken off before."""

from __future__ import annotations

from service.contracts.changes import ObsoletePiece, OrderChanges, PlanChanges
from service.ports import Store, Transaction
from service.usecases.ask.timetable import ready_plan
from service.usecases.plan_rows import Revised, RevisedOrder, extract_of


def plan_changes(plan_id: str, *, store: Store) -> PlanChanges:
    """Return, order by order, which pieces a plan keeps, changes, adds and drops. Raises NotFound."""
    plan = ready_plan(plan_id, store=store)
    with store.reading() as tx:
        revised = extract_of(tx, plan, "revised", Revised)
        return PlanChanges(orders=() if revised is None else tuple(_changes(tx, one) for one in revised.orders))


def _changes(tx: Transaction, one: RevisedOrder) -> OrderChanges:
    told = one.revised
    cut = {piece for piece, _ in tx.events.standing([*told.kept, *told.obsolete], ["cut"])}
    return OrderChanges(
        order=one.order,
        revision=one.revision,
        since=told.since,
        kept=len(told.kept),
        kept_cut=sum(piece in cut for piece in told.kept),
        changed=tuple(told.changed),
        new=tuple(told.new),
        obsolete=tuple(ObsoletePiece(piece=piece, cut=piece in cut) for piece in told.obsolete),
    )
