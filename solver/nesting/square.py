"""Square pieces, solved and proved: linear bound, plans from it, and a decision over all patterns that could beat it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

import numpy as np

from solver.nesting.bars import Cut, cheapest_stock, total_cost
from solver.nesting.bounds import Certificate, Ladder, area_bound, certify
from solver.nesting.columns import Relaxation
from solver.nesting.core import Core, Pattern, core_of
from solver.nesting.enumerate import within
from solver.nesting.greedy import fill_all
from solver.nesting.model import Model
from solver.nesting.programs import cover_in_whole
from solver.search import Search

Plan = list[tuple[Pattern, int]]
MOST_PATTERNS = 20_000
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
    relaxed = Relaxation(core, search, best.ladder)
    relaxed.offer(_first_patterns(core, start))
    relaxed.run()
    best.raise_bound(relaxed.bound)
    search.tell(f"bound {float(best.bound):g}", 0.3)
    if not best.proved and relaxed.patterns:
        best.offer(_dive(relaxed, best))
    if not best.proved:
        _from_patterns(relaxed, best)
    if not best.proved and relaxed.proof is not None:
        _decide(relaxed, best)
    return best.cuts, best.bound


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


def _dive(relaxed: Relaxation, best: Incumbent) -> list[Cut] | None:
    """Fix what the linear plan uses whole, else its fullest pattern, solve again for the rest, until nothing is left."""
    core = relaxed.core
    need = list(core.counts)
    plan: Plan = []
    left = [stock.count for stock in core.model.stocks]
    while any(need) and not relaxed.search.over():
        relaxed.program.set_needs([float(count) for count in need])
        relaxed.solve()
        if not _fix(relaxed, plan, need, left):
            break
        if sum(need) <= 40 or len(plan) % 4 == 0:
            best.offer(_with_rest(core, plan, need, left))
            if best.proved:
                break
    relaxed.program.set_needs([float(count) for count in core.counts])
    return _with_rest(core, plan, need, left)


def _fix(relaxed: Relaxation, plan: Plan, need: list[int], left: list[int | None]) -> bool:
    """Take bars of the linear plan for good; False where it has nothing to give."""
    taken = False
    for n in np.argsort(-relaxed.shares, kind="stable"):
        share = relaxed.shares[n]
        if share < 1e-6 or (taken and share < 1 - 1e-6):
            break
        pattern = relaxed.patterns[int(n)]
        counts = tuple((kind, min(count, need[kind])) for kind, count in pattern.counts if need[kind])
        counts = tuple((kind, count) for kind, count in counts if count)
        stock = pattern.stock
        if not counts or left[stock] == 0:
            continue
        times = max(1, int(share + 1e-6))
        times = min(times, *(need[kind] // count for kind, count in counts))
        if (have := left[stock]) is not None:
            times = min(times, have)
            left[stock] = have - times
        for kind, count in counts:
            need[kind] -= times * count
        plan.append((relaxed.core.pattern(stock, counts), times))
        taken = True
    return taken


def _with_rest(core: Core, plan: Plan, need: Sequence[int], left: Sequence[int | None]) -> list[Cut] | None:
    """A whole plan: the fixed bars, and the rest filled longest first."""
    made = exact_cuts(core, plan)
    if not any(need):
        return made
    rest = fill_all(core.model, range(len(need)), need, prefer=None, left=left)
    return None if rest is None else [*made, *rest]


def exact_cuts(core: Core, plan: Plan) -> list[Cut]:
    """Return the plan's bars with exactly the pieces wanted: what patterns hold too much is left out, late bars first."""
    model = core.model
    need = list(core.counts)
    left = [stock.count for stock in model.stocks]
    made: dict[tuple[int, tuple[tuple[int, int], ...]], int] = {}
    for pattern, times in plan:
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
    for (stock, counts), repeat in made.items():
        order = sorted(counts, key=lambda pair: (model.kinds[pair[0]].clamped, pair[0]))
        slots = tuple((kind, 0) for kind, count in order for _ in range(count))
        cheaper = cheapest_stock(model, slots, [None if count is None else 0 for count in left])
        if cheaper is not None and model.stocks[cheaper].cost < model.stocks[stock].cost:
            stock = cheaper  # bars that hold less than their pattern may do with shorter stock
        cuts.append(Cut(stock, slots, repeat))
    return cuts


