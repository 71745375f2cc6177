"""Pieces with sloped ends: columns priced exactly by a walk over sets of pieces, bounds proved the same way.

A walk takes kinds in order; tables over ideal sizes (every cut shared as well as any could be) say what may still come, and
`Joins` says exactly whether a set fits. So the pricing knows counts, turns, shared cuts, the clamp and credit.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from solver.jit import COMPILED
from solver.nesting.angled_loops import (
    ASKS,
    BEST,
    COUNT,
    DEPTH,
    DONE,
    FULL,
    NEED,
    NEXT,
    NODES,
    QUOTA,
    SKIPPED,
    BarTerms,
    JoinTable,
    Kinds,
    Progress,
    find_join,
    search_patterns,
)
from solver.nesting.bars import Cut, total_cost
from solver.nesting.bounds import CostSteps, area_bound
from solver.nesting.certify import CertifiedBound, CertifiedDuals, certify_bound
from solver.nesting.greedy import fill_all
from solver.nesting.joins import Joins, OutOfTime
from solver.nesting.model import NestingModel
from solver.nesting.programs import Column, CoveringProgram, solve_integer_covering
from solver.nesting.stock_shortage import stock_shortage
from solver.search import Search

CELLS = 1 << 13
MOST_NODES = 5_000_000 if COMPILED else 50_000
NODES_AT_ONCE = 100_000 if COMPILED else 5_000  # between looks at the clock
QUICK_NODES = 50_000 if COMPILED else 1_500  # for prices that are not right yet
LEAST_QUOTA = 1_000  # nodes that each first piece has where nodes are few
MOST_PATTERNS = 4_000
MOST_CHOICE = 2_500
REST_SIZES = (60, 40, 26, 16)  # pieces left, at which a dive decides the rest exactly
REST_BARS = 2_500
DIVES = 8
AT_ONCE = 30
DISTURBED = 6
Whole = NDArray[np.int64]
Pieces = tuple[tuple[int, int], ...]
_NEVER = -(1 << 61)
_FAR = 1 << 60


@dataclass(frozen=True, slots=True)
class AngledPattern:
    """A cut pattern: its stock, the kinds on it with their counts, and its cost less the credit of its drop."""

    stock: int
    pieces: Pieces
    cost: Fraction


@dataclass(slots=True)
class PricingResult:
    """Patterns with by how much their dual prices exceed their cost (a negative reduced cost), and whether all were seen."""

    patterns: list[tuple[int, AngledPattern]] = field(default_factory=list)
    complete: bool = True
    most: int = 0  # the dual prices of no pattern exceed its cost by more than this


class Pricer:
    """The pricing problem: finds patterns of negative reduced cost, at dual prices in whole numbers."""

    def __init__(self, model: NestingModel, search: Search) -> None:
        self.model, self.search, self.joins = model, search, Joins(model)
        self.ideal, odd = self.joins.ideal_room_x4()
        top = max(stock.room_nm for stock in model.stocks)
        self.step = max(1, -(-4 * (top + model.kerf_nm) // CELLS))
        self.odd = odd // self.step
        self.uneven = [
            sum(bool(lean) for lean in self.joins.types[n].leans[0]) % 2 for n in self.joins.type_of
        ]  # whether a piece has one sloped end; no turn changes that
        self.low = [size // self.step for size in self.ideal]
        self.rooms = [4 * (stock.room_nm + model.kerf_nm) // self.step for stock in model.stocks]
        self.memory = JoinCache(self.joins, top + model.kerf_nm)
        self.dear = max((stock.cost for stock in model.stocks), default=Fraction(0)) or Fraction(1)
        self.scale = math.floor(Fraction(1 << 44) / self.dear) or 1
        self.costs = [math.floor(stock.cost * self.scale) for stock in model.stocks]
        self.patterns: dict[tuple[int, Pieces], AngledPattern] = {}
        self.nets: dict[int, Whole] = {}

    def pattern(self, stock: int, pieces: Pieces, *, over: Callable[[], bool] | None = None) -> AngledPattern | None:
        """Return a bar with its exact cost, or None where the pieces do not fit. With `over` it may raise OutOfTime."""
        key = (stock, pieces)
        if key not in self.patterns:
            held = self.model.stocks[stock]
            doubled = sum(count * self.model.kinds[kind].doubled for kind, count in pieces)
            extent = self.joins.extent(held, self.joins.counts_of(pieces), doubled, over=over)
            if extent is None:
                return None
            self.patterns[key] = AngledPattern(stock, pieces, held.cost - self.model.credit(held, held.trim_nm + extent // 2))
        return self.patterns[key]

    def least_costs(self, stock: int) -> Whole:
        """Return the least that a bar can cost, scaled, by ideal steps used."""
        if stock not in self.nets:
            self.nets[stock] = self._net(stock)
        return self.nets[stock]

    def _net(self, stock: int) -> Whole:
        held, room, model = self.model.stocks[stock], self.rooms[stock], self.model
        made = np.full(room + 1, self.costs[stock], dtype=np.int64)
        if model.keep_from_nm is not None:
            rate = model.keep_value * held.cost * self.scale / held.length_nm  # worth of a nanometre kept
            for used in range(room + 1):
                drop = held.room_nm - model.kerf_nm - max(0, used * self.step // 4 - model.kerf_nm)
                if drop < model.keep_from_nm:
                    break
                made[used] -= -(-rate.numerator * drop // rate.denominator)
        return made

    def find_patterns(
        self,
        duals: Sequence[int],
        stock_duals: Sequence[int],
        need: int,
        limits: Sequence[int],
        *,
        every: bool,
        most_bars: int = AT_ONCE,
        nodes: int = MOST_NODES,
    ) -> PricingResult:
        """Return patterns whose dual prices exceed their cost by `need` or more: all with `every`, else ever better ones."""
        found = PricingResult()
        for stock in range(len(self.model.stocks)):
            if self.search.over():
                found.complete, found.most = False, max(found.most, _FAR)
                break
            walk = _Walk(self, stock, duals, stock_duals[stock], limits, every=every)
            walk.go(need, most_bars=most_bars, nodes=nodes)
            found.patterns.extend(walk.found)
            found.complete &= not walk.cut_short
            found.most = max(found.most, walk.root if walk.cut_short else walk.best)
        return found


class JoinCache:
    """What joins cost, by counts of types, where the walk can look it up."""

    def __init__(self, joins: Joins, longest: int) -> None:
        self.joins = joins
        self.square = np.array([kind.leans == ((0, 0),) for kind in joins.types])
        model = joins.model
        weight, weights = 1, []
        for n, square in enumerate(self.square):
            weights.append(weight)
            of_this_type = [kind for kind, t in zip(model.kinds, joins.type_of, strict=True) if t == n]
            most = min(sum(kind.count for kind in of_this_type), 2 * longest // min(kind.doubled for kind in of_this_type))
            weight *= 2 if square else most + 1
        self.fits = weight < 1 << 62
        self.weights = np.array(weights if self.fits else [0] * len(weights), dtype=np.int64)
        self.keys = np.full(1 << 12, -1, dtype=np.int64)
        self.answers = np.zeros((1 << 12, 2), dtype=np.int64)
        self.count = 0

    def table(self) -> JoinTable:
        """Return the table as the search reads it; it is another one after it grew."""
        return JoinTable(self.square, self.weights, self.keys, self.answers)

    def store(self, by_type: Whole, search: Search) -> bool:
        """Store what the joins of a bar with these counts cost (squares count once); return whether time sufficed."""
        few = tuple(min(1, int(count)) if square else int(count) for count, square in zip(by_type, self.square, strict=True))
        if 2 * self.count > len(self.keys):
            self._grow()
        try:
            join = self.joins.least(few, over=search.over)
        except OutOfTime:
            return False
        self._put(sum(count * int(weight) for count, weight in zip(few, self.weights, strict=True)), join.held, join.any)
        return True

    def _put(self, key: int, held: int, free: int) -> None:
        place = find_join(self.keys, key)
        if place < 0:
            place = -1 - place
            self.count += 1
        self.keys[place] = key
        self.answers[place] = (min(held, _FAR), min(free, _FAR))

    def _grow(self) -> None:
        old = [(int(k), int(h), int(f)) for k, (h, f) in zip(self.keys, self.answers, strict=True) if k >= 0]
        self.keys = np.full(4 * len(self.keys), -1, dtype=np.int64)
        self.answers = np.zeros((len(self.keys), 2), dtype=np.int64)
        self.count = 0
        for key, held, free in old:
            self._put(key, held, free)


class _Walk:
    """A depth-first walk for one stock; it enters only where enough can still come."""

    def __init__(
        self, pricer: Pricer, stock: int, duals: Sequence[int], rent: int, limits: Sequence[int], *, every: bool
    ) -> None:
        self.pricer, self.stock, self.held = pricer, stock, pricer.model.stocks[stock]
        self.rent, self.every = rent, every
        self.room = pricer.rooms[stock]
        kinds = [k for k in range(len(duals)) if limits[k] > 0 and pricer.low[k] <= self.room and (duals[k] > 0 or every)]
        kinds.sort(key=lambda k: -duals[k] / max(1, pricer.low[k]))
        self.kinds = kinds
        self.sizes = np.array([pricer.low[k] for k in kinds], dtype=np.int64)
        self.duals = np.array([duals[k] for k in kinds], dtype=np.int64)
        self.uneven = np.array([pricer.uneven[k] for k in kinds], dtype=np.int64)
        self.most = np.array([limits[k] for k in kinds], dtype=np.int64)
        self.least_costs = pricer.least_costs(stock)
        self.table = self._table() if kinds else np.zeros((1, 2, 1), dtype=np.int64)
        self.root = int(self.table[0, 0, 0]) if kinds else 0
        self.found: list[tuple[int, AngledPattern]] = []
        self.best = 0
        self.cut_short = False

    def _table(self) -> Whole:
        """Return the most still to come: by kinds left, whether the number of sloped ends so far is odd, and room used."""
        room, count, odd = self.room, len(self.kinds), self.pricer.odd
        table = np.full((count + 1, 2, room + 1), _NEVER, dtype=np.int64)
        table[count, 0] = -self.least_costs - self.rent
        if odd <= room:
            table[count, 1, : room + 1 - odd] = table[count, 0, odd:]
        for place in range(count - 1, -1, -1):
            size, worth, uneven = int(self.sizes[place]), int(self.duals[place]), int(self.uneven[place])
            row, after = table[place], table[place + 1]
            row[:] = after
            most = min(int(self.most[place]), room // size) if size else int(self.most[place])
            for times in range(1, most + 1):
                turn = after[::-1] if uneven and times % 2 else after
                shifted = turn[:, size * times :] + worth * times
                np.maximum(row[:, : shifted.shape[1]], shifted, out=row[:, : shifted.shape[1]])
        return table

    def go(self, need: int, *, most_bars: int, nodes: int) -> None:
        """Search from the empty bar; ask for what joins cost where that is not known yet."""
        if not self.kinds or self.root < need:
            return
        search, cache = self.pricer.search, self.pricer.memory
        quota = 0 if self.every or nodes >= MOST_NODES else max(LEAST_QUOTA, 3 * nodes // len(self.kinds))
        kinds, bar = self._kinds(), self._bar_terms()
        progress = self._progress(most_bars)
        state, by_type = progress.state, progress.by_type
        state[NEED], state[NODES], state[QUOTA] = need, quota or min(nodes, NODES_AT_ONCE), quota
        for turn in range(1 << 30):
            outcome = search_patterns(kinds, self.table, cache.table(), bar, progress, self.every)
            if outcome == ASKS:
                if not cache.store(by_type, search):
                    outcome = FULL
                    break
            elif outcome == FULL and state[NODES] < 0 and not quota and nodes > NODES_AT_ONCE:
                nodes -= NODES_AT_ONCE
                state[NODES] = min(nodes, NODES_AT_ONCE)
            else:
                break
            by_type[kinds.types[progress.frames[state[DEPTH], NEXT]]] -= 1
            if (outcome == FULL or turn % 16 == 0) and search.over():
                outcome = FULL
                break
        self.cut_short = outcome != DONE or bool(state[SKIPPED])
        self.best = int(state[BEST])
        for row in range(min(int(state[COUNT]), most_bars)):
            counts = progress.found[row]
            pieces = tuple(sorted((self.kinds[n], int(counts[n])) for n in np.nonzero(counts)[0]))
            pattern = self.pricer.pattern(self.stock, pieces)
            if pattern is not None:
                self.found.append((int(progress.gains[row]), pattern))

    def _kinds(self) -> Kinds:
        doubled = np.array([self.pricer.model.kinds[k].doubled for k in self.kinds], dtype=np.int64)
        types = np.array([self.pricer.joins.type_of[k] for k in self.kinds], dtype=np.int64)
        return Kinds(self.sizes, self.duals, doubled, types, self.uneven, self.most)

    def _progress(self, most_bars: int) -> Progress:
        deepest = int(min(self.most.sum(), self.room // max(1, int(self.sizes.min())))) + 2
        return Progress(
            frames=np.zeros((deepest + 1, 8), dtype=np.int64),
            taken=np.zeros(len(self.kinds), dtype=np.int64),
            by_type=np.zeros(len(self.pricer.memory.weights), dtype=np.int64),
            found=np.zeros((most_bars, len(self.kinds)), dtype=np.int32),
            gains=np.zeros(most_bars, dtype=np.int64),
            state=np.zeros(7, dtype=np.int64),
        )

    def _bar_terms(self) -> BarTerms:
        pricer, model, held = self.pricer, self.pricer.model, self.held
        free = 2 * held.room_nm
        room = BarTerms(free, free - 2 * model.clamp_nm, 4 * model.kerf_nm // 2, self.room, 0.0, 0.0, 0.0, 0.0)
        cost = float(pricer.costs[self.stock] + self.rent)
        if model.keep_from_nm is None:
            return room._replace(cost=cost)
        return room._replace(
            cost=cost - 2.0**14,  # a little low: gains never too small
            credit=float(model.keep_value * held.cost / held.length_nm) * pricer.scale,
            least_drop=float(model.keep_from_nm),
            longest_drop=float(held.room_nm - model.kerf_nm),
        )


class AngledSearch:
    """A search for the cheapest plan; the best plan and the best bound hold at any time."""

    def __init__(self, model: NestingModel, start: list[Cut] | None, search: Search) -> None:
        self.model, self.search, self.cost_steps = model, search, CostSteps(model)
        self.pricer = Pricer(model, search)
        self.counts = [kind.count for kind in model.kinds]
        self.limited = [n for n, stock in enumerate(model.stocks) if stock.count is not None]
        self.cuts = start
        self.impossible = False  # proved: limited stock can not hold all pieces
        self.cost = None if start is None else total_cost(model, start)
        self.bound = self.cost_steps.round_up(area_bound(model))
        self.patterns: list[AngledPattern] = []
        self.known: set[tuple[int, Pieces]] = set()
        self.unit = float(self.pricer.dear)
        self.proof: tuple[list[int], list[int], int] | None = None  # dual prices of kinds and of stocks, value

    @property
    def done(self) -> bool:
        """Whether nothing can be better, or the time is over."""
        return self.impossible or self.search.over() or (self.cost is not None and self.bound >= self.cost)

    def duals(self) -> CertifiedDuals | None:
        """Return the dual prices that prove the best bound so far, to be verified by others."""
        if self.proof is None:
            return None
        whole, lent, value = self.proof
        scale, (starts, ends) = self.pricer.scale, self.pricer.joins.shares
        bound = max(Fraction(0), Fraction(value, scale))
        return CertifiedDuals(whole, lent, scale, bound, step=self.pricer.step, starts=starts, ends=ends)

    def run(self) -> None:
        """Search until the plan is proved or the time is over."""
        if self.done or not self.model.stocks:
            return
        self.start_master()
        self.generate_columns(0.55 * self.search.left_s())
        if self.proof is None or self.done:
            return
        self._dive(None)
        if self.done:
            return
        self._central()
        self._weigh()
        dice = np.random.default_rng(self.search.seed)
        for turn in range(DIVES):
            if self.done:
                return
            if self.cost_steps.unit is not None or self.cuts is None:
                self._decide(min(4.0, 0.3 * self.search.left_s()))
            if not self.done:
                self._choose(0.4 * self.search.left_s())
            for _ in range(2 + turn):
                if not self.done:
                    self._dive(dice)

    def start_master(self, bars: Sequence[AngledPattern] = ()) -> None:
        """Start the master program with the plan's patterns, each kind alone, and those of a search with other prices."""
        limits = [float(self.model.stocks[n].count or 0) for n in self.limited]
        self.program = CoveringProgram([float(count) for count in self.counts], limits)
        self.spare = len(self.counts) if self.limited else 0
        if self.spare:
            dear = 4.0 + 2.0 * len(self.counts)
            self.program.add([Column(dear, (kind,), (1.0,)) for kind in range(self.spare)])
        self._offer([*self._first(), *(bar for old in bars if (bar := self.pricer.pattern(old.stock, old.pieces)) is not None)])

    def _first(self) -> list[AngledPattern]:
        made = []
        for cut in self.cuts or ():
            pieces = {kind: sum(1 for slot in cut.slots if slot[0] == kind) for kind, _ in cut.slots}
            try:
                made.append(self.pricer.pattern(cut.stock, tuple(sorted(pieces.items())), over=self.search.over))
            except OutOfTime:
                break
        for kind, count in enumerate(self.counts):
            if self.search.over():
                break
            for stock in range(len(self.model.stocks)):
                low, high = 0, count  # joins never shrink as pieces are added: halving finds the most that fit
                while low < high:
                    middle = (low + high + 1) // 2
                    if middle <= 64 and self.pricer.pattern(stock, ((kind, middle),)) is not None:
                        low = middle
                    else:
                        high = middle - 1
                if low:
                    made.append(self.pricer.pattern(stock, ((kind, low),)))
        return [bar for bar in made if bar is not None]

    def _column(self, bar: AngledPattern) -> Column:
        rows = tuple(kind for kind, _ in bar.pieces)
        counts = tuple(float(count) for _, count in bar.pieces)
        if bar.stock in self.limited:
            rows, counts = (*rows, len(self.counts) + self.limited.index(bar.stock)), (*counts, 1.0)
        return Column(float(bar.cost) / self.unit, rows, counts)

    def _offer(self, bars: Sequence[AngledPattern]) -> int:
        new = []
        for bar in bars:
            if (bar.stock, bar.pieces) not in self.known:
                self.known.add((bar.stock, bar.pieces))
                new.append(bar)
        self.patterns.extend(new)
        self.program.add([self._column(bar) for bar in new])
        return len(new)

    def _solve(self) -> tuple[float, NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
        """Return value, uses of the patterns, dual prices of the kinds and of the stocks; scaled."""
        value, shares, prices = self.program.solve()
        stock_duals = np.zeros(len(self.model.stocks))
        for n, stock in enumerate(self.limited):
            stock_duals[stock] = max(0.0, -prices[len(self.counts) + n])
        return value, shares[self.spare :], np.maximum(0.0, prices[: len(self.counts)]), stock_duals

    def _whole(
        self, duals: NDArray[np.float64], stock_duals: NDArray[np.float64], shrink: float = 1.0
    ) -> tuple[list[int], list[int]]:
        by = self.unit * self.pricer.scale * shrink
        whole = [math.floor(worth * by) for worth in duals]
        lent = [
            0 if stock.count is None else math.ceil(rent * by)
            for stock, rent in zip(self.model.stocks, stock_duals, strict=True)
        ]
        return whole, lent

    def _value(self, whole: Sequence[int], lent: Sequence[int]) -> int:
        value = sum(count * worth for count, worth in zip(self.counts, whole, strict=True))
        return value - sum((stock.count or 0) * rent for stock, rent in zip(self.model.stocks, lent, strict=True))

    def generate_columns(self, stop: float) -> None:
        """Add columns until the bound that their dual prices prove stands at the linear program's value, or nearly.

        Stops when only `stop` seconds are left.
        """
        for _ in range(8):
            value = self._columns(stop)
            proved = self.proof[2] / (self.unit * self.pricer.scale) if self.proof else 0.0
            if self.done or self.search.left_s() <= stop:
                return
            if proved >= value * (1 - 2e-6) or self._rung(proved) >= self._rung(value):
                return

    def _columns(self, stop: float) -> float:
        """Add columns until none helps; prices drawn toward the best so far. Returns the linear program's value, scaled."""
        centre: NDArray[np.float64] | None = None
        lent = np.zeros(len(self.model.stocks))
        best, weight, nodes, value = -1.0, 0.5, QUICK_NODES, math.inf
        while self.search.left_s() > stop and not self.search.stop():
            value, _, duals, stock_duals = self._solve()
            ask, ask_stock_duals = duals, stock_duals
            if centre is not None and weight > 0:
                ask, ask_stock_duals = weight * centre + (1 - weight) * duals, weight * lent + (1 - weight) * stock_duals
            need = 1 + (self.pricer.scale >> 24)
            found = self.pricer.find_patterns(*self._whole(ask, ask_stock_duals), need, self.counts, every=False, nodes=nodes)
            seen = max((gain for gain, _ in found.patterns), default=0) if not found.complete else found.most
            shrink = self._shrink(seen)
            whole, some = self._whole(ask, ask_stock_duals, shrink)
            over = max(0, seen) * sum(self.counts) if self.model.keep_from_nm is not None else 0
            floor = (self._value(whole, some) - over) / (self.unit * self.pricer.scale)
            if floor > best:
                best, centre, lent = floor, shrink * ask, shrink * ask_stock_duals
            reached = best >= value * (1 - 1e-9) or self._rung(best) >= self._rung(value)
            if reached and found.complete:
                break
            if self._offer([bar for _, bar in found.patterns]):
                weight, nodes = (0.5 if weight else 0.2), (nodes if nodes == MOST_NODES else QUICK_NODES)
            elif weight > 0:
                weight = 0.0
            elif nodes < MOST_NODES and not found.complete:
                nodes = min(MOST_NODES, 10 * nodes)
            else:
                centre, lent = duals, stock_duals
                break
        if centre is not None:
            self._prove(centre, lent)
        return value

    def _rung(self, value: float) -> float:
        if self.cost_steps.unit is None:
            return value
        return math.ceil(value * self.unit / float(self.cost_steps.unit) - 1e-6)

    def _shrink(self, most: int) -> float:
        """Return by how much prices shrink so that no bar is worth more than the cheapest costs (Farley 1990)."""
        if self.model.keep_from_nm is not None:
            return 1.0
        least = min((cost for cost in self.pricer.costs if cost > 0), default=1)
        return least / (least + most) if most > 0 else 1.0

    def _prove(self, duals: NDArray[np.float64], stock_duals: NDArray[np.float64]) -> None:
        """Prove the bound of these prices in whole numbers, by a walk that finds the most any bar is worth beyond its cost.

        A plan has no more bars than pieces; each may be worth that much too much. So the worth of all pieces, less that
        for every bar there can be, is a bound; prices shrunk until no bar is worth too much give another.
        """
        shrink = 1.0
        for _ in range(4):
            whole, lent = self._whole(duals, stock_duals, shrink)
            found = self.pricer.find_patterns(whole, lent, 1, self.counts, every=False)
            value = self._value(whole, lent) - max(0, found.most) * sum(self.counts)
            if self.proof is None or value > self.proof[2]:
                self.proof = (whole, lent, value)
                self.bound = max(self.bound, self.cost_steps.round_up(max(Fraction(0), Fraction(value, self.pricer.scale))))
            self._offer([bar for _, bar in found.patterns])
            if found.most <= 0 or (not found.complete and found.most > self.pricer.costs[0] // 50):
                return
            shrink *= self._shrink(found.most) * (1 - 1e-12)

    def _take(self, cuts: list[Cut] | None) -> None:
        if cuts is not None and (self.cost is None or (cost := total_cost(self.model, cuts)) < self.cost):
            self.cuts, self.cost = cuts, cost if self.cost is not None else total_cost(self.model, cuts)

    def _dive(self, dice: np.random.Generator | None) -> None:
        """Fix what the linear plan uses whole, else its fullest bar; price again; decide the rest exactly once it is small.

        With dice some of the fixing is left to chance, so that another dive ends elsewhere.
        """
        need, left = list(self.counts), [stock.count for stock in self.model.stocks]
        plan: list[tuple[AngledPattern, int]] = []
        small = [size for size in REST_SIZES if size < sum(need)] or [sum(need)]
        while any(need) and not self.done:
            self.program.set_needs([float(count) for count in need])
            for _ in range(3):
                _, shares, duals, stock_duals = self._solve()
                whole, lent = self._whole(duals, stock_duals)
                found = self.pricer.find_patterns(
                    whole, lent, 1 + (self.pricer.scale >> 20), need, every=False, nodes=QUICK_NODES
                )
                if not self._offer([bar for _, bar in found.patterns]):
                    break
            self._fill(plan, need, left)
            if small and sum(need) <= small[0]:
                small = [size for size in small if size < sum(need)]
                self._finish(plan, need, left, whole, lent)
            _, shares, _, _ = self._solve()
            if self.done or not self._fix(shares, plan, need, left, dice):
                break
        self._fill(plan, need, left)
        self.program.set_needs([float(count) for count in self.counts])

    def _fill(self, plan: Sequence[tuple[AngledPattern, int]], need: Sequence[int], left: Sequence[int | None]) -> None:
        """Take the fixed bars and the rest filled longest piece first."""
        wanted, over = range(len(need)), self.search.over
        rest = fill_all(self.model, wanted, need, prefer=None, left=left, over=over) if any(need) else []
        if rest is not None:
            self._take([*self._cuts(plan), *rest])

    def _finish(
        self,
        plan: Sequence[tuple[AngledPattern, int]],
        need: Sequence[int],
        left: Sequence[int | None],
        duals: Sequence[int],
        stock_duals: Sequence[int],
    ) -> None:
        """Decide the rest beside the fixed bars: over all its bars near the prices, as far as there are not too many."""
        fixed = sum((bar.cost * times for bar, times in plan), Fraction(0))
        most = self._below() - fixed
        value = sum(count * worth for count, worth in zip(need, duals, strict=True))
        value -= sum((have or 0) * rent for have, rent in zip(left, stock_duals, strict=True))
        gap = math.floor(most * self.pricer.scale) - value
        if gap < 0:
            return
        for part in (1, 3, 9, 27):
            found = self.pricer.find_patterns(
                duals, stock_duals, -(gap // part), need, every=True, most_bars=REST_BARS, nodes=QUICK_NODES * 8
            )
            if found.complete:
                break
        bars = [bar for _, bar in found.patterns]
        known = {(bar.stock, bar.pieces) for bar in bars}
        bars += [
            bar
            for bar in self.patterns
            if (bar.stock, bar.pieces) not in known and all(count <= need[kind] for kind, count in bar.pieces)
        ]
        rest, _ = self._program(bars, None, min(1.5, 0.2 * self.search.left_s()), need=need, left=left)
        if rest is not None:
            self._take([*self._cuts(plan), *rest])

    def _fix(
        self,
        shares: NDArray[np.float64],
        plan: list[tuple[AngledPattern, int]],
        need: list[int],
        left: list[int | None],
        dice: np.random.Generator | None,
    ) -> bool:
        taken = False
        chance = shares if dice is None else shares * (0.6 + 0.4 * dice.random(len(shares)))
        for n in np.argsort(-chance, kind="stable"):
            share = float(chance[n])
            if share < 1e-6 or (taken and share < 1 - 1e-6):
                break
            bar = self.patterns[int(n)]
            pieces = tuple((kind, min(count, need[kind])) for kind, count in bar.pieces if need[kind])
            if not pieces or left[bar.stock] == 0:
                continue
            times = min(max(1, int(share + 1e-6)), *(need[kind] // count for kind, count in pieces))
            if (have := left[bar.stock]) is not None:
                times = min(times, have)
                left[bar.stock] = have - times
            for kind, count in pieces:
                need[kind] -= times * count
            smaller = self.pricer.pattern(bar.stock, pieces)
            if smaller is None:
                return False
            plan.append((smaller, times))
            taken = True
        return taken

    def _cuts(self, plan: Sequence[tuple[AngledPattern, int]], wanted: Sequence[int] | None = None) -> list[Cut]:
        """Return exact bars: what is held too often is left out, and the cheapest stock that holds the rest is taken."""
        need = list(self.counts if wanted is None else wanted)
        left = [stock.count for stock in self.model.stocks]
        made: list[Cut] = []
        for bar, often in plan:
            times = often
            while times > 0:
                pieces = tuple((kind, min(count, need[kind])) for kind, count in bar.pieces if need[kind])
                if not pieces:
                    break
                repeat = min(times, *(need[kind] // count for kind, count in pieces))
                for kind, count in pieces:
                    need[kind] -= repeat * count
                times -= repeat
                stock = bar.stock if pieces == bar.pieces else self._cheapest(bar.stock, pieces, left)
                made.append(Cut(stock, self.pricer.joins.order(self.model.stocks[stock], pieces), repeat))
        return made

    def _cheapest(self, stock: int, pieces: Pieces, left: Sequence[int | None]) -> int:
        free = [n for n in range(len(self.model.stocks)) if n == stock or left[n] is None]
        held = [(bar.cost, n) for n in free if (bar := self.pricer.pattern(n, pieces)) is not None]
        return min(held)[1] if held else stock

    def _program(
        self,
        bars: Sequence[AngledPattern],
        most: Fraction | None,
        seconds: float,
        *,
        need: Sequence[int] | None = None,
        left: Sequence[int | None] | None = None,
    ) -> tuple[list[Cut] | None, bool]:
        """Return the plan that an integer program makes of these bars at cost `most` or less, and whether it was finished.

        `need` and `left`: pieces wanted and bars left of limited stock, where some bars are fixed already.
        """
        need = list(self.counts if need is None else need)
        rows = [kind for kind, count in enumerate(need) if count]
        if not set(rows) <= {kind for bar in bars for kind, _ in bar.pieces}:
            return None, True
        counts = [stock.count for stock in self.model.stocks] if left is None else left
        answer = solve_integer_covering(
            [self._column(bar) for bar in bars],
            need,
            [counts[n] or 0 for n in self.limited],
            most=None if most is None else float(most) / self.unit * (1 + 1e-9),
            seconds=seconds,
        )
        if answer.counts is None:
            return None, answer.proved
        made = self._cuts([(bar, count) for bar, count in zip(bars, answer.counts, strict=True) if count], need)
        short = sum(len(cut.slots) * cut.repeat for cut in made) != sum(need)
        return (None, False) if short else (made, answer.proved)

    def _choose(self, seconds: float) -> None:
        """Look for a cheaper plan among the bars that cost least beyond their worth, as many as a program can weigh.

        Proved where those are all that a cheaper plan can use.
        """
        if self.proof is None or self.cuts is None or self.cost is None:
            return
        until = self.search.left_s() - seconds
        duals, stock_duals, value = self.proof
        gap = math.floor(self._below() * self.pricer.scale) + 1 - value
        found, tries = PricingResult(complete=False), 0
        while gap > 0 and not found.complete and self.search.left_s() > until:
            tries += 1
            found = self.pricer.find_patterns(
                duals, stock_duals, -gap, self.counts, every=True, most_bars=MOST_CHOICE, nodes=QUICK_NODES * 8
            )
            gap //= 2
        if not found.complete:
            return
        every = tries == 1
        pool = {
            (bar.stock, bar.pieces): bar for bar in (*(bar for _, bar in found.patterns), *([] if every else self.patterns))
        }
        cuts, proved = self._program(list(pool.values()), self._below(), self.search.left_s() - until)
        if cuts is None and proved and every:
            self.bound = max(self.bound, self.cost)
        self._take(cuts)
        if cuts is not None and proved and every:
            self.bound = max(self.bound, self.cost)

    def _below(self) -> Fraction:
        """Return the dearest cost that would still be better than the best plan's."""
        if self.cost is None:
            return min(sum(self.counts), 10_000) * self.pricer.dear
        if self.cost_steps.unit is None:
            return self.cost * (1 - Fraction(1, 10**7))
        return (math.ceil(self.cost / self.cost_steps.unit) - 1) * self.cost_steps.unit

    def _central(self) -> None:
        """Prices averaged over disturbed needs: columns for the program below, and often a proof with a smaller gap."""
        dice = np.random.default_rng(self.search.seed)
        kinds, duals, stock_duals = len(self.counts), [], []
        for _ in range(DISTURBED):
            if self.search.over():
                break
            self.program.set_needs(
                [count * (1 + 0.04 * share) for count, share in zip(self.counts, dice.random(kinds), strict=True)]
            )
            for turn in range(6):
                if turn and self.search.over():
                    break
                _, _, worth, rent = self._solve()
                found = self.pricer.find_patterns(
                    *self._whole(worth, rent), 1 + (self.pricer.scale >> 22), self.counts, every=False, nodes=QUICK_NODES
                )
                if not self._offer([bar for _, bar in found.patterns]):
                    break
            duals.append(worth)
            stock_duals.append(rent)
        self.program.set_needs([float(count) for count in self.counts])
        if duals:
            self._prove(np.mean(duals, axis=0), np.mean(stock_duals, axis=0))

    def _weigh(self) -> None:
        """Raise the bound of two stock lengths by what whole numbers of bars must weigh at other, whole prices.

        For any whole weights the least weight of a plan, rounded up, is a cut on how many bars of each length there are
        (Chvatal 1973, Discrete Mathematics 4: 305-337); the cheapest numbers that meet all cuts are a bound.
        """
        if len(self.model.stocks) != 2 or self.cost_steps.unit is None or self.cost is None:
            return
        short, long = self.model.stocks
        ratio = short.cost / long.cost
        pairs = [(p, q) for q in range(1, 9) for p in range(1, q + 1) if math.gcd(p, q) == 1]
        pairs.sort(key=lambda pair: abs(Fraction(pair[0], pair[1]) - ratio) * pair[1])
        cuts: list[tuple[int, int, int]] = []
        until = 0.45 * self.search.left_s()
        for p, q in pairs[:9]:
            if self.done or self.search.left_s() < until:
                return
            stocks = (replace(short, cost=Fraction(p)), replace(long, cost=Fraction(q)))
            other = AngledSearch(replace(self.model, stocks=stocks), self.cuts, self.search)
            other.pricer.memory, other.pricer.joins = self.pricer.memory, self.pricer.joins
            other.start_master(self.patterns)
            other.generate_columns(self.search.left_s() - 0.15 * (self.search.left_s() - until) - 0.2)
            cuts.append((p, q, math.ceil(other.bound)))
            self.bound = max(self.bound, self.cost_steps.round_up(self._least_bars(cuts)))

    def _least_bars(self, cuts: Sequence[tuple[int, int, int]]) -> Fraction:
        """Return the least cost of whole numbers of the two stock lengths that meets every cut."""
        short, long = self.model.stocks
        best: Fraction | None = None
        for few in range(max(-(-weight // p) for p, _, weight in cuts) + 1):
            many = max(0, *(-(-(weight - p * few) // q) for p, q, weight in cuts))
            many = max(many, math.ceil((self.bound - few * short.cost) / long.cost))  # cheaper ones are ruled out already
            allowed = (short.count is None or few <= short.count) and (long.count is None or many <= long.count)
            cost = few * short.cost + many * long.cost
            if allowed and (best is None or cost < best):
                best = cost
        return self.bound if best is None else best

    def _decide(self, seconds: float) -> None:
        """Close the gap: over all bars that a plan at the bound, or any better plan, could use."""
        if self.proof is None:
            return
        duals, stock_duals, value = self.proof
        below = self._below()
        targets = [below] if self.cost_steps.unit is None or self.bound >= below else [below, self.bound]
        for most in targets:
            gap = math.floor(most * self.pricer.scale) + 1 - value
            found = self.pricer.find_patterns(
                duals, stock_duals, -gap, self.counts, every=True, most_bars=MOST_PATTERNS, nodes=QUICK_NODES * 20
            )
            if not found.complete:
                continue
            cuts, proved = self._program([bar for _, bar in found.patterns], most, seconds)
            self._take(cuts)
            if proved and cuts is None and self.cost is None:
                self.impossible = True
            elif proved and cuts is None:
                self.bound = max(self.bound, self.cost if most == below and self.cost else self.cost_steps.step_above(most))
            elif proved:
                self.bound = max(self.bound, self.cost or self.bound)
            if proved or self.done:
                return


def solve_angled(model: NestingModel, start: list[Cut] | None, search: Search) -> tuple[list[Cut] | None, CertifiedBound]:
    """Return the best cuts that the time allows and a proved bound of their cost. Raises NoPlan where none can be."""
    angled = AngledSearch(model, start, search)
    angled.run()
    if angled.impossible:
        raise stock_shortage(model, range(len(model.kinds)), "proved over all ways to fill its bars")
    return angled.cuts, certify_bound(model, angled.bound, angled.duals())
