"""The nest stage: pieces to bars at least cost, with a bound that nothing can beat."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from solver.domain.certificate import Certificate
from solver.domain.cut_plan import CutBar, NestJob, NestResult, Renested
from solver.errors import InputError
from solver.nesting import square_relaxation
from solver.nesting.angled import solve_angled
from solver.nesting.bars import Cut, fewest_turned_bars, to_bars, total_cost
from solver.nesting.certify import CertifiedBound
from solver.nesting.faults import validate
from solver.nesting.greedy import first_fit_decreasing
from solver.nesting.model import NestingModel, build_model, require_fit
from solver.nesting.patterns import count_patterns, patterns_bound, reduce_patterns
from solver.nesting.renest import place_on_half_cut_bar, remaining_job, with_bar_sections
from solver.nesting.square import solve_square
from solver.nesting.stock_shortage import require_stock
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
        inner, sections = with_bar_sections(job)
        return place_on_half_cut_bar(job, _nest(inner, search), sections)
    return _nest(job, search)


def renest(job: NestJob, bar: CutBar, *, done: int, flaw_nm: tuple[Nm, Nm], search: Search) -> Renested:
    """Return a plan for the pieces that a bar still owes, around a flaw. Raises InputError and NoPlan."""
    rest = remaining_job(job, bar, done=done, flaw_nm=flaw_nm)
    return Renested(job=rest, result=nest(rest, search))


def _nest(job: NestJob, search: Search) -> NestResult:
    model = build_model(job)
    if not model.kinds:
        return result_of(model, [], CertifiedBound(Fraction(0), Certificate(kind="nothing")))
    require_fit(model)
    require_stock(model)
    cuts = first_fit_decreasing(model, over=search.over)
    first = replace(search, left_s=lambda: search.left_s() - PATTERNS_S) if job.few_patterns else search
    floor: CertifiedBound | None = None
    if not model.square and square_relaxation.is_worth_squaring(model):
        cuts, floor = square_relaxation.start_from_squares(model, cuts, first, _solved)
    best, basis = _solved(model, first, cuts)
    if floor is not None and floor.bound > basis.bound:
        basis = floor
    if not job.few_patterns or best is None:
        return result_of(model, best, basis)
    few = reduce_patterns(model, fewest_turned_bars(model, best), search)
    made = result_of(model, few, basis)
    return replace(made, patterns=count_patterns(few), patterns_lower_bound=patterns_bound(model))


def _solved(model: NestingModel, search: Search, cuts: list[Cut] | None = None) -> tuple[list[Cut] | None, CertifiedBound]:
    """The best cuts found, no dearer than those given, and a bound."""
    if cuts is None:
        cuts = first_fit_decreasing(model, over=search.over)
    plain_square = model.square and model.keep_from_nm is None and cuts is not None
    return (solve_square if plain_square else solve_angled)(model, cuts, search)


def result_of(model: NestingModel, cuts: Sequence[Cut] | None, basis: CertifiedBound) -> NestResult:
    """Return the plan as a result: exact cost judged against the exact bound."""
    bound, certificate = basis.bound, basis.certificate
    if cuts is None:
        return NestResult(
            status="unknown", cost=None, lower_bound=float(bound), waste=None, seconds=0.0, bars=(), certificate=certificate
        )
    cuts = fewest_turned_bars(model, cuts)
    cost = total_cost(model, cuts)
    bars = to_bars(model, cuts)
    proved = cost - bound <= cost * SAME
    return NestResult(
        status="optimal" if proved else "feasible",
        cost=plain_number(cost),
        lower_bound=plain_number(cost if proved else bound),
        waste=waste_share(model, bars),
        seconds=0.0,
        bars=bars,
        certificate=certificate,
    )


def plain_number(value: Fraction) -> float:
    """Return an exact amount as a number."""
    return float(value)


def waste_share(model: NestingModel, bars: Sequence[CutBar]) -> float:
    """Return 1 - area of pieces / area of bars; 0 for no bars."""
    length = {stock.id: stock.length_nm for stock in model.job.stock}
    bought = sum(bar.repeat * length[bar.stock] for bar in bars)
    if not bought:
        return 0.0
    pieces = sum(kind.count * kind.doubled for kind in model.kinds)
    return float(1 - Fraction(pieces, 2 * bought))
