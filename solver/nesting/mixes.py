"""All mixes of stock (how many bars of each length) that a cheaper plan could have, and cuts that rule them out.

Bars without credit cost what their mix costs. Whole worths of the kinds, of which a bar of stock s holds at most r[s], prove
that sum(r[s] * bars of s) is no less than the worth of all pieces: a cut on the mix, after Chvatal (1973), Discrete
Mathematics 4: 305-337. A mix that has no plan rules out all that have no more of any stock, as in Benders' method with logic
(Hooker and Ottosson 2003, Mathematical Programming 96: 33-60). All in whole numbers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from solver.nesting.scaled_job import Whole

MOST_ROWS = 1_000_000
MOST_BITS = 50  # of the cost of a plan, in steps
_ANY = np.iinfo(np.int64).max >> 24  # more bars than a plan has

Mix = tuple[int, ...]


@dataclass(frozen=True, slots=True)
class MixCut:
    """No plan has a mix with sum(stock_duals * mix) below `need`: `duals` of the kinds prove it."""

    duals: tuple[int, ...]
    stock_duals: tuple[int, ...]
    need: int

    def slack(self, mix: Sequence[int]) -> int:
        """Return by how much the mix is above the cut; below 0 no plan has it."""
        return sum(rent * bars for rent, bars in zip(self.stock_duals, mix, strict=True)) - self.need


@dataclass(frozen=True, slots=True)
class Excess:
    """What each bar costs beyond what it can be worth, and how much of that a plan can afford: sum(each * mix) <= most."""

    each: tuple[int, ...]
    most: int


class Mixes:
    """The mixes that cost less than `below`: for each choice of all stocks but one the least of that one.

    Costs in whole steps, `least` a bound. Not `complete` where there are too many mixes to look at.
    """

    def __init__(self, costs: Sequence[int], counts: Sequence[int | None], *, least: int, below: int, excess: Excess) -> None:
        self.costs, self.below = np.array(costs, dtype=np.int64), below
        each, most = list(excess.each), excess.most
        for stock, count in enumerate(counts):
            if each[stock] < 0:  # of limited stock, which is worth more than it costs
                most -= each[stock] * (count or 0)
                each[stock] = 0
        order = sorted(range(len(costs)), key=lambda n: (-(each[n] // max(1, most)), -costs[n]))
        self.last, self.limit = order[-1], counts[order[-1]]
        self.rows: Whole = np.zeros((1, len(costs)), dtype=np.int64)
        self.undecided: dict[Mix, int] = {}
        self.complete = min(costs) > 0 and most >= 0 and below.bit_length() <= MOST_BITS
        afford = np.array([most], dtype=np.int64)
        for stock in order[:-1]:
            afford = self._spread(stock, counts[stock], each[stock], afford)
        self.floor: Whole = np.zeros(len(self.rows), dtype=np.int64)
        if self.complete:
            self.add_cut(costs, least)

    def _spread(self, stock: int, count: int | None, each: int, afford: Whole) -> Whole:
        """Take every number of this stock beside what is there; return what is left to afford."""
        room = (self.below - 1 - self.rows @ self.costs) // int(self.costs[stock]) + 1
        if each:
            room = np.minimum(room, afford // each + 1)
        if count is not None:
            room = np.minimum(room, count + 1)
        self.complete = self.complete and int(room.sum()) <= MOST_ROWS
        if not self.complete:
            return afford
        rows, ends = np.repeat(self.rows, room, axis=0), np.cumsum(room)
        rows[:, stock] = np.arange(len(rows)) - np.repeat(ends - room, room)
        self.rows = rows
        left: Whole = np.repeat(afford, room) - each * rows[:, stock]
        return left

    def add_cut(self, stock_duals: Sequence[int], need: int) -> None:
        """Rule out the mixes whose dual prices are less than `need` in sum; nothing where that is too much to add up."""
        if max(*stock_duals, 1) * (self.below // int(self.costs.min()) + 1) + need >= 1 << 62:
            return
        missing = need - self.rows @ np.array(stock_duals, dtype=np.int64)
        rent = stock_duals[self.last]
        self._raise(-(-missing // rent) if rent else np.where(missing > 0, _ANY, 0))

    def exclude(self, mix: Mix) -> None:
        """Rule out a mix and all that have no more of any stock."""
        self._raise(np.where(self._others(mix, equal=False), mix[self.last] + 1, 0))
        self.undecided = {
            other: cost
            for other, cost in self.undecided.items()
            if any(one > most for one, most in zip(other, mix, strict=True))
        }

    def set_aside(self, mix: Mix, cost: int) -> None:
        """Put a mix aside that could not be decided."""
        self.undecided[mix] = cost
        self._raise(np.where(self._others(mix, equal=True), mix[self.last] + 1, 0))

    def _others(self, mix: Mix, *, equal: bool) -> Whole:
        rows, of_this_type = np.delete(self.rows, self.last, axis=1), np.delete(np.array(mix), self.last)
        made: Whole = np.all(rows == of_this_type if equal else rows <= of_this_type, axis=1)
        return made

    def _raise(self, floor: Whole) -> None:
        floor = np.maximum(self.floor, floor)
        keep = floor < _ANY if self.limit is None else floor <= self.limit
        keep &= self.rows @ self.costs + np.minimum(floor, _ANY) * self.costs[self.last] < self.below
        self.rows, self.floor = self.rows[keep], floor[keep]

    def set_cost_limit(self, below: int) -> None:
        """Forget the mixes that cost as much or more."""
        self.below = below
        self._raise(self.floor)
        self.undecided = {mix: cost for mix, cost in self.undecided.items() if cost < below}

    def cheapest(self) -> tuple[int, Mix] | None:
        """Return the cheapest mix that is neither ruled out nor put aside, with its cost."""
        if not len(self.rows):
            return None
        costs = self.rows @ self.costs + self.floor * self.costs[self.last]
        n = int(np.argmin(costs))
        mix = [int(bars) for bars in self.rows[n]]
        mix[self.last] = int(self.floor[n])
        return int(costs[n]), tuple(mix)

    def bound(self) -> int:
        """Return the cost of the cheapest mix that is not ruled out, at most the cost that all were to stay below."""
        first = self.cheapest()
        return min([self.below, *self.undecided.values(), *([first[0]] if first else [])])
