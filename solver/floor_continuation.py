"""How a plan goes on from the floor: what is kept of it, what is free, and what stock is there for what is free.

A plan of some orders starts from a snapshot (`solver/domain/floor_snapshot.py`). An empty one gives the plan of an empty
floor: nothing is kept, everything is free. The way, in this order:

1. **Takeoff.** Each order is taken off against its last takeoff: what is made alike keeps its mark, what fell away is
   retired. What is made of a retired piece, or of an order that is planned no more, is surplus: told, never planned.
2. **Pieces.** A piece is *made* (cut, laid, on a truck, gone), or *to come from a kept bar* (one begun or firm, and the
   piece is not cut of it yet), or *free*: new, wanted again after scrap, or on a bar of a release that is neither.
3. **Bars.** Kept bars stay where they are with their pieces where they lie; of a bar begun only what is still to be cut is
   shown. One that is in the press, or came from it, is not laminated again: it waits for its glue alone. A bar of a release
   that is free falls away: its pieces are nested anew together with all other free ones, so that a new order may fill an old
   order's drops. Its number is the floor's; new bars are numbered behind the highest ever given, through all materials.
4. **Stock.** What is offered to free pieces is what the ledger has: counted lots, remnants and drops as finite stock
   lengths, less what is reserved; reservations of free bars are given back first, for these bars fall away. What is not there
   is bought at the catalog's lengths. The ledger's number is in the stock's name ("item 17"), so that a release can reserve it.
5. **Bundles and loads** of an order that nobody revised stay as they were planned, whole. Those of new and revised orders
   are built anew. A revised order on whose bundles something lies already is refused: not built yet.
6. **Cut order, coils, timetable.** Bars to come are cut kept ones first, begun before firm, then the others as sequencing
   says. The timetable begins at the plan's instant and holds all that is to come: cuts of kept and new bars, bundles with what
   is not laid, trucks that have not left. What is done is in it only as what need not be waited for.
7. **The check** (`solver/check_floor_continuation.py`) proves all of it again from the snapshot and the plan.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from solver.domain.building import Building
from solver.domain.bundle import Bundle
from solver.domain.cut_plan import Remnant
from solver.domain.floor_snapshot import MADE, FloorBar, FloorPiece, FloorSnapshot, OpenOrder
from solver.domain.ids import BundleId, CoilId, MaterialId, OrderId, PieceId, StockId, bar_id, order_of
from solver.domain.kept_work import KeptBar, KeptWork, Surplus
from solver.domain.material import Material
from solver.domain.plan import LoadPart, Making, StackPart
from solver.domain.plant import Plant
from solver.domain.stock import Coil, CoreStock, StockItem, StockOnHand, StockSnapshot
from solver.domain.takeoff import Takeoff
from solver.errors import FaultCollector
from solver.units import Grams, Nm

GONE = ("on", "left")


def snapshot_faults(floor: FloorSnapshot, plant: Plant, *, epoch: str) -> FaultCollector:
    """Return every fault of a snapshot that a plan of this catalog is to go on from at an instant."""
    faults = FaultCollector()
    if datetime.fromisoformat(epoch) < datetime.fromisoformat(floor.at):
        faults.add("start", f"{epoch} is before the floor's {floor.at}", "an instant at or after it")
    for path, names in (
        ("stock", [item.item for item in floor.stock]),
        ("bars", [bar.number for bar in floor.bars]),
        ("pieces", [piece.id for piece in floor.pieces]),
        ("bundles", [one.bundle for one in floor.bundles]),
        ("loads", [one.load for one in floor.loads]),
        ("orders", [one.order for one in floor.orders]),
    ):
        for name in (name for name, times in Counter[object](names).items() if times > 1):
            faults.add(f"floor.{path}", f"{name} is listed twice", "each once")
    items = {item.item: item for item in floor.stock}
    for n, bar in enumerate(floor.bars):
        if bar.item is not None and bar.item not in items:
            faults.add(f"floor.bars[{n}].item", f"{bar.item} is not in the stock", "a stock item, or none")
        if bar.ready is not None and bar.state == "free":
            faults.add(f"floor.bars[{n}].state", "is free, and the bar is in the press or came from it", "firm or begun")
    on_bar = {(bar.number, item.piece) for bar in floor.bars for item in bar.bar.pieces}
    numbers = {bar.number for bar in floor.bars}
    for n, piece in enumerate(floor.pieces):
        if piece.state == "on_bar" and piece.bar in numbers and (piece.bar, piece.id) not in on_bar:
            faults.add(f"floor.pieces[{n}].bar", f"{piece.id} is not on bar {piece.bar}", "the bar that it lies on")
    known = {family.id for family in plant.families} | {profile.id for profile in plant.profiles}
    for n, item in enumerate(floor.stock):
        if item.kind in ("lot", "remnant", "drop") and item.length_nm is None:
            faults.add(f"floor.stock[{n}].length", "is missing", "the length of a lot, remnant or drop")
        if item.kind == "lot" and Material.parse(item.material).item not in known:
            faults.add(f"floor.stock[{n}].material", f"{item.material!r} is not of this plant", "a material of the catalog")
    return faults


def opening_stock(plant: Plant) -> tuple[StockItem, ...]:
    """Return the stock that a plant's file states as items, numbered from 1: what the ledger opens with."""
    stock = plant.stated_stock
    made = [StockItem(item=1, kind="lot", material=one.material, length_nm=one.length_nm, count=one.count)
            for one in stock.bars]  # fmt: skip
    made += [
        StockItem(
            item=1,
            kind="remnant",
            material=one.material,
            length_nm=one.length_nm,
            width_nm=one.width_nm,
            joints=one.joints,
            put_away=one.put_away,
            source=one.from_bar,
            place=one.id,
        )
        for one in stock.remnants
    ]
    made += [
        StockItem(
            item=1,
            kind="coil",
            material=MaterialId(one.colour),
            width_nm=one.width_nm,
            thickness_nm=one.thickness_nm,
            weight_g=one.weight_g,
            batch=one.batch,
            heat=one.heat,
            ready=one.arrives,
            place=one.id,
        )
        for one in stock.coils
    ]
    made += [
        StockItem(item=1, kind="block", material=MaterialId(one.core), litres=one.litres, ready=one.ready)
        for one in stock.cores
    ]
    return tuple(replace(one, item=n) for n, one in enumerate(made, 1))


