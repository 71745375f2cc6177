"""The one door to CBC, through PuLP: a second opinion on a bound, by a solver that no plan was made with."""

from __future__ import annotations

import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class ConstraintRow:
    """How much of each column a row holds, and what it may sum to."""

    parts: Mapping[int, float]
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CbcAnswer:
    """What CBC came to: `none` where it proved that nothing meets the rows; `values` of what does, with its cost."""

    none: bool
    values: tuple[float, ...] | None
    best: bool = False  # proved the least


def solve_with_cbc(
    costs: Sequence[float],
    rows: Sequence[ConstraintRow],
    *,
    seconds: float,
    whole: Sequence[bool] | None = None,
    most: Sequence[float | None] | None = None,
) -> CbcAnswer:
    """Return what CBC finds of least cost within the rows in so many seconds; columns at least 0, whole unless told."""
    import pulp

    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # PuLP 3 warns of PuLP 4's ways; 4 ships no CBC
        model = pulp.LpProblem("bound", pulp.LpMinimize)
        columns = [
            pulp.LpVariable(
                f"x{n}",
                lowBound=0,
                upBound=None if most is None else most[n],
                cat="Integer" if whole is None or whole[n] else "Continuous",
            )
            for n in range(len(costs))
        ]
        model += pulp.LpAffineExpression(zip(columns, map(float, costs), strict=True))
        for row in rows:
            total = pulp.LpAffineExpression([(columns[n], float(part)) for n, part in row.parts.items()])
            if row.low is not None:
                model += total >= row.low
            if row.high is not None:
                model += total <= row.high
        model.solve(pulp.PULP_CBC_CMD(msg=False, timeLimit=max(0.1, seconds), threads=1, gapRel=0.0))
        if model.status == pulp.LpStatusInfeasible:
            return CbcAnswer(none=True, values=None)
        if model.sol_status not in (pulp.LpSolutionOptimal, pulp.LpSolutionIntegerFeasible):
            return CbcAnswer(none=False, values=None)
        values = tuple(float(column.value() or 0.0) for column in columns)
        return CbcAnswer(none=False, values=values, best=model.sol_status == pulp.LpSolutionOptimal)
