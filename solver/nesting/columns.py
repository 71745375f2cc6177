"""The linear bound over all patterns of square pieces: column generation with bounded knapsacks as pricing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np

from solver.nesting.bounds import CostSteps, DualBound, dual_bound
from solver.nesting.knapsack import KnapsackTables
from solver.nesting.programs import Column, CoveringProgram
from solver.nesting.scaled_job import Floats, Pattern, ScaledJob
from solver.search import Search

NEAR = 1e-9
AT_ONCE = 24  # columns taken from one filling of the tables


@dataclass(slots=True)
class Relaxation:
    """The covering program over the patterns so far, its prices, and the best bound proved with them."""

    core: ScaledJob
    search: Search
    cost_steps: CostSteps
    scale: float = 1.0
    patterns: list[Pattern] = field(default_factory=list)
    known: set[tuple[int, tuple[tuple[int, int], ...]]] = field(default_factory=set)
    limited: tuple[int, ...] = ()
    value: float = float("inf")
    shares: Floats = field(default_factory=lambda: np.zeros(0))
    duals: Floats = field(default_factory=lambda: np.zeros(0))
    stock_duals: Floats = field(default_factory=lambda: np.zeros(0))
    bound: Fraction = Fraction(0)
    proof: DualBound | None = None
    converged: bool = False
    rounds: int = 0
    artificial: int = 0
    last_duals: Floats = field(default_factory=lambda: np.zeros(0))
    last_stock_duals: Floats = field(default_factory=lambda: np.zeros(0))
    needs: Floats = field(default_factory=lambda: np.zeros(0))
    short: bool = False  # whether limited stock leaves pieces over in the program's optimum
    tables: KnapsackTables = field(init=False)
    whole_tables: KnapsackTables = field(init=False)
    program: CoveringProgram = field(init=False)
    net: list[Floats] = field(init=False)

    def __post_init__(self) -> None:
        core, stocks = self.core, self.core.model.stocks
        self.needs = np.array(core.counts, dtype=np.float64)
        self.scale = float(max((stock.cost for stock in stocks), default=Fraction(0))) or 1.0
        self.limited = tuple(n for n, stock in enumerate(stocks) if stock.count is not None)
        self.tables = KnapsackTables(core)
        self.whole_tables = KnapsackTables(core, low=True, whole=True)
        limits = [float(stocks[n].count or 0) for n in self.limited]
        self.program = CoveringProgram([float(count) for count in core.counts], limits)
        self.net = [self._net(n) for n in range(len(stocks))]
        if self.limited:
            dear = 4.0 + 2.0 * len(core.counts)
            self.program.add([Column(dear, (kind,), (1.0,)) for kind in range(len(core.counts))])
            self.artificial = len(core.counts)

    def _net(self, stock: int) -> Floats:
        credits = self.core.credits(stock)
        cost = self.core.model.stocks[stock].cost
        if credits is None:
            return np.full(1, float(cost) / self.scale)
        return np.array([float(cost - credit) / self.scale for credit in credits])

    def column(self, pattern: Pattern) -> Column:
        """Return a pattern as a column, its cost scaled."""
        rows = tuple(kind for kind, _ in pattern.counts)
        counts = tuple(float(count) for _, count in pattern.counts)
        if pattern.stock in self.limited:
            rows, counts = (*rows, len(self.core.counts) + self.limited.index(pattern.stock)), (*counts, 1.0)
        return Column(float(pattern.cost) / self.scale, rows, counts)

    def offer(self, patterns: Iterable[Pattern]) -> int:
        """Add the patterns that are new; return how many were."""
        new = []
        for pattern in patterns:
            key = (pattern.stock, pattern.counts)
            if key not in self.known:
                self.known.add(key)
                new.append(pattern)
        self.patterns.extend(new)
        self.program.add([self.column(pattern) for pattern in new])
        return len(new)

    def solve(self) -> tuple[Floats, Floats]:
        """Solve the program; return the dual prices of the kinds and of the stocks, scaled."""
        self.value, shares, prices = self.program.solve()
        self.shares = shares[self.artificial :]
        self.short = bool(self.artificial) and bool(np.any(shares[: self.artificial] > NEAR))
        kinds = len(self.core.counts)
        stock_duals = np.zeros(len(self.core.model.stocks))
        for place, stock in enumerate(self.limited):
            stock_duals[stock] = max(0.0, -prices[kinds + place])
        return np.maximum(prices[:kinds], 0.0), stock_duals

    def price(self, duals: Floats, stock_duals: Floats) -> tuple[list[Pattern], float]:
        """Return patterns of negative reduced cost at these dual prices, and the least ratio of cost to worth."""
        self.tables.fill(duals)
        found: list[Pattern] = []
        ratio = 1.0
        for stock, net in enumerate(self.net):
            best = self.tables.best(stock) - stock_duals[stock]
            used = len(best) - 1 if len(net) == 1 else int(np.argmax(best - net))
            cost = float(net[0] if len(net) == 1 else net[used])
            if best[used] <= cost + NEAR:
                continue
            if cost <= 0:
                ratio = 0.0  # what costs nothing is worth too much at any price
            else:
                over = best[used:] / net if len(net) == 1 else np.max(best[net > 0] / net[net > 0])
                ratio = min(ratio, 1.0 / float(np.max(over)))
            for taken, (worth, row) in enumerate(self.tables.best_rows(stock, used)):
                if worth - stock_duals[stock] <= cost + NEAR or taken == AT_ONCE:
                    break
                found.append(self.core.pattern(stock, self.tables.counts(stock, used, row)))
        return found, ratio

    def set_demand(self, needs: Sequence[int]) -> None:
        """Set other counts of the kinds, none above the job's: what is left once some bars are fixed."""
        self.program.set_needs([float(need) for need in needs])
        self.tables.set_demand(needs)
        self.whole_tables.set_demand(needs)
        self.needs = np.array(needs, dtype=np.float64)

    def generate_columns(self, *, rounds: int) -> None:
        """Add columns for a few rounds, to whatever is needed now; leaves value, shares and prices behind."""
        for n in range(rounds):
            self.last_duals, self.last_stock_duals = self.solve()
            if n == rounds - 1 or self.search.over():
                break
            found, _ = self.price(self.last_duals, self.last_stock_duals)
            if not self.offer(found):
                break

    def run(self) -> None:
        """Generate columns until none helps, the bound stands on the plan's step, or the time is over.

        Prices are drawn toward the best ones so far (Wentges 1997, International Transactions in Operational
        Research 4(2): 151-162), so that fewer rounds are needed.
        """
        stock_counts = np.array([float(stock.count or 0) for stock in self.core.model.stocks])
        best, weight = -1.0, 0.6
        centre: Floats | None = None
        centre_stock_duals: Floats | None = None
        while not self.search.over():
            self.rounds += 1
            duals, stock_duals = self.solve()
            ask, ask_stock_duals, smooth = duals, stock_duals, False
            if centre is not None and centre_stock_duals is not None and weight > 0:
                ask = weight * centre + (1 - weight) * duals
                ask_stock_duals = weight * centre_stock_duals + (1 - weight) * stock_duals
                smooth = True
            found, ratio = self.price(ask, ask_stock_duals)
            floor = ratio * float(self.needs @ ask - stock_counts @ ask_stock_duals)
            if floor > best:
                best, centre, centre_stock_duals = floor, ratio * ask, ratio * ask_stock_duals
            added = self.offer(found)
            if best >= self.value * (1 - NEAR) or self._rung(best) >= self._rung(self.value):
                break
            if not added:
                if not smooth:
                    self.converged = True
                    break
                weight = 0.0
            elif weight == 0.0:
                weight = 0.3
        if centre is not None and centre_stock_duals is not None:
            self.duals, self.stock_duals = centre, centre_stock_duals
            self.prove()

    def _rung(self, value: float) -> float:
        if self.cost_steps.unit is None:
            return value
        steps = value * self.scale / float(self.cost_steps.unit)
        return float(np.ceil(steps - 1e-6))

    def prove(self) -> None:
        """Prove a bound in whole numbers from the best dual prices."""
        made = dual_bound(self.whole_tables, list(self.duals * self.scale), list(self.stock_duals * self.scale))
        if self.proof is None or made.bound > self.proof.bound:
            self.proof, self.bound = made, made.bound