def usable_stock_count(item: StockItem, floor: FloorSnapshot) -> int:
    """Return how many of a stock item a plan may use: what nobody holds, and what bars hold that fall away."""
    given_back = sum(bar.state == "free" and bar.item == item.item for bar in floor.bars)
    return max(0, min(item.count, item.count - item.reserved + given_back))


def stock_item_id(item: StockItem) -> StockId:
    """Return the name under which a stock item is offered and drawn."""
    return StockId(f"item {item.item}")


def stock_of(plant: Plant, floor: FloorSnapshot | None) -> StockSnapshot:
    """Return the stock that a plan draws on: the floor's, less what bars hold that stay; without one what the catalog states.

    A strip is no stock of this plan yet: blanks are slit from coils.
    """
    if floor is None:
        return plant.stated_stock
    there = [(item, usable_stock_count(item, floor)) for item in floor.stock]
    lots, remnants = [], []
    for item, count in there:
        if item.kind == "lot" and item.length_nm is not None:
            lots.append(StockOnHand(id=stock_item_id(item), material=item.material, length_nm=item.length_nm, count=count))
        elif item.kind in ("remnant", "drop") and item.length_nm is not None and count:
            remnants.append(
                Remnant(
                    id=stock_item_id(item),
                    material=item.material,
                    length_nm=item.length_nm,
                    width_nm=item.width_nm,
                    joints=item.joints,
                    put_away=item.put_away,
                )
            )
    return StockSnapshot(
        at=floor.at,
        bars=tuple(lots),
        remnants=tuple(remnants),
        coils=tuple(_coil(item) for item in floor.stock if item.kind == "coil"),
        cores=tuple(
            CoreStock(core=str(item.material), litres=item.litres or 0, ready=item.ready)
            for item in floor.stock
            if item.kind == "block"
        ),
    )


