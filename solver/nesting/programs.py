"""Linear and integer programs over columns; anything that is not an answer raises."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from solver.highs import ProgramError, highs_infinity, new_silent_solver, require_ok_status

Floats = NDArray[np.float64]
PRESOLVED = 4_000  # columns; with more of them presolving looks at no clock (27,000: 14 s of 0.5)
_NO_ROWS = np.array([], dtype=np.int32)
_NO_VALUES = np.array([], dtype=np.float64)


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its price, the rows it touches and how often."""

    cost: float
    rows: tuple[int, ...]
    counts: tuple[float, ...]


class CoveringProgram:
    """Least cost of columns that cover each row's need; rows after the needs are upper limits. Columns come in place."""

    def __init__(self, needs: Sequence[float], limits: Sequence[float]) -> None:
        self.solver = new_silent_solver()
        self.inf = highs_infinity()
        self.needs = len(needs)
        for need in needs:
            require_ok_status(self.solver.addRow(float(need), self.inf, 0, _NO_ROWS, _NO_VALUES))
        for limit in limits:
            require_ok_status(self.solver.addRow(-self.inf, float(limit), 0, _NO_ROWS, _NO_VALUES))

    def add(self, columns: Sequence[Column]) -> None:
        """Add columns."""
        if not columns:
            return
        starts = np.cumsum([0, *(len(column.rows) for column in columns[:-1])]).astype(np.int32)
        rows = np.array([row for column in columns for row in column.rows], dtype=np.int32)
        values = np.array([count for column in columns for count in column.counts], dtype=np.float64)
        count = len(columns)
        costs = np.array([column.cost for column in columns], dtype=np.float64)
        upper = np.full(count, self.inf)
        require_ok_status(self.solver.addCols(count, costs, np.zeros(count), upper, len(rows), starts, rows, values))

    def set_needs(self, needs: Sequence[float]) -> None:
        """Set what each row needs."""
        for row, need in enumerate(needs):
            require_ok_status(self.solver.changeRowBounds(row, float(need), self.inf))

    def set_value(self, row: int, column: int, value: float) -> None:
        """Set how often a column touches a row."""
        require_ok_status(self.solver.changeCoeff(row, column, value))

    def solve(self) -> tuple[float, Floats, Floats]:
        """Return the least cost, how much of each column, and the rows' prices. Raises ProgramError."""
        require_ok_status(self.solver.run())
        status = self.solver.getModelStatus().name
        if status != "kOptimal":
            raise ProgramError(f"the covering program ended {status}")
        solution = self.solver.getSolution()
        value = float(self.solver.getInfo().objective_function_value)
        return value, np.array(solution.col_value), np.array(solution.row_dual)


@dataclass(frozen=True, slots=True)
class IntegerSolution:
    """What an integer program came to: `proved` when its search was finished; `counts` None when nothing was found."""

    counts: tuple[int, ...] | None
    proved: bool


def solve_integer_covering(
    columns: Sequence[Column],
    needs: Sequence[int],
    limits: Sequence[int],
    *,
    most: float | None,
    seconds: float,
    first_found: bool = False,
) -> IntegerSolution:
    """Return how many of each column cover the needs at least cost, cost at most `most`, within the time.

    With `first_found` any cover that costs at most `most` will do. Proved with no counts: there is none. No cover is given to
    begin with: from one HiGHS 1.x has called the start optimal where it was not.
    """

    if seconds <= 0:
        return IntegerSolution(None, False)
    covering = CoveringProgram([float(need) for need in needs], [float(limit) for limit in limits])
    covering.add(columns)
    solver, inf, count = covering.solver, covering.inf, len(columns)
    costs = np.array([column.cost for column in columns], dtype=np.float64)
    everything = np.arange(count, dtype=np.int32)
    if most is not None:
        require_ok_status(solver.addRow(-inf, float(most), count, everything, costs))
    if first_found:
        require_ok_status(solver.changeColsCost(count, everything, np.zeros(count)))
    require_ok_status(solver.changeColsIntegrality(count, everything, np.ones(count, dtype=np.uint8)))
    if count > PRESOLVED:
        require_ok_status(solver.setOptionValue("presolve", "off"))
    require_ok_status(solver.setOptionValue("time_limit", float(seconds)))
    require_ok_status(solver.setOptionValue("mip_rel_gap", 0.0))
    solver.run()
    status = solver.getModelStatus().name
    if status in ("kInfeasible", "kUnboundedOrInfeasible"):
        return IntegerSolution(None, True)
    values = solver.getSolution().col_value
    found = len(values) == count and solver.getInfo().primal_solution_status == 2
    counts = tuple(round(value) for value in values) if found else None
    return IntegerSolution(counts, status == "kOptimal")
