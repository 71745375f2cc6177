"""Rack slots beside the saw: pieces that can't be stacked yet wait, and what a plan's yield costs in slots."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from solver.search import Search

NODES = 150_000  # bars tried by the exact search for one plan: a count, so that results repeat
BEAM_WORK = 400_000  # bars tried by the beam


@dataclass(frozen=True, slots=True, kw_only=True)
class RackBar:
    """A bar and its pieces in the order in which they leave the saw."""

    id: str
    pieces: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RackOrder:
    """Bars in cut order, the most pieces waiting at one time, and the bound of every order of these bars."""

    order: tuple[str, ...]
    slots: int
    lower_bound: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A cut plan on offer: what it costs (or wastes) and its bars."""

    id: str
    cost: float
    bars: tuple[RackBar, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CurvePoint:
    """What a candidate costs and needs in rack slots; `best` when no other is as good in one and better in the other."""

    plan: str
    cost: float
    rack: RackOrder
    best: bool


class _OutOfNodes(Exception):
    """The exact search tried as many bars as it may."""


@dataclass(frozen=True, slots=True)
class _State:
    """How high each stack stands, which pieces wait, and which bars are cut."""

    heights: tuple[int, ...]
    waiting: frozenset[str]
    cut: int


class _Floor:
    """The saw, the stacks and the rack: what cutting one more bar does."""

    def __init__(self, bars: Sequence[RackBar], stacks: Sequence[Sequence[str]]) -> None:
        self.bars = bars
        self.stacks = stacks
        self.place = {piece: (stack, level) for stack, pieces in enumerate(stacks) for level, piece in enumerate(pieces)}
        self.start = _State((0,) * len(stacks), frozenset(), 0)

    def cut(self, state: _State, bar: int) -> tuple[_State, int]:
        """Return the state after a bar and the most pieces that waited during it.

        A piece of no stack leaves the saw without waiting.
        """
        heights, waiting, most = list(state.heights), set(state.waiting), len(state.waiting)
        for piece in self.bars[bar].pieces:
            if piece not in self.place:
                continue
            stack, level = self.place[piece]
            if level != heights[stack]:
                waiting.add(piece)
                most = max(most, len(waiting))
                continue
            heights[stack] += 1
            pieces = self.stacks[stack]
            while heights[stack] < len(pieces) and pieces[heights[stack]] in waiting:
                waiting.remove(pieces[heights[stack]])
                heights[stack] += 1
        return _State(tuple(heights), frozenset(waiting), state.cut | 1 << bar), most

    def left(self, state: _State) -> list[int]:
        """Return the bars that are still to be cut."""
        return [bar for bar in range(len(self.bars)) if not state.cut >> bar & 1]


def rack_slots(bars: Iterable[RackBar], stacks: Sequence[Sequence[str]]) -> int:
    """Return the most pieces that wait at one time when bars are cut in this order; stacks are given bottom first."""
    floor = _Floor(tuple(bars), stacks)
    state, most = floor.start, 0
    for bar in range(len(floor.bars)):
        state, peak = floor.cut(state, bar)
        most = max(most, peak)
    return most


def fewest_slots(bars: Sequence[RackBar], stacks: Sequence[Sequence[str]], search: Search) -> RackOrder:
    """Return an order of the bars with few pieces waiting, proved fewest where `lower_bound` equals `slots`.

    A beam finds an order; a depth-first search with a memo of failed sets of bars then raises the bound from none
    upward until an order is found or it has tried its share of bars.
    """
    floor = _Floor(bars, stacks)
    order, slots = _beam(floor)
    bound, exact = 0, _Exact(floor, search)
    try:
        while bound < slots:
            found = exact.within(bound)
            if found is not None:
                order, slots = found, bound
                break
            bound += 1
    except _OutOfNodes:
        pass
    return RackOrder(order=tuple(bars[bar].id for bar in order), slots=slots, lower_bound=bound)


def curve(plans: Sequence[Candidate], stacks: Sequence[Sequence[str]], search: Search) -> tuple[CurvePoint, ...]:
    """Return what each candidate costs in yield and in rack slots, cheapest first: the planner picks a point."""
    found = []
    for number, plan in enumerate(plans):
        search.tell("counting rack slots", number / len(plans))
        found.append((plan, fewest_slots(plan.bars, stacks, search)))
    found.sort(key=lambda item: (item[0].cost, item[1].slots, item[0].id))
    points, fewest = [], None
    for plan, rack in found:
        best = fewest is None or rack.slots < fewest
        fewest = rack.slots if best else fewest
        points.append(CurvePoint(plan=plan.id, cost=plan.cost, rack=rack, best=best))
    return tuple(points)


def _beam(floor: _Floor) -> tuple[list[int], int]:
    """Return an order found by keeping the most promising sets of bars, and its slots."""
    count = len(floor.bars)
    width = max(1, min(64, BEAM_WORK // max(1, count * count)))
    layer: list[tuple[int, _State, tuple[int, ...]]] = [(0, floor.start, ())]
    for _ in range(count):
        reached: dict[int, tuple[int, _State, tuple[int, ...]]] = {}
        for peak, state, order in layer:
            for bar in floor.left(state):
                after, most = floor.cut(state, bar)
                top = max(peak, most)
                known = reached.get(after.cut)
                if known is None or top < known[0]:
                    reached[after.cut] = (top, after, (*order, bar))
        ranked = sorted(reached.values(), key=lambda item: (item[0], len(item[1].waiting), -sum(item[1].heights), item[2]))
        layer = ranked[:width]
    return list(layer[0][2]), layer[0][0]


class _Exact:
    """Orders of all bars within so many slots; the waiting pieces depend only on which bars are cut."""

    def __init__(self, floor: _Floor, search: Search) -> None:
        self.floor = floor
        self.search = search
        self.nodes = 0

    def within(self, slots: int) -> list[int] | None:
        """Return an order that keeps to the slots, or None when there is none. Raises _OutOfNodes."""
        failed: set[int] = set()
        state, order = self._free(self.floor.start)
        trail = [(state, order, self._choices(state, slots))]
        while trail:
            state, order, choices = trail[-1]
            if state.cut == (1 << len(self.floor.bars)) - 1:
                return order
            if not choices:
                failed.add(state.cut)
                trail.pop()
                continue
            bar, after = choices.pop()
            if after.cut in failed:
                continue
            settled, more = self._free(after)
            if settled.cut not in failed:
                trail.append((settled, [*order, bar, *more], self._choices(settled, slots)))
        return None

    def _free(self, state: _State) -> tuple[_State, list[int]]:
        """Return the state after all bars that leave no piece waiting: cutting them at once never hurts."""
        order: list[int] = []
        again = True
        while again:
            again = False
            for bar in self.floor.left(state):
                after, most = self._cut(state, bar)
                if most <= len(state.waiting):
                    state, again = after, True
                    order.append(bar)
        return state, order

    def _choices(self, state: _State, slots: int) -> list[tuple[int, _State]]:
        """Return the bars that may come next and what they lead to, fewest left waiting last."""
        tried = [(bar, *self._cut(state, bar)) for bar in self.floor.left(state)]
        kept = [(bar, after) for bar, after, most in tried if most <= slots]
        return sorted(kept, key=lambda item: (-len(item[1].waiting), -item[0]))

    def _cut(self, state: _State, bar: int) -> tuple[_State, int]:
        self.nodes += 1
        if self.nodes > NODES or (self.nodes % 256 == 0 and self.search.over()):
            raise _OutOfNodes
        return self.floor.cut(state, bar)
