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
from solver.nesting.model import Model, Stock, drop_nm
from solver.nesting.shapes import Shape
from solver.units import Nm

Slot = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Cut:
    """Bars cut alike: the stock (its place in the model's stocks), the slots in order, and how many bars."""

    stock: int
    slots: tuple[Slot, ...]
    repeat: int


def shape_at(model: Model, slot: Slot) -> Shape:
    """Return the shape in a slot."""
    return model.kinds[slot[0]].shapes[slot[1]]


def junction(model: Model, end: int, start: int) -> int:
    """Return the doubled length lost between two facing ends with these leans."""
    return 2 * model.gap(max(abs(end), abs(start))) + abs(start - end)


def extent2(model: Model, slots: Sequence[Slot]) -> int:
    """Return twice the room that the pieces take, pushed together in this order; 0 for none."""
    if not slots:
        return 0
    shapes = [shape_at(model, slot) for slot in slots]
    total = abs(shapes[0].start) + abs(shapes[-1].end) + sum(shape.doubled for shape in shapes)
    return total + sum(junction(model, a.end, b.start) for a, b in pairwise(shapes))


def room2(model: Model, stock: Stock, last: Slot) -> int:
    """Return twice the room on a bar that ends with this piece: less the clamp's dead length where it needs that."""
    return 2 * (stock.room_nm if model.kinds[last[0]].clamped else stock.room_nm - model.clamp_nm)


def fits(model: Model, stock: Stock, slots: Sequence[Slot]) -> bool:
    """Return whether the pieces fit the stock in this order."""
    return not slots or extent2(model, slots) <= room2(model, stock, slots[-1])


def cost_of(model: Model, stock: Stock, slots: Sequence[Slot]) -> Fraction:
    """Return the price of the bar less the credit of its kept drop."""
    return stock.cost - model.credit(stock, stock.trim_nm + extent2(model, slots) // 2)


def total_cost(model: Model, cuts: Sequence[Cut]) -> Fraction:
    """Return the price of all bars less all credit."""
    return sum((cut.repeat * cost_of(model, model.stocks[cut.stock], cut.slots) for cut in cuts), Fraction(0))


def cheapest_stock(model: Model, slots: Sequence[Slot], left: Sequence[int | None]) -> int | None:
    """Return the stock, of those left, that holds the pieces at least cost."""
    best: tuple[Fraction, int] | None = None
    used = extent2(model, slots)
    for n, stock in enumerate(model.stocks):
        if left[n] == 0 or (slots and used > room2(model, stock, slots[-1])):
            continue
        cost = stock.cost - model.credit(stock, stock.trim_nm + used // 2)
        if best is None or cost < best[0]:
            best = (cost, n)
    return None if best is None else best[1]


def positions(model: Model, slots: Sequence[Slot], trim_nm: int) -> list[tuple[int, int, int, int]]:
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


def _turned(model: Model, slots: Sequence[Slot]) -> int:
    return sum(shape_at(model, slot).turn != "as_is" for slot in slots)


def settle(model: Model, stock: Stock, slots: tuple[Slot, ...]) -> tuple[Slot, ...]:
    """Return the pieces in their order with as few turned as the bar's cost allows.

    A shortest path over (place, shape, turned so far): for each count of turned pieces the least room.
    """
    if not _turned(model, slots):
        return slots
    bound = cost_of(model, stock, slots)
    paths: dict[tuple[int, int], tuple[int, tuple[Slot, ...]]] = {(0, 0): (0, ())}  # (lean of last end, turned)
    for slot in slots:
        after: dict[tuple[int, int], tuple[int, tuple[Slot, ...]]] = {}
        for (end, turned), (used, path) in paths.items():
            for n, shape in enumerate(model.kinds[slot[0]].shapes):
                join = junction(model, end, shape.start) if path else abs(shape.start)
                key = (shape.end, turned + (shape.turn != "as_is"))
                found = used + join + shape.doubled
                if key not in after or found < after[key][0]:
                    after[key] = (found, (*path, (slot[0], n)))
        paths = after
    ends = sorted((turned, used + abs(end), path) for (end, turned), (used, path) in paths.items())
    for _, _, path in ends:
        if fits(model, stock, path) and cost_of(model, stock, path) <= bound:
            return path
    return slots


def settle_all(model: Model, cuts: Sequence[Cut]) -> list[Cut]:
    """Return the same bars with as few pieces turned as their costs allow."""
    return [Cut(cut.stock, settle(model, model.stocks[cut.stock], cut.slots), cut.repeat) for cut in cuts]


def to_bars(model: Model, cuts: Sequence[Cut]) -> tuple[CutBar, ...]:
    """Return the cuts as bars of the job's own pieces: owners of merged kinds are served in the job's order."""
    waiting = [[list(owner) for owner in kind.owners] for kind in model.kinds]
    racks = [[[n, cut_off(count)] for n, count in stock.owners] for stock in model.stocks]
    made: list[CutBar] = []
    for cut in cuts:
        stock = model.stocks[cut.stock]
        where = positions(model, cut.slots, stock.trim_nm)
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


def cut_off(count: int | None) -> int:
    """Return a count of bars as a number; as many as wanted is more than a job can use."""
    return 1 << 40 if count is None else count


def _pull(model: Model, rack: list[list[int]], repeat: int) -> Iterator[tuple[StockId, int]]:
    """Yield which of the stocks that are alike the bars come from, those on hand first."""
    for entry in rack:
        taken = min(repeat, entry[1])
        if taken:
            entry[1] -= taken
            repeat -= taken
            yield model.job.stock[entry[0]].id, taken


def _serve(waiting: list[list[list[int]]], slots: Sequence[Slot], repeat: int) -> Iterator[tuple[list[int], int]]:
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
