"""Prove the bound of a cut plan again by another solver: is there a cheaper plan among all bars that one could use?

Of a plan cheaper than the bound, no bar can cost more beyond its worth than the bound is above what the worths prove
(reduced-cost fixing). So all such bars are listed anew, and CBC is asked for a cheaper cover.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from solver.cbc import ConstraintRow, solve_with_cbc
from solver.domain.certificate import BoundReport, Certificate
from solver.domain.cut_plan import NestJob, NestResult
from solver.nesting.check_bound import NEAR, BoundInstance, cost_step, next_attainable_cost
from solver.search import Search

MOST_BARS = 20_000
MOST_NODES = 2_000_000
Held = dict[int, int]  # piece (its place in the job) to how many


def verify_by_other_solver(
    job: NestJob, result: NestResult, exact: Sequence[BoundReport], search: Search
) -> tuple[BoundReport, ...]:
    """Return the reports of `exact`, those not confirmed judged again by CBC within the time."""
    return tuple(
        _again(job, result, report, search) if (report.about, report.state) == ("lower_bound", "unconfirmed") else report
        for report in exact
    )


def _again(job: NestJob, result: NestResult, report: BoundReport, search: Search) -> BoundReport:
    if job.half_cut is not None:
        return report
    shop, claimed = BoundInstance(job, result.certificate or Certificate(kind="lengths")), Fraction(result.lower_bound)
    gap = claimed - shop.best_bound()
    bars = _bars_within(shop, gap, search)
    if bars is None:
        return replace(report, state="out_of_time", by="too many bars could be in a cheaper plan to list them in the time")
    most = min(claimed * (1 - 2 * NEAR), next_attainable_cost(job, claimed) - cost_step(job) / 2)
    top = float(max(cost for _, _, cost in bars)) if bars else 1.0
    rows = [
        ConstraintRow(parts={n: held[kind] for n, (_, held, _) in enumerate(bars) if kind in held}, low=piece.count)
        for kind, piece in enumerate(job.pieces)
    ]
    if any(not row.parts for row in rows):
        return replace(report, state="again", by="no bar that a cheaper plan could use holds some piece")
    rows += [
        ConstraintRow(parts={n: 1 for n, (mine, _, _) in enumerate(bars) if mine == at}, high=stock.count)
        for at, stock in enumerate(shop.stock)
        if stock.count is not None
    ]
    costs = [float(cost) / top for _, _, cost in bars]
    rows.append(ConstraintRow(parts=dict(enumerate(costs)), high=float(most) / top))
    said = solve_with_cbc(costs, rows, seconds=search.left_s())
    if said.none:
        return replace(report, state="again", by=f"CBC: none of the {len(bars)} bars that a cheaper plan could use make it")
    if said.values is None:
        return replace(report, state="out_of_time", by=f"CBC did not end over {len(bars)} bars")
    cost = sum((round(value) * cost for value, (_, _, cost) in zip(said.values, bars, strict=True)), Fraction(0))
    if not shop.square:
        return replace(report, state="unconfirmed", by="CBC found a cheaper cover by bars whose sloped cuts may not fit")
    return replace(report, state="refuted", by=f"CBC found a plan that costs {float(cost):g}")


def _bars_within(shop: BoundInstance, gap: Fraction, search: Search) -> list[tuple[int, Held, Fraction]] | None:
    """Return every bar that costs at most `gap` beyond its worth, with stock and cost; None where that takes too long."""
    found: list[tuple[int, Held, Fraction]] = []
    order = sorted(range(len(shop.items)), key=lambda n: -shop.items[n].size)
    worths = [float(worth) for worth in shop.feasible_duals()]
    rates = [0.0] * (len(order) + 1)
    for place in range(len(order) - 1, -1, -1):
        item = shop.items[order[place]]
        rates[place] = max(rates[place + 1], worths[order[place]] / max(1, item.size))
    nodes = 0
    credits = shop.job.keep_from_nm is not None
    for at, stock in enumerate(shop.stock):
        cap, least, rent = shop.capacity(stock), float(shop.price(stock)), float(shop.feasible_stock_dual(stock))
        slack = float(gap) + 1e-9 * max(1.0, least)
        waiting: list[tuple[int, int, float, Held]] = [(0, 0, 0.0, {})]
        while waiting:
            place, used, worth, held = waiting.pop()
            nodes += 1
            if nodes > MOST_NODES or len(found) > MOST_BARS or (nodes % 1024 == 0 and search.over()):
                return None
            if held and shop.fits(stock, used, held):
                cost = shop.least_cost(stock, used)
                if float(cost) + rent - worth <= slack:
                    found.append((at, held, cost))
            for n in range(place, len(order)):
                kind = order[n]
                item = shop.items[kind]
                if (float(shop.least_cost(stock, used)) if credits else least) + rent - worth - rates[n] * (cap - used) > slack:
                    break
                for many in range(1, min(item.count, (cap - used) // max(1, item.size)) + 1):
                    waiting.append((n + 1, used + many * item.size, worth + many * worths[kind], {**held, kind: many}))
    return found
