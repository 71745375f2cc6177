"""How far orders are, from the book's tables and the released rows; withdraw one, hold one back."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import fields
from datetime import datetime, timedelta

from service.clock import utc_now_text
from service.contracts.orders import OPEN, Life, Made, OrderDecided, OrderLive, OrderNow, OrderRead, Progress, Wait
from service.errors import Conflict, NotFound
from service.ports import OrderDecision, OrderTally, Store, Transaction
from service.usecases.ask.pieces import is_planned_for_making
from service.usecases.plan_rows import operations_between, timetable_head
from solver.domain.book import PieceState
from solver.errors import FieldFault

NO_BAR = "no bar of the plan on the floor is for it: the next plan has it made"
NO_TIME = "the timetable on the floor has no work for it"
WHYS = (NO_BAR, NO_TIME)


def order_lives(tx: Transaction) -> dict[str, Life]:
    """Return how far every order is, at its newest revision."""
    decided, planned, tallies = tx.life.decisions(), tx.life.planned(), tx.life.tallies()
    return {
        line.id: _life(line.revision, decided.get(line.id), planned.get(line.id), tallies.get(line.id))
        for line in tx.orders.lines()
    }


def read_order_lives(*, store: Store) -> Mapping[str, Life]:
    """Return how far every order is, at its newest revision."""
    with store.reading() as tx:
        return order_lives(tx)


def open_orders(tx: Transaction) -> tuple[str, ...]:
    """Return the orders that a plan of all open ones has, by name: not withdrawn, not shipped, not held back."""
    return tuple(sorted(name for name, life in order_lives(tx).items() if life.state in OPEN and not life.held))


def order_life(tx: Transaction, order: str, revision: int) -> Life:
    """Return how far an order is, `revision` being its newest."""
    decided, planned, tallies = tx.life.decisions(order), tx.life.planned(order), tx.life.tallies(order)
    return _life(revision, decided.get(order), planned.get(order), tallies.get(order))


def read_live_order(order_id: str, *, store: Store) -> OrderLive:
    """Return an order with how far it is, what of it waits, and what is made of it. Raises NotFound."""
    with store.reading() as tx:
        order = tx.orders.read(order_id)
        life = order_life(tx, order_id, order.revision)
        waits = () if life.plan is None else tuple(_waits(tx, order_id, life.plan))
        made = _made(tx, order_id)
    held = {one.name: getattr(order, one.name) for one in fields(OrderRead)}
    return OrderLive(
        **held, state=life.state, held=life.held, progress=life.progress, waits=waits, made=made, withdrawn_at=life.withdrawn_at
    )


def withdraw_order(order_id: str, *, store: Store) -> OrderDecided:
    """Withdraw an order at its newest revision; what is made of it already is listed. Again it changes nothing.

    Raises NotFound, and Conflict where all of it has left.
    """
    with store.writing() as tx:
        tx.events.lock()  # no truck leaves between looking and writing
        revision, life = _now(tx, order_id)
        if life.state == "shipped":
            raise Conflict("shipped", FieldFault("order", f"all of {order_id} has left", "nothing: it is done"))
        if life.state != "withdrawn":
            tx.life.record_decision(order_id, revision, "withdrawn", utc_now_text())
        return _decided(tx, order_id)


def hold_order(order_id: str, *, back: bool, store: Store) -> OrderDecided:
    """Hold an order back from plans of all open orders, or let it go on. Raises NotFound."""
    with store.writing() as tx:
        tx.events.lock()
        revision, life = _now(tx, order_id)
        if life.held != back:
            tx.life.record_decision(order_id, revision, "held" if back else "freed", utc_now_text())
        return _decided(tx, order_id)


def _now(tx: Transaction, order_id: str) -> tuple[int, Life]:
    revision = tx.orders.newest(order_id)
    if revision is None:
        raise NotFound("order", order_id)
    return revision, order_life(tx, order_id, revision)


def _decided(tx: Transaction, order_id: str) -> OrderDecided:
    revision, life = _now(tx, order_id)
    return OrderDecided(
        id=order_id,
        revision=revision,
        state=life.state,
        held=life.held,
        progress=life.progress,
        made=_made(tx, order_id),
    )


def _made(tx: Transaction, order_id: str) -> tuple[Made, ...]:
    return tuple(
        Made(piece=one.piece, making=one.making, state=one.state, bundle=one.bundle, load=one.load)
        for one in tx.life.made(order_id)
    )


def _life(revision: int, decided: OrderDecision | None, planned: int | None, tally: OrderTally | None) -> Life:
    said = decided or OrderDecision()
    gone = said.withdrawn if said.withdrawn is not None else 0
    shown = None if tally is None or tally.revision <= gone else tally  # a new revision of what was withdrawn begins anew
    withdrawn = revision <= gone
    return Life(
        state="withdrawn" if withdrawn else _state(revision, planned, shown),
        held=said.held,
        progress=_progress(tally if withdrawn else shown),
        plan=None if shown is None else shown.plan,
        withdrawn_at=said.withdrawn_at if withdrawn else None,
    )


def _state(revision: int, planned: int | None, tally: OrderTally | None) -> OrderNow:
    """How far an order that counts is: by what left, then by what is begun, then by what is released and planned."""
    if tally is None:
        return "planned" if planned == revision else "received"
    whole = tally.pieces > 0 and tally.left == tally.pieces
    if whole or (tally.loads > 0 and tally.loads_left == tally.loads):
        return "shipped"
    if tally.left or tally.loads_left:
        return "part_shipped"
    return "in_work" if tally.begun else "released"


def _progress(tally: OrderTally | None) -> Progress:
    if tally is None:
        return Progress(pieces=None)
    return Progress(pieces=tally.pieces, cut=tally.cut, laid=tally.laid, on=tally.on, left=tally.left)


def _waits(tx: Transaction, order_id: str, plan: str) -> Iterator[Wait]:
    """The pieces that are to be made again, and the bundles that wait for them."""
    names = tx.life.pieces_to_remake(order_id)
    if not names:
        return
    bars: dict[str, str] = {}
    bundles: dict[str, list[str]] = {}
    for name, state in tx.book.states("piece", names).items():
        bar, bundle = tx.floor.bar_and_bundle_of(plan, name)
        if bundle is not None:
            bundles.setdefault(bundle, []).append(name)
        if bar is not None and isinstance(state, PieceState) and is_planned_for_making(tx, plan, state):
            bars[name] = bar
    cut, done = _times(tx, plan, set(bars.values()), set(bundles)) if bars else ({}, {})
    for name in names:
        until = cut.get(bars[name]) if name in bars else None
        why = None if until is not None else NO_TIME if name in bars else NO_BAR
        yield Wait(reason="remake", piece=name, until=until, why=why)
    for bundle, pieces in sorted(bundles.items()):
        planned = all(name in bars for name in pieces)
        until = done.get(bundle) if planned else None
        why = None if until is not None else NO_TIME if planned else NO_BAR
        yield Wait(reason=", ".join(sorted(pieces)), bundle=bundle, until=until, why=why)


def _times(tx: Transaction, plan: str, bars: set[str], bundles: set[str]) -> tuple[dict[str, str], dict[str, str]]:
    """When the last work on bars, and on bundles, ends by a plan's timetable."""
    epoch = datetime.fromisoformat(timetable_head(tx, plan).table.epoch)
    cut: dict[str, int] = {}
    done: dict[str, int] = {}
    for one in operations_between(tx, plan):
        for bar in bars & {str(name) for name in one.bars}:
            if one.step == "cut":
                cut[bar] = max(cut.get(bar, 0), one.end_s)
        if one.about in bundles and one.step == "bundle":
            done[one.about] = max(done.get(one.about, 0), one.end_s)

    def told(ends: dict[str, int]) -> dict[str, str]:
        return {name: (epoch + timedelta(seconds=end)).isoformat() for name, end in ends.items()}

    return told(cut), told(done)
