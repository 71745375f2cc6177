"""Best worth of pieces in a bar, for every room at once: bounded knapsack tables, each count split in powers of two."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from solver.nesting.core import Core
from solver.nesting.loops import fill_rows

Table = NDArray[Any]  # float64 to find patterns, int64 to prove


class Tables:
    """Tables over the rooms of a core, filled anew for each set of worths.

    `low`: sizes rounded down, for bounds. The last row of `any_bar` holds the best worth of any pieces in a room;
    that of `held_bar` of pieces among which one is held by the clamp (only where some are not).
    """

    def __init__(self, core: Core, *, low: bool = False, whole: bool = False) -> None:
        self.core = core
        self.sizes = core.low_sizes if low else core.sizes
        self.top = max(core.rooms)
        self.limits = list(core.counts)
        self.dtype = np.int64 if whole else np.float64
        self.never = np.iinfo(np.int64).min // 2 if whole else -np.inf
        split = [(kind, times) for kind in self._order() for times in self._split(kind)]
        self.all_parts = split
        self.parts: list[tuple[int, int]] = []
        self.any_bar: Table = np.zeros((len(split) + 1, self.top + 1), dtype=self.dtype)
        shape = (len(split) + 1, self.top + 1) if core.clamps else (1, 1)
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

    def recount(self, counts: Sequence[int]) -> None:
        """Take other counts of the kinds, none above the core's: for what is left of a job."""
        self.limits = list(counts)
        self.all_parts = [(kind, times) for kind in self._order() for times in self._split(kind)]

    def fill(self, worths: Sequence[float] | NDArray[Any]) -> None:
        """Fill the tables for these worths of the kinds; those worth nothing are left out."""
        top, clamps = self.top, self.core.clamps
        self.parts = [(k, times) for k, times in self.all_parts if worths[k] > 0 and self.sizes[k] * times <= top]
        sizes = np.array([self.sizes[kind] * times for kind, times in self.parts], dtype=np.int64)
        gains = np.array([worths[kind] * times for kind, times in self.parts], dtype=self.dtype)
        fill_rows(self.any_bar, sizes, gains, top)
        if not clamps:
            return
        for row, (kind, _) in enumerate(self.parts):
            held, held_after = self.held_bar[row], self.held_bar[row + 1]
            held_after[:] = held
            if self.core.held[kind]:
                size = int(sizes[row])
                np.maximum(held[size:], self.any_bar[row, : top + 1 - size] + gains[row], out=held_after[size:])

    def best(self, stock: int) -> Table:
        """Return the best worth for each room used, up to all that the stock offers."""
        row, room = len(self.parts), self.core.rooms[stock]
        if not self.core.clamps:
            return self.any_bar[row, : room + 1]
        made = self.held_bar[row, : room + 1].copy()
        short = self.core.short_rooms[stock]
        if short >= 0:
            np.maximum(made[: short + 1], self.any_bar[row, : short + 1], out=made[: short + 1])
        return made

    def takers(self, stock: int, used: int) -> Iterator[tuple[Any, int]]:
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
