"""What nesting is held against in tests: the least cost by trying everything, and clocks that end anywhere."""

from __future__ import annotations

import itertools
from fractions import Fraction
from functools import cache

from solver.nesting.bars import bar_cost, pieces_fit
from solver.nesting.model import NestingModel
from solver.search import Search
from tests.generators.nesting import odd


def best_cost(model: NestingModel) -> Fraction | None:
    """The least cost by trying every order and turn on every bar, and every way to share pieces among bars."""

    @cache
    def bar(pieces: tuple[int, ...]) -> tuple[tuple[int, Fraction], ...]:
        """The least cost of these pieces on one bar of each stock that holds them, in any order and turns."""
        found: dict[int, Fraction] = {}
        for order in set(itertools.permutations(pieces)):
            for shapes in itertools.product(*(range(len(model.kinds[kind].shapes)) for kind in order)):
                slots = tuple(zip(order, shapes, strict=True))
                for n, stock in enumerate(model.stocks):
                    if pieces_fit(model, stock, slots):
                        cost = bar_cost(model, stock, slots)
                        found[n] = min(found.get(n, cost), cost)
        return tuple(found.items())

    @cache
    def rest(pieces: tuple[int, ...], left: tuple[int, ...]) -> Fraction | None:
        if not pieces:
            return Fraction(0)
        best: Fraction | None = None
        for size in range(len(pieces)):
            for others in set(itertools.combinations(pieces[1:], size)):
                remaining = list(pieces)
                for piece in (pieces[0], *others):
                    remaining.remove(piece)
                for stock, cost in bar((pieces[0], *others)):
                    if left[stock] == 0:
                        continue
                    after = tuple(have - (n == stock) for n, have in enumerate(left))
                    more = rest(tuple(remaining), after)
                    if more is not None and (best is None or cost + more < best):
                        best = cost + more
        return best

    pieces = tuple(kind for kind, item in enumerate(model.kinds) for _ in range(item.count))
    return rest(pieces, tuple(9 if stock.count is None else min(9, stock.count) for stock in model.stocks))


SMALL = [
    seed for seed in range(400) if sum(piece["count"] for piece in odd(seed)["pieces"]) <= 6 and len(odd(seed)["pieces"]) <= 4
][:24]


def looks(count: int) -> Search:
    """A search whose time is over once it has looked at the clock so often."""
    turns = iter([1.0] * count)
    return Search(left_s=lambda: next(turns, -1.0))
