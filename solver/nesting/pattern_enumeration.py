"""All patterns that a plan within a bound could use: those whose reduced cost is within the gap."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from solver.jit import COMPILED
from solver.nesting.bounds import least_costs_by_room
from solver.nesting.knapsack_loops import enumerate_patterns, fill_completion_rows
from solver.nesting.scaled_job import Pattern, ScaledJob, Whole
from solver.search import Search

MOST_NODES = 20_000_000 if COMPILED else 300_000
_NEVER = np.iinfo(np.int64).min // 2


class CompletionTable:
    """For one stock, the most that kinds from j on can still add to a bar of which `u` is used, less what it costs then.

    `free[j, u]`: the clamp is content; `loose[j, u]`: it is not yet (no piece taken that it can hold). Kinds that it can
    hold come first in `order`.
    """

    def __init__(self, core: ScaledJob, stock: int, duals: Sequence[int], rent: int, scale: int) -> None:
        self.core = core
        self.order = sorted(range(len(core.sizes)), key=lambda kind: (not core.held[kind], kind))
        self.sizes = np.array([core.low_sizes[kind] for kind in self.order], dtype=np.int64)
        self.duals = np.array([duals[kind] for kind in self.order], dtype=np.int64)
        self.room = core.rooms[stock]
        self.short = core.short_rooms[stock]
        self.most = [
            min(core.counts[kind], self.room // core.low_sizes[kind]) if core.low_sizes[kind] else core.counts[kind]
            for kind in self.order
        ]
        self.free = self._table(-least_costs_by_room(core, stock, scale) - rent)
        self.loose = self.free
        if core.clamps:
            end = self.free[-1].copy()
            end[max(0, self.short + 1) :] = _NEVER
            self.loose = self._table(end, release=True)

    def _table(self, end: Whole, *, release: bool = False) -> Whole:
        count = len(self.order)
        table = np.empty((count + 1, self.room + 1), dtype=np.int64)
        table[count] = end
        if not release:
            fill_completion_rows(table, self.sizes, self.duals, np.array(self.most, dtype=np.int64), self.room)
            return table
        for place in range(count - 1, -1, -1):
            row, left, times = table[place], self.most[place], 1
            row[:] = table[place + 1]
            size, worth = int(self.sizes[place]), int(self.duals[place])
            if self.core.held[self.order[place]]:
                if left > 0 and size <= self.room:
                    np.maximum(row[: self.room + 1 - size], self.free[place, size:] + worth, out=row[: self.room + 1 - size])
                continue
            while left > 0:
                step = min(times, left)
                if size * step <= self.room:
                    shifted = row[size * step :] + worth * step
                    np.maximum(row[: len(shifted)], shifted, out=row[: len(shifted)])
                left -= step
                times *= 2
        return table


def patterns_within_gap(
    core: ScaledJob, duals: Sequence[int], stock_duals: Sequence[int], scale: int, gap: int, *, limit: int, search: Search
) -> list[Pattern] | None:
    """Return every maximal pattern whose cost and rent exceed its worth by at most `gap` (all scaled), or None: too many.

    Where drops earn credit a longer drop is worth something, so there patterns need not be maximal.
    """
    found: list[Pattern] = []
    for stock in range(len(core.rooms)):
        if search.over():
            return None
        if core.rooms[stock] < min(core.low_sizes):
            continue
        completions = CompletionTable(core, stock, duals, stock_duals[stock], scale)
        maximal = core.credits(stock) is None
        if not core.clamps:
            more = _walk_fast(completions, stock, -gap, limit - len(found), maximal=maximal)
            if more is None:
                return None
            found.extend(more)
            continue
        walk = _Walk(completions, stock, -gap, limit - len(found), search, maximal=maximal)
        walk.go()
        if walk.full:
            return None
        found.extend(walk.found)
    return found


def _walk_fast(tables: CompletionTable, stock: int, need: int, limit: int, *, maximal: bool) -> list[Pattern] | None:
    rows = np.zeros((max(0, limit), len(tables.order)), dtype=np.int32)
    most = np.array(tables.most, dtype=np.int64)
    count = enumerate_patterns(tables.sizes, tables.duals, most, tables.room, tables.free, need, maximal, rows, MOST_NODES)
    if count < 0:
        return None
    order = tables.order
    return [
        tables.core.pattern(stock, [(order[place], int(row[place])) for place in np.nonzero(row)[0]]) for row in rows[:count]
    ]


class _Walk:
    """A depth-first walk over kinds in order; it only enters where a pattern within the gap can come of it."""

    def __init__(self, tables: CompletionTable, stock: int, need: int, limit: int, search: Search, *, maximal: bool) -> None:
        self.tables, self.stock, self.need, self.limit, self.search = tables, stock, need, limit, search
        self.maximal = maximal
        self.found: list[Pattern] = []
        self.full = False
        self.taken = [0] * len(tables.order)
        self.least = int(tables.sizes.min())
        self.nodes = 0

    def go(self) -> None:
        """Walk from the empty bar."""
        self._from(0, 0, 0, content=not self.tables.core.clamps)

    def _from(self, place: int, used: int, worth: int, *, content: bool) -> None:
        tables = self.tables
        self.nodes += 1
        if self.nodes % 4096 == 0 and self.search.over():
            self.full = True
        if self.full:
            return
        table = tables.free if content else tables.loose
        if used and worth + int(table[-1, used]) >= self.need and (not self.maximal or self._is_maximal(used, content=content)):
            self._emit()
        sizes = tables.sizes[place:]
        fit = np.nonzero(sizes <= tables.room - used)[0]
        if not len(fit):
            return
        places = fit + place
        after = used + sizes[fit]
        reach = worth + tables.duals[places] + table[places, after]
        if not content:  # a piece that the clamp can hold frees the bar
            held = places < self._held_places
            reach[held] = worth + tables.duals[places[held]] + tables.free[places[held], after[held]]
        for choice in np.nonzero(reach >= self.need)[0]:
            at = int(places[choice])
            if self.taken[at] >= tables.most[at]:
                continue
            self.taken[at] += 1
            holds = content or at < self._held_places
            self._from(at, int(after[choice]), worth + int(tables.duals[at]), content=holds)
            self.taken[at] -= 1
            if self.full:
                return

    @property
    def _held_places(self) -> int:
        return sum(self.tables.core.held)

    def _is_maximal(self, used: int, *, content: bool) -> bool:
        tables = self.tables
        room = tables.room if content else tables.short
        if content and room - used < self.least:
            return True
        for place, size in enumerate(tables.sizes):
            free = tables.room if place < self._held_places else room
            if size <= free - used and self.taken[place] < tables.most[place]:
                return False
        return True

    def _emit(self) -> None:
        if len(self.found) >= self.limit:
            self.full = True
            return
        counts = [(self.tables.order[place], count) for place, count in enumerate(self.taken) if count]
        self.found.append(self.tables.core.pattern(self.stock, counts))
