"""A floor as it is some time after a plan was released: the small simulation that plans going on are tried against."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from dataclasses import replace

from solver.domain.cut_plan import Bar
from solver.domain.floor_snapshot import FloorBar, FloorBundle, FloorPiece, FloorSnapshot, OpenOrder, PieceState
from solver.domain.ids import MachineId
from solver.domain.plan import Plan
from solver.domain.stock import StockItem

PANEL_SAW = "panel-saw-1"


def number_of(item: str) -> int | None:
    """The number of the stock item that a bar of a plan comes from; None where it is bought or made."""
    return int(item.removeprefix("item ")) if item.startswith("item ") else None


def bars_in_order(plan: Plan) -> list[Bar]:
    """All bars of a plan in the order in which the timetable cuts them."""
    starts = {bar: one.start_s for one in plan.timetable.operations if one.step in ("cut", "cut trim") for bar in one.bars}
    bars = [bar for cut in plan.cuts for bar in cut.bars]
    return sorted(bars, key=lambda bar: (starts.get(bar.id, 0), bar.id))


def floor_after(
    plan: Plan,
    before: FloorSnapshot,
    *,
    at: str,
    cut: int,
    firm: int = 0,
    lay: bool = True,
    scrap: Collection[str] = (),
) -> FloorSnapshot:
    """Return the floor after the first `cut` bars of a plan are cut, `firm` more stay, and one more is on the saw half cut.

    The next bar behind those cut is begun, its first piece cut, unless it holds only one. With `lay`, what is cut is laid
    on its bundle as far as the stack goes without a gap from below. `scrap`: pieces that were scrapped after their cut.
    """
    bars = bars_in_order(plan)
    numbers = {bar.id: n for n, bar in enumerate(bars, 1)}
    done = {item.piece for bar in bars[:cut] for item in bar.pieces}
    half = next((bar for bar in bars[cut:] if len(bar.blanks) > 1), None)
    if half is not None:
        first = (half.pieces[0].edge_a, half.pieces[0].edge_b)
        done |= {item.piece for item in half.pieces if (item.edge_a, item.edge_b) == first}
    gone = [*bars[:cut], *([half] if half else [])]
    drawn = Counter(number_of(bar.stock) for bar in gone)
    waiting = Counter(number_of(bar.stock) for bar in bars if bar not in gone)
    stock = tuple(_less(item, drawn[item.item], waiting[item.item]) for item in before.stock)
    done -= set(scrap)
    laid = {}
    for part in plan.stacks:
        for bundle in part.result.bundles:
            height = 0
            while lay and height < len(bundle.pieces) and bundle.pieces[height].piece in done:
                height += 1
            if height:
                laid[bundle.id] = tuple(one.piece for one in bundle.pieces[:height])
    on_bundle = {piece: name for name, pieces in laid.items() for piece in pieces}
    pieces = []
    bar_of = {item.piece: numbers[bar.id] for bar in bars for item in bar.pieces}
    for takeoff in plan.takeoffs:
        for piece in takeoff.pieces:
            again = piece.id in scrap
            state: PieceState = "wanted" if again else "on_bar"
            if piece.id in done:
                state = "laid" if piece.id in on_bundle else "cut"
            pieces.append(
                FloorPiece(
                    order=piece.order,
                    mark=piece.mark,
                    making=2 if again else 1,
                    state=state,
                    bar=None if again else bar_of[piece.id],
                    bundle=on_bundle.get(piece.id),
                )
            )
    rest = [bar for bar in bars[cut:] if bar is not half]
    return FloorSnapshot(
        unit=before.unit,
        seen=before.seen + len(done),
        at=at,
        stock=stock,
        orders=tuple(
            OpenOrder(order=taken.building.order, revision=taken.building.revision, takeoff=taken, stack=stack, load=load)
            for taken, stack, load in zip(plan.takeoffs, plan.stacks, plan.loads, strict=True)
        ),
        pieces=tuple(pieces),
        bars=tuple(
            FloorBar(
                number=numbers[bar.id],
                machine=MachineId(PANEL_SAW),
                item=number_of(bar.stock),
                state="begun" if bar is half else "firm" if bar in rest[:firm] else "free",
                bar=bar,
            )
            for bar in bars[cut:]
        ),
        bundles=tuple(FloorBundle(bundle=name, laid=pieces) for name, pieces in laid.items()),
        loads=(),
    )


def _less(item: StockItem, drawn: int, reserved: int) -> StockItem:
    return replace(item, count=item.count - drawn, reserved=item.reserved + reserved)
