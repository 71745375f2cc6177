"""First plans, fast: bars filled longest piece first, each kind set in where it takes the least room."""

from __future__ import annotations

from collections.abc import Sequence

from solver.nesting.bars import Cut, Slot, cheapest_stock, cost_of, fits, junction, room2, shape_at
from solver.nesting.model import Model, Stock


def first_fit(model: Model, *, order: Sequence[int] | None = None) -> list[Cut] | None:
    """Return the cheapest of the plans that fill one stock length after another, or None when limited stock runs out.

    `order`: the kinds in the order in which they are tried; longest first if absent.
    """
    kinds = list(order) if order is not None else list(range(len(model.kinds)))
    plans = [
        plan
        for prefer in (None, *range(len(model.stocks)))
        if (plan := fill_all(model, kinds, [kind.count for kind in model.kinds], prefer=prefer)) is not None
    ]
    return min(plans, key=lambda plan: _price(model, plan), default=None)


def _price(model: Model, plan: Sequence[Cut]) -> float:
    return float(sum(cut.repeat * cost_of(model, model.stocks[cut.stock], cut.slots) for cut in plan))


def fill_all(
    model: Model,
    kinds: Sequence[int],
    wanted: Sequence[int],
    *,
    prefer: int | None,
    left: Sequence[int | None] | None = None,
) -> list[Cut] | None:
    """Return bars for all wanted pieces; the preferred stock is opened first (None: the best worth for its price)."""
    need = list(wanted)
    rest = list(left) if left is not None else [stock.count for stock in model.stocks]
    todo = [kind for kind in kinds if need[kind]]
    made: list[Cut] = []
    while todo:
        bar = _next_bar(model, todo, need, rest, prefer)
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
        made.append(Cut(stock, slots, repeat))
        todo = [kind for kind in todo if need[kind]]
    return made


def _next_bar(
    model: Model, todo: Sequence[int], need: Sequence[int], rest: Sequence[int | None], prefer: int | None
) -> tuple[int, tuple[Slot, ...]] | None:
    choices = [n for n in range(len(model.stocks)) if rest[n] != 0]
    if prefer is not None and prefer in choices:
        choices = [prefer, *(n for n in reversed(choices) if n != prefer)]
    best: tuple[float, int, tuple[Slot, ...]] | None = None
    for n in choices:
        slots = fill_bar(model, model.stocks[n], todo, need)
        if not slots:
            continue
        stock = cheapest_stock(model, slots, rest)
        if stock is None:
            continue
        worth = sum(model.kinds[kind].doubled for kind, _ in slots)
        rate = float(cost_of(model, model.stocks[stock], slots)) / worth
        if best is None or rate < best[0]:
            best = (rate, stock, slots)
        if prefer is not None:
            break
    return None if best is None else (best[1], best[2])


def fill_bar(model: Model, stock: Stock, todo: Sequence[int], need: Sequence[int]) -> tuple[Slot, ...]:
    """Return one bar's pieces: each kind in turn, as many as fit, set in where the bar grows least."""
    if all(model.kinds[kind].square for kind in todo):
        return _fill_square(model, stock, todo, need)
    slots: list[Slot] = []
    used = 0
    for kind in todo:
        for _ in range(need[kind]):
            found = insert(model, stock, slots, used, kind)
            if found is None:
                break
            used, slots = found
    return tuple(slots)


def insert(model: Model, stock: Stock, slots: list[Slot], used: int, kind: int) -> tuple[int, list[Slot]] | None:
    """Return the bar with a piece of this kind set in where it grows least (doubled room and slots), or None."""
    best: tuple[int, int, int] | None = None
    for place in range(len(slots) + 1):
        before = shape_at(model, slots[place - 1]).end if place else None
        after = shape_at(model, slots[place]).start if place < len(slots) else None
        for n, shape in enumerate(model.kinds[kind].shapes):
            grown = used + shape.doubled
            grown += abs(shape.start) if before is None else junction(model, before, shape.start)
            grown += abs(shape.end) if after is None else junction(model, shape.end, after)
            if before is not None and after is not None:
                grown -= junction(model, before, after)
            elif before is not None:
                grown -= abs(before)
            elif after is not None:
                grown -= abs(after)
            last = slots[-1] if place < len(slots) else (kind, n)
            if grown <= room2(model, stock, last) and (best is None or grown < best[0]):
                best = (grown, place, n)
    if best is None:
        return None
    grown, place, n = best
    return grown, [*slots[:place], (kind, n), *slots[place:]]


def _fill_square(model: Model, stock: Stock, todo: Sequence[int], need: Sequence[int]) -> tuple[Slot, ...]:
    """Fill a bar with square pieces; one that the clamp can hold, if any was taken, comes last."""
    kerf, clamp = model.kerf_nm, model.clamp_nm
    room, held = stock.room_nm + kerf, False
    slots: list[Slot] = []
    for kind in todo:
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
    return tuple(slots) if fits(model, stock, slots) else ()
