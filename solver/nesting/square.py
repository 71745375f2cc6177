"""Square pieces, solved and proved: linear bound, plans from it, and a decision over all patterns that could beat it."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from fractions import Fraction

import numpy as np

from solver.nesting.bars import Cut, cheapest_stock, total_cost
from solver.nesting.bounds import Certificate, Ladder, area_bound, certify
from solver.nesting.columns import Relaxation
from solver.nesting.core import Core, Pattern, core_of
from solver.nesting.enumerate import within
from solver.nesting.fill import fill, rounded
from solver.nesting.greedy import fill_all
from solver.nesting.model import Model
from solver.nesting.programs import cover_in_whole
from solver.search import Search

Plan = list[tuple[Pattern, int]]
ROUNDINGS = 20
MOST_PATTERNS = 6_000
REST_PATTERNS = 4_000
RESIDUAL_OF = 4  # the rest is decided once its bars are this part of all
RESIDUAL_PIECES = 60
DISTURBED = 8  # programs whose prices are averaged for a central one


class Incumbent:
    """The best plan so far and the best bound, both exact."""

    def __init__(self, model: Model, cuts: list[Cut] | None, bound: Fraction) -> None:
        self.model, self.ladder = model, Ladder(model)
        self.cuts = cuts
        self.cost = total_cost(model, cuts) if cuts is not None else None
        self.bound = self.ladder.up(bound)

    def offer(self, cuts: list[Cut] | None) -> None:
        """Keep a plan that is cheaper."""
        if cuts is not None:
            cost = total_cost(self.model, cuts)
            if self.cost is None or cost < self.cost:
                self.cuts, self.cost = cuts, cost

    def raise_bound(self, bound: Fraction) -> None:
        """Keep a bound that is higher, risen to the next cost that bars can add up to."""
        self.bound = max(self.bound, self.ladder.up(bound))

    @property
    def proved(self) -> bool:
        """Whether nothing can be better."""
        return self.cost is not None and self.bound >= self.cost


def solve_square(model: Model, start: list[Cut] | None, search: Search) -> tuple[list[Cut] | None, Fraction]:
    """Return the best cuts that the time allows and a proved bound of their cost. Raises nothing for a sound job.

    Gilmore and Gomory (1961, Operations Research 9: 849-859) for the linear bound; the decision over all patterns of
    reduced cost within the gap is reduced-cost fixing carried to its end.
    """
    best = Incumbent(model, start, area_bound(model))
    if best.proved or search.over():
        return best.cuts, best.bound
    core = core_of(model)
    filled = fill(core, core.counts, [stock.count for stock in model.stocks], over=search.over)
    best.offer(None if filled is None else exact_cuts(core, filled))
    if best.proved:
        return best.cuts, best.bound
    relaxed = Relaxation(core, search, best.ladder)
    relaxed.offer(_first_patterns(core, start))
    relaxed.run()
    best.raise_bound(relaxed.bound)
    search.tell(f"bound {float(best.bound):g}", 0.3)
    _round(relaxed, best)
    if relaxed.proof is None:
        return best.cuts, best.bound
    if not best.proved:
        _dive(relaxed, best)
    dice = np.random.default_rng(search.seed)
    for dives, rest in ((3, False), (8, False), (10**6, True)):
        if best.proved or search.over():
            break
        _decide(relaxed, best)
        if best.ladder.unit is None:
            break
        for _ in range(dives):
            if not best.proved and not search.over():
                _dive(relaxed, best, dice=dice, rest=rest)
    return best.cuts, best.bound


def _round(relaxed: Relaxation, best: Incumbent) -> None:
    """The linear plan's whole bars, some of its broken ones, and the rest filled by sums: a few dozen times over."""
    rng = random.Random(relaxed.search.seed)
    for turn in range(ROUNDINGS):
        if best.proved or relaxed.search.over() or len(relaxed.shares) != len(relaxed.patterns):
            return
        keep = (0.0, 0.5, 1.0)[turn] if turn < 3 else rng.random()
        shares, over = list(relaxed.shares), relaxed.search.over
        plan = rounded(relaxed.core, relaxed.patterns, shares, rng, keep=keep, most=best.cost, over=over)
        best.offer(None if plan is None else exact_cuts(relaxed.core, plan))


def _first_patterns(core: Core, cuts: Sequence[Cut] | None) -> Iterable[Pattern]:
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
        relaxed.recount(need)
        relaxed.generate(rounds=6)
        value = Fraction(relaxed.value * relaxed.scale).limit_denominator(10**9)
        if best.cost is not None and spent + value > best.ladder.below(best.cost) + Fraction(1, 10**6):
            break  # this way leads to nothing better
        if not tried and (value * RESIDUAL_OF <= best.bound or sum(need) <= RESIDUAL_PIECES):
            tried = True
            if _decide_rest(relaxed, best, plan, spent, need):
                break
        if not _fix(relaxed, plan, need, left, dice):
            break
        spent = sum((pattern.cost * times for pattern, times in plan), Fraction(0))
    best.offer(_with_rest(core, plan, need, left, search.over))
    relaxed.recount(core.counts)


