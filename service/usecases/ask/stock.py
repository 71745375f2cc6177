"""The stock ledger: what is there, who holds it, what moved; and the book's opening from the catalog."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields
from datetime import UTC, datetime, timedelta
from typing import Any

from service.clock import utc_now_text
from service.contracts.floor import EventKept
from service.contracts.stock import Held, MovementKept, StockLine, StockList, StockRead
from service.errors import NotFound
from service.ports import Store, Transaction
from service.printing.labels import LabelStyle
from service.printing.stock_labels import stock_label_pdf
from service.usecases.ask.events import question_contract, refuse_faulty_event, store_event
from solver.codec import decode
from solver.domain.book import ItemState, Thing, is_unanswered
from solver.domain.event import KINDS, AnyEvent, BookOpened, Received
from solver.domain.plant import Keeping, Plant
from solver.errors import FieldFault, InputError

MOVEMENTS = ("received", "counted", "drawn", "returned", "scrapped", "moved", "reserved", "freed")
OPENING = "opening:0"  # the event with which the book opens
AGES = ("remnant", "drop")


def list_stock(plant: Plant, *, after: int = 0, limit: int = 200, gone: bool = False, store: Store) -> StockList:
    """Return stock items by number, after one; those that are gone only where asked for."""
    with store.reading() as tx:
        found = tx.book.stock(after=after, limit=limit + 1, gone=gone)
    lines = tuple(stock_line(item, plant.keeping) for item in found[:limit])
    return StockList(unit=plant.unit, stock=lines, more=len(found) > limit)


def read_stock_item(number: int, plant: Plant, *, store: Store) -> StockRead:
    """Return a stock item with all that happened to it. Raises NotFound."""
    with store.reading() as tx:
        item = _item(tx, number)
        told = tx.book.events_of_thing(Thing("item", str(number)))
        moved = tuple(kept for one in told if (kept := tx.events.by_id(one.event.id)) is not None)
    line = stock_line(item, plant.keeping)
    return StockRead(
        **{one.name: getattr(line, one.name) for one in fields(line)},
        unit=plant.unit,
        received=item.received,
        found=item.found,
        drawn=item.drawn,
        returned=item.returned,
        scrapped=item.scrapped,
        movements=moved,
        questions=tuple(question_contract("item", one) for one in item.questions),
    )


def move_stock(data: Any, plant: Plant, *, store: Store) -> MovementKept:
    """Keep a movement of stock, once however often it is sent, and return the item after it.

    Raises InputError with every fault; NotFound for an item that never was; Conflict where more would be promised than is free.
    """
    event = _movement(data, plant)
    number = getattr(event, "item", None)
    if number is not None:
        with store.reading() as tx:
            _item(tx, number)
    kept = store_event(event, store=store)
    return _moved(kept, plant, store)


def _moved(kept: EventKept, plant: Plant, store: Store) -> MovementKept:
    number = getattr(kept.body, "item", None)
    if number is None:  # an id that was another event's
        raise InputError(FieldFault("id", f"{kept.id} is an event about no stock: a {kept.kind}", "an id that was never sent"))
    with store.reading() as tx:
        return MovementKept(unit=plant.unit, event=kept, item=stock_line(_item(tx, number), plant.keeping))


def _movement(data: Any, plant: Plant) -> AnyEvent:
    kind = data.get("kind") if isinstance(data, dict) else None
    if not isinstance(data, dict) or kind not in MOVEMENTS:
        fix = f"one of {', '.join(MOVEMENTS)}"
        raise InputError(FieldFault("kind", f"{str(kind)[:60]!r} is no movement of stock", fix))
    said = {"at": utc_now_text(), "unit": plant.unit, **data}
    if kind == "scrapped":
        said["kind"] = "stock_scrapped"
    if isinstance(said.get("item"), str) and said["item"].isdecimal():
        said["item"] = int(said["item"])
    event: AnyEvent = decode(KINDS[said["kind"]], said, name="$")
    refuse_faulty_event(event)
    if isinstance(event, Received) and event.item is None and event.material is None:
        raise InputError(FieldFault("material", "is missing", "the material of a new item, or the number of one that is there"))
    return event


def _item(tx: Transaction, number: int) -> ItemState:
    item = tx.book.state("item", str(number))
    if not isinstance(item, ItemState):
        raise NotFound("stock item", str(number))
    return item


def stock_line(item: ItemState, keeping: Keeping) -> StockLine:
    """Return an item as the web tells it."""
    return StockLine(
        item=item.item,
        kind=item.stock,
        material=item.material,
        name=item.called,
        length_nm=item.length_nm,
        width_nm=item.width_nm,
        thickness_nm=item.thickness_nm,
        joints=item.joints,
        weight_g=item.weight_g,
        litres=item.litres,
        count=item.count,
        reserved=item.reserved,
        place=item.place,
        source=item.source,
        since=item.since,
        ready=item.ready,
        heat=item.heat,
        batch=item.batch,
        holders=tuple(Held(count=one.count, holder=one.holder) for one in item.reservations),
        to_count=any(one.kind == "to_count" and is_unanswered(one) for one in item.questions),
        ageing=item.count > 0 and _old(item, keeping),
    )


def _old(item: ItemState, keeping: Keeping) -> bool:
    """Whether a remnant or drop lies longer than the catalog keeps it: a person is to write it off."""
    if item.stock not in AGES or item.since is None:
        return False
    since = datetime.fromisoformat(item.since)
    aware = since if since.tzinfo is not None else since.replace(tzinfo=UTC)
    return aware + timedelta(days=keeping.days) < datetime.now(UTC)


def stock_item_label(number: int, plant: Plant, style: LabelStyle, *, store: Store) -> bytes:
    """Return the label of a stock item, as PDF. Raises NotFound."""
    with store.reading() as tx:
        item = _item(tx, number)
    return stock_label_pdf(item.to_stock_item(), plant, style)


def take_over_catalog_stock(plant: Plant, *, store: Store) -> int:
    """Take the catalog's stock over as received, once in the life of a store; return how many items were taken over.

    Two processes that start at once open it once: the first event's id is always the same.
    """
    items = tuple(_opening(plant, utc_now_text()))
    with store.writing() as tx:
        tx.events.lock()
        if tx.events.by_id(OPENING) is not None:
            return 0
        opened = BookOpened(id=OPENING, kind="book_opened", at=utc_now_text(), plant=plant.id, items=len(items))
        tx.events.add(opened)
        for event in items:
            tx.events.add(event)
    return len(items)


def _opening(plant: Plant, at: str) -> Iterator[Received]:
    """The events by which a catalog's stock comes into the book."""
    stock = plant.stated_stock
    said: list[dict[str, Any]] = [
        {"stock": "lot", "material": lot.material, "length_nm": lot.length_nm, "count": lot.count}
        for lot in stock.bars
        if lot.count > 0
    ]
    said += [
        {
            "stock": "remnant",
            "material": one.material,
            "length_nm": one.length_nm,
            "width_nm": one.width_nm,
            "joints": one.joints,
            "name": one.id,
            "source": one.from_bar,
            "put_away": one.put_away,
        }
        for one in stock.remnants
    ]
    said += [
        {
            "stock": "coil",
            "material": coil.colour,
            "width_nm": coil.width_nm,
            "thickness_nm": coil.thickness_nm,
            "weight_g": coil.weight_g,
            "name": coil.id,
            "heat": coil.heat,
            "batch": coil.batch,
            "ready": coil.arrives,
        }
        for coil in stock.coils
    ]
    said += [{"stock": "block", "material": one.core, "litres": one.litres, "ready": one.ready} for one in stock.cores]
    for n, more in enumerate(said, start=1):
        more["source"] = more.get("source") or "catalog"
        yield Received(id=f"opening:{n}", kind="received", at=at, **more)
