"""Take orders in, list them, read one."""

from __future__ import annotations

import hashlib
import json
from typing import Any

from service.clock import utc_now_text
from service.contracts.orders import OrderKept, OrderLine, OrderList
from service.ports import Store
from solver.domain.building import Building
from solver.domain.plant import Plant
from solver.errors import FaultCollector
from solver.reading.read_order import read_order

ID_MOST = 100  # characters; ids of orders go into ids of everything


def store_order(data: Any, plant: Plant, *, store: Store) -> OrderKept:
    """Store an order that is sound; the same document again is no fault. Raises InputError with every fault."""
    building = read_order(data, plant)
    document = json.dumps(data, ensure_ascii=False)
    digest = hashlib.sha256(document.encode()).hexdigest()
    with store.writing() as tx:
        there = tx.orders.digest(building.order, building.revision)
        if there == digest:
            return OrderKept(id=building.order, revision=building.revision, new=False)
        _judge_revision(building, there, tx.orders.newest(building.order))
        new = tx.orders.add(_line(building), digest=digest, document=document)
        if not new and (there := tx.orders.digest(building.order, building.revision)) != digest:
            _judge_revision(building, there, tx.orders.newest(building.order))
    return OrderKept(id=building.order, revision=building.revision, new=new)


def list_orders(*, store: Store) -> OrderList:
    """Return all orders at their newest revision, newest first."""
    with store.reading() as tx:
        return OrderList(orders=tx.orders.lines())


def _judge_revision(building: Building, there: str | None, newest: int | None) -> None:
    faults = FaultCollector()
    if len(building.order) > ID_MOST:
        faults.add("id", f"has {len(building.order)} characters, over {ID_MOST}", "a short id")
    if there is not None:
        faults.add(
            "revision",
            f"revision {building.revision} of {building.order} is stored already, with other contents",
            f"revision {(newest or building.revision) + 1}",
        )
    elif newest is not None and building.revision < newest:
        faults.add(
            "revision", f"{building.revision} is older than revision {newest}, which is stored", f"revision {newest + 1}"
        )
    faults.raise_if_any()


def _line(building: Building) -> OrderLine:
    wanted = sorted(delivery.need_by for delivery in building.deliveries)
    return OrderLine(
        id=building.order,
        revision=building.revision,
        name=building.ship_to.name,
        need_by=wanted[0] if wanted else None,
        received_at=utc_now_text(),
    )
