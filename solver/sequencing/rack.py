"""Bars in an order that keeps few pieces waiting in the rack beside the saw, within so many open bundles."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from solver.domain.sequence import BarBundles
from solver.search import Search

NODES = 30_000  # bars tried by the exact search: a count, so that results repeat
BEAM_WORK = 100_000  # bars tried by the beam, about
HURRIED_WORK = 40_000  # and when time is over
FRESH = 24  # bars of bundles not open yet that the beam looks at, beside all bars of open bundles


@dataclass(frozen=True, slots=True, kw_only=True)
class RackOrder:
    """Bars in cut order by number, the most pieces waiting at one time, and the bound of every order allowed."""

    order: tuple[int, ...]
    slots: int
    lower_bound: int


class _OutOfNodes(Exception):
    """The exact search tried as many bars as it may."""


@dataclass(frozen=True, slots=True)
class _State:
    """Which bars are cut, which pieces of each stack, how many wait; bundles touched, and how many are open."""

    cut: int
    stacks: tuple[int, ...]
    waiting: int
    touched: int
    open: int


@dataclass(frozen=True, slots=True)
class _Step:
    """What cutting a bar does: stacks that change, pieces waiting after and at most meanwhile, bundles open meanwhile."""

    changed: dict[int, int]
    waiting: int
    most: int
    touched: int
    open: int


class _Floor:
    """The saw, the stacks and the rack."""

    def __init__(self, bars: Sequence[BarBundles], stacks: Sequence[Sequence[str]]) -> None:
        place = {piece: (stack, 1 << level) for stack, pieces in enumerate(stacks) for level, piece in enumerate(pieces)}
        number: dict[str, int] = {}
        self.count = len(bars)
        self.pieces = [[place[piece] for piece in bar.pieces if piece in place] for bar in bars]  # others never wait
        self.bundles = [0] * len(bars)
        self.bars_of: list[int] = []
        for n, bar in enumerate(bars):
            for bundle in bar.bundles:
                at = number.setdefault(bundle, len(number))
                if at == len(self.bars_of):
                    self.bars_of.append(0)
                self.bars_of[at] |= 1 << n
                self.bundles[n] |= 1 << at
        self.start = _State(0, (0,) * len(stacks), 0, 0, 0)
        self.all = (1 << len(bars)) - 1

    def step(self, state: _State, bar: int) -> _Step:
        changed: dict[int, int] = {}
        waiting = most = state.waiting
        for stack, piece in self.pieces[bar]:
            have = changed.get(stack, state.stacks[stack])
            top = ~have & (have + 1)  # the lowest piece that is missing
            have |= piece
            if piece == top:
                waiting -= (~have & (have + 1)).bit_length() - top.bit_length() - 1
            else:
                waiting += 1
                most = max(most, waiting)
            changed[stack] = have
        touched = state.touched | self.bundles[bar]
        return _Step(changed, waiting, most, touched, state.open + (touched & ~state.touched).bit_count())

    def after(self, state: _State, bar: int, step: _Step) -> _State:
        stacks = list(state.stacks)
        for stack, have in step.changed.items():
            stacks[stack] = have
        cut, closed, mine = state.cut | 1 << bar, 0, self.bundles[bar]
        while mine:
            low = mine & -mine
            closed += not self.bars_of[low.bit_length() - 1] & ~cut
            mine ^= low
        return _State(cut, tuple(stacks), step.waiting, step.touched, step.open - closed)

    def left(self, state: _State) -> Iterator[int]:
        rest = self.all & ~state.cut
        while rest:
            low = rest & -rest
            yield low.bit_length() - 1
            rest ^= low

    def choices(self, state: _State) -> Iterator[int]:
        """The bars of open bundles, and the first few others."""
        fresh = 0
        for bar in self.left(state):
            if self.bundles[bar] & state.touched:
                yield bar
            elif fresh < FRESH:
                fresh += 1
                yield bar


def rack_slots_needed(bars: Sequence[BarBundles], stacks: Sequence[Sequence[str]]) -> int:
    """Return the most pieces that wait at one time when bars are cut in this order; stacks are given bottom first."""
    floor = _Floor(bars, stacks)
    state, most = floor.start, 0
    for bar in range(floor.count):
        step = floor.step(state, bar)
        state, most = floor.after(state, bar, step), max(most, step.most)
    return most


def order_for_fewest_slots(
    bars: Sequence[BarBundles], stacks: Sequence[Sequence[str]], open_max: int | None, search: Search
) -> RackOrder:
    """Return an order with few pieces waiting, within `open_max` where the beam finds one; with the bound of all such.

    A beam finds an order; a depth-first search with a memo of failed sets of bars then raises the bound from none
    upward until an order is found or it has tried its share of bars.
    """
    floor = _Floor(bars, stacks)
    most_open = len(floor.bars_of) if open_max is None else open_max
    order, slots, kept = _beam(floor, most_open, search)
    bound, exact = 0, _Exact(floor, most_open, search)
    try:
        while bound < slots or not kept:
            found = exact.order_within(bound)
            if found is not None:
                return RackOrder(order=tuple(found), slots=bound, lower_bound=bound)
            if bound > sum(map(len, floor.pieces)):
                break  # no order keeps to the open bundles, however many wait
            bound += 1
    except _OutOfNodes:
        pass
    return RackOrder(order=tuple(order), slots=slots, lower_bound=min(bound, slots))


@dataclass(frozen=True, slots=True)
class _Reached:
    over: int  # open bundles beyond the limit
    slots: int
    state: _State
    order: tuple[int, ...]

    def rank(self) -> tuple[int, int, int, int, int]:
        return (self.over, self.slots, self.state.waiting, self.state.open, -self.state.touched.bit_count())


def _beam(floor: _Floor, most_open: int, search: Search) -> tuple[list[int], int, bool]:
    """Return an order found by keeping the most promising sets of bars, its slots, and whether it keeps the open bundles."""
    pairs = max(1, floor.count * floor.count)
    width, hurried = (max(1, min(48, work // pairs)) for work in (BEAM_WORK, HURRIED_WORK))
    layer = [_Reached(0, 0, floor.start, ())]
    for _ in range(floor.count):
        if search.over():
            width = hurried
        tried: dict[int, tuple[tuple[int, int, int, int, int], _Reached, int, _Step]] = {}
        for reached in layer:
            for bar in floor.choices(reached.state):
                step = floor.step(reached.state, bar)
                over, slots = max(reached.over, step.open - most_open), max(reached.slots, step.most)
                rank = (over, slots, step.waiting, step.open, bar)
                known = tried.get(reached.state.cut | 1 << bar)
                if known is None or rank < known[0]:
                    tried[reached.state.cut | 1 << bar] = (rank, reached, bar, step)
        layer = []
        for rank, reached, bar, step in sorted(tried.values(), key=lambda item: (item[0], item[1].order))[:width]:
            state = floor.after(reached.state, bar, step)
            layer.append(_Reached(rank[0], rank[1], state, (*reached.order, bar)))
    best = min(layer, key=lambda item: (item.over, item.slots, item.order))
    return list(best.order), best.slots, best.over == 0


class _Exact:
    """Orders of all bars within so many slots and open bundles; what waits depends only on which bars are cut."""

    def __init__(self, floor: _Floor, most_open: int, search: Search) -> None:
        self.floor = floor
        self.most_open = most_open
        self.search = search
        self.nodes = 0

    def order_within(self, slots: int) -> list[int] | None:
        """Return an order that keeps to the slots, or None when there is none. Raises _OutOfNodes."""
        failed: set[int] = set()
        state, order = self._free(self.floor.start)
        trail = [(state, order, self._choices(state, slots))]
        while trail:
            state, order, choices = trail[-1]
            if state.cut == self.floor.all:
                return order
            if not choices:
                failed.add(state.cut)
                trail.pop()
                continue
            bar, step = choices.pop()
            if state.cut | 1 << bar in failed:
                continue
            settled, more = self._free(self.floor.after(state, bar, step))
            if settled.cut not in failed:
                trail.append((settled, [*order, bar, *more], self._choices(settled, slots)))
        return None

    def _free(self, state: _State) -> tuple[_State, list[int]]:
        """Return the state after all bars that leave no piece more waiting and open no bundle: cutting them never hurts.

        Whatever is cut before such a bar in another order, its pieces would lie as well, so it may come first.
        """
        order: list[int] = []
        again = True
        while again:
            again = False
            for bar in self.floor.left(state):
                if self.floor.bundles[bar] & ~state.touched:
                    continue
                step = self._step(state, bar)
                if step.most <= state.waiting:
                    state, again = self.floor.after(state, bar, step), True
                    order.append(bar)
        return state, order

    def _choices(self, state: _State, slots: int) -> list[tuple[int, _Step]]:
        """Return the bars that may come next and what they do, fewest left waiting last."""
        tried = [(bar, self._step(state, bar)) for bar in self.floor.left(state)]
        kept = [(bar, step) for bar, step in tried if step.most <= slots and step.open <= self.most_open]
        return sorted(kept, key=lambda item: (-item[1].waiting, -item[1].open, -item[0]))

    def _step(self, state: _State, bar: int) -> _Step:
        self.nodes += 1
        if self.nodes > NODES or (self.nodes % 256 == 0 and self.search.over()):
            raise _OutOfNodes
        return self.floor.step(state, bar)
