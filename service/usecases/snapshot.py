"""The floor at this instant, as plans go on from it: stock, and where every piece, bundle and load of the open orders is."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import cast

from service.ports import Store, Transaction
from service.usecases.floor_bars import bars_on_floor
from service.usecases.plans_on_floor import plans_on_floor
from service.usecases.stored import read_parts
from solver.domain.book import BundleState, ItemState, LoadState, PieceState
from solver.domain.floor_snapshot import FloorBundle, FloorLoad, FloorPiece, FloorSnapshot, OpenOrder
from solver.domain.floor_snapshot import PieceState as PieceNow
from solver.domain.ids import BundleId, LoadId, OrderId, PieceId, order_of, short_name
from solver.domain.plan import LoadPart, StackPart
from solver.domain.takeoff import Takeoff
from solver.units import Unit


def floor_snapshot(at: str, *, unit: Unit = "mm", store: Store) -> FloorSnapshot:
    """Return the floor after the last event that the store holds; `at` is the instant that it is told for."""
    with store.reading() as tx:
        return read_floor(tx, at, unit=unit)


def read_floor(
    tx: Transaction, at: str, *, unit: Unit = "mm", orders: Collection[str] | None = None, firm_s: int = 0
) -> FloorSnapshot:
    """Return the floor as a transaction sees it, of some `orders` alone where they are named.

    Of the released bars that are not wholly cut, those are begun that somebody told of; those are firm that the press has, or
    that start within `firm_s` seconds of `at`. Nobody tells of the press: it is taken to run as the timetable says.
    """
    seen = tx.events.last()
    open_orders = tuple(one for one in _open_orders(tx) if orders is None or one.order in orders)
    stock = tuple(item.to_stock_item() for item in tx.book.stock())
    names = [piece.id for one in open_orders if one.takeoff for piece in one.takeoff.pieces]
    bundles = {str(bundle.id): bundle for one in open_orders if one.stack for bundle in one.stack.result.bundles}
    loads = [load.id for one in open_orders if one.load for load in one.load.result.loads]
    pieces = {piece.id: piece for piece in _pieces(tx, [str(name) for name in names])}
    bars = []
    for bar, to_come in bars_on_floor(tx, at, firm_s, frozenset(map(str, names))):
        bars.append(bar)
        pieces |= {PieceId(piece): _on_bar(piece, bar.number, pieces.get(PieceId(piece))) for piece in to_come}
    there = {item.item for item in stock}
    last = {str(bar.item) for bar in bars if bar.item is not None and bar.item not in there}  # all of it is drawn
    stock += tuple(state.to_stock_item() for state in tx.book.states("item", last).values() if isinstance(state, ItemState))
    known = tuple(pieces.values())
    return FloorSnapshot(
        unit=unit,
        seen=seen,
        at=at,
        stock=stock,
        orders=open_orders,
        pieces=known,
        bars=tuple(bars),
        last_bar=tx.floor.last_bar(),
        bundles=tuple(_bundles(tx, list(bundles), known)),
        loads=tuple(_loads(tx, [str(name) for name in loads], list(bundles))),
    )


def _on_bar(name: str, bar: int, was: FloorPiece | None) -> FloorPiece:
    making = was.making if was is not None else 1
    return FloorPiece(order=order_of(name), mark=short_name(name), making=making, state="on_bar", bar=bar)


def _open_orders(tx: Transaction) -> Iterator[OpenOrder]:
    """The orders on the floor that have not left whole, each as the plan has it that was released last with it."""
    for plan, names in plans_on_floor(tx).items():
        stacks = {part.order: part for part in read_parts(tx, plan, "stack", StackPart)}
        loads = {part.order: part for part in read_parts(tx, plan, "load", LoadPart)}
        for takeoff in read_parts(tx, plan, "takeoff", Takeoff):
            order = OrderId(takeoff.building.order)
            if names is not None and order not in names:
                continue
            load = loads.get(order)
            trucks = [str(one.id) for one in load.result.loads] if load is not None else []
            gone = tx.book.now("load", trucks)
            if trucks and all(gone.get(name) == "left" for name in trucks):
                continue
            yield OpenOrder(
                order=order, revision=takeoff.building.revision, takeoff=takeoff, stack=stacks.get(order), load=load
            )


def _pieces(tx: Transaction, names: list[str]) -> Iterator[FloorPiece]:
    states, now = tx.book.states("piece", names), tx.book.now("piece", names)
    bundles = tx.book.states("bundle", {one.bundle for one in states.values() if isinstance(one, PieceState) and one.bundle})
    for name, state in states.items():
        if not isinstance(state, PieceState):
            continue
        where = cast(PieceNow, now[name])
        carrier = bundles.get(state.bundle or "")
        load = carrier.load if isinstance(carrier, BundleState) and where in ("on", "left") else None
        yield FloorPiece(
            order=order_of(name),
            mark=short_name(name),
            making=state.making,
            state=where,
            bundle=None if state.bundle is None or where in ("wanted", "cut") else BundleId(state.bundle),
            load=None if load is None else LoadId(load),
        )


def _bundles(tx: Transaction, names: list[str], pieces: tuple[FloorPiece, ...]) -> Iterator[FloorBundle]:
    labels = tx.book.states("label", names)
    laid: dict[str, list[PieceId]] = {}
    for piece in pieces:
        if piece.bundle is not None:
            laid.setdefault(piece.bundle, []).append(piece.id)
    for name, state in tx.book.states("bundle", names).items():
        if isinstance(state, BundleState):
            yield FloorBundle(
                bundle=BundleId(name), laid=tuple(laid.get(name, ())), closed=state.state != "open", tag_printed=name in labels
            )


def _loads(tx: Transaction, names: list[str], bundles: list[str]) -> Iterator[FloorLoad]:
    states = tx.book.states("load", names)
    on: dict[str, list[BundleId]] = {}
    for name, state in tx.book.states("bundle", bundles).items():
        if isinstance(state, BundleState) and state.state == "on" and state.load is not None:
            on.setdefault(state.load, []).append(BundleId(name))
    for load in sorted({*states, *on} & set(names)):
        known = states.get(load)
        left = known if isinstance(known, LoadState) else LoadState(name=load)
        yield FloorLoad(
            load=LoadId(load),
            on=tuple(on.get(load, ())),
            left=left.state == "left",
            without=tuple(BundleId(name) for name in left.without),
        )
