"""How little room cuts take between pieces with sloped ends: the best order and turns, by counts of alike pieces.

What joins cost depends only on how many pieces of each type (leans in each turn, and whether the clamp can hold them) a
bar carries, not on their lengths: so an answer serves all bars alike. Doubled lengths.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

from solver.highs import highs_infinity, new_silent_solver, require_ok_status
from solver.nesting.bars import KindAndShape, doubled_joint_loss
from solver.nesting.model import NestingModel, StockKind

FAR = 1 << 62
STATES_AT_ONCE = 2048  # between looks at the clock
Counts = tuple[int, ...]


class OutOfTime(Exception):
    """The time ended before the least room was known; nothing half known is remembered."""


class JoinType(NamedTuple):
    """Leans at start and end in each shape, and whether the clamp can hold such a piece."""

    leans: tuple[tuple[int, int], ...]
    held: bool


class JoinRoom(NamedTuple):
    """Least doubled room for cuts and slopes: with a last piece that the clamp holds, and with any."""

    held: int
    any: int


class Joins:
    """Least room for the joins of a bar, by counts of its types; remembered."""

    def __init__(self, model: NestingModel) -> None:
        self.model = model
        keys = [
            JoinType(tuple((shape.start, shape.end) for shape in kind.shapes), kind.clamped or model.clamp_nm == 0)
            for kind in model.kinds
        ]
        self.types = tuple(dict.fromkeys(keys))
        self.type_of = tuple(self.types.index(key) for key in keys)
        self._least: dict[Counts, JoinRoom] = {}
        self._known: dict[tuple[Counts, int | None, bool], JoinRoom] = {}
        self._over: Callable[[], bool] | None = None
        self.shares: tuple[tuple[tuple[int, int], ...], tuple[tuple[int, int], ...]] = ((), ())  # of starts and ends, by lean

    def least(self, counts: Counts, *, over: Callable[[], bool] | None = None) -> JoinRoom:
        """Return the least room for the joins of a bar with so many pieces of each type.

        With `over` it raises OutOfTime once that says so: bars of many steep types can take seconds.
        """
        if (known := self._least.get(counts)) is not None:
            return known
        few, extra = self._few(counts)
        self._over = over
        try:
            made = self._from(few, None, held=False)
        finally:
            self._over = None
        self._least[counts] = JoinRoom(min(FAR, made.held + extra), made.any + extra)
        return self._least[counts]

    def _few(self, counts: Counts) -> tuple[Counts, int]:
        """Square pieces alike lie side by side at one kerf each: one stands for them all."""
        extra, few = 0, []
        for kind, count in zip(self.types, counts, strict=True):
            spare = max(0, count - 1) if kind.leans == ((0, 0),) else 0
            extra += spare * doubled_joint_loss(self.model, 0, 0)
            few.append(count - spare)
        return tuple(few), extra

    def _from(self, counts: Counts, end: int | None, *, held: bool) -> JoinRoom:
        """Return the least from an end (None: the bar's own) on; `held`: whether the piece before can be held."""
        if not any(counts):
            close = abs(end or 0)
            return JoinRoom(close if held else FAR, close)
        key = (counts, end, held)
        if key in self._known:
            return self._known[key]
        if self._over is not None and len(self._known) % STATES_AT_ONCE == 0 and self._over():
            raise OutOfTime
        best_held = best_any = FAR
        for n, kind in enumerate(self.types):
            if not counts[n]:
                continue
            rest = (*counts[:n], counts[n] - 1, *counts[n + 1 :])
            for start, finish in dict.fromkeys(kind.leans):
                step = abs(start) if end is None else doubled_joint_loss(self.model, end, start)
                after = self._from(rest, finish, held=kind.held)
                best_held = min(best_held, step + after.held)
                best_any = min(best_any, step + after.any)
        made = self._known[key] = JoinRoom(best_held, best_any)
        return made

    def extent(self, stock: StockKind, counts: Counts, doubled: int, *, over: Callable[[], bool] | None = None) -> int | None:
        """Return the doubled room that pieces of these types and this doubled length take on a stock, or None: too much.

        With `over` it raises OutOfTime, as `least` does.
        """
        join = self.least(counts, over=over)
        free, short = 2 * stock.room_nm, 2 * (stock.room_nm - self.model.clamp_nm)
        if doubled + join.any <= short:
            return doubled + join.any
        return doubled + join.held if doubled + join.held <= free else None

    def counts_of(self, pieces: Sequence[tuple[int, int]]) -> Counts:
        """Return the counts by type of (kind, count) pairs."""
        made = [0] * len(self.types)
        for kind, count in pieces:
            made[self.type_of[kind]] += count
        return tuple(made)

    def order(self, stock: StockKind, pieces: Sequence[tuple[int, int]]) -> tuple[KindAndShape, ...]:
        """Return the pieces in an order and in turns that take the least room on a stock that holds them."""
        doubled = sum(count * self.model.kinds[kind].doubled for kind, count in pieces)
        counts = self.counts_of(pieces)
        any_end = doubled + self.least(counts).any <= 2 * (stock.room_nm - self.model.clamp_nm)
        waiting: list[list[int]] = [[] for _ in self.types]
        for kind, count in sorted(pieces, reverse=True):
            waiting[self.type_of[kind]].extend([kind] * count)
        slots: list[KindAndShape] = []
        end: int | None = None
        held = False
        while any(counts):
            few, _ = self._few(counts)
            made = self._from(few, end, held=held)
            wanted = made.any if any_end else made.held
            n, shape = self._next(few, end, wanted, any_end=any_end)
            take = 1 + (counts[n] - few[n])  # squares alike go together
            end, held = self.types[n].leans[shape][1], self.types[n].held
            counts = (*counts[:n], counts[n] - take, *counts[n + 1 :])
            slots.extend((waiting[n].pop(), shape) for _ in range(take))
        return tuple(slots)

    def _next(self, counts: Counts, end: int | None, wanted: int, *, any_end: bool) -> tuple[int, int]:
        for n, kind in enumerate(self.types):
            if not counts[n]:
                continue
            rest = (*counts[:n], counts[n] - 1, *counts[n + 1 :])
            for shape, (start, finish) in enumerate(kind.leans):
                step = abs(start) if end is None else doubled_joint_loss(self.model, end, start)
                after = self._from(rest, finish, held=kind.held)
                if step + (after.any if any_end else after.held) == wanted:
                    return n, shape
        raise AssertionError("the least room was not found again")

    def ideal_room_x4(self) -> tuple[list[int], int]:
        """Return for each kind four times the room that it takes at least, and what an odd number of sloped ends adds.

        Each lean has a share as an end and one as a start, such that two facing ends' shares never exceed what their join
        takes, nor an end's own share what it takes at the bar's end and a kerf. So where pieces fit, their sizes sum
        to at most four times room and kerf. The shares are those that make all pieces of the job largest in sum: a
        linear program's, rounded down. With an odd number of sloped ends one of them faces a square end or the bar's.
        """
        starts = sorted({start for kind in self.types for start, _ in kind.leans})
        ends = sorted({end for kind in self.types for _, end in kind.leans})
        share_start, share_end = self._shares(starts, ends)
        self.shares = (tuple(share_start.items()), tuple(share_end.items()))
        kerf2 = 2 * self.model.kerf_nm
        odd: list[int] = []
        for end in ends:
            odd.extend(
                2 * doubled_joint_loss(self.model, end, s) - share_end[end] - share_start[s]
                for s in starts
                if bool(s) != bool(end)
            )
            if end:
                odd.append(2 * abs(end) + kerf2 - share_end[end])
        odd.extend(2 * abs(start) + kerf2 - share_start[start] for start in starts if start)
        least = [min(share_start[start] + share_end[end] for start, end in kind.leans) for kind in self.types]
        sizes = [2 * kind.doubled + least[n] for kind, n in zip(self.model.kinds, self.type_of, strict=True)]
        return sizes, min(odd, default=0)

    def _shares(self, starts: Sequence[int], ends: Sequence[int]) -> tuple[dict[int, int], dict[int, int]]:
        """Return the shares of starts and ends: a program over them, and one size for each type that no shape exceeds."""
        solver, inf = new_silent_solver(), highs_infinity()
        column_of_start = {lean: n for n, lean in enumerate(starts)}
        column_of_end = {lean: len(starts) + n for n, lean in enumerate(ends)}
        kerf2 = 2 * self.model.kerf_nm
        unit = float(max(kerf2, *(2 * abs(lean) for lean in (*starts, *ends)), 1))
        weights = [
            sum(kind.count for kind, t in zip(self.model.kinds, self.type_of, strict=True) if t == n)
            for n in range(len(self.types))
        ]
        for lean in (*starts, *ends):
            require_ok_status(solver.addVar(0.0, (2 * abs(lean) + kerf2) / unit))
        for n, weight in enumerate(weights):
            require_ok_status(solver.addVar(0.0, inf))
            require_ok_status(solver.changeColCost(len(starts) + len(ends) + n, -float(weight) / sum(weights)))

        def row(most: float, entries: dict[int, float]) -> None:
            places = np.array(list(entries), dtype=np.int32)
            require_ok_status(solver.addRow(-inf, most, len(entries), places, np.array(list(entries.values()))))

        for start in starts:
            for end in ends:
                row(
                    2 * doubled_joint_loss(self.model, end, start) / unit,
                    {column_of_start[start]: 1.0, column_of_end[end]: 1.0},
                )
        for n, kind in enumerate(self.types):
            size = len(starts) + len(ends) + n
            for start, end in dict.fromkeys(kind.leans):
                row(0.0, {size: 1.0, column_of_start[start]: -1.0, column_of_end[end]: -1.0})
        require_ok_status(solver.run())
        values = list(solver.getSolution().col_value)
        slack = 1 + int(unit * 1e-6)

        def share(value: float) -> int:
            return max(0, int(value * unit) - slack)

        return (
            {lean: share(values[column_of_start[lean]]) for lean in starts},
            {lean: share(values[column_of_end[lean]]) for lean in ends},
        )
