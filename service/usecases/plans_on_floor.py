"""Which plans the things on the floor are of: the one released last, and earlier ones for trucks that have not left."""

from __future__ import annotations

from service.ports import Transaction
from solver.domain.ids import order_of


def released_plan(tx: Transaction) -> str | None:
    """Return the plan that is the floor's, or None before the first release."""
    now = tx.plans.released()
    return None if now is None else now[0]


def loads_of_earlier_releases(tx: Transaction) -> dict[str, list[str]]:
    """Return, by plan, the loads of earlier releases still on the floor: not left, of orders that the plan there has not."""
    found: dict[str, list[str]] = {}
    for plan, load in tx.floor.loads_of_earlier_releases():
        found.setdefault(plan, []).append(load)
    return found


def plans_on_floor(tx: Transaction) -> dict[str, frozenset[str] | None]:
    """Return the plans that things on the floor are of, the released one first; of earlier ones the orders that count."""
    now = released_plan(tx)
    if now is None:
        return {}
    carried = {plan: frozenset(order_of(load) for load in loads) for plan, loads in loads_of_earlier_releases(tx).items()}
    return {now: None, **carried}
