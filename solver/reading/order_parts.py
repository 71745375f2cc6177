"""An order taken apart so that one bad part does not hide the faults of the others."""

from __future__ import annotations

from dataclasses import MISSING, dataclass, field
from typing import Any, TypeVar

from solver.codec import decode, json_fields
from solver.domain.order import (
    Level,
    Order,
    OrderAnchors,
    OrderBearingWall,
    OrderColours,
    OrderDelivery,
    OrderFamilies,
    OrderFurring,
    OrderOpening,
    Outline,
    Roof,
    Site,
    Start,
)
from solver.errors import FaultCollector, InputError
from solver.units import Unit

T = TypeVar("T")


@dataclass(slots=True, kw_only=True)
class OrderParts:
    """An order's parts in their places; a part that could not be read is None, and its id is in `unread`."""

    whole: Order | None
    unit: Unit
    outlines: dict[str, Outline | None]
    levels: list[Level | None]
    openings: list[OrderOpening | None]
    bearing: list[OrderBearingWall | None]
    furring: list[OrderFurring | None]
    roofs: list[Roof | None]
    deliveries: list[OrderDelivery | None]
    families: OrderFamilies
    colours: OrderColours
    start: Start | None
    anchors: OrderAnchors
    site: Site | None
    unread: set[str] = field(default_factory=set)  # ids whose part was not read: references to them are not judged

    @property
    def broken(self) -> bool:
        """Whether the document's own form has faults."""
        return self.whole is None


def split_order(data: Any, faults: FaultCollector) -> OrderParts:
    """Return the parts of an order's JSON value; faults of form are noted with their paths."""
    try:
        return _of_whole(decode(Order, data, name="$", unit=unit_of(data)))
    except InputError as error:
        faults.extend(error.faults)
    return _of_pieces(data if isinstance(data, dict) else {})


def unit_of(data: Any) -> Unit | None:
    """Return the unit that a document states, if it states one."""
    said = data.get("unit") if isinstance(data, dict) else None
    return said if said in ("mm", "in") else None


def _of_whole(order: Order) -> OrderParts:
    return OrderParts(
        whole=order,
        unit=order.unit,
        outlines=dict(order.outlines),
        levels=list(order.levels),
        openings=list(order.openings),
        bearing=list(order.bearing_walls),
        furring=list(order.furring),
        roofs=list(order.roofs),
        deliveries=list(order.deliveries),
        families=order.families,
        colours=order.colours,
        start=order.start,
        anchors=order.anchors,
        site=order.site,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _Roofs:
    """Holds one roof, so that the codec tells its kind."""

    roof: Roof


def _of_pieces(data: dict[str, Any]) -> OrderParts:
    unit = unit_of(data)
    unread: set[str] = set()

    def each(kind: type[T], name: str) -> list[T | None]:
        items = data.get(name)
        return [_one(kind, item, unit, unread) for item in items[:2000]] if isinstance(items, list) else []

    outlines = data.get("outlines")
    named = list(outlines.items())[:100] if isinstance(outlines, dict) else []
    roofs = data.get("roofs")
    wrapped = [{"roof": item} for item in roofs[:50]] if isinstance(roofs, list) else []
    held = [_one(_Roofs, item, unit, unread) for item in wrapped]
    made = {str(name): _one(Outline, item, unit, unread) for name, item in named}
    unread |= {name for name, item in made.items() if item is None}
    return OrderParts(
        whole=None,
        unit=unit or "mm",
        outlines=made,
        levels=each(Level, "levels"),
        openings=each(OrderOpening, "openings"),
        bearing=each(OrderBearingWall, "bearing_walls"),
        furring=each(OrderFurring, "furring"),
        roofs=[item.roof if item else None for item in held],
        deliveries=each(OrderDelivery, "deliveries"),
        families=_one(OrderFamilies, data.get("families", {}), unit, unread) or OrderFamilies(),
        colours=_one(OrderColours, data.get("colours", {}), unit, unread) or OrderColours(),
        start=_one(Start, data["start"], unit, unread) if "start" in data else None,
        anchors=_one(OrderAnchors, data.get("anchors", {}), unit, unread) or OrderAnchors(),
        site=_one(Site, data.get("site"), unit, unread),
        unread=unread,
    )


def _one(kind: type[T], item: Any, unit: Unit | None, unread: set[str]) -> T | None:
    """Return one part, or, where only unknown or optional fields are at fault, the part without them, or None."""
    try:
        return decode(kind, item, name="$", unit=unit)
    except InputError as error:
        if isinstance(item, dict):
            known = json_fields(kind)
            bad = {fault.path.split(".")[0].split("[")[0] for fault in error.faults}
            left = {
                key: value
                for key, value in item.items()
                if key not in bad or (key in known and known[key][0].default is MISSING)
            }
            if left != item:
                return _one(kind, left, unit, unread)
            inner = item.get("roof", item)
            name = inner.get("id") if isinstance(inner, dict) else None
            if isinstance(name, str):
                unread.add(name)
    return None