def _coil(item: StockItem) -> Coil:
    return Coil(
        id=CoilId(stock_item_id(item)),
        heat=item.heat or "",
        width_nm=item.width_nm or Nm(1),
        thickness_nm=item.thickness_nm or Nm(1),
        colour=str(item.material),
        batch=item.batch or "",
        weight_g=item.weight_g or Grams(0),
        arrives=item.ready,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class ContinuationStart:
    """Where a plan starts: what is kept, the pieces that are free, parts of orders that stay as they are, and makings."""

    kept: KeptWork | None
    free: frozenset[PieceId]
    stacks: Mapping[OrderId, StackPart]
    loads: Mapping[OrderId, LoadPart]
    makings: tuple[Making, ...] = ()
    last_number: int | None = None  # of all bars ever; absent: the floor is empty

    def takeoffs_to_nest(self, takeoffs: Sequence[Takeoff]) -> tuple[Takeoff, ...]:
        """Return the takeoffs with their free pieces alone."""
        if self.kept is None:
            return tuple(takeoffs)
        some = (replace(one, pieces=tuple(p for p in one.pieces if p.id in self.free)) for one in takeoffs)
        return tuple(one for one in some if one.pieces)

    def bundles_to_stack(self, bundles: Sequence[Bundle]) -> tuple[Bundle, ...]:
        """Return the bundles with their free pieces alone, as the order of cuts minds them."""
        if self.kept is None:
            return tuple(bundles)
        some = (replace(one, pieces=tuple(lay for lay in one.pieces if lay.piece in self.free)) for one in bundles)
        return tuple(one for one in some if one.pieces)


def continuation_start(
    floor: FloorSnapshot | None, buildings: Sequence[Building], takeoffs: Sequence[Takeoff]
) -> ContinuationStart:
    """Return where the plan of these takeoffs starts. Raises InputError for what is not built yet."""
    everything = frozenset(piece.id for takeoff in takeoffs for piece in takeoff.pieces)
    if floor is None:
        return ContinuationStart(kept=None, free=everything, stacks={}, loads={})
    states = {piece.id: piece for piece in floor.pieces}
    made = tuple(sorted(name for name in everything if name in states and states[name].state in MADE))
    bars = tuple(_kept_bar(bar, states, everything) for bar in floor.bars if bar.state != "free")
    kept_bars = tuple(bar for bar in bars if bar.bar.pieces)
    to_come = {item.piece for one in kept_bars for item in one.bar.pieces}
    stays = dict(_unrevised(floor, buildings, takeoffs))
    _refuse_revised_on_bundles(floor, stays, takeoffs, states)
    return ContinuationStart(
        kept=KeptWork(
            seen=floor.seen,
            at=floor.at,
            made=made,
            laid=tuple(name for name in made if states[name].state != "cut"),
            bars=kept_bars,
            built=tuple(_built(floor, stays.values(), states)),
            aboard=tuple(sorted({name for load in floor.loads for name in load.on})),
            left=tuple(load.load for load in floor.loads if load.left),
            surplus=tuple(_surplus(floor, everything, {takeoff.building.order for takeoff in takeoffs})),
        ),
        free=everything - set(made) - to_come,
        stacks={order: one.stack for order, one in stays.items() if one.stack is not None},
        loads={order: one.load for order, one in stays.items() if one.load is not None},
        makings=tuple(
            Making(piece=name, making=states[name].making)
            for name in sorted(everything & states.keys())
            if states[name].making > 1
        ),
        last_number=max([floor.last_bar, *(bar.number for bar in floor.bars)]),
    )


def _kept_bar(bar: FloorBar, states: Mapping[PieceId, FloorPiece], wanted: Collection[PieceId]) -> KeptBar:
    """What is still to come from a bar that stays: pieces that are wanted, and that are on no other bar since."""
    to_come = tuple(
        item
        for item in bar.bar.pieces
        if item.piece in wanted
        and item.piece in states
        and (states[item.piece].state, states[item.piece].bar) == ("on_bar", bar.number)
    )
    name = bar_id(bar.bar.material, bar.number)
    stock = bar.bar.stock if bar.item is None else StockId(f"item {bar.item}")
    return KeptBar(
        number=bar.number,
        item=bar.item,
        state="begun" if bar.state == "begun" else "firm",
        ready=bar.ready,
        bar=replace(bar.bar, id=name, stock=stock, pieces=to_come),
    )


def _unrevised(
    floor: FloorSnapshot, buildings: Sequence[Building], takeoffs: Sequence[Takeoff]
) -> list[tuple[OrderId, OpenOrder]]:
    """The orders that are planned and bundled already, and of which nothing changed since."""
    houses = {building.order: building for building in buildings}
    again = {takeoff.building.order: takeoff for takeoff in takeoffs}
    found = []
    for one in floor.orders:
        if one.takeoff is None or one.stack is None or one.load is None or one.order not in again:
            continue
        before, now = one.takeoff, again[one.order]
        if before.building == houses[one.order] and {p.id for p in before.pieces} == {p.id for p in now.pieces}:
            found.append((one.order, one))
    return found


def _refuse_revised_on_bundles(
    floor: FloorSnapshot,
    stays: Mapping[OrderId, OpenOrder],
    takeoffs: Sequence[Takeoff],
    states: Mapping[PieceId, FloorPiece],
) -> None:
    faults = FaultCollector()
    begun = {one.bundle for one in floor.bundles if one.laid or one.closed} | {name for load in floor.loads for name in load.on}
    for takeoff in takeoffs:
        order = takeoff.building.order
        lying = {str(one.bundle or one.mark) for one in states.values() if one.order == order and one.state in ("laid", *GONE)}
        lying |= {name for name in begun if order_of(name) == order}
        if order not in stays and lying:
            some = ", ".join(sorted(lying)[:3])
            problem = f"was revised with {some} begun, which is not yet planned again"
            faults.add(f"orders[{order}]", problem, "the order as it was, or its bundles opened again first")
    faults.raise_if_any()


def _built(floor: FloorSnapshot, stays: Collection[OpenOrder], states: Mapping[PieceId, FloorPiece]) -> list[BundleId]:
    """Bundles that stay and on which nothing more is to be laid: closed, on a truck, gone, or all of whose pieces lie."""
    told = {one.bundle for one in floor.bundles if one.closed} | {name for load in floor.loads for name in load.on}
    found = []
    for one in stays:
        for bundle in one.stack.result.bundles if one.stack is not None else ():
            pieces = [states.get(lay.piece) for lay in bundle.pieces]
            lie = bool(pieces) and all(piece is not None and piece.state in ("laid", *GONE) for piece in pieces)
            wanting = any(piece is None or not piece.made for piece in pieces)
            if lie or (bundle.id in told and not wanting):
                found.append(bundle.id)
    return found


def _surplus(floor: FloorSnapshot, wanted: Collection[PieceId], orders: Collection[OrderId]) -> list[Surplus]:
    """What is made, has not left, and is of no piece that is wanted."""
    return [
        Surplus(piece=one.id, why="revised" if one.order in orders else "withdrawn", bundle=one.bundle)
        for one in floor.pieces
        if one.made and one.state != "left" and one.id not in wanted
    ]


def kept_bars_first(kept: KeptWork | None, orders: Iterable[Sequence[str]]) -> tuple[Sequence[str], ...]:
    """Return cut orders with the kept bars ahead of each: those on the saw, then the firm ones."""
    if kept is None or not kept.bars:
        return tuple(orders)
    first = [str(one.bar.id) for one in sorted(kept.bars, key=lambda one: (one.state != "begun", one.number))]
    return tuple((*first, *order) for order in orders) or (first,)


def without_made_bars(kept: KeptWork | None) -> KeptWork | None:
    """Return the kept work with those of its bars alone that are still to be made: whose blanks are slit."""
    return (
        None
        if kept is None
        else replace(kept, bars=tuple(one for one in kept.bars if one.item is None and one.state == "firm"))
    )


def loads_not_left(loads: Sequence[LoadPart], kept: KeptWork | None) -> tuple[LoadPart, ...]:
    """Return the loads that have not left."""
    if kept is None or not kept.left:
        return tuple(loads)
    left = set(kept.left)
    return tuple(
        replace(part, result=replace(part.result, loads=tuple(one for one in part.result.loads if one.id not in left)))
        for part in loads
    )
