"""Best worth of pieces in a bar, for every room at once: bounded knapsack tables, each count split in powers of two."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from solver.nesting.knapsack_loops import add_item_in_place, fill_knapsack_rows
from solver.nesting.scaled_job import ScaledJob

Table = NDArray[Any]  # float64 to find patterns, int64 to prove


class KnapsackTables:
    """Tables over the rooms of a core, filled anew for each set of dual prices.

    `low`: sizes rounded down, for bounds. The last row of `any_bar` holds the best worth of any pieces in a room;
    that of `held_bar` of pieces among which one is held by the clamp (only where some are not). With `whole`, to prove,
    only the last row is kept: a proof asks for values alone, and all rows of a plant's order take 200 MB.
    """

    def __init__(self, core: ScaledJob, *, low: bool = False, whole: bool = False) -> None:
        self.core = core
        self.sizes = core.low_sizes if low else core.sizes
        self.top = max(core.rooms)
        self.limits = list(core.counts)
        self.dtype = np.int64 if whole else np.float64
        self.never = np.iinfo(np.int64).min // 2 if whole else -np.inf
        split = [(kind, times) for kind in self._order() for times in self._split(kind)]
        self.all_parts = split
        self.parts: list[tuple[int, int]] = []
        self.whole = whole
        rows = 1 if whole else len(split) + 1
        self.any_bar: Table = np.zeros((rows, self.top + 1), dtype=self.dtype)
        shape = (rows, self.top + 1) if core.clamps else (1, 1)
        self.held_bar: Table = np.full(shape, self.never, dtype=self.dtype)

    def _order(self) -> list[int]:
        """Pieces that the clamp can not hold first, so that rows of the others know whether one is held."""
        kinds = range(len(self.sizes))
        return sorted(kinds, key=lambda kind: (self.core.held[kind], kind))

    def _split(self, kind: int) -> Iterator[int]:
        size = self.sizes[kind]
        left = self.limits[kind] if size == 0 else min(self.limits[kind], self.top // size)
        times = 1
        while left > 0:
            yield min(times, left)
            left -= times
            times *= 2

    def set_demand(self, counts: Sequence[int]) -> None:
        """Set other counts of the kinds, none above the job's: for what is left of it."""
        self.limits = list(counts)
        self.all_parts = [(kind, times) for kind in self._order() for times in self._split(kind)]

    def fill(self, duals: Sequence[float] | NDArray[Any]) -> None:
        """Fill the tables for these dual prices of the kinds; those worth nothing are left out."""
        top, clamps = self.top, self.core.clamps
        self.parts = [(k, times) for k, times in self.all_parts if duals[k] > 0 and self.sizes[k] * times <= top]
        sizes = np.array([self.sizes[kind] * times for kind, times in self.parts], dtype=np.int64)
        gains = np.array([duals[kind] * times for kind, times in self.parts], dtype=self.dtype)
        if self.whole:
            self._fold(sizes, gains)
            return
        fill_knapsack_rows(self.any_bar, sizes, gains, top)
        if not clamps:
            return
        for row, (kind, _) in enumerate(self.parts):
            held, held_after = self.held_bar[row], self.held_bar[row + 1]
            held_after[:] = held
            if self.core.held[kind]:
                size = int(sizes[row])
                np.maximum(held[size:], self.any_bar[row, : top + 1 - size] + gains[row], out=held_after[size:])

    def _fold(self, sizes: NDArray[Any], gains: NDArray[Any]) -> None:
        """Fill the one row that is kept, part after part."""
        any_bar, held_bar = self.any_bar[0], self.held_bar[0]
        any_bar[:], held_bar[:] = 0, self.never
        for part, (kind, _) in enumerate(self.parts):
            size, gain = int(sizes[part]), gains[part]
            if self.core.clamps and self.core.held[kind]:
                np.maximum(held_bar[size:], any_bar[: self.top + 1 - size] + gain, out=held_bar[size:])
            add_item_in_place(any_bar, size, gain, self.top)

    def best(self, stock: int) -> Table:
        """Return the best worth for each room used, up to all that the stock offers."""
        row, room = 0 if self.whole else len(self.parts), self.core.rooms[stock]
        if not self.core.clamps:
            return self.any_bar[row, : room + 1]
        made = self.held_bar[row, : room + 1].copy()
        short = self.core.short_rooms[stock]
        if short >= 0:
            np.maximum(made[: short + 1], self.any_bar[row, : short + 1], out=made[: short + 1])
        return made

    def best_rows(self, stock: int, used: int) -> Iterator[tuple[Any, int]]:
        """Yield worth and row of the bars that end at each part which makes them better, the best first."""
        table = self._table(stock, used, len(self.parts))
        column = table[: len(self.parts) + 1, used]
        rows = np.nonzero(column[1:] > column[:-1])[0][::-1] + 1
        for row in rows:
            yield column[row], int(row)

    def _table(self, stock: int, used: int, row: int) -> Table:
        if not self.core.clamps:
            return self.any_bar
        short = used <= self.core.short_rooms[stock]
        return self.any_bar if short and self.any_bar[row, used] >= self.held_bar[row, used] else self.held_bar

    def counts(self, stock: int, used: int, row: int) -> tuple[tuple[int, int], ...]:
        """Return how many of each kind make up the worth in this row at this room."""
        table = self._table(stock, used, row)
        taken: dict[int, int] = {}
        while row > 0:
            column = table[: row + 1, used]
            row = int(np.searchsorted(column, column[row]))
            if row == 0:
                break
            kind, times = self.parts[row - 1]
            taken[kind] = taken.get(kind, 0) + times
            used -= self.sizes[kind] * times
            row -= 1
            table = self.any_bar
        return tuple(sorted(taken.items()))
