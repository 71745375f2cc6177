"""Square pieces, solved and proved: linear bound, plans from it, and a decision over all patterns that could beat it."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np

from solver.nesting.bars import Cut, total_cost
from solver.nesting.bounds import DualBound, area_bound, dual_bound
from solver.nesting.certify import CertifiedBound, CertifiedDuals, certify_bound
from solver.nesting.columns import Relaxation
from solver.nesting.fill import fill_bars_in_turn, round_linear_plan
from solver.nesting.greedy import fill_all
from solver.nesting.incumbent import Incumbent, Plan, covers_demand, cuts_without_overproduction
from solver.nesting.mix_search import MixSearch
from solver.nesting.model import NestingModel
from solver.nesting.pattern_enumeration import patterns_within_gap
from solver.nesting.programs import solve_integer_covering
from solver.nesting.scaled_job import Pattern, ScaledJob, scale_job
from solver.search import Search

ROUNDINGS = 20
MOST_PATTERNS = 6_000
REST_PATTERNS = 4_000
RESIDUAL_OF = 4  # the rest is decided once its bars are this part of all
RESIDUAL_PIECES = 60
DIVES = ((3, False), (8, False), (10**6, True))  # by turns: how many, and whether each decides its rest
MIX_DIVES = ((3, False), (8, False), (20, True), (40, True), (10**6, True))
SHARE = 0.25  # of the time left, at most, for mixes of stock, and for a program over the patterns that cost least
MOST_CHOICE = 3_000
DISTURBED = 8  # programs whose prices are averaged for a central one


def solve_square(model: NestingModel, start: list[Cut] | None, search: Search) -> tuple[list[Cut] | None, CertifiedBound]:
    """Return the best cuts that the time allows and a proved bound of their cost. Raises nothing for a sound job.

    Gilmore and Gomory (1961, Operations Research 9: 849-859) for the linear bound; the decision over all patterns of
    reduced cost within the gap is reduced-cost fixing carried to its end.
    """
    best = Incumbent(model, start, area_bound(model))
    relaxed = _searched(model, start, search, best)
    return best.cuts, certify_bound(model, best.bound, None if relaxed is None else _certified_duals(relaxed))


def _certified_duals(relaxed: Relaxation) -> CertifiedDuals | None:
    proof = relaxed.proof
    if proof is None:
        return None
    return CertifiedDuals(proof.duals, proof.stock_duals, proof.scale, proof.bound, step=2 * relaxed.core.step)


def _searched(model: NestingModel, start: list[Cut] | None, search: Search, best: Incumbent) -> Relaxation | None:
    if best.proved or search.over():
        return None
    core = scale_job(model)
    filled = fill_bars_in_turn(core, core.counts, [stock.count for stock in model.stocks], over=search.over)
    best.offer(None if filled is None else cuts_without_overproduction(core, filled))
    if best.proved:
        return None
    relaxed = Relaxation(core, search, best.cost_steps)
    relaxed.offer(_first_patterns(core, start))
    relaxed.run()
    best.raise_bound(relaxed.bound)
    search.tell(f"bound {float(best.bound):g}", 0.3)
    _round(relaxed, best)
    if relaxed.proof is None:
        return relaxed
    if not best.proved:
        _dive(relaxed, best)
    dice = np.random.default_rng(search.seed)
    if len(model.stocks) == 1:
        _in_turns(relaxed, best, dice)
    elif not best.proved:
        _over_mixes(relaxed, best, dice)
    return relaxed


def _in_turns(relaxed: Relaxation, best: Incumbent, dice: np.random.Generator) -> None:
    """One stock length: the next cost decided, then dives, until the time is over."""
    for dives, rest in DIVES:
        if best.proved or relaxed.search.over():
            return
        _decide(relaxed, best)
        if best.cost_steps.unit is None:
            return
        _dives(relaxed, best, dice, dives, rest=rest)


def _over_mixes(relaxed: Relaxation, best: Incumbent, dice: np.random.Generator) -> None:
    """Several stock lengths: mixes of stock, the patterns that cost least, and dives in turns.

    What brought nothing has half the share of the time in the next turn.
    """
    search, mixes = relaxed.search, MixSearch(relaxed, best)
    of_mixes = of_choice = SHARE
    for dives, rest in MIX_DIVES:
        if best.proved or search.over():
            return
        known = (best.cost, best.bound)
        mixes.run(of_mixes * search.left_s(), max(0.5, 0.06 * search.left_s()))
        of_mixes *= 0.5 if (best.cost, best.bound) == known else 1.0
        known = (best.cost, best.bound)
        if not best.proved:
            _choose(relaxed, best, of_choice * search.left_s())
        of_choice *= 0.5 if (best.cost, best.bound) == known else 1.0
        _dives(relaxed, best, dice, dives, rest=rest)


def _dives(relaxed: Relaxation, best: Incumbent, dice: np.random.Generator, dives: int, *, rest: bool) -> None:
    for _ in range(dives):
        if best.proved or relaxed.search.over():
            return
        _dive(relaxed, best, dice=dice, rest=rest)


def _choose(relaxed: Relaxation, best: Incumbent, seconds: float) -> None:
    """Look for a cheaper plan among the patterns that cost least beyond their worth, as many as a program can weigh.

    Proved where those are all that a cheaper plan can use.
    """
    core, search, proof = relaxed.core, relaxed.search, relaxed.proof
    if proof is None or best.cost is None:
        return
    until = search.left_s() - seconds
    most = best.cost_steps.step_below(best.cost)
    gap, every, patterns = int(most * proof.scale) + 1 - proof.value, True, None
    while patterns is None and gap > 0 and not search.over():
        patterns = patterns_within_gap(core, proof.duals, proof.stock_duals, proof.scale, gap, limit=MOST_CHOICE, search=search)
        if patterns is None:
            gap, every = gap // 2, False
    if patterns is None:
        return
    pool = {(one.stock, one.counts): one for one in (*patterns, *([] if every else relaxed.patterns))}
    search.tell(f"choosing among {len(pool)} patterns", 0.6)
    cuts, proved = _program(relaxed, list(pool.values()), most=most, seconds=search.left_s() - until, first=False)
    best.offer(cuts)
    if proved and every and (cuts is None or total_cost(core.model, cuts) == best.cost):  # else its bars do not fit
        best.raise_bound(best.cost)


def _round(relaxed: Relaxation, best: Incumbent) -> None:
    """The linear plan's whole bars, some of its broken ones, and the rest filled by sums: a few dozen times over."""
    rng = random.Random(relaxed.search.seed)
    for turn in range(ROUNDINGS):
        if best.proved or relaxed.search.over() or len(relaxed.shares) != len(relaxed.patterns):
            return
        keep = (0.0, 0.5, 1.0)[turn] if turn < 3 else rng.random()
        shares, over = list(relaxed.shares), relaxed.search.over
        plan = round_linear_plan(relaxed.core, relaxed.patterns, shares, rng, keep=keep, most=best.cost, over=over)
        best.offer(None if plan is None else cuts_without_overproduction(relaxed.core, plan))


