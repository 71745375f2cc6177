"""Plans mix by mix: the cheapest mix of stock that no cut rules out is decided over all patterns that it can use."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

import numpy as np

from solver.nesting.columns import AT_ONCE, Relaxation
from solver.nesting.incumbent import Incumbent, covers_demand, cuts_without_overproduction
from solver.nesting.mixes import Excess, Mix, MixCut, Mixes
from solver.nesting.pattern_enumeration import patterns_within_gap
from solver.nesting.programs import Column, CoveringProgram, solve_integer_covering
from solver.nesting.scaled_job import Floats, Pattern

SHARP = 1 << 40  # parts of a bar in which dual prices are whole, for the sharpest cut
COARSE = (1, 2, 3, 4, 5, 6, 8, 10, 12, 16, 24, 36)  # and for cuts that gain by what is rounded away
MOST_USABLE = (3_000, 8_000, 30_000)  # patterns of a mix, by turns
DEAR = 10.0  # leaving out a piece, in all bars of a mix
NEAR = 1e-7
_NONE = 1 << 58  # the rent of stock that a mix has not


class MixSearch:
    """Mixes cheaper than the best plan, cheapest first; what is ruled out raises the bound, what is found is offered."""

    def __init__(self, relaxed: Relaxation, best: Incumbent) -> None:
        self.relaxed, self.best = relaxed, best
        self.program = MixProgram(relaxed)
        self.turn = 0
        self.cuts: list[MixCut] = []
        self.mixes = self._all()

    def _all(self) -> Mixes | None:
        unit, cost, proof = self.best.cost_steps.unit, self.best.cost, self.relaxed.proof
        if unit is None or cost is None or proof is None:
            return None
        stocks = self.relaxed.core.model.stocks
        first = integer_mix_cut(self.relaxed, proof.duals, 2.0**-16)
        scale = Fraction(proof.scale, 1 << 16)
        paid = [math.floor(stock.cost * scale) for stock in stocks]
        most = math.floor(cost * scale) - first.need
        excess = Excess(tuple(pay - rent for pay, rent in zip(paid, first.stock_duals, strict=True)), most)
        made = Mixes(
            [int(stock.cost / unit) for stock in stocks],
            [stock.count for stock in stocks],
            least=math.ceil(self.best.bound / unit),
            below=int(cost / unit),
            excess=excess,
        )
        if not made.complete:
            return None
        self.cuts.append(first)
        made.add_cut(first.stock_duals, first.need)
        return made

    def run(self, seconds: float, each: float) -> None:
        """Look at mixes for so many seconds, at each for so many at most; then again at those that were put aside."""
        if self.mixes is None:
            return
        mixes, search = self.mixes, self.relaxed.search
        until, again = search.left_s() - seconds, False
        waiting: list[tuple[int, Mix]] = []
        while not self._settle(mixes) and search.left_s() > until and not search.over():
            first = mixes.cheapest()
            if first is None and not again:
                again, waiting = True, sorted((cost, mix) for mix, cost in mixes.undecided.items())
                self.turn += 1
            if first is None:
                waiting = [item for item in waiting if item[1] in mixes.undecided]
                if not waiting:
                    break
                first = waiting.pop(0)
            left = search.left_s() - until
            share = left / (1 + len(mixes.rows) + len(waiting))  # few mixes: more for each
            self._look(mixes, *first, seconds=min(max(each, share), left))
            if mixes.cheapest() == first:
                mixes.set_aside(first[1], first[0])  # its cuts had numbers too large to use
        self._settle(mixes)

    def _settle(self, mixes: Mixes) -> bool:
        """Take what is known now into plan and bound; return whether the plan is proved."""
        best = self.best
        assert best.cost is not None and best.cost_steps.unit is not None
        mixes.set_cost_limit(int(best.cost / best.cost_steps.unit))
        best.raise_bound(mixes.bound() * best.cost_steps.unit)
        return best.proved

    def _look(self, mixes: Mixes, cost: int, mix: Mix, *, seconds: float) -> None:
        """Rule the mix out by a cut, or decide it."""
        duals = self.program.price(mix)
        sharp = integer_mix_cut(self.relaxed, duals, float(SHARP))
        self._add(mixes, sharp)
        for parts in COARSE:
            self._add(mixes, integer_mix_cut(self.relaxed, duals, parts * SHARP / max(1, *sharp.stock_duals)))
        if all(cut.slack(mix) >= 0 for cut in self.cuts):
            self._decide(mixes, cost, mix, sharp, seconds)

    def _add(self, mixes: Mixes, cut: MixCut) -> None:
        self.cuts.append(cut)
        mixes.add_cut(cut.stock_duals, cut.need)

    def _decide(self, mixes: Mixes, cost: int, mix: Mix, cut: MixCut, seconds: float) -> None:
        """Look for a plan of the mix over the patterns that it can use, as far as there are not too many."""
        core, search = self.relaxed.core, self.relaxed.search
        slack, patterns = cut.slack(mix), None
        every = True
        limit = MOST_USABLE[min(self.turn, len(MOST_USABLE) - 1)]
        while patterns is None and not search.over():
            patterns = self._usable(mix, cut, slack, limit)
            if patterns is None and slack == 0:
                break
            if patterns is None:
                slack, every = slack // 2, False
        if patterns is None:
            mixes.set_aside(mix, cost)
            return
        search.tell(f"deciding a mix of stock over {len(patterns)} patterns", 0.6)
        columns = [self.program.column(pattern) for pattern in patterns]
        answer = solve_integer_covering(columns, core.counts, mix, most=None, seconds=seconds, first_found=True)
        plan = [(pattern, count) for pattern, count in zip(patterns, answer.counts or (), strict=False) if count > 0]
        if answer.counts is not None and covers_demand(plan, core.counts):
            self.best.offer(cuts_without_overproduction(core, plan))
        if every and answer.counts is None and answer.proved:
            mixes.exclude(mix)
        else:
            mixes.set_aside(mix, cost)

    def _usable(self, mix: Mix, cut: MixCut, slack: int, limit: int) -> list[Pattern] | None:
        """Return the patterns that a plan of the mix can use: those whose bars waste no more worth than the slack."""
        core = self.relaxed.core
        stock_duals = [
            (rent if bars else _NONE) - math.floor(stock.cost)
            for rent, bars, stock in zip(cut.stock_duals, mix, core.model.stocks, strict=True)
        ]
        return patterns_within_gap(core, cut.duals, stock_duals, 1, slack, limit=limit, search=self.relaxed.search)


class MixProgram:
    """The linear program of a mix: the least factor by which all its bars would have to be more."""

    def __init__(self, relaxed: Relaxation) -> None:
        self.relaxed = relaxed
        core = relaxed.core
        self.kinds, self.stocks = len(core.counts), len(core.model.stocks)
        self.program = CoveringProgram([float(count) for count in core.counts], [0.0] * self.stocks)
        self.program.add([Column(1.0, (), ())])  # the factor
        self.program.add([Column(DEAR, (kind,), (1.0,)) for kind in range(self.kinds)])  # pieces that no known bar holds
        self.known = 0

    def column(self, pattern: Pattern) -> Column:
        """Return a pattern as a column at no cost, with a row for each stock."""
        rows = (*(kind for kind, _ in pattern.counts), self.kinds + pattern.stock)
        return Column(0.0, rows, (*(float(count) for _, count in pattern.counts), 1.0))

    def price(self, mix: Mix) -> Floats:
        """Return dual prices of the kinds that show the mix to be too small, else those that leave it the least slack."""
        relaxed, core = self.relaxed, self.relaxed.core
        for stock, bars in enumerate(mix):
            self.program.set_value(self.kinds + stock, 0, -float(bars))
        while True:
            new = relaxed.patterns[self.known :]
            self.known += len(new)
            self.program.add([self.column(pattern) for pattern in new])
            _, _, prices = self.program.solve()
            duals, stock_duals = np.maximum(prices[: self.kinds], 0.0), np.maximum(-prices[self.kinds :], 0.0)
            found, top = self._better(duals, stock_duals)
            short = float(duals @ np.array(core.counts)) - float(top @ np.array(mix)) > 1e-6
            if short or not relaxed.offer(found) or relaxed.search.over():
                return duals

    def _better(self, duals: Floats, stock_duals: Floats) -> tuple[list[Pattern], Floats]:
        """Return patterns that are worth more than their stock's rent, and the most that a bar of each stock is worth."""
        core, tables = self.relaxed.core, self.relaxed.tables
        tables.fill(duals)
        found: list[Pattern] = []
        top = np.zeros(self.stocks)
        for stock in range(self.stocks):
            best = tables.best(stock)
            used = int(np.argmax(best))
            top[stock] = best[used]
            for taken, (worth, row) in enumerate(tables.best_rows(stock, used)):
                if worth <= stock_duals[stock] + NEAR or taken == AT_ONCE:
                    break
                found.append(core.pattern(stock, tables.counts(stock, used, row)))
        return found, top


def integer_mix_cut(relaxed: Relaxation, duals: Sequence[float] | Floats, scale: float) -> MixCut:
    """Return the cut of these dual prices times the scale, rounded down; those of stock by its best bar, in whole numbers."""
    core, tables = relaxed.core, relaxed.whole_tables
    whole = [max(0, math.floor(worth * scale + 1e-6)) for worth in duals]
    tables.fill(whole)
    stock_duals = tuple(max(0, int(tables.best(stock).max())) for stock in range(len(core.rooms)))
    return MixCut(tuple(whole), stock_duals, sum(count * worth for count, worth in zip(core.counts, whole, strict=True)))
