"""Judge the bound of a cut plan from its certificate: whole numbers alone, nothing shared with the search.

By linear duality: give each piece a worth and each bar of limited stock a rent. If no bar can hold pieces worth more than
the bar costs (less the credit of its drop) and its rent, no plan costs less than the worth of all pieces less the rent
of all limited stock. Whether a bar can is a knapsack over sizes that never take more room than the pieces do:
twice the mean of a piece's edges and, for each end, a share of the room that a cut at its lean takes.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from solver.domain.certificate import BoundReport, Certificate, State
from solver.domain.cut_plan import NestJob, NestResult, StockLength
from solver.nesting.check_joins import MOST_TRIED, Joins, TooManyOrders, doubled_nm, gap_nm, leans_of, longest_nm
from solver.units import length_as_number

MOST_STATES = 200_000  # bars looked at together
MOST_SUM = 1 << 61
MOST_RUNGS = 1 << 22
NEAR = Fraction(1, 1_000_000)  # the contract's: a bound so near is the same
Row = NDArray[np.int64]
Bars = dict[bool, tuple[Row, Row]]  # by whether the clamp holds a piece: room used, and worth


def verify_bounds(job: NestJob, result: NestResult) -> tuple[BoundReport, ...]:
    """Return how far the certificate carries the bound of the cost, in exact arithmetic."""
    claimed, proof = Fraction(result.lower_bound), result.certificate
    kind = None if proof is None else proof.kind
    if claimed <= 0:
        return (BoundReport(about="lower_bound", state="confirmed", claimed=0.0, proved=0.0, kind="nothing"),)
    if job.half_cut is not None:
        said = "the sections of a bar half cut are not verified"
        return (BoundReport(about="lower_bound", state="unconfirmed", claimed=float(claimed), proved=None, kind=kind, by=said),)
    shop = BoundInstance(job, proof or Certificate(kind="lengths"))
    by_length = next_attainable_cost(job, shop.length_bound())
    proved, said = by_length, "lengths of pieces and cuts against the best room for its price"
    if by_length < claimed and proof is not None and proof.worths:
        by_worth = next_attainable_cost(job, shop.dual_bound())
        if by_worth > by_length:
            proved, said = by_worth, f"worths of {len(proof.worths)} pieces: no bar holds more than it costs"
    state: State = "confirmed" if claimed <= proved * (1 + NEAR) else "unconfirmed"
    if state == "confirmed":
        kind = "worths" if said.startswith("worths") else "lengths"
    if state == "unconfirmed" and proof is not None and proof.kind != "search":
        state = "refuted"
    if state != "confirmed" and proof is not None and proof.kind == "search":
        said = f"{said}; beyond that a search over all bars that could be better"
    return (BoundReport(about="lower_bound", state=state, claimed=float(claimed), proved=float(proved), kind=kind, by=said),)


@dataclass(frozen=True, slots=True)
class _Item:
    """A piece as the knapsack sees it: quarters of a nanometre (four times its mean length, and its ends' shares)."""

    size: int
    worth: int
    count: int
    odd: bool  # an odd number of sloped ends
    held: bool  # by the clamp


class BoundInstance:
    """The job's pieces and stock under a certificate."""

    def __init__(self, job: NestJob, proof: Certificate) -> None:
        self.job, self.proof = job, proof
        starts, ends = dict(proof.starts), dict(proof.ends)
        leans = [leans_of(piece) for piece in job.pieces]
        fair = 2 * job.kerf_nm
        for start, end in (pair for pairs in leans for pair in pairs):
            starts.setdefault(start, fair)
            ends.setdefault(end, fair)
        if not _shares_hold(job, starts, ends) or any(
            2 * doubled_nm(piece) + min(starts[start] + ends[end] for start, end in pairs) < 0
            for piece, pairs in zip(job.pieces, leans, strict=True)
        ):
            starts, ends = dict.fromkeys(starts, fair), dict.fromkeys(ends, fair)
        self.spare = _least_for_odd(job, starts, ends)
        self.items = [
            _Item(
                size=2 * doubled_nm(piece) + min(starts[start] + ends[end] for start, end in pairs),
                worth=max(0, proof.worths.get(piece.id, 0)),
                count=piece.count,
                odd=sum(lean != 0 for lean in pairs[0]) % 2 == 1,
                held=longest_nm(piece) >= job.clamp_nm,
            )
            for piece, pairs in zip(job.pieces, leans, strict=True)
        ]
        self.square = all(start == 0 == end for pairs in leans for start, end in pairs)
        self.keeps = job.keep_from_nm is not None and job.keep_value > 0
        self.factor, self.by_worth = Fraction(1), False
        self.prices = {item.id: _price(job, item) for item in job.stock}
        self.stock = [item for item in job.stock if item.count != 0 and self.room(item) > 0]

    def room(self, stock: StockLength) -> int:
        """Return the length between a bar's end trims."""
        return stock.length_nm - 2 * _trim(self.job, stock)

    def length_bound(self) -> Fraction:
        """Return what the pieces cost at least at the best rate of any stock: used room times price less all credit."""
        return sum(item.count * item.size for item in self.items) * self.rate()

    def rate(self) -> Fraction:
        """Return the least that room costs, of any stock, for a quarter of a nanometre."""
        rates = []
        for stock in self.stock:
            cap, cost = 4 * (self.room(stock) + self.job.kerf_nm), _price(self.job, stock)
            keep = Fraction(repr(self.job.keep_value)) if self.job.keep_from_nm is not None else Fraction(0)
            empty = cost * (1 - keep * Fraction(cap, 4 * stock.length_nm))
            rates.append(min(cost / cap, cost / cap if empty >= 0 else (cost - empty) / cap))
        return max(Fraction(0), min(rates, default=Fraction(0)))

    def dual_bound(self) -> Fraction:
        """Return what the worths prove: shrunk, where a bar holds too much, by the worst bar (Farley 1990)."""
        proof, items = self.proof, [item for item in self.items if item.worth > 0]
        top = max((self.capacity(stock) for stock in self.stock), default=0)
        if not items or not self._small(items, top):
            return Fraction(0)
        bars = _bars(items, top, spare=self.spare)
        if bars is None and top // proof.step < MOST_STATES:  # too many to look at: sizes rounded down
            rough = [replace(item, size=item.size // proof.step * proof.step) for item in items]
            bars = _bars(rough, top, spare=self.spare // proof.step * proof.step)
        if bars is None:
            return Fraction(0)
        self.factor = min(self._fit(stock, bars, self._rent(stock)) for stock in self.stock)
        if self.factor < 1 and not self.square:
            with suppress(TooManyOrders):
                self.factor = self._by_order()
        value = sum(item.count * item.worth for item in items)
        value -= sum(self._rent(one) * one.count for one in self.stock if one.count is not None)
        return max(Fraction(0), self.factor * Fraction(value, proof.scale))

    def _by_order(self) -> Fraction:
        """Return by how much worths have to shrink where each bar worth too much is tried in every order. Raises TooMany."""
        factor, nodes = Fraction(1), 0
        order = [n for n, item in sorted(enumerate(self.items), key=lambda pair: -pair[1].worth / max(1, pair[1].size))]
        order = [n for n in order if self.items[n].worth > 0]
        joins = Joins(self.job)
        for stock in self.stock:
            cap, rent = self.capacity(stock), self._rent(stock)
            cost = float(self.price(stock)) * self.proof.scale
            waiting: list[tuple[int, int, int, dict[int, int]]] = [(0, 0, -rent, {})]
            while waiting:
                place, used, over, held = waiting.pop()
                nodes += 1
                if nodes > MOST_TRIED:
                    raise TooManyOrders
                if over > (float(self.least_cost(stock, used)) * self.proof.scale if self.keeps else cost):
                    factor = min(factor, self._in_order(stock, joins, used, over, held))
                for n in range(place, len(order)):
                    item = self.items[order[n]]
                    if over + item.worth * (cap - used) / max(1, item.size) < (0.0 if self.keeps else cost):
                        break
                    for many in range(1, min(item.count, (cap - used) // max(1, item.size)) + 1):
                        more = {**held, order[n]: many}
                        waiting.append((n + 1, used + many * item.size, over + many * item.worth, more))
        return factor

    def _in_order(self, stock: StockLength, joins: Joins, used: int, over: int, held: dict[int, int]) -> Fraction:
        need = 2 * joins.least_room_x2(held) + 4 * self.job.kerf_nm
        if not self.fits(stock, max(used, need), held):
            return Fraction(1)
        net = self.least_cost(stock, max(used, need)) * self.proof.scale
        return max(Fraction(0), net / over) if over > net else Fraction(1)

    def _rent(self, stock: StockLength) -> int:
        return max(0, self.proof.rents.get(stock.id, 0)) if stock.count is not None else 0

    def best_bound(self) -> Fraction:
        """Return the better of the length bound and the dual bound; `feasible_duals` and `feasible_stock_dual` prove it."""
        by_length, by_worth = self.length_bound(), self.dual_bound() if self.proof.worths else Fraction(0)
        self.by_worth = by_worth >= by_length
        return max(by_length, by_worth)

    def feasible_duals(self) -> list[Fraction]:
        """Return what each piece is worth, in costs, such that no bar is worth more than it costs and its rent."""
        if self.by_worth:
            return [self.factor * Fraction(item.worth, self.proof.scale) for item in self.items]
        rate = self.rate()
        return [item.size * rate for item in self.items]

    def feasible_stock_dual(self, stock: StockLength) -> Fraction:
        """Return what a bar of limited stock is worth having."""
        return self.factor * Fraction(self._rent(stock), self.proof.scale) if self.by_worth else Fraction(0)

    def fits(self, stock: StockLength, used: int, kinds: Iterable[int]) -> bool:
        """Return whether pieces of these kinds that use so much room fit a bar, as far as sizes tell."""
        held = any(self.items[kind].held for kind in kinds)
        return used <= self.capacity(stock) - (0 if held else 4 * self.job.clamp_nm)

    def price(self, stock: StockLength) -> Fraction:
        """Return what a bar costs, without credit."""
        return self.prices[stock.id]

    def least_cost(self, stock: StockLength, used: int) -> Fraction:
        """Return the least that a bar with so much room used costs."""
        cost, drop = self.price(stock), 4 * self.room(stock) - used
        if self.job.keep_from_nm is None or drop < 4 * self.job.keep_from_nm:
            return cost
        return cost * (1 - Fraction(repr(self.job.keep_value)) * Fraction(drop, 4 * stock.length_nm))

    def capacity(self, stock: StockLength) -> int:
        """Return the room of a bar as sizes count it, quarters of a nanometre: a kerf more than between its trims."""
        return 4 * (self.room(stock) + self.job.kerf_nm)

    def _small(self, items: Sequence[_Item], top: int) -> bool:
        """Whether no sum is too large for a machine word."""
        most = sum(item.worth * min(item.count, top // item.size if item.size else item.count) for item in items)
        dearest = max(int(_price(self.job, stock) * self.proof.scale) for stock in self.stock)
        return max(most, dearest, top) < MOST_SUM

    def _fit(self, stock: StockLength, bars: Bars, rent: int) -> Fraction:
        """Return by how much worths have to shrink so that no bar of this stock is worth more than it costs and rents."""
        factor = Fraction(1)
        for held, (used, worth) in bars.items():
            most = self.capacity(stock) - (0 if held else 4 * self.job.clamp_nm)
            inside = used <= most
            factor = min(factor, self._worst(stock, used[inside], worth[inside] - rent))
        return factor

    def _worst(self, stock: StockLength, used: Row, over: Row) -> Fraction:
        """Return the least of what a bar costs to what it is worth beyond its rent, at most 1: credit as large as can be."""
        job, scale = self.job, self.proof.scale
        cost = _price(job, stock) * scale
        keep = Fraction(repr(job.keep_value)) if job.keep_from_nm is not None else Fraction(0)
        drop = 4 * self.room(stock) - used
        kept = drop >= 4 * (job.keep_from_nm or 0)
        rough = float(cost) * (1 - float(keep) * np.where(kept, drop, 0) / (4 * stock.length_nm))
        near = np.nonzero((over > 0) & (over > rough * (1 - 1e-9) - 1.0))[0]  # the others are far below: floats suffice
        factor = Fraction(1)
        for n in near:
            net = cost * (1 - keep * Fraction(int(drop[n]), 4 * stock.length_nm)) if kept[n] else cost
            if over[n] > net:
                factor = min(factor, max(Fraction(0), net / int(over[n])))
        return factor


def _bars(items: Sequence[_Item], top: int, *, spare: int) -> Bars | None:
    """Return room used and worth of all bars that no other beats in both, by whether the clamp holds a piece; None: too many.

    An odd number of sloped ends takes `spare` more.
    """
    none = np.zeros(1, dtype=np.int64), np.zeros(1, dtype=np.int64)
    made: dict[tuple[bool, bool], tuple[Row, Row]] = {(False, False): none}
    for item in sorted(items, key=lambda item: -item.size):
        left, times = item.count if item.size == 0 else min(item.count, top // item.size), 1
        while left > 0:
            many = min(times, left)
            wider: dict[tuple[bool, bool], list[tuple[Row, Row]]] = {state: [pair] for state, pair in made.items()}
            for (held, odd), (used, worth) in made.items():
                room = used <= top - item.size * many
                state = (held or item.held, odd != (item.odd and many % 2 == 1))
                wider.setdefault(state, []).append((used[room] + item.size * many, worth[room] + item.worth * many))
            made = {state: _unbeaten(pairs) for state, pairs in wider.items()}
            if sum(len(used) for used, _ in made.values()) > MOST_STATES:
                return None
            left, times = left - many, times * 2
    bars: dict[bool, list[tuple[Row, Row]]] = {}
    for (held, odd), (used, worth) in made.items():
        bars.setdefault(held, []).append((used + (spare if odd else 0), worth))
    return {held: _unbeaten(pairs) for held, pairs in bars.items()}


def _unbeaten(pairs: Sequence[tuple[Row, Row]]) -> tuple[Row, Row]:
    """Return those that are worth more than all that take no more room."""
    used, worth = (np.concatenate(part) for part in zip(*pairs, strict=True))
    order = np.lexsort((-worth, used))
    used, worth = used[order], worth[order]
    before = np.maximum.accumulate(worth)
    better = np.ones(len(worth), dtype=bool)
    better[1:] = worth[1:] > before[:-1]
    return used[better], worth[better]


def next_attainable_cost(job: NestJob, bound: Fraction) -> Fraction:
    """Return the least cost of whole bars that is not below a bound; where drops earn credit, the bound itself."""
    costs = {_price(job, stock) for stock in job.stock if stock.count != 0} - {Fraction(0)}
    if (job.keep_from_nm is not None and job.keep_value > 0) or not costs or bound <= 0:
        return bound
    parts = math.lcm(*(cost.denominator for cost in costs))
    whole = [int(cost * parts) for cost in costs]
    measure = math.gcd(*whole)
    coins = [value // measure for value in whole]
    rung = math.ceil(bound * parts / measure)
    if rung + max(coins) > MOST_RUNGS:
        return Fraction(rung * measure, parts)
    top, reached = rung + max(coins) + 1, 1
    for coin in coins:  # bit n: some bars cost n measures
        by = coin
        while by < top:
            reached |= (reached << by) & ((1 << top) - 1)
            by *= 2
    above = reached >> rung
    return Fraction((rung + (above & -above).bit_length() - 1) * measure, parts)


def cost_step(job: NestJob) -> Fraction:
    """Return the measure of all prices, in which whole bars' costs differ; 0 where drops earn credit."""
    costs = {_price(job, stock) for stock in job.stock if stock.count != 0} - {Fraction(0)}
    if (job.keep_from_nm is not None and job.keep_value > 0) or not costs:
        return Fraction(0)
    parts = math.lcm(*(cost.denominator for cost in costs))
    return Fraction(math.gcd(*(int(cost * parts) for cost in costs)), parts)


def _shares_hold(job: NestJob, starts: dict[int, int], ends: dict[int, int]) -> bool:
    """Whether no two facing ends have shares of more than their cut, nor one of more than it and a kerf at a bar's end."""
    fair = 2 * job.kerf_nm
    alone = all(share <= 2 * abs(lean) + fair for shares in (starts, ends) for lean, share in shares.items())
    return alone and all(
        4 * gap_nm(job, max(abs(start), abs(end))) + 2 * abs(start - end) >= one + two
        for start, one in starts.items()
        for end, two in ends.items()
    )


def _least_for_odd(job: NestJob, starts: dict[int, int], ends: dict[int, int]) -> int:
    """What a bar with an odd number of sloped ends takes beyond shares: one of them faces a square end or the bar's."""
    fair = 2 * job.kerf_nm
    rest = [2 * abs(lean) + fair - share for shares in (starts, ends) for lean, share in shares.items() if lean]
    rest += [
        4 * gap_nm(job, max(abs(start), abs(end))) + 2 * abs(start - end) - one - two
        for start, one in starts.items()
        for end, two in ends.items()
        if (start == 0) != (end == 0)
    ]
    return max(0, min(rest, default=0))


def _trim(job: NestJob, stock: StockLength) -> int:
    return job.end_trim_nm if stock.end_trim_nm is None else stock.end_trim_nm


def _price(job: NestJob, stock: StockLength) -> Fraction:
    return Fraction(repr(length_as_number(stock.length_nm, job.unit) if stock.cost is None else stock.cost))