def _first_patterns(core: ScaledJob, cuts: Sequence[Cut] | None) -> Iterable[Pattern]:
    """The starting plan's bars, and each kind alone as often as fits: they cover everything that can be covered."""
    for cut in cuts or ():
        counts: dict[int, int] = {}
        for kind, _ in cut.slots:
            counts[kind] = counts.get(kind, 0) + 1
        yield core.pattern(cut.stock, tuple(counts.items()))
    for kind, size in enumerate(core.sizes):
        for stock, room in enumerate(core.rooms):
            free = room if core.held[kind] else core.short_rooms[stock]
            times = min(core.counts[kind], free // size)
            if times > 0:
                yield core.pattern(stock, ((kind, times),))


def _dive(relaxed: Relaxation, best: Incumbent, *, dice: np.random.Generator | None = None, rest: bool = False) -> None:
    """Fix what the linear plan uses whole, else a full pattern, and solve again for the rest until little is left; then
    fill it. `dice`: fix another pattern than the fullest now and then; `rest`: decide the rest over all its patterns."""
    core, search = relaxed.core, relaxed.search
    need = list(core.counts)
    plan: Plan = []
    left = [stock.count for stock in core.model.stocks]
    spent, tried = Fraction(0), not rest
    while any(need) and not search.over() and not best.proved:
        relaxed.set_demand(need)
        relaxed.generate_columns(rounds=6)
        value = Fraction(relaxed.value * relaxed.scale).limit_denominator(10**9)
        if best.cost is not None and spent + value > best.cost_steps.step_below(best.cost) + Fraction(1, 10**6):
            break  # this way leads to nothing better
        if not tried and (value * RESIDUAL_OF <= best.bound or sum(need) <= RESIDUAL_PIECES):
            tried = True
            if _decide_rest(relaxed, best, plan, spent, need):
                break
        if not _fix(relaxed, plan, need, left, dice):
            break
        spent = sum((pattern.cost * times for pattern, times in plan), Fraction(0))
    best.offer(_with_rest(core, plan, need, left, search.over))
    relaxed.set_demand(core.counts)


def _decide_rest(relaxed: Relaxation, best: Incumbent, plan: Plan, spent: Fraction, need: list[int]) -> bool:
    """Whether the rest, decided over all patterns within its gap, completes a plan at the bound."""
    if best.cost_steps.unit is None or relaxed.limited:
        return False
    core = relaxed.core
    rest = replace(core, counts=tuple(need))
    proof = dual_bound(relaxed.whole_tables, list(relaxed.last_duals * relaxed.scale), [0.0] * len(core.rooms))
    target = best.bound - spent
    gap = int(target * proof.scale) + 1 - sum(c * w for c, w in zip(need, proof.duals, strict=True))
    if gap < 0:
        return False
    patterns = patterns_within_gap(
        rest, proof.duals, proof.stock_duals, proof.scale, gap, limit=REST_PATTERNS, search=relaxed.search
    )
    if not patterns:
        return False
    seconds = min(3.0, 0.2 * relaxed.search.left_s())
    cuts, _ = _program(relaxed, patterns, most=target, seconds=seconds, first=True, needs=need, fixed=plan)
    best.offer(cuts)
    return cuts is not None


def _fix(relaxed: Relaxation, plan: Plan, need: list[int], left: list[int | None], dice: np.random.Generator | None) -> bool:
    """Take bars of the linear plan for good; False where it has nothing to give."""
    taken = False
    shares = relaxed.shares
    ranks = shares if dice is None else np.where(shares > 1e-6, shares + 0.5 * dice.random(len(shares)), 0.0)
    for n in np.argsort(-ranks, kind="stable"):
        share = shares[n]
        if share < 1e-6:
            break
        if taken and share < 1 - 1e-6:
            continue
        pattern = relaxed.patterns[int(n)]
        counts = tuple((kind, min(count, need[kind])) for kind, count in pattern.counts if need[kind])
        stock = pattern.stock
        if not counts or left[stock] == 0:
            continue
        times = min(max(1, int(share + 1e-6)), *(need[kind] // count for kind, count in counts))
        if (have := left[stock]) is not None:
            times = min(times, have)
            left[stock] = have - times
        for kind, count in counts:
            need[kind] -= times * count
        plan.append((relaxed.core.pattern(stock, counts), times))
        taken = True
    return taken


def _with_rest(
    core: ScaledJob, plan: Plan, need: Sequence[int], left: Sequence[int | None], over: Callable[[], bool]
) -> list[Cut] | None:
    """A whole plan: the fixed bars, and the rest filled longest first."""
    made = cuts_without_overproduction(core, plan)
    if not any(need):
        return made
    rest = fill_all(core.model, range(len(need)), need, prefer=None, left=left, over=over)
    return None if rest is None else [*made, *rest]


def _program(
    relaxed: Relaxation,
    patterns: Sequence[Pattern],
    *,
    most: Fraction,
    seconds: float,
    first: bool,
    needs: Sequence[int] | None = None,
    fixed: Plan | None = None,
) -> tuple[list[Cut] | None, bool]:
    """Whole numbers of these patterns that cover what is needed (default: all) at a cost of at most `most`, with the
    fixed bars a plan, or None; and whether that was proved."""
    core = relaxed.core
    wanted = core.counts if needs is None else needs
    limits = [core.model.stocks[n].count or 0 for n in relaxed.limited]
    answer = solve_integer_covering(
        [relaxed.column(pattern) for pattern in patterns],
        wanted,
        limits,
        most=float(most) / relaxed.scale * (1 + 1e-9) + 1e-9,
        seconds=seconds,
        first_found=first,
    )
    if answer.counts is None:
        return None, answer.proved
    plan = [(pattern, count) for pattern, count in zip(patterns, answer.counts, strict=True) if count > 0]
    if not covers_demand(plan, wanted):
        return None, False  # a tolerance of the program's, not a plan
    return cuts_without_overproduction(core, [*(fixed or []), *plan]), answer.proved


def central_dual_bound(relaxed: Relaxation) -> DualBound:
    """Return a proof with prices from the middle of the optimal ones, not a corner: fewer patterns lie within its gap.

    The mean of the optimal prices of programs whose needs were slightly disturbed.
    """
    core = relaxed.core
    dice = np.random.default_rng(1)
    kinds = len(core.counts)
    duals, stock_duals = np.zeros(kinds), np.zeros(len(core.model.stocks))
    counts = np.array(core.counts, dtype=np.float64)
    for _ in range(DISTURBED):
        if relaxed.search.over():
            break
        relaxed.program.set_needs([float(need) for need in counts * (1 + 0.03 * dice.random(kinds))])
        relaxed.generate_columns(rounds=30)
        duals += relaxed.last_duals / DISTURBED
        stock_duals += relaxed.last_stock_duals / DISTURBED
    relaxed.program.set_needs([float(need) for need in counts])
    return dual_bound(relaxed.whole_tables, list(duals * relaxed.scale), list(stock_duals * relaxed.scale))


def _decide(relaxed: Relaxation, best: Incumbent) -> None:
    """Close the gap: is there a plan at the bound, over all patterns that such a plan could use? If not, the bound rises.

    Where drops earn credit costs have no next step: there the best plan over all patterns within the gap is sought.
    """
    core, search = relaxed.core, relaxed.search
    proofs = [proof for proof in (central_dual_bound(relaxed), relaxed.proof) if proof is not None]
    while not best.proved and not search.over():
        stepped = best.cost_steps.unit is not None
        target = best.bound if stepped or best.cost is None else best.cost
        patterns: list[Pattern] | None = None
        for proof in proofs:
            gap = int(target * proof.scale) + 1 - proof.value
            patterns = patterns_within_gap(
                core, proof.duals, proof.stock_duals, proof.scale, gap, limit=MOST_PATTERNS, search=search
            )
            if patterns is not None:
                break
        if patterns is None:
            return
        search.tell(f"deciding over {len(patterns)} patterns", 0.6)
        seconds = 0.5 * search.left_s()
        cuts, proved = _program(relaxed, patterns, most=target, seconds=seconds, first=stepped)
        best.offer(cuts)
        if not stepped:
            if proved and best.cost is not None:
                best.raise_bound(best.cost if cuts is not None else target)
            return
        if best.proved or not proved or cuts is not None:
            return
        best.raise_bound(best.cost_steps.step_above(target))
