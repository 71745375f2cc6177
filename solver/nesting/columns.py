"""The linear bound over all patterns of square pieces: column generation with bounded knapsacks as pricing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np

from solver.nesting.bounds import Certificate, Ladder, certify
from solver.nesting.core import Core, Floats, Pattern
from solver.nesting.knapsack import Tables
from solver.nesting.programs import Column, Covering
from solver.search import Search

NEAR = 1e-9
AT_ONCE = 24  # columns taken from one filling of the tables


@dataclass(slots=True)
class Relaxation:
    """The covering program over the patterns so far, its prices, and the best bound proved with them."""

    core: Core
    search: Search
    ladder: Ladder
    scale: float = 1.0
    patterns: list[Pattern] = field(default_factory=list)
    known: set[tuple[int, tuple[tuple[int, int], ...]]] = field(default_factory=set)
    limited: tuple[int, ...] = ()
    value: float = float("inf")
    shares: Floats = field(default_factory=lambda: np.zeros(0))
    worths: Floats = field(default_factory=lambda: np.zeros(0))
    rents: Floats = field(default_factory=lambda: np.zeros(0))
    bound: Fraction = Fraction(0)
    proof: Certificate | None = None
    converged: bool = False
    rounds: int = 0
    artificial: int = 0
    last_worths: Floats = field(default_factory=lambda: np.zeros(0))
    last_rents: Floats = field(default_factory=lambda: np.zeros(0))
    needs: Floats = field(default_factory=lambda: np.zeros(0))
    short: bool = False  # whether limited stock leaves pieces over in the program's optimum
    tables: Tables = field(init=False)
    whole_tables: Tables = field(init=False)
    program: Covering = field(init=False)
    net: list[Floats] = field(init=False)

    def __post_init__(self) -> None:
        core, stocks = self.core, self.core.model.stocks
        self.needs = np.array(core.counts, dtype=np.float64)
        self.scale = float(max((stock.cost for stock in stocks), default=Fraction(0))) or 1.0
        self.limited = tuple(n for n, stock in enumerate(stocks) if stock.count is not None)
        self.tables = Tables(core)
        self.whole_tables = Tables(core, low=True, whole=True)
        limits = [float(stocks[n].count or 0) for n in self.limited]
        self.program = Covering([float(count) for count in core.counts], limits)
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
        """Solve the program; return the worths of the kinds and the rents of the stocks, scaled."""
        self.value, shares, prices = self.program.solve()
        self.shares = shares[self.artificial :]
        self.short = bool(self.artificial) and bool(np.any(shares[: self.artificial] > NEAR))
        kinds = len(self.core.counts)
        rents = np.zeros(len(self.core.model.stocks))
        for place, stock in enumerate(self.limited):
            rents[stock] = max(0.0, -prices[kinds + place])
        return np.maximum(prices[:kinds], 0.0), rents

    def price(self, worths: Floats, rents: Floats) -> tuple[list[Pattern], float]:
        """Return patterns worth more than they cost at these worths, and the least ratio of cost to worth."""
        self.tables.fill(worths)
        found: list[Pattern] = []
        ratio = 1.0
        for stock, net in enumerate(self.net):
            best = self.tables.best(stock) - rents[stock]
            used = len(best) - 1 if len(net) == 1 else int(np.argmax(best - net))
            cost = float(net[0] if len(net) == 1 else net[used])
            if best[used] <= cost + NEAR:
                continue
            if cost <= 0:
                ratio = 0.0  # what costs nothing is worth too much at any price
            else:
                over = best[used:] / net if len(net) == 1 else np.max(best[net > 0] / net[net > 0])
                ratio = min(ratio, 1.0 / float(np.max(over)))
            for taken, (worth, row) in enumerate(self.tables.takers(stock, used)):
                if worth - rents[stock] <= cost + NEAR or taken == AT_ONCE:
                    break
                found.append(self.core.pattern(stock, self.tables.counts(stock, used, row)))
        return found, ratio

    def recount(self, needs: Sequence[int]) -> None:
        """Ask for other counts, none above the job's: what is left once some bars are fixed."""
        self.program.set_needs([float(need) for need in needs])
        self.tables.recount(needs)
        self.whole_tables.recount(needs)
        self.needs = np.array(needs, dtype=np.float64)

    def generate(self, *, rounds: int) -> None:
        """Add columns for a few rounds, to whatever is needed now; leaves value, shares and prices behind."""
        for n in range(rounds):
            self.last_worths, self.last_rents = self.solve()
            if n == rounds - 1 or self.search.over():
                break
            found, _ = self.price(self.last_worths, self.last_rents)
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
        centre_rents: Floats | None = None
        while not self.search.over():
            self.rounds += 1
            worths, rents = self.solve()
            ask, ask_rents, smooth = worths, rents, False
            if centre is not None and centre_rents is not None and weight > 0:
                ask = weight * centre + (1 - weight) * worths
                ask_rents = weight * centre_rents + (1 - weight) * rents
                smooth = True
            found, ratio = self.price(ask, ask_rents)
            floor = ratio * float(self.needs @ ask - stock_counts @ ask_rents)
            if floor > best:
                best, centre, centre_rents = floor, ratio * ask, ratio * ask_rents
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
        if centre is not None and centre_rents is not None:
            self.worths, self.rents = centre, centre_rents
            self.prove()

    def _rung(self, value: float) -> float:
        if self.ladder.unit is None:
            return value
        steps = value * self.scale / float(self.ladder.unit)
        return float(np.ceil(steps - 1e-6))

    def prove(self) -> None:
        """Turn the best prices into a bound that whole numbers prove."""
        made = certify(self.whole_tables, list(self.worths * self.scale), list(self.rents * self.scale))
        if self.proof is None or made.bound > self.proof.bound:
            self.proof, self.bound = made, made.bound
