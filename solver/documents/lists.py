"""Rows of the packing list and the purchase list."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import replace

from solver.documents.bundles import bundle_tag
from solver.documents.index import PlanIndex
from solver.documents.materials import is_made_by_plant
from solver.domain.document import PackingList, PackingRow, PurchaseRow
from solver.domain.ids import StockId, short_name
from solver.domain.takeoff import HardwareLine, Takeoff
from solver.units import Cents, Grams


def packing_lists(index: PlanIndex) -> tuple[PackingList, ...]:
    """Return a packing list for every order of a plan."""
    return tuple(_packing(index, takeoff) for takeoff in index.plan.takeoffs)


def _packing(index: PlanIndex, takeoff: Takeoff) -> PackingList:
    building = takeoff.building
    rows = []
    for bundle in index.bundles.values():
        if bundle.order != building.order:
            continue
        tag = bundle_tag(index, bundle.id)
        load = index.loads.get(bundle.id)
        rows.append(
            PackingRow(
                bundle=bundle.id,
                name=tag.name,
                serial=tag.serial,
                load=short_name(load.id) if load else "",
                count=len(bundle.pieces),
                weight_g=bundle.weight_g,
                length_nm=bundle.length_nm,
                marks=tuple(row.mark for row in tag.rows),
                items=bundle.items,
            )
        )
    return PackingList(
        order=building.order,
        unit=building.unit,
        ship_to=(building.ship_to.name, *building.ship_to.lines, building.ship_to.country),
        deliveries=building.deliveries,
        rows=tuple(rows),
        hardware=_unboxed(hardware_by_item(takeoff.hardware), rows),
        weight_g=Grams(sum(row.weight_g for row in rows)),
    )


def _unboxed(lines: Iterable[HardwareLine], rows: Iterable[PackingRow]) -> tuple[HardwareLine, ...]:
    """Return what of an order's hardware no box holds."""
    boxed: Counter[str] = Counter()
    for row in rows:
        for item in row.items:
            boxed[item.item] += item.quantity
    left = ((line, line.quantity - boxed[line.item]) for line in lines)
    return tuple(replace(line, quantity=more, packs=-(-more // line.pack)) for line, more in left if more > 0)


def hardware_by_item(lines: Iterable[HardwareLine]) -> tuple[HardwareLine, ...]:
    """Return hardware summed by item over all groups; whole packs as the takeoff rounded them."""
    found: dict[tuple[str, int], list[HardwareLine]] = defaultdict(list)
    for line in lines:
        found[line.item, line.pack].append(line)
    return tuple(
        HardwareLine(
            item=item,
            quantity=sum(line.quantity for line in same),
            pack=pack,
            packs=max(-(-sum(line.quantity for line in same) // pack), 0),
            why="; ".join(dict.fromkeys(line.why for line in same)),
        )
        for (item, pack), same in found.items()
    )


def purchase_rows(index: PlanIndex) -> tuple[PurchaseRow, ...]:
    """Return what a plan needs of bars and hardware, what of it lies on the rack, and what is to buy or make.

    A bar whose stock has a count is on hand; one without is made at the plant where it makes them, else bought; both are
    shown at the catalog's price.
    """
    rows: list[PurchaseRow] = []
    for cut in index.plan.cuts:
        made = is_made_by_plant(index, cut.material)
        stock = {one.id: one for one in cut.job.stock}
        lengths: dict[int, list[StockId]] = defaultdict(list)
        for bar in cut.bars:
            lengths[bar.length_nm].append(bar.stock)
        for length in sorted(lengths):
            used = lengths[length]
            bought = [stock[one] for one in used if one in stock and stock[one].count is None]  # a remnant may be of no job
            priced = [one.cost for one in bought if one.cost is not None]
            rows.append(
                PurchaseRow(
                    kind="bar",
                    item=index.names.of(cut.material),
                    length_nm=next(bar.length_nm for bar in cut.bars if bar.length_nm == length),
                    needed=len(used),
                    on_hand=len(used) - len(bought),
                    to_buy=0 if made else len(bought),
                    to_make=len(bought) if made else 0,
                    cents=Cents(round(sum(priced))) if len(priced) == len(bought) else None,
                )
            )
    hardware = hardware_by_item(line for takeoff in index.plan.takeoffs for line in takeoff.hardware)
    rows += [
        PurchaseRow(
            kind="hardware",
            item=line.item,
            length_nm=None,
            needed=line.quantity,
            on_hand=0,
            to_buy=line.packs,
            cents=None,
            note=f"{line.pack}",
        )
        for line in hardware
    ]
    return tuple(rows)
