"""Which machine cuts a bar and which of its bars it is: one count for paper, labels and the saw's page."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from solver.domain.cut_plan import Bar
from solver.domain.plan import SequencePart
from solver.domain.timetable import PlannedOperation

UNPLACED = "unassigned"
CUTTING = ("cut", "cut trim")


@dataclass(frozen=True, slots=True)
class BarNumber:
    """A bar's machine, and its place among the bars of that machine, from 1."""

    machine: str
    at: int
    of: int


def number_bars(
    bars: Iterable[Bar], sequences: Sequence[SequencePart], operations: Iterable[PlannedOperation]
) -> Mapping[str, BarNumber]:
    """Return the number of each bar by its id, machine by machine, in cut order; see `number_bar_ids`."""
    return number_bar_ids((bar.id for bar in bars), sequences, operations)


def number_bar_ids(
    names: Iterable[str], sequences: Sequence[SequencePart], operations: Iterable[PlannedOperation]
) -> Mapping[str, BarNumber]:
    """Return the number of each bar id, machine by machine, in cut order.

    In cut order where sequencing set one (its groups one after the other), else in the timetable's, else by name.
    """
    order = [bar for part in sequences for bar in part.result.order]
    rank = {bar: n for n, bar in enumerate(order)}
    machine, start = {}, {}
    for operation in operations:
        if operation.step in CUTTING:
            for bar in operation.bars or (operation.about,):
                machine[bar], start[bar] = operation.machine, operation.start_s
    found: dict[str, list[str]] = {}
    for name in sorted(set(names), key=lambda name: (rank.get(name, len(rank)), start.get(name, 0), name)):
        found.setdefault(machine.get(name) or UNPLACED, []).append(name)
    return {name: BarNumber(where, n, len(mine)) for where, mine in sorted(found.items()) for n, name in enumerate(mine, 1)}
