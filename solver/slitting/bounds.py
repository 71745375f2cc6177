"""Least steel over all patterns: a linear program by column generation, certified by whole-number prices."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from solver.highs import new_silent_solver, require_ok_status
from solver.search import Search
from solver.slitting.patterns import TooManyPatterns, best_pattern
from solver.slitting.problem import Pattern, SlitProblem

SCALE = 1 << 40  # prices are whole multiples of 1 / SCALE
NEAR = SCALE >> 36  # a pattern worth so little more than 1 brings nothing


@dataclass(frozen=True, slots=True, kw_only=True)
class LinearRelaxation:
    """Patterns worth having, and whole-number prices of strips that prove `bound` steps of run."""

    patterns: tuple[Pattern, ...]
    prices: tuple[int, ...]
    worth: int  # no pattern is worth more at these prices
    bound: Fraction

    def worth_of(self, pattern: Pattern) -> int:
        """Return what a pattern is worth at these prices."""
        return sum(price * count for price, count in zip(self.prices, pattern, strict=True))


def solve_relaxation(problem: SlitProblem, first: Sequence[Pattern], search: Search) -> LinearRelaxation:
    """Return patterns whose best mix uses least steel, with a proof; ends early, still valid, when the search is over.

    Prices y with worth at most M for every pattern prove sum(y * wanted) / M: Farley (1990), A note on bounding a class
    of linear programming problems, Operations Research 38(5): 922-923. Column generation by Gilmore and Gomory (1961),
    A linear programming approach to the cutting-stock problem, Operations Research 9(6): 849-859.
    """
    patterns = list(dict.fromkeys(first))
    master = MasterProgram(problem, patterns)
    best = LinearRelaxation(patterns=(), prices=(0,) * len(problem.sizes), worth=1, bound=Fraction(0))
    while True:
        prices = master.prices()
        try:
            priced = best_pattern(problem, prices, search.over)
        except TooManyPatterns:
            break
        if priced is None or priced[0] == 0:
            break
        worth, pattern = priced
        bound = Fraction(sum(price * want for price, want in zip(prices, problem.wanted, strict=True)), worth)
        if bound > best.bound:
            best = LinearRelaxation(patterns=(), prices=prices, worth=worth, bound=bound)
        if worth <= SCALE + NEAR or pattern in patterns or search.over():
            break
        patterns.append(pattern)
        master.add(pattern)
    return LinearRelaxation(patterns=tuple(patterns), prices=best.prices, worth=best.worth, bound=best.bound)


class MasterProgram:
    """The linear program over the patterns so far: least run that covers what is wanted."""

    def __init__(self, problem: SlitProblem, patterns: Sequence[Pattern]) -> None:
        import highspy
        import numpy as np

        self._infinity = highspy.kHighsInf
        self._basic = highspy.HighsBasisStatus.kBasic
        self._np = np
        self.problem = problem
        self.scale = max(problem.wanted)
        self.model: Any = new_silent_solver()
        none = (np.array([], dtype=np.int32), np.array([], dtype=np.float64))
        for want in problem.wanted:
            self.model.addRow(want / self.scale, self._infinity, 0, *none)
        for pattern in patterns:
            self.add(pattern)

    def add(self, pattern: Pattern) -> None:
        """Add a pattern."""
        np = self._np
        rows = [strip for strip, count in enumerate(pattern) if count]
        counts = np.array([pattern[strip] for strip in rows], dtype=np.float64)
        self.model.addCol(1.0, 0.0, self._infinity, len(rows), np.array(rows, dtype=np.int32), counts)

    def prices(self) -> tuple[int, ...]:
        """Return the strips' prices at the optimum, in 1 / SCALE, none below 0."""
        require_ok_status(self.model.run())
        return tuple(max(0, int(dual * SCALE)) for dual in self.model.getSolution().row_dual)

    def corner(self) -> tuple[list[int], list[int], list[float]]:
        """Return the basic patterns, the tight strips, and the float runs (in steps) at the optimum."""
        require_ok_status(self.model.run())
        basis, solution = self.model.getBasis(), self.model.getSolution()
        basic = [n for n, status in enumerate(basis.col_status) if status == self._basic]
        tight = [n for n, status in enumerate(basis.row_status) if status != self._basic]
        return basic, tight, [value * self.scale for value in solution.col_value]


def fewest_whole_runs(problem: SlitProblem, patterns: Sequence[Pattern]) -> dict[Pattern, int] | None:
    """Return the least whole steps of these patterns that cover what is wanted (rounded up), or None if they cannot."""
    if any(not any(pattern[strip] for pattern in patterns) for strip in range(len(problem.sizes))):
        return None
    basic, tight, floats = MasterProgram(problem, patterns).corner()
    exact = _solve([[patterns[n][strip] for n in basic] for strip in tight], [problem.wanted[strip] for strip in tight])
    if exact is not None and all(value >= 0 for value in exact):
        runs = {patterns[n]: -(-value.numerator // value.denominator) for n, value in zip(basic, exact, strict=True)}
    else:
        runs = {pattern: max(0, round(value)) for pattern, value in zip(patterns, floats, strict=True)}
    return {pattern: run for pattern, run in _covered(problem, patterns, runs).items() if run}


def _covered(problem: SlitProblem, patterns: Sequence[Pattern], runs: dict[Pattern, int]) -> dict[Pattern, int]:
    """Return the runs, raised where a strip is short."""
    for strip, want in enumerate(problem.wanted):
        short = want - sum(pattern[strip] * run for pattern, run in runs.items())
        if short > 0:
            fill = max(patterns, key=lambda pattern: (pattern[strip], runs.get(pattern, 0)))
            runs[fill] = runs.get(fill, 0) - (-short // fill[strip])
    return runs


def _solve(rows: list[list[int]], right: list[int]) -> list[Fraction] | None:
    """Return the exact solution of a square system, or None when it is singular or not square."""
    size = len(rows)
    if any(len(row) != size for row in rows):
        return None
    table = [[Fraction(value) for value in (*row, end)] for row, end in zip(rows, right, strict=True)]
    for column in range(size):
        pivot = next((row for row in range(column, size) if table[row][column]), None)
        if pivot is None:
            return None
        table[column], table[pivot] = table[pivot], table[column]
        head = table[column]
        for row in range(size):
            if row != column and (factor := table[row][column]):
                factor /= head[column]
                table[row] = [value - factor * above for value, above in zip(table[row], head, strict=True)]
    return [table[row][size] / table[row][row] for row in range(size)]
