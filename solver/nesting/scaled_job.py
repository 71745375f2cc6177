"""Square pieces in whole numbers: sizes and rooms grown by one kerf and divided by their common measure.

n pieces on a bar need n - 1 cuts, so each piece and the room grow by one kerf. All lengths are doubled.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from solver.nesting.model import NestingModel, StockKind

CELLS = 1 << 17  # the longest table over a length
LEAST_CELLS = 1 << 12
TABLE_CELLS = 30_000_000  # of all rows of a table together: 240 MB
Floats = NDArray[np.float64]
Whole = NDArray[np.int64]
Pieces = tuple[tuple[int, int], ...]  # (kind, count) pairs by kind


@dataclass(frozen=True, slots=True)
class Pattern:
    """What one bar holds: its stock, how many of each kind (those it holds, by index), and its cost less credit."""

    stock: int
    counts: Pieces
    cost: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaledJob:
    """Sizes of the kinds (falling) and rooms of the stocks (rising), in steps.

    `sizes` are rounded up, so that what fits here fits the bar; `low_sizes` down, so that what does not fit here can not
    fit. Both are equal (`exact`) where the common measure is large enough. `short_rooms`: what a bar offers that
    holds no kind of `held`, so that the clamp's length is dead.
    """

    model: NestingModel
    step: int
    exact: bool
    sizes: tuple[int, ...]
    low_sizes: tuple[int, ...]
    counts: tuple[int, ...]
    held: tuple[bool, ...]
    rooms: tuple[int, ...]
    short_rooms: tuple[int, ...]

    @property
    def clamps(self) -> bool:
        """Whether some kinds leave the clamp nothing to hold."""
        return not all(self.held)

    def pattern(self, stock: int, counts: Sequence[tuple[int, int]]) -> Pattern:
        """Return the pattern with its exact cost."""
        held = self.model.stocks[stock]
        used = sum(count * (self.model.kinds[kind].doubled + 2 * self.model.kerf_nm) for kind, count in counts)
        return Pattern(stock, tuple(sorted(counts)), held.cost - self.model.credit(held, self._farthest(held, used)))

    def _farthest(self, stock: StockKind, used: int) -> int:
        return stock.trim_nm + used // 2 - self.model.kerf_nm

    def credits(self, stock: int) -> list[Fraction] | None:
        """Return the credit by steps used (never less than that of any pieces of so many low steps), or None: no credit."""
        held = self.model.stocks[stock]
        if self.model.keep_from_nm is None or self.model.credit(held, self._farthest(held, 0)) == 0:
            return None
        return [self.model.credit(held, self._farthest(held, used * self.step)) for used in range(self.rooms[stock] + 1)]


def scale_job(model: NestingModel) -> ScaledJob:
    """Return the job's pieces, each as its mean length, in whole steps: all there is to say where all are square."""
    sizes = [kind.doubled + 2 * model.kerf_nm for kind in model.kinds]
    rooms = [2 * (stock.room_nm + model.kerf_nm) for stock in model.stocks]
    measure = math.gcd(*sizes)
    rows = sum(min(kind.count, max(rooms) // size).bit_length() for kind, size in zip(model.kinds, sizes, strict=True))
    cells = min(CELLS, max(LEAST_CELLS, TABLE_CELLS // (rows + 1)))
    exact = max(rooms) // measure < cells
    step = measure if exact else -(-max(rooms) // (cells - 1))
    return ScaledJob(
        model=model,
        step=step,
        exact=exact,
        sizes=tuple(-(-size // step) for size in sizes),
        low_sizes=tuple(size // step for size in sizes),
        counts=tuple(kind.count for kind in model.kinds),
        held=tuple(kind.clamped for kind in model.kinds),
        rooms=tuple(room // step for room in rooms),
        short_rooms=tuple((room - 2 * model.clamp_nm) // step for room in rooms),
    )
