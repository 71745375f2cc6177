"""Several stock lengths as other programs see them: every pattern in one integer program, and arc flow; by CBC and HiGHS.

Nothing of the search is used: patterns, costs and credit are made anew from the job, square pieces only, no clamp.
"""

from __future__ import annotations

import itertools
import warnings
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from solver.domain.cut_plan import NestJob, StockLength
from solver.highs import highs_infinity, new_silent_solver, require_ok_status
from solver.units import length_as_number


@dataclass(frozen=True, slots=True)
class Offer:
    """A stock length: its room between the trims with one kerf more, how many there are, and what a bar costs."""

    room_nm: int
    count: int | None
    cost: Callable[[int], Fraction]  # by the room used, one kerf with each piece


@dataclass(frozen=True, slots=True)
class Found:
    """What a program came to; cost and bound None where it had none, `size` its columns."""

    cost: float | None
    bound: float | None
    proved: bool
    size: int


def offers(job: NestJob) -> list[Offer]:
    """Return the job's stock. The drop behind the last piece has lost a kerf, as the contract of `nest` says."""
    return [_offer(job, stock) for stock in job.stock if stock.count != 0]


def _offer(job: NestJob, stock: StockLength) -> Offer:
    trim = job.end_trim_nm if stock.end_trim_nm is None else stock.end_trim_nm
    price = Fraction(repr(length_as_number(stock.length_nm, job.unit) if stock.cost is None else stock.cost))

    def cost(used_nm: int) -> Fraction:
        drop = max(0, stock.length_nm - 2 * trim - used_nm)
        if job.keep_from_nm is None or drop < job.keep_from_nm:
            return price
        return price * (1 - Fraction(repr(job.keep_value)) * Fraction(drop, stock.length_nm))

    return Offer(stock.length_nm - 2 * trim + job.kerf_nm, stock.count, cost)


def sizes(job: NestJob) -> list[int]:
    """Return each kind's length with one kerf."""
    assert all(piece.length_nm is not None for piece in job.pieces)
    return [(piece.length_nm or 0) + job.kerf_nm for piece in job.pieces]


