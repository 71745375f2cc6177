"""The ledger's proof: what came is there, was taken, or was thrown away, to the nanometre; worked out from the events anew."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from solver.domain import event as told
from solver.domain.book import ItemState


def ledger_discrepancies(items: Iterable[ItemState], standing: Sequence[told.AnyEvent]) -> tuple[str, ...]:
    """Return what does not add up, from items as they are kept and all events that stand; nothing where the ledger balances.

    For each item: what the events say came, went and came back, in pieces and in nanometres, against its own columns; and
    what came from outside and from bars is what is there, what was drawn and not returned, and what was thrown away.
    """
    faults = []
    for item in items:
        length = item.length_nm or 0
        said = _said_of(item.item, standing)
        kept = {"received": item.received, "drawn": item.drawn, "returned": item.returned, "scrapped": item.scrapped}
        faults += [
            f"item {item.name}: {name} is {kept[name]} ({kept[name] * length} nm), the events say {count}"
            for name, count in said.items()
            if kept[name] != count
        ]
        came, gone = (item.received + item.found) * length, (item.drawn - item.returned + item.scrapped) * length
        if came != item.count * length + gone:
            faults.append(f"item {item.name}: {came} nm came, {item.count * length} nm are there and {gone} nm gone")
        if item.found and not any(isinstance(one, told.Counted) and one.item == item.item for one in standing):
            faults.append(f"item {item.name}: {item.found} were found, and nobody counted")
    return tuple(faults)


def _said_of(item: int, standing: Sequence[told.AnyEvent]) -> dict[str, int]:
    mine = [one for one in standing if getattr(one, "item", None) == item]
    return {
        "received": sum(
            one.count if isinstance(one, told.Received) else 1
            for one in mine
            if isinstance(one, told.Received | told.DropPutAway)
        ),
        "drawn": sum(
            one.count if isinstance(one, told.Drawn) else 1 for one in mine if isinstance(one, told.Drawn | told.BarBegun)
        ),
        "returned": sum(
            one.count if isinstance(one, told.Returned) else 1
            for one in mine
            if isinstance(one, told.Returned | told.BarSetAside)
        ),
        "scrapped": sum(one.count for one in mine if isinstance(one, told.StockScrapped)),
    }
