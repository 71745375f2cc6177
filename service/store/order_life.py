"""How far orders are: what persons decided of them, and what the book and the releases tell of their things, grouped."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from sqlalchemy import ColumnElement, Connection, and_, case, func, insert, or_, select

from service.contracts.orders import Decision
from service.ports import MadePiece, OrderDecision, OrderTally
from service.store.tables import (
    bundle_pieces,
    bundle_states,
    load_states,
    loads,
    order_decisions,
    piece_states,
    plan_orders,
    releases,
)

STATES = ("on_bar", "cut", "laid", "on", "left")
MADE = STATES[1:]


class SqlOrderLife:
    """Decisions of orders, and tallies of their things."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def record_decision(self, order: str, revision: int, kind: Decision, at: str) -> None:
        """Write down what was decided of an order."""
        self._connection.execute(insert(order_decisions).values(order=order, revision=revision, kind=kind, at=at))

    def decisions(self, order: str | None = None) -> dict[str, OrderDecision]:
        """Return what was decided of orders, of one where it is named: its last withdrawal, and whether it is held back."""
        asked = select(order_decisions).order_by(order_decisions.c.number)
        found: dict[str, OrderDecision] = {}
        for row in self._connection.execute(asked if order is None else asked.where(order_decisions.c.order == order)):
            known = found.get(row.order, OrderDecision())
            if row.kind == "withdrawn":
                found[row.order] = OrderDecision(withdrawn=row.revision, withdrawn_at=row.at, held=known.held)
            else:
                found[row.order] = OrderDecision(known.withdrawn, known.withdrawn_at, row.kind == "held")
        return found

    def planned(self, order: str | None = None) -> dict[str, int]:
        """Return the newest revision of each order that a plan was made of."""
        asked = select(plan_orders.c.order, func.max(plan_orders.c.revision)).group_by(plan_orders.c.order)
        rows = self._connection.execute(asked if order is None else asked.where(plan_orders.c.order == order))
        return {str(row[0]): int(row[1]) for row in rows}

    def tallies(self, order: str | None = None) -> dict[str, OrderTally]:
        """Return, by order, the newest release that has it, and how many of its pieces and loads are where."""
        last = select(plan_orders.c.order, func.max(releases.c.number).label("number"))
        last = last.join(releases, releases.c.plan == plan_orders.c.plan).group_by(plan_orders.c.order)
        if order is not None:
            last = last.where(plan_orders.c.order == order)
        top = last.subquery()
        asked = select(top.c.order, releases.c.plan, plan_orders.c.revision).join(releases, releases.c.number == top.c.number)
        asked = asked.join(plan_orders, and_(plan_orders.c.plan == releases.c.plan, plan_orders.c.order == top.c.order))
        found = {str(row[0]): OrderTally(plan=row[1], revision=row[2]) for row in self._connection.execute(asked)}
        plans = {one.plan for one in found.values()}
        self._count_pieces(found, plans, order)
        self._count_loads(found, plans, order)
        return found

    def _count_pieces(self, found: dict[str, OrderTally], plans: Collection[str], order: str | None) -> None:
        whose = _order_of(bundle_pieces.c.piece)
        begun = func.sum(case((piece_states.c.state.in_(STATES), 1), (piece_states.c.making > 1, 1), else_=0))
        counts = (_at_least(state) for state in MADE)
        asked = select(bundle_pieces.c.plan, whose.label("whose"), func.count().label("pieces"), begun.label("begun"), *counts)
        asked = asked.outerjoin(piece_states, piece_states.c.name == bundle_pieces.c.piece)
        asked = asked.where(bundle_pieces.c.plan.in_(plans)).group_by(bundle_pieces.c.plan, whose)
        if order is not None:
            asked = asked.where(whose == f"{order}/")
        for row in self._connection.execute(asked):
            tally = found.get(row.whose[:-1])
            if tally is not None and tally.plan == row.plan:
                tally.pieces, tally.begun = row.pieces, row.begun
                tally.cut, tally.laid, tally.on, tally.left = row.cut, row.laid, row.on, row.left

    def _count_loads(self, found: dict[str, OrderTally], plans: Collection[str], order: str | None) -> None:
        whose = _order_of(loads.c.id)
        gone = func.sum(case((load_states.c.state == "left", 1), else_=0))
        asked = select(loads.c.plan, whose.label("whose"), func.count().label("loads"), gone.label("gone"))
        asked = asked.outerjoin(load_states, load_states.c.name == loads.c.id)
        asked = asked.where(loads.c.plan.in_(plans)).group_by(loads.c.plan, whose)
        if order is not None:
            asked = asked.where(whose == f"{order}/")
        for row in self._connection.execute(asked):
            tally = found.get(row.whose[:-1])
            if tally is not None and tally.plan == row.plan:
                tally.loads, tally.loads_left = row.loads, row.gone

    def made(self, order: str) -> tuple[MadePiece, ...]:
        """Return what is made of an order, by the book: each piece cut, with its bundle and truck."""
        asked = select(
            piece_states.c.name, piece_states.c.making, piece_states.c.state, piece_states.c.bundle, bundle_states.c.load
        )
        asked = asked.outerjoin(bundle_states, bundle_states.c.name == piece_states.c.bundle)
        asked = asked.where(_order_of(piece_states.c.name) == f"{order}/", piece_states.c.state.in_(MADE))
        rows = self._connection.execute(asked.order_by(piece_states.c.name))
        return tuple(MadePiece(row.name, row.making, row.state, row.bundle, row.load) for row in rows)

    def pieces_to_remake(self, order: str) -> tuple[str, ...]:
        """Return the pieces of an order that were scrapped and are not made again."""
        asked = select(piece_states.c.name).where(_order_of(piece_states.c.name) == f"{order}/", piece_states.c.making > 1)
        asked = asked.where(or_(piece_states.c.state == "wanted", piece_states.c.state == "on_bar"))
        return tuple(self._connection.execute(asked.order_by(piece_states.c.name)).scalars())


def _order_of(name: Any) -> ColumnElement[str]:
    """A name up to its last slash, that with it: what is left when all letters that are no slash fall off its end."""
    return func.rtrim(name, func.replace(name, "/", ""))


def _at_least(state: str) -> ColumnElement[Any]:
    """How many pieces came as far as a state, or farther."""
    return func.sum(case((piece_states.c.state.in_(MADE[MADE.index(state) :]), 1), else_=0)).label(state)
