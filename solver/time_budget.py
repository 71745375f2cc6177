"""How a plan's time is divided among its stages before the first begins; what a stage leaves goes to those after it."""

from __future__ import annotations

from collections.abc import Mapping

from solver.search import Search, with_time_limit


class StageTimeBudget:
    """The seconds that each stage may search, in total and not for each order."""

    def __init__(self, search: Search, weights: Mapping[str, float], reserve_s: float) -> None:
        """`weights`: of the stages, in their order; `reserve_s`: what is kept back for work without a search after them."""
        self.search = search
        self.weights = dict(weights)
        self.reserve_s = reserve_s

    def of(self, stage: str) -> Search:
        """Return the search of a stage that begins now: its part of what is left, the reserve aside; 0 s once time is up.

        Raises KeyError for a stage that is not in the plan, or that was asked for before.
        """
        rest = sum(self.weights.values())
        weight = self.weights.pop(stage)
        return with_time_limit(self.search, max(0.0, self.search.left_s() - self.reserve_s) * weight / rest)
