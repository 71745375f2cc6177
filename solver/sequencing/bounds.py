"""Open bundles that no order can do without, and orders to start from."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from random import Random

from solver.sequencing.graph import set_bits


def contraction_bound(
    neighbours: Sequence[int], component: int, over: Callable[[], bool], steps: list[tuple[int, int]] | None = None
) -> int:
    """Return a number of bundles that are open together in every order of the part's bars.

    Every order is a path decomposition whose bags are the open bundles, so treewidth + 1 is a bound; contracting edges
    never raises treewidth, which is at least the least degree of any minor. Each step contracts a vertex of least
    degree into the neighbour with which it shares fewest neighbours (noted in `steps`): "least-c" of Bodlaender and
    Koster (2011), Treewidth computations II, Information and Computation 209(7): 1103-1119. Ends early, still valid, when
    `over()`.
    """
    around = {bundle: neighbours[bundle] & component & ~(1 << bundle) for bundle in set_bits(component)}
    best = 0
    while around and len(around) > best + 1 and not over():
        thin = min(around, key=lambda bundle: (around[bundle].bit_count(), bundle))
        reach = around.pop(thin)
        best = max(best, reach.bit_count())
        if not reach:
            continue
        into = min(set_bits(reach), key=lambda bundle: ((around[bundle] & reach).bit_count(), bundle))
        if steps is not None:
            steps.append((thin, into))
        for bundle in set_bits(reach):
            around[bundle] &= ~(1 << thin)
            if bundle != into:
                around[bundle] |= 1 << into
        around[into] |= reach & ~(1 << into)
    return best + 1


def max_open_bundles(neighbours: Sequence[int], order: Sequence[int]) -> int:
    """Return the most bundles open when bundles are closed in this order, each as soon as its bars are cut."""
    seen = closed = most = 0
    for bundle in order:
        seen |= neighbours[bundle]
        most = max(most, (seen & ~closed).bit_count())
        closed |= 1 << bundle
    return most


def greedy_closing_order(neighbours: Sequence[int], component: int, first: int, over: Callable[[], bool]) -> list[int]:
    """Return an order of closing the part's bundles: after `first`, always the one that opens fewest others."""
    order, seen, left = [first], neighbours[first], component & ~(1 << first)
    while left:
        if over():
            return order + list(set_bits(left))
        least, pick = 2 * len(neighbours) + 2, -1
        for bundle in set_bits(left):
            new = (neighbours[bundle] & ~seen).bit_count()
            # a bundle already open is better than one of equal cost that is not: it leaves the floor
            cost = 2 * new + (not seen >> bundle & 1)
            if cost < least:
                least, pick = cost, bundle
                if cost == 0:
                    break
        order.append(pick)
        seen |= neighbours[pick]
        left &= ~(1 << pick)
    return order


def random_closing_order(neighbours: Sequence[int], component: int, below: int, dice: Random) -> list[int] | None:
    """Return an order narrower than `below`, found as `greedy_closing_order` does but by lot among equals, or None."""
    first = dice.choice(list(set_bits(component)))
    order, seen, closed, left = [first], neighbours[first], 1 << first, component & ~(1 << first)
    if seen.bit_count() >= below:
        return None
    while left:
        least, equals = 2 * len(neighbours) + 2, list[int]()
        for bundle in set_bits(left):
            new = (neighbours[bundle] & ~seen).bit_count()
            cost = 2 * new + (not seen >> bundle & 1)
            if cost < least:
                least, equals = cost, []
            if cost == least:
                equals.append(bundle)
                if cost == 0:
                    break
        pick = equals[0] if len(equals) == 1 else dice.choice(equals)
        order.append(pick)
        seen |= neighbours[pick]
        if (seen & ~closed).bit_count() >= below:
            return None
        closed |= 1 << pick
        left &= ~(1 << pick)
    return order