def patterns(job: NestJob, room_nm: int) -> Iterator[tuple[tuple[int, ...], int]]:
    """Yield every way to fill a bar, as counts of the kinds, with the room used."""
    size, most = sizes(job), [piece.count for piece in job.pieces]
    taken = [0] * len(size)

    def go(kind: int, used: int) -> Iterator[tuple[tuple[int, ...], int]]:
        if kind == len(size):
            if used:
                yield tuple(taken), used
            return
        for times in range(min(most[kind], (room_nm - used) // size[kind]) + 1):
            taken[kind] = times
            yield from go(kind + 1, used + times * size[kind])
        taken[kind] = 0

    return go(0, 0)


def columns(job: NestJob, limit: int) -> list[tuple[int, tuple[int, ...], Fraction]] | None:
    """Return all patterns as (stock, counts, cost), or None where there are more than `limit`."""
    made: list[tuple[int, tuple[int, ...], Fraction]] = []
    for n, offer in enumerate(offers(job)):
        some = itertools.islice(patterns(job, offer.room_nm), limit + 1 - len(made))
        made += [(n, counts, offer.cost(used)) for counts, used in some]
        if len(made) > limit:
            return None
    return made


def all_patterns_cbc(job: NestJob, limit_s: float, *, most: int = 20_000) -> Found:
    """Return the cheapest plan over all patterns, by CBC through PuLP."""
    import pulp

    made, stock = columns(job, most), offers(job)
    if made is None:
        return Found(None, None, False, most)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # PuLP 3 warns of PuLP 4's ways; 4 ships no CBC
        model = pulp.LpProblem("bars", pulp.LpMinimize)
        bars = [pulp.LpVariable(f"x{n}", lowBound=0, cat="Integer") for n in range(len(made))]
        model += pulp.lpSum(float(cost) * bar for bar, (_, _, cost) in zip(bars, made, strict=True))
        for kind, piece in enumerate(job.pieces):
            model += pulp.lpSum(c[kind] * bar for bar, (_, c, _) in zip(bars, made, strict=True) if c[kind]) == piece.count
        for n, offer in enumerate(stock):
            if offer.count is not None:
                model += pulp.lpSum(bar for bar, (mine, _, _) in zip(bars, made, strict=True) if mine == n) <= offer.count
        model.solve(pulp.PULP_CBC_CMD(msg=False, timeLimit=limit_s, threads=1, gapRel=0.0))
        proved = model.sol_status == pulp.LpSolutionOptimal
        values = [round(bar.value() or 0) for bar in bars]
    cost = sum((times * one[2] for times, one in zip(values, made, strict=True)), Fraction(0))
    return Found(float(cost) if proved else None, float(cost) if proved else None, proved, len(made))


def all_patterns_highs(job: NestJob, limit_s: float, *, most: int = 50_000) -> Found:
    """Return the cheapest plan over all patterns, by HiGHS."""
    made, stock = columns(job, most), offers(job)
    if made is None:
        return Found(None, None, False, most)
    kinds = len(job.pieces)
    wide = [
        (
            float(cost),
            [*(kind for kind, count in enumerate(counts) if count), kinds + n],
            [*(float(count) for count in counts if count), 1.0],
        )
        for n, counts, cost in made
    ]
    rows = [(float(piece.count), float(piece.count)) for piece in job.pieces]
    rows += [(0.0, highs_infinity() if offer.count is None else float(offer.count)) for offer in stock]
    return _highs(rows, wide, limit_s)


def arc_flow_highs(job: NestJob, limit_s: float, *, most: int = 100_000) -> Found:
    """Return the cheapest plan as a flow, by HiGHS: pieces are arcs, longest first; a bar ends at any node, at its cost.

    Valerio de Carvalho (1999), Annals of Operations Research 86: 629-659; with an end at each node for each stock that
    reaches it, so that credit is exact. Found without cost and bound where there are more than `most` arcs.
    """
    size, stock = sizes(job), offers(job)
    top = max(offer.room_nm for offer in stock)
    copies: dict[int, int] = {0: 0}
    arcs: set[tuple[int, int, int]] = set()
    for kind in sorted(range(len(size)), key=lambda n: -size[n]):
        times = dict.fromkeys(copies, 0)
        for at in sorted(times):  # nodes grow as they are walked: a second piece of the kind starts where the first ends
            waiting = [at]
            while waiting:
                node = waiting.pop()
                to = node + size[kind]
                if times[node] >= job.pieces[kind].count or to > top:
                    continue
                arcs.add((node, to, kind))
                if to not in times or times[node] + 1 < times[to]:
                    times[to] = times[node] + 1
                    waiting.append(to)
            if len(arcs) > most:
                return Found(None, None, False, len(arcs))
        copies = times
    nodes = {node: n for n, node in enumerate(sorted(copies))}
    kinds = len(size)
    rows = [(0.0, 0.0)] * len(nodes)
    rows[0] = (-highs_infinity(), highs_infinity())
    rows += [(float(piece.count), float(piece.count)) for piece in job.pieces]
    rows += [(0.0, highs_infinity() if offer.count is None else float(offer.count)) for offer in stock]
    first = len(nodes)
    wide = [(0.0, [nodes[a], nodes[b], first + kind], [-1.0, 1.0, 1.0]) for a, b, kind in sorted(arcs)]
    for node, row in nodes.items():
        for n, offer in enumerate(stock):
            if 0 < node <= offer.room_nm:
                wide.append((float(offer.cost(node)), [row, first + kinds + n], [-1.0, 1.0]))
    return _highs(rows, wide, limit_s)


def _highs(rows: list[tuple[float, float]], wide: list[tuple[float, list[int], list[float]]], limit_s: float) -> Found:
    """Return what HiGHS makes of an integer program: rows as (low, high), columns as (cost, rows, values)."""
    solver, inf, count = new_silent_solver(), highs_infinity(), len(wide)
    for low, high in rows:
        require_ok_status(solver.addRow(low, high, 0, np.array([], dtype=np.int32), np.array([])))
    starts = np.cumsum([0, *(len(column[1]) for column in wide[:-1])]).astype(np.int32)
    places = np.array([row for column in wide for row in column[1]], dtype=np.int32)
    values = np.array([value for column in wide for value in column[2]])
    costs = np.array([column[0] for column in wide])
    require_ok_status(solver.addCols(count, costs, np.zeros(count), np.full(count, inf), len(places), starts, places, values))
    require_ok_status(solver.changeColsIntegrality(count, np.arange(count, dtype=np.int32), np.ones(count, dtype=np.uint8)))
    require_ok_status(solver.setOptionValue("time_limit", max(0.1, limit_s)))
    require_ok_status(solver.setOptionValue("mip_rel_gap", 0.0))
    solver.run()
    info, proved = solver.getInfo(), solver.getModelStatus().name == "kOptimal"
    found = info.primal_solution_status == 2
    bound = float(info.mip_dual_bound)
    return Found(float(info.objective_function_value) if found else None, bound if abs(bound) < 1e20 else None, proved, count)
