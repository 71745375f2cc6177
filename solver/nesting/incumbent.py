"""The best plan so far with the best bound, both exact; and patterns turned into bars with just the pieces wanted."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from solver.nesting.bars import Cut, cheapest_stock, pieces_fit, total_cost
from solver.nesting.bounds import CostSteps
from solver.nesting.model import NestingModel
from solver.nesting.scaled_job import Pattern, ScaledJob

Plan = list[tuple[Pattern, int]]


class Incumbent:
    """The best plan so far and the best bound, both exact."""

    def __init__(self, model: NestingModel, cuts: list[Cut] | None, bound: Fraction) -> None:
        self.model, self.cost_steps = model, CostSteps(model)
        self.cuts = cuts
        self.cost = total_cost(model, cuts) if cuts is not None else None
        self.bound = self.cost_steps.round_up(bound)

    def offer(self, cuts: list[Cut] | None) -> None:
        """Keep a plan that is cheaper. Patterns of sizes rounded down may not fit: those are no plan."""
        if cuts is not None and all(pieces_fit(self.model, self.model.stocks[cut.stock], cut.slots) for cut in cuts):
            cost = total_cost(self.model, cuts)
            if self.cost is None or cost < self.cost:
                self.cuts, self.cost = cuts, cost

    def raise_bound(self, bound: Fraction) -> None:
        """Keep a bound that is higher, risen to the next cost that bars can add up to."""
        self.bound = max(self.bound, self.cost_steps.round_up(bound))

    @property
    def proved(self) -> bool:
        """Whether nothing can be better."""
        return self.cost is not None and self.bound >= self.cost


def covers_demand(plan: Plan, needs: Sequence[int]) -> bool:
    """Return whether the plan's bars hold at least so many pieces of each kind."""
    held = [0] * len(needs)
    for pattern, times in plan:
        for kind, count in pattern.counts:
            held[kind] += times * count
    return all(got >= want for got, want in zip(held, needs, strict=True))


def cuts_without_overproduction(core: ScaledJob, plan: Plan) -> list[Cut]:
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
