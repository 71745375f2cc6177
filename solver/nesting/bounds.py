"""Quick exact bounds: what no plan can beat, before any search."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from solver.nesting.knapsack import KnapsackTables
from solver.nesting.model import NestingModel
from solver.nesting.scaled_job import ScaledJob

MOST_RUNGS = 1 << 22  # bits of a ladder; beyond it a bound rises to a whole multiple of the common measure only


def area_bound(model: NestingModel) -> Fraction:
    """Return a cost that no plan can beat, from lengths alone.

    n pieces on a bar need n - 1 cuts, so each piece and the bar's room grow by one kerf; a cut at a lean takes no less,
    and a piece no less than the mean of its edges. The best worth for its price of any stock, credit counted as if
    all that is not used were kept.
    """
    used = sum(kind.count * (kind.doubled + 2 * model.kerf_nm) for kind in model.kinds)
    rates = []
    for stock in model.stocks:
        room = 2 * (stock.room_nm + model.kerf_nm)
        keep = model.keep_value if model.keep_from_nm is not None else Fraction(0)
        # a bar with u of its room used costs at least cost (1 - keep (room - u) / (2 length)): linear in u
        empty = stock.cost * (1 - keep * Fraction(room, 2 * stock.length_nm))
        full = stock.cost
        rates.append(min(full / room, _least_rate(empty, full, room)))
    return max(Fraction(0), used * min(rates, default=Fraction(0)))


def _least_rate(empty: Fraction, full: Fraction, room: int) -> Fraction:
    """Return the least of (empty + (full - empty) u / room) / u for 0 < u <= room: at u = room unless empty is below 0."""
    return full / room if empty >= 0 else (full - empty) / room


class CostSteps:
    """The costs that whole bars can add up to: a bound rises to the next rung. With credit every cost can be."""

    def __init__(self, model: NestingModel) -> None:
        costs = {stock.cost for stock in model.stocks if stock.cost > 0}
        self.unit: Fraction | None = None
        if model.keep_from_nm is not None or not costs:
            return
        denominator = math.lcm(*(cost.denominator for cost in costs))
        whole = [int(cost * denominator) for cost in costs]
        measure = math.gcd(*whole)
        self.unit = Fraction(measure, denominator)
        self.coins = sorted(value // measure for value in whole)
        self._reached = 1
        self._known = 0

    def round_up(self, bound: Fraction) -> Fraction:
        """Return the least cost of whole bars that is not below the bound."""
        if self.unit is None:
            return bound
        steps = max(0, math.ceil(bound / self.unit))
        if steps + self.coins[-1] > MOST_RUNGS or self.coins[0] == 1:
            return steps * self.unit
        if steps + self.coins[-1] >= self._known:
            self._reach(2 * (steps + self.coins[-1]) + 1)
        rest = self._reached >> steps
        return (steps + ((rest & -rest).bit_length() - 1)) * self.unit

    def step_below(self, cost: Fraction) -> Fraction:
        """Return the greatest multiple of the unit below a cost; with credit, the cost itself."""
        return cost if self.unit is None else (math.ceil(cost / self.unit) - 1) * self.unit

    def step_above(self, bound: Fraction) -> Fraction:
        """Return the least cost of whole bars that is above the bound."""
        return bound if self.unit is None else self.round_up((math.floor(bound / self.unit) + 1) * self.unit)

    def _reach(self, known: int) -> None:
        """Note, bit by bit, which multiples of the unit some bars add up to."""
        mask, reached = (1 << known) - 1, 1
        for coin in self.coins:
            step = coin
            while step < known:
                reached |= (reached << step) & mask
                step *= 2
        self._reached, self._known = reached, known


@dataclass(frozen=True, slots=True)
class DualBound:
    """A proved bound: dual prices of kinds and stocks, whole at a scale, at which no pattern has a negative reduced cost."""

    bound: Fraction
    duals: list[int]
    stock_duals: list[int]
    scale: int
    value: int  # the bound, scaled


def dual_bound(tables: KnapsackTables, duals: Sequence[float], stock_duals: Sequence[float]) -> DualBound:
    """Return a proved bound from any dual prices of the kinds.

    `stock_duals`: what a bar of limited stock is worth having, at least 0, by stock. The prices are scaled to whole numbers
    and shrunk until no bar holds more worth than its cost and rent: then, by duality, no plan costs less than
    the worth of all pieces less the rent of all limited stock. Whole numbers only; after Farley (1990), Operations
    Research 38(5): 922-923, who shrinks by the worst bar at once.
    """
    core = tables.core
    model = core.model
    top = max(stock.cost for stock in model.stocks)
    nothing = DualBound(Fraction(0), [0] * len(duals), [0] * len(stock_duals), 1, 0)
    if top <= 0:
        return nothing
    scale = math.floor(Fraction(1 << 50) / top)
    if scale == 0:
        return nothing
    costs = [least_costs_by_room(core, n, scale) for n in range(len(model.stocks))]
    shrink = 1.0
    for _ in range(20):
        whole = [max(0, math.floor(worth * shrink * scale)) for worth in duals]
        lent = [
            0 if stock.count is None else max(0, math.ceil(rent * shrink * scale))
            for stock, rent in zip(model.stocks, stock_duals, strict=True)
        ]
        tables.fill(whole)
        worst = 1.0
        for n, net in enumerate(costs):
            over = tables.best(n) - lent[n]
            if not bool(np.all(over <= net)):
                ratio = np.divide(net, over, out=np.ones(len(over)), where=over > net)
                worst = min(worst, float(ratio.min()))
        if worst == 1.0:
            value = sum(count * worth for count, worth in zip(core.counts, whole, strict=True))
            value -= sum(rent * (stock.count or 0) for stock, rent in zip(model.stocks, lent, strict=True))
            return DualBound(max(Fraction(0), Fraction(value, scale)), whole, lent, scale, value) if value > 0 else nothing
        shrink *= worst * (1 - 1e-13)
    return nothing


def least_costs_by_room(core: ScaledJob, stock: int, scale: int) -> NDArray[np.int64]:
    """Return what a bar costs at least, scaled, by the room used: its price less credit, rounded down."""
    credits = core.credits(stock)
    cost = core.model.stocks[stock].cost
    if credits is None:
        return np.full(core.rooms[stock] + 1, math.floor(cost * scale), dtype=np.int64)
    return np.array([math.floor((cost - credit) * scale) for credit in credits], dtype=np.int64)
