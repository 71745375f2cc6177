"""Depth-first search over the order in which bundles close, within a given number of open bundles."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field


class OutOfTime(Exception):
    """The search was stopped before it could answer."""


@dataclass(slots=True)
class _Node:
    """Bundles touched so far and closed so far, how long the order was before, and what may close next."""

    seen: int
    closed: int
    length: int
    next: list[tuple[int, int]]  # what each choice newly opens, and the bundle that it closes first


@dataclass(slots=True)
class ClosingSearch:
    """Orders of closing for one connected part; what failed for a width fails for every smaller one."""

    neighbours: Sequence[int]
    component: int
    over: Callable[[], bool]
    failed: set[int] = field(default_factory=set)
    nodes: int = 0

    def order_within(self, most: int) -> list[int] | None:
        """Return an order that keeps at most `most` bundles open, or None when there is none.

        Asked with falling `most`: failures are kept. Raises OutOfTime. The state is the set of bundles touched, since
        everything that can close without opening another has closed. After Chu and Stuckey (2009), Minimizing the
        maximum number of open stacks by customer search, CP 2009, LNCS 5732: 242-257 (closing order, definite moves,
        dominance between moves).
        """
        order: list[int] = []
        trail = [self._settle(0, 0, order, most)]
        while trail:
            node = trail[-1]
            if node.closed == self.component:
                return order
            if not node.next:
                self.failed.add(node.seen)
                trail.pop()
                del order[node.length :]
                continue
            new, bundle = node.next.pop()
            seen = node.seen | new
            if seen in self.failed:
                continue
            mark = len(order)
            order.append(bundle)
            child = self._settle(seen, node.closed | 1 << bundle, order, most)
            child.length = mark
            if child.seen in self.failed:
                del order[mark:]
                self.failed.add(seen)
                continue
            trail.append(child)
        return None

    def _settle(self, seen: int, closed: int, order: list[int], most: int) -> _Node:
        """Return the node after every move that is never wrong, with the moves worth trying, best last."""
        self.nodes += 1
        if self.nodes % 64 == 0 and self.over():
            raise OutOfTime
        start = len(order)
        neighbours = self.neighbours
        while True:
            fresh: dict[int, list[int]] = {}
            rest, unseen = self.component & ~closed, ~seen
            while rest:  # `bits`, spelt out: most of the time goes here
                low = rest & -rest
                rest ^= low
                bundle = low.bit_length() - 1
                new = neighbours[bundle] & unseen
                if not new:
                    closed |= low
                    order.append(bundle)
                elif new in fresh:
                    fresh[new].append(bundle)
                else:
                    fresh[new] = [bundle]
            room = most - (seen & ~closed).bit_count()
            # A move that opens all that another opens, and more, can wait: closing the other first costs nothing.
            least: list[tuple[int, int]] = []
            for new in sorted((new for new in fresh if new.bit_count() <= room), key=int.bit_count):
                for other, _ in least:
                    if not other & ~new:
                        break
                else:
                    least.append((new, fresh[new][0]))
            sure = next(((new, who) for new, who in least if new.bit_count() <= len(fresh[new])), None)
            if sure is None:
                least.sort(key=lambda move: len(fresh[move[0]]) - move[0].bit_count())
                return _Node(seen, closed, start, least)
            # It closes as many as it opens. The number open after a set of closings is submodular, so any order that
            # succeeds from here succeeds with these closings brought to its front.
            seen |= sure[0]
