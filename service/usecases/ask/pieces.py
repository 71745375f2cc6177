"""Where a piece is: what the book tells of it, and what the plan on the floor means to do with it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import cast

from service.contracts.floor import LabelRead, PieceRead
from service.errors import NotFound
from service.ports import Store, Transaction
from service.usecases.ask.events import question_contract
from service.usecases.ask.floor import plan_of_thing
from solver.book.things import book_label_name
from solver.domain.book import BundleState, LabelState, PieceNow, PieceState
from solver.domain.ids import order_of, short_name


def read_piece(name: str, *, store: Store) -> PieceRead:
    """Return where a piece is. Raises NotFound where neither a plan on the floor nor the book has it."""
    with store.reading() as tx:
        plan = plan_of_thing(tx, name)
        bar, bundle = (None, None) if plan is None else tx.floor.bar_and_bundle_of(plan, name)
        found = tx.book.state("piece", name)
        if found is None and (bar, bundle) == (None, None):
            raise NotFound("piece", name)
        state = found if isinstance(found, PieceState) else PieceState(name=name)
        now = cast(PieceNow, tx.book.now("piece", [name]).get(name, "wanted"))
        if now == "wanted" and bar is not None and is_planned_for_making(tx, plan, state):
            now = "on_bar"
        lies_on = state.bundle if state.state != "wanted" and state.bundle else bundle
        carrier = tx.book.state("bundle", lies_on) if lies_on is not None else None
        load = carrier.load if isinstance(carrier, BundleState) and carrier.load else None
        if load is None and plan is not None and lies_on is not None:
            load = tx.floor.load_of(plan, lies_on)
        labels = tx.book.states("label", [book_label_name(name, n) for n in range(1, state.making + 1)] + [name])
    return PieceRead(
        order=order_of(name),
        mark=short_name(name),
        making=state.making,
        state=now,
        bar=state.bar if state.state != "wanted" and state.bar else bar if now == "on_bar" else None,
        bundle=lies_on,
        load=load,
        labels=tuple(_label(name, n, state, labels) for n in range(1, state.making + 1)),
        questions=tuple(question_contract("piece", one) for one in state.questions),
    )


def is_planned_for_making(tx: Transaction, plan: str | None, state: PieceState) -> bool:
    """Whether the plan that has a bar for a piece is for the making that is wanted: it was released after the scrap."""
    if state.scrap is None:
        return True
    scrap, released = tx.events.by_id(state.scrap), tx.plans.released()
    return scrap is not None and released is not None and released[0] == plan and scrap.received_at < released[1]


def _label(name: str, making: int, state: PieceState, labels: Mapping[str, object]) -> LabelRead:
    """A label of a making: it holds as long as that making is the one that counts and nobody voided it."""
    told = labels.get(book_label_name(name, making)) or (labels.get(name) if making == 1 else None)
    void = isinstance(told, LabelState) and told.state == "void"
    return LabelRead(making=making, valid=making == state.making and not void, printed=isinstance(told, LabelState))
