"""What a plan changes of orders that were taken off before."""

from __future__ import annotations

from service.contracts.changes import ObsoletePiece, OrderChanges, PlanChanges
from service.ports import Store, Transaction
from service.usecases.ask.plans import done_plan
from service.usecases.ask.release import read_parts
from solver.domain.takeoff import Revision, Takeoff


def plan_changes(job_id: str, *, store: Store) -> PlanChanges:
    """Return, order by order, which pieces a done plan keeps, changes, adds and drops. Raises NotFound."""
    with store.reading() as tx:
        takeoffs = read_parts(tx, done_plan(tx, job_id), "takeoff", Takeoff)
        return PlanChanges(orders=tuple(_changes(tx, taken, taken.revised) for taken in takeoffs if taken.revised is not None))


def _changes(tx: Transaction, taken: Takeoff, told: Revision) -> OrderChanges:
    cut = {piece for piece, _ in tx.events.standing([*told.kept, *told.obsolete], ["cut"])}
    return OrderChanges(
        order=taken.building.order,
        revision=taken.building.revision,
        since=told.since,
        kept=len(told.kept),
        kept_cut=sum(piece in cut for piece in told.kept),
        changed=tuple(told.changed),
        new=tuple(told.new),
        obsolete=tuple(ObsoletePiece(piece=piece, cut=piece in cut) for piece in told.obsolete),
    )