def _program(
    relaxed: Relaxation, patterns: Sequence[Pattern], *, most: Fraction, seconds: float, first: bool
) -> tuple[list[Cut] | None, bool]:
    """Whole numbers of these patterns that cover everything at a cost of at most `most`: a plan or None, and whether
    that was proved."""
    core = relaxed.core
    limits = [core.model.stocks[n].count or 0 for n in relaxed.limited]
    answer = cover_in_whole(
        [relaxed.column(pattern) for pattern in patterns],
        core.counts,
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
    if any(got < want for got, want in zip(covered, core.counts, strict=True)):
        return None, False  # a tolerance of the program's, not a plan
    return exact_cuts(core, plan), answer.proved


def _from_patterns(relaxed: Relaxation, best: Incumbent) -> None:
    """The best plan over the patterns found so far, for a short while."""
    if best.cost is None or len(relaxed.patterns) > MOST_PATTERNS:
        most = Fraction(10**15)
    else:
        most = max(best.bound, best.cost - Fraction(1, 10**6))
    seconds = min(2.0, 0.15 * relaxed.search.left_s())
    unit = best.ladder.unit is not None
    cuts, _ = _program(relaxed, relaxed.patterns, most=best.bound if unit else most, seconds=seconds, first=unit)
    best.offer(cuts)
    if cuts is None and unit and best.cost is not None and best.ladder.above(best.bound) < best.cost:
        cuts, _ = _program(relaxed, relaxed.patterns, most=most, seconds=seconds, first=False)
        best.offer(cuts)


def central(relaxed: Relaxation) -> Certificate | None:
    """Return a proof with prices from the middle of the optimal ones, not a corner: fewer patterns lie within its gap.

    The mean of the prices of programs whose needs were slightly disturbed (optimal prices of each stay near optimal).
    """
    core = relaxed.core
    dice = np.random.default_rng(1)
    kinds = len(core.counts)
    worths, rents = np.zeros(kinds), np.zeros(len(core.model.stocks))
    counts = np.array(core.counts, dtype=np.float64)
    for _ in range(DISTURBED):
        relaxed.program.set_needs([float(need) for need in counts * (1 + 0.02 * dice.random(kinds))])
        some, lent = relaxed.solve()
        worths += some / DISTURBED
        rents += lent / DISTURBED
    relaxed.program.set_needs([float(need) for need in counts])
    return certify(relaxed.whole_tables, worths * relaxed.scale, rents * relaxed.scale)


def _decide(relaxed: Relaxation, best: Incumbent) -> None:
    """Close the gap: is there a plan at the bound, over all patterns that such a plan could use? If not, the bound rises."""
    core, search = relaxed.core, relaxed.search
    proofs = [relaxed.proof]
    if (middle := central(relaxed)) is not None and best.ladder.up(middle.bound) >= best.bound:
        proofs.insert(0, middle)
    while not best.proved and not search.over():
        target = best.bound
        patterns: list[Pattern] | None = None
        for proof in proofs:
            if proof is None:
                continue
            gap = int(target * proof.scale) + 1 - proof.value
            patterns = within(core, proof.worths, proof.rents, proof.scale, gap, limit=MOST_PATTERNS, search=search)
            if patterns is not None:
                break
        if patterns is None or (best.ladder.unit is None):
            return
        search.tell(f"deciding over {len(patterns)} patterns", 0.6)
        cuts, proved = _program(relaxed, patterns, most=target, seconds=search.left_s(), first=True)
        best.offer(cuts)
        if best.proved or not proved or cuts is not None:
            return
        best.raise_bound(best.ladder.above(target))
