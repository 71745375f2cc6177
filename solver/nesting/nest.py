"""The nest stage: pieces to bars at least cost, with a bound that nothing can beat."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from solver.domain.cut_plan import CutBar, NestJob, NestResult, Renested
from solver.errors import InputError
from solver.nesting.angled import solve_angled
from solver.nesting.bars import Cut, settle_all, to_bars, total_cost
from solver.nesting.faults import validate
from solver.nesting.greedy import first_fit
from solver.nesting.model import Model, build, require_fit
from solver.nesting.patterns import count_patterns, fewer_patterns, patterns_bound
from solver.nesting.renest import on_the_bar, owed, with_sections
from solver.nesting.scarce import require_stock
from solver.nesting.square import solve_square
from solver.search import Search
from solver.units import Nm

__all__ = ["nest", "renest", "validate"]

PATTERNS_S = 1.0  # kept back for the second goal where that was asked for
SAME = Fraction(1, 1_000_000)  # a value this near its bound, relatively, counts as equal: the contract


def nest(job: NestJob, search: Search) -> NestResult:
    """Return the best cut plan that the search's time allows, with a proved lower bound.

    Raises InputError with every fault of the job, and NoPlan, naming the pieces, when no plan can exist.
    """
    faults = validate(job)
    if faults:
        raise InputError(*faults)
    if job.half_cut is not None:
        inner, sections = with_sections(job)
        return on_the_bar(job, _nest(inner, search), sections)
    return _nest(job, search)


def renest(job: NestJob, bar: CutBar, *, done: int, flaw_nm: tuple[Nm, Nm], search: Search) -> Renested:
    """Return a plan for the pieces that a bar still owes, around a flaw. Raises InputError and NoPlan."""
    rest = owed(job, bar, done=done, flaw_nm=flaw_nm)
    return Renested(job=rest, result=nest(rest, search))


def _nest(job: NestJob, search: Search) -> NestResult:
    model = build(job)
    if not model.kinds:
        return result_of(model, [], Fraction(0))
    require_fit(model)
    require_stock(model)
    cuts = first_fit(model, over=search.over)
    plain_square = model.square and model.keep_from_nm is None and cuts is not None
    first = replace(search, left_s=lambda: search.left_s() - PATTERNS_S) if job.few_patterns else search
    best, bound = (solve_square if plain_square else solve_angled)(model, cuts, first)
    if not job.few_patterns or best is None:
        return result_of(model, best, bound)
    few = fewer_patterns(model, settle_all(model, best), search)
    made = result_of(model, few, bound)
    return replace(made, patterns=count_patterns(few), patterns_lower_bound=patterns_bound(model))


def result_of(model: Model, cuts: Sequence[Cut] | None, bound: Fraction) -> NestResult:
    """Return the plan as a result: exact cost judged against the exact bound."""
    if cuts is None:
        return NestResult(status="unknown", cost=None, lower_bound=float(bound), waste=None, seconds=0.0, bars=())
    cuts = settle_all(model, cuts)
    cost = total_cost(model, cuts)
    bars = to_bars(model, cuts)
    proved = cost - bound <= cost * SAME
    return NestResult(
        status="optimal" if proved else "feasible",
        cost=plain(cost),
        lower_bound=plain(cost if proved else bound),
        waste=waste_of(model, bars),
        seconds=0.0,
        bars=bars,
    )


def plain(value: Fraction) -> float:
    """Return an exact amount as a number."""
    return float(value)


def waste_of(model: Model, bars: Sequence[CutBar]) -> float:
    """Return 1 - area of pieces / area of bars; 0 for no bars."""
    length = {stock.id: stock.length_nm for stock in model.job.stock}
    bought = sum(bar.repeat * length[bar.stock] for bar in bars)
    if not bought:
        return 0.0
    pieces = sum(kind.count * kind.doubled for kind in model.kinds)
    return float(1 - Fraction(pieces, 2 * bought))