def _decide_rest(relaxed: Relaxation, best: Incumbent, plan: Plan, spent: Fraction, need: list[int]) -> bool:
    """Whether the rest, decided over all patterns within its gap, completes a plan at the bound."""
    if best.ladder.unit is None or relaxed.limited:
        return False
    core = relaxed.core
    rest = replace(core, counts=tuple(need))
    proof = certify(relaxed.whole_tables, list(relaxed.last_worths * relaxed.scale), [0.0] * len(core.rooms))
    target = best.bound - spent
    gap = int(target * proof.scale) + 1 - sum(c * w for c, w in zip(need, proof.worths, strict=True))
    if gap < 0:
        return False
    patterns = within(rest, proof.worths, proof.rents, proof.scale, gap, limit=REST_PATTERNS, search=relaxed.search)
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
    core: Core, plan: Plan, need: Sequence[int], left: Sequence[int | None], over: Callable[[], bool]
) -> list[Cut] | None:
    """A whole plan: the fixed bars, and the rest filled longest first."""
    made = exact_cuts(core, plan)
    if not any(need):
        return made
    rest = fill_all(core.model, range(len(need)), need, prefer=None, left=left, over=over)
    return None if rest is None else [*made, *rest]


def exact_cuts(core: Core, plan: Plan) -> list[Cut]:
    """Return the plan's bars with exactly the pieces wanted: what patterns hold too much is left out, late bars first."""
    model = core.model
    need = list(core.counts)
    left = [stock.count for stock in model.stocks]
    made: dict[tuple[int, tuple[tuple[int, int], ...]], int] = {}
    for pattern, wanted in plan:
        times = wanted
        while times > 0:
            counts = tuple((kind, min(count, need[kind])) for kind, count in pattern.counts if need[kind])
            if not counts:
                break
            repeat = min(times, *(need[kind] // count for kind, count in counts))
            for kind, count in counts:
                need[kind] -= repeat * count
            times -= repeat
            key = (pattern.stock, counts)
            made[key] = made.get(key, 0) + repeat
    cuts = []
    for (planned, counts), repeat in made.items():
        stock = planned
        order = sorted(counts, key=lambda pair: (model.kinds[pair[0]].clamped, pair[0]))
        slots = tuple((kind, 0) for kind, count in order for _ in range(count))
        cheaper = cheapest_stock(model, slots, [None if count is None else 0 for count in left])
        if cheaper is not None and model.stocks[cheaper].cost < model.stocks[stock].cost:
            stock = cheaper  # bars that hold less than their pattern may do with shorter stock
        cuts.append(Cut(stock, slots, repeat))
    return cuts


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
    answer = cover_in_whole(
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
    covered = [0] * len(core.counts)
    for pattern, times in plan:
        for kind, count in pattern.counts:
            covered[kind] += times * count
    if any(got < want for got, want in zip(covered, wanted, strict=True)):
        return None, False  # a tolerance of the program's, not a plan
    return exact_cuts(core, [*(fixed or []), *plan]), answer.proved


def central(relaxed: Relaxation) -> Certificate:
    """Return a proof with prices from the middle of the optimal ones, not a corner: fewer patterns lie within its gap.

    The mean of the optimal prices of programs whose needs were slightly disturbed.
    """
    core = relaxed.core
    dice = np.random.default_rng(1)
    kinds = len(core.counts)
    worths, rents = np.zeros(kinds), np.zeros(len(core.model.stocks))
    counts = np.array(core.counts, dtype=np.float64)
    for _ in range(DISTURBED):
        if relaxed.search.over():
            break
        relaxed.program.set_needs([float(need) for need in counts * (1 + 0.03 * dice.random(kinds))])
        relaxed.generate(rounds=30)
        worths += relaxed.last_worths / DISTURBED
        rents += relaxed.last_rents / DISTURBED
    relaxed.program.set_needs([float(need) for need in counts])
    return certify(relaxed.whole_tables, list(worths * relaxed.scale), list(rents * relaxed.scale))


def _decide(relaxed: Relaxation, best: Incumbent) -> None:
    """Close the gap: is there a plan at the bound, over all patterns that such a plan could use? If not, the bound rises.

    Where drops earn credit costs have no next step: there the best plan over all patterns within the gap is sought.
    """
    core, search = relaxed.core, relaxed.search
    proofs = [proof for proof in (central(relaxed), relaxed.proof) if proof is not None]
    while not best.proved and not search.over():
        stepped = best.ladder.unit is not None
        target = best.bound if stepped or best.cost is None else best.cost
        patterns: list[Pattern] | None = None
        for proof in proofs:
            gap = int(target * proof.scale) + 1 - proof.value
            patterns = within(core, proof.worths, proof.rents, proof.scale, gap, limit=MOST_PATTERNS, search=search)
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
        best.raise_bound(best.ladder.above(target))
