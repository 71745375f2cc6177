"""First plans, fast: bars filled longest piece first, each kind set in where it takes the least room."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Sequence
from functools import partial

from solver.nesting.bars import (
    Cut,
    KindAndShape,
    bar_cost,
    cheapest_stock,
    doubled_joint_loss,
    doubled_room,
    pieces_fit,
    shape_at,
)
from solver.nesting.model import NestingModel, StockKind

Over = Callable[[], bool]


def _never() -> bool:
    return False


def first_fit_decreasing(model: NestingModel, *, over: Over = _never) -> list[Cut] | None:
    """Return the cheapest of the plans that fill one stock length after another, or None when limited stock runs out.

    Once `over` says so, no further plan is begun and the one at hand is ended the shortest way.
    """
    everything = list(range(len(model.kinds)))
    counts = [kind.count for kind in model.kinds]
    found: list[tuple[float, int, list[Cut]]] = []
    stocks = range(len(model.stocks))
    for turn, prefer in enumerate((*reversed(stocks), None)):
        if found and over():
            break
        plan = fill_all(model, everything, counts, prefer=prefer, over=over)
        if plan is not None:
            found.append((_price(model, plan), -turn, plan))
    return min(found, key=lambda item: item[:2])[2] if found else None


def _price(model: NestingModel, plan: Sequence[Cut]) -> float:
    return float(sum(cut.repeat * bar_cost(model, model.stocks[cut.stock], cut.slots) for cut in plan))


def fill_all(
    model: NestingModel,
    kinds: Sequence[int],
    wanted: Sequence[int],
    *,
    prefer: int | None,
    left: Sequence[int | None] | None = None,
    over: Over = _never,
) -> list[Cut] | None:
    """Return bars for all wanted pieces; the preferred stock is opened first (None: the best worth for its price).

    `kinds` in falling length. Once `over` says so, the longest stock left is taken and pieces are set end to end as they are.
    """
    need = list(wanted)
    rest = list(left) if left is not None else [stock.count for stock in model.stocks]
    uncut = _Uncut(model, [kind for kind in kinds if need[kind]])
    made: list[Cut] = []
    hurry = False
    while uncut.kinds:
        hurry = hurry or over()
        bar = _next_bar(model, uncut, need, rest, prefer, hurry=hurry)
        if bar is None:
            return None
        stock, slots = bar
        used: dict[int, int] = {}
        for kind, _ in slots:
            used[kind] = used.get(kind, 0) + 1
        repeat = min(need[kind] // count for kind, count in used.items())
        if (have := rest[stock]) is not None:
            repeat = min(repeat, have)
            rest[stock] = have - repeat
        for kind, count in used.items():
            need[kind] -= repeat * count
            if not need[kind]:
                uncut.drop(kind)
        made.append(Cut(stock, slots, repeat))
    return made


class _Uncut:
    """The kinds still wanted, by falling length, so that the next that can fit is found by halving."""

    def __init__(self, model: NestingModel, kinds: Sequence[int]) -> None:
        self.kinds = sorted(kinds, key=lambda kind: -model.kinds[kind].doubled)
        self.shorter = [-model.kinds[kind].doubled for kind in self.kinds]
        self.square = all(model.kinds[kind].square for kind in kinds)
        leans = [abs(lean) for kind in kinds for shape in model.kinds[kind].shapes for lean in (shape.start, shape.end)]
        self.steepest = max(leans, default=0)

    def drop(self, kind: int) -> None:
        """Forget a kind of which no more are wanted."""
        place = self.kinds.index(kind)
        del self.kinds[place], self.shorter[place]

    def at_most(self, doubled: int, start: int) -> int:
        """Return the first place from `start` on of a kind no longer than that (doubled)."""
        return bisect_left(self.shorter, -doubled, start)


def _next_bar(
    model: NestingModel, uncut: _Uncut, need: Sequence[int], rest: Sequence[int | None], prefer: int | None, *, hurry: bool
) -> tuple[int, tuple[KindAndShape, ...]] | None:
    choices = [n for n in range(len(model.stocks)) if rest[n] != 0]
    if prefer is not None and prefer in choices:
        choices = [prefer, *(n for n in reversed(choices) if n != prefer)]
    elif hurry:
        choices.reverse()
    best: tuple[float, int, tuple[KindAndShape, ...]] | None = None
    for n in choices:
        slots = fill_bar(model, model.stocks[n], uncut, need, hurry=hurry)
        if not slots:
            continue
        stock = cheapest_stock(model, slots, rest)
        if stock is None:
            continue
        worth = sum(model.kinds[kind].doubled for kind, _ in slots)
        rate = float(bar_cost(model, model.stocks[stock], slots)) / worth
        if best is None or rate < best[0]:
            best = (rate, stock, slots)
        if prefer is not None or hurry:
            break
    return None if best is None else (best[1], best[2])


def fill_bar(
    model: NestingModel, stock: StockKind, uncut: _Uncut, need: Sequence[int], *, hurry: bool = False
) -> tuple[KindAndShape, ...]:
    """Return one bar's pieces: each kind in turn, as many as fit, set in where the bar grows least.

    In a `hurry` each is set behind the one before, as it is.
    """
    if uncut.square:
        return _fill_square(model, stock, uncut, need)
    put = partial(_append if hurry else cheapest_insertion, model, stock)
    slots: list[KindAndShape] = []
    used = place = 0
    # a slope set against slopes may fill room that was lost before
    slack = 0 if hurry else max(0, 2 * uncut.steepest - 2 * model.kerf_nm)
    while (place := uncut.at_most(2 * stock.room_nm - used + slack, place)) < len(uncut.kinds):
        kind = uncut.kinds[place]
        for _ in range(need[kind]):
            found = put(slots, used, kind)
            if found is None:
                break
            used, slots = found
        place += 1
    return tuple(slots)


def _append(
    model: NestingModel, stock: StockKind, slots: list[KindAndShape], used: int, kind: int
) -> tuple[int, list[KindAndShape]] | None:
    shape = model.kinds[kind].shapes[0]
    before = shape_at(model, slots[-1]).end if slots else None
    grown = used + shape.doubled + abs(shape.end)
    grown += abs(shape.start) if before is None else doubled_joint_loss(model, before, shape.start) - abs(before)
    return (grown, [*slots, (kind, 0)]) if grown <= doubled_room(model, stock, (kind, 0)) else None


def cheapest_insertion(
    model: NestingModel, stock: StockKind, slots: list[KindAndShape], used: int, kind: int
) -> tuple[int, list[KindAndShape]] | None:
    """Return the bar with a piece of this kind set in where it grows least (doubled room and slots), or None."""
    best: tuple[int, int, int] | None = None
    for place in range(len(slots) + 1):
        before = shape_at(model, slots[place - 1]).end if place else None
        after = shape_at(model, slots[place]).start if place < len(slots) else None
        for n, shape in enumerate(model.kinds[kind].shapes):
            grown = used + shape.doubled
            grown += abs(shape.start) if before is None else doubled_joint_loss(model, before, shape.start)
            grown += abs(shape.end) if after is None else doubled_joint_loss(model, shape.end, after)
            if before is not None and after is not None:
                grown -= doubled_joint_loss(model, before, after)
            elif before is not None:
                grown -= abs(before)
            elif after is not None:
                grown -= abs(after)
            last = slots[-1] if place < len(slots) else (kind, n)
            if grown <= doubled_room(model, stock, last) and (best is None or grown < best[0]):
                best = (grown, place, n)
    if best is None:
        return None
    grown, place, n = best
    return grown, [*slots[:place], (kind, n), *slots[place:]]


def _fill_square(model: NestingModel, stock: StockKind, uncut: _Uncut, need: Sequence[int]) -> tuple[KindAndShape, ...]:
    """Fill a bar with square pieces; one that the clamp can hold, if any was taken, comes last."""
    kerf, clamp = model.kerf_nm, model.clamp_nm
    room, held = stock.room_nm + kerf, False
    slots: list[KindAndShape] = []
    place = 0
    while (place := uncut.at_most(2 * (room - kerf), place)) < len(uncut.kinds):
        kind = uncut.kinds[place]
        place += 1
        size = model.kinds[kind].doubled // 2 + kerf
        held_too = held or model.kinds[kind].clamped
        free = room if held_too else room - clamp
        count = min(need[kind], free // size)
        if count <= 0:
            continue
        held = held_too
        room -= count * size
        slots.extend([(kind, 0)] * count)
    slots.sort(key=lambda slot: model.kinds[slot[0]].clamped)
    return tuple(slots) if pieces_fit(model, stock, slots) else ()
