"""The one row that proofs keep says what all rows say, with and without clamps."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from solver.nesting.knapsack import KnapsackTables

KINDS = st.lists(st.tuples(st.integers(1, 30), st.integers(1, 9), st.integers(0, 50), st.booleans()), min_size=1, max_size=6)


def core_of(kinds: list[tuple[int, int, int, bool]], *, clamps: bool) -> Any:
    sizes = [size for size, _, _, _ in kinds]
    return SimpleNamespace(
        sizes=sizes,
        low_sizes=sizes,
        rooms=[60, 100],
        counts=[count for _, count, _, _ in kinds],
        clamps=clamps,
        held=[held for _, _, _, held in kinds],
        short_rooms=[30, -1],
    )


@settings(deadline=None)  # the first call compiles
@given(KINDS, st.booleans())
def test_the_row_of_a_proof_is_the_last_of_all_rows(kinds: list[tuple[int, int, int, bool]], clamps: bool) -> None:
    core = core_of(kinds, clamps=clamps)
    worths = [worth for _, _, worth, _ in kinds]
    folded, rows = KnapsackTables(core, low=True, whole=True), KnapsackTables(core, low=True)
    folded.fill([1] * len(kinds))  # what was in the row before counts for nothing
    folded.fill(worths)
    rows.fill(worths)
    for stock in (0, 1):
        wanted = rows.best(stock)
        assert np.array_equal(np.where(folded.best(stock) < 0, -np.inf, folded.best(stock)), wanted)
