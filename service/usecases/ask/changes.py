"""What a plan changes of orders that were taken off before."""

from __future__ import annotations

from service.contracts.changes import ObsoletePiece, OrderChanges, PlanChanges
from service.ports import Store, Transaction
from service.usecases.ask.timetable import ensure_plan_rows
from service.usecases.plan_rows import RevisedOrder, RevisedOrders, read_extract


def plan_changes(plan_id: str, *, store: Store) -> PlanChanges:
    """Return, order by order, which pieces a plan keeps, changes, adds and drops. Raises NotFound."""
    plan = ensure_plan_rows(plan_id, store=store)
    with store.reading() as tx:
        revised = read_extract(tx, plan, "revised", RevisedOrders)
        return PlanChanges(orders=() if revised is None else tuple(_changes(tx, one) for one in revised.orders))


def _changes(tx: Transaction, one: RevisedOrder) -> OrderChanges:
    told = one.revised
    cut = {piece for piece, _ in tx.events.last_events_in_force([*told.kept, *told.obsolete], ["cut"])}
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
