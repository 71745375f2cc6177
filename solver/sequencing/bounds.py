"""Open bundles that no order can do without, and orders to start from."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from random import Random

from solver.sequencing.graph import bits


def contraction_bound(near: Sequence[int], part: int, over: Callable[[], bool]) -> int:
    """Return a number of bundles that are open together in every order of the part's bars.

    Every order is a path decomposition whose bags are the open bundles, so treewidth + 1 is a bound; contracting edges
    never raises treewidth, which is at least the least degree of any minor. Each step contracts a vertex of least
    degree into the neighbour with which it shares fewest neighbours: "least-c" of Bodlaender and Koster (2011),
    Treewidth computations II, Information and Computation 209(7): 1103-1119. Ends early, still valid, when `over()`.
    """
    around = {bundle: near[bundle] & part & ~(1 << bundle) for bundle in bits(part)}
    best = 0
    while around and len(around) > best + 1 and not over():
        thin = min(around, key=lambda bundle: (around[bundle].bit_count(), bundle))
        reach = around.pop(thin)
        best = max(best, reach.bit_count())
        if not reach:
            continue
        into = min(bits(reach), key=lambda bundle: ((around[bundle] & reach).bit_count(), bundle))
        for bundle in bits(reach):
            around[bundle] &= ~(1 << thin)
            if bundle != into:
                around[bundle] |= 1 << into
        around[into] |= reach & ~(1 << into)
    return best + 1


def width_of(near: Sequence[int], order: Sequence[int]) -> int:
    """Return the most bundles open when bundles are closed in this order, each as soon as its bars are cut."""
    seen = closed = most = 0
    for bundle in order:
        seen |= near[bundle]
        most = max(most, (seen & ~closed).bit_count())
        closed |= 1 << bundle
    return most


def greedy_order(near: Sequence[int], part: int, first: int, over: Callable[[], bool]) -> list[int]:
    """Return an order of closing the part's bundles: after `first`, always the one that opens fewest others."""
    order, seen, left = [first], near[first], part & ~(1 << first)
    while left:
        if over():
            return order + list(bits(left))
        least, pick = 2 * len(near) + 2, -1
        for bundle in bits(left):
            new = (near[bundle] & ~seen).bit_count()
            # a bundle already open is better than one of equal cost that is not: it leaves the floor
            cost = 2 * new + (not seen >> bundle & 1)
            if cost < least:
                least, pick = cost, bundle
                if cost == 0:
                    break
        order.append(pick)
        seen |= near[pick]
        left &= ~(1 << pick)
    return order


def drawn_order(near: Sequence[int], part: int, below: int, dice: Random) -> list[int] | None:
    """Return an order narrower than `below`, found as `greedy_order` does but by lot among equals; None when it is not."""
    first = dice.choice(list(bits(part)))
    order, seen, closed, left = [first], near[first], 1 << first, part & ~(1 << first)
    if seen.bit_count() >= below:
        return None
    while left:
        least, equals = 2 * len(near) + 2, list[int]()
        for bundle in bits(left):
            new = (near[bundle] & ~seen).bit_count()
            cost = 2 * new + (not seen >> bundle & 1)
            if cost < least:
                least, equals = cost, []
            if cost == least:
                equals.append(bundle)
                if cost == 0:
                    break
        pick = equals[0] if len(equals) == 1 else dice.choice(equals)
        order.append(pick)
        seen |= near[pick]
        if (seen & ~closed).bit_count() >= below:
            return None
        closed |= 1 << pick
        left &= ~(1 << pick)
    return order
