"""Pieces in order along one bar: how much room they take, where each comes to lie, and what the bar costs.

A slot is (kind, shape): indices into the model's kinds and that kind's shapes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from solver.domain.cut_plan import CutBar, PlacedPiece
from solver.domain.ids import StockId
from solver.nesting.model import NestingModel, StockKind, drop_nm
from solver.nesting.shapes import Shape
from solver.units import Nm

KindAndShape = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Cut:
    """Bars cut alike: the stock (its place in the model's stocks), the slots in order, and how many bars."""

    stock: int
    slots: tuple[KindAndShape, ...]
    repeat: int


def shape_at(model: NestingModel, slot: KindAndShape) -> Shape:
    """Return the shape in a slot."""
    return model.kinds[slot[0]].shapes[slot[1]]


def doubled_joint_loss(model: NestingModel, end: int, start: int) -> int:
    """Return the doubled length lost between two facing ends with these leans."""
    return 2 * model.gap(max(abs(end), abs(start))) + abs(start - end)


def doubled_extent(model: NestingModel, slots: Sequence[KindAndShape]) -> int:
    """Return twice the room that the pieces take, pushed together in this order; 0 for none."""
    if not slots:
        return 0
    shapes = [shape_at(model, slot) for slot in slots]
    total = abs(shapes[0].start) + abs(shapes[-1].end) + sum(shape.doubled for shape in shapes)
    return total + sum(doubled_joint_loss(model, a.end, b.start) for a, b in pairwise(shapes))


def doubled_room(model: NestingModel, stock: StockKind, last: KindAndShape) -> int:
    """Return twice the room on a bar that ends with this piece: less the clamp's dead length where it needs that."""
    return 2 * (stock.room_nm if model.kinds[last[0]].clamped else stock.room_nm - model.clamp_nm)


def pieces_fit(model: NestingModel, stock: StockKind, slots: Sequence[KindAndShape]) -> bool:
    """Return whether the pieces fit the stock in this order."""
    return not slots or doubled_extent(model, slots) <= doubled_room(model, stock, slots[-1])


def bar_cost(model: NestingModel, stock: StockKind, slots: Sequence[KindAndShape]) -> Fraction:
    """Return the price of the bar less the credit of its kept drop."""
    return stock.cost - model.credit(stock, stock.trim_nm + doubled_extent(model, slots) // 2)


def total_cost(model: NestingModel, cuts: Sequence[Cut]) -> Fraction:
    """Return the price of all bars less all credit."""
    return sum((cut.repeat * bar_cost(model, model.stocks[cut.stock], cut.slots) for cut in cuts), Fraction(0))


def cheapest_stock(model: NestingModel, slots: Sequence[KindAndShape], left: Sequence[int | None]) -> int | None:
    """Return the stock, of those left, that holds the pieces at least cost."""
    best: tuple[Fraction, int] | None = None
    used = doubled_extent(model, slots)
    for n, stock in enumerate(model.stocks):
        if left[n] == 0 or (slots and used > doubled_room(model, stock, slots[-1])):
            continue
        cost = stock.cost - model.credit(stock, stock.trim_nm + used // 2)
        if best is None or cost < best[0]:
            best = (cost, n)
    return None if best is None else best[1]


def piece_positions(model: NestingModel, slots: Sequence[KindAndShape], trim_nm: int) -> list[tuple[int, int, int, int]]:
    """Return each piece's start and end on edge a and on edge b, pushed to the bar's zero end behind its trim."""
    made: list[tuple[int, int, int, int]] = []
    end_a = end_b = before = 0
    for slot in slots:
        shape = shape_at(model, slot)
        if made:
            gap = model.gap(max(abs(before), abs(shape.start)))
            start_a = max(end_a + gap, end_b + gap + shape.start)
        else:
            start_a = trim_nm + max(0, shape.start)
        start_b = start_a - shape.start
        end_a, end_b, before = start_a + shape.long_a, start_b + shape.long_b, shape.end
        made.append((start_a, end_a, start_b, end_b))
    return made


def _turned(model: NestingModel, slots: Sequence[KindAndShape]) -> int:
    return sum(shape_at(model, slot).turn != "as_is" for slot in slots)


def fewest_turned(model: NestingModel, stock: StockKind, slots: tuple[KindAndShape, ...]) -> tuple[KindAndShape, ...]:
    """Return the pieces in their order with as few turned as the bar's cost allows.

    A shortest path over (place, shape, turned so far): for each count of turned pieces the least room.
    """
    if not _turned(model, slots):
        return slots
    bound = bar_cost(model, stock, slots)
    paths: dict[tuple[int, int], tuple[int, tuple[KindAndShape, ...]]] = {(0, 0): (0, ())}  # (lean of last end, turned)
    for slot in slots:
        after: dict[tuple[int, int], tuple[int, tuple[KindAndShape, ...]]] = {}
        for (end, turned), (used, path) in paths.items():
            for n, shape in enumerate(model.kinds[slot[0]].shapes):
                join = doubled_joint_loss(model, end, shape.start) if path else abs(shape.start)
                key = (shape.end, turned + (shape.turn != "as_is"))
                found = used + join + shape.doubled
                if key not in after or found < after[key][0]:
                    after[key] = (found, (*path, (slot[0], n)))
        paths = after
    ends = sorted((turned, used + abs(end), path) for (end, turned), (used, path) in paths.items())
    for _, _, path in ends:
        if pieces_fit(model, stock, path) and bar_cost(model, stock, path) <= bound:
            return path
    return slots


def fewest_turned_bars(model: NestingModel, cuts: Sequence[Cut]) -> list[Cut]:
    """Return the same bars with as few pieces turned as their costs allow."""
    return [Cut(cut.stock, fewest_turned(model, model.stocks[cut.stock], cut.slots), cut.repeat) for cut in cuts]


def to_bars(model: NestingModel, cuts: Sequence[Cut]) -> tuple[CutBar, ...]:
    """Return the cuts as bars of the job's own pieces: owners of merged kinds are served in the job's order."""
    waiting = [[list(owner) for owner in kind.owners] for kind in model.kinds]
    racks = [[[n, finite_count(count)] for n, count in stock.owners] for stock in model.stocks]
    made: list[CutBar] = []
    for cut in cuts:
        stock = model.stocks[cut.stock]
        where = piece_positions(model, cut.slots, stock.trim_nm)
        farthest = max(max(place[1], place[3]) for place in where)
        drop = drop_nm(stock, farthest, kerf_nm=model.kerf_nm)
        for owners, repeat in _serve(waiting, cut.slots, cut.repeat):
            placed = tuple(
                PlacedPiece(
                    id=model.job.pieces[owner].id,
                    turn=shape_at(model, slot).turn,
                    edge_a=(Nm(a0), Nm(a1)),
                    edge_b=(Nm(b0), Nm(b1)),
                )
                for slot, owner, (a0, a1, b0, b1) in zip(cut.slots, owners, where, strict=True)
            )
            for name, bars in _pull(model, racks[cut.stock], repeat):
                made.append(CutBar(stock=name, repeat=bars, drop_nm=Nm(drop), pieces=placed))
    return tuple(made)


def finite_count(count: int | None) -> int:
    """Return a count of bars as a number; as many as wanted is more than a job can use."""
    return 1 << 40 if count is None else count


def _pull(model: NestingModel, rack: list[list[int]], repeat: int) -> Iterator[tuple[StockId, int]]:
    """Yield which of the stocks that are alike the bars come from, those on hand first."""
    for entry in rack:
        taken = min(repeat, entry[1])
        if taken:
            entry[1] -= taken
            repeat -= taken
            yield model.job.stock[entry[0]].id, taken


def _serve(waiting: list[list[list[int]]], slots: Sequence[KindAndShape], repeat: int) -> Iterator[tuple[list[int], int]]:
    """Yield who gets the slots of a bar, and how many bars in a row go alike, until `repeat` bars are given."""
    while repeat:
        owners: list[int] = []
        used: dict[tuple[int, int], int] = {}
        for kind, _ in slots:
            for place, (owner, left) in enumerate(waiting[kind]):
                if left > used.get((kind, place), 0):
                    used[kind, place] = used.get((kind, place), 0) + 1
                    owners.append(owner)
                    break
        alike = min([repeat, *(waiting[kind][place][1] // count for (kind, place), count in used.items())])
        for (kind, place), count in used.items():
            waiting[kind][place][1] -= alike * count
        for kind, _ in used:
            waiting[kind] = [owner for owner in waiting[kind] if owner[1]]
        repeat -= alike
        yield owners, alike
