"""What a new timetable changes of the one before it: work that moves, comes or goes, and where deliveries end."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal

from solver.domain.timetable import Lateness, Machine, PlannedOperation, Timetable
from solver.language import Language
from solver.units import Seconds

MoveKind = Literal["earlier", "later", "elsewhere", "added", "gone"]
KINDS: tuple[MoveKind, ...] = ("earlier", "later", "elsewhere", "added", "gone")
WORDS: dict[str, str] = {
    "earlier": "earlier",
    "later": "later",
    "elsewhere": "other machine",
    "added": "new",
    "gone": "no longer there",
    "quiet": "as before",
    "was": "where it was",
    "shut": "closed now, open before",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class OperationMove:
    """One operation that is not where it was; `old` is told on the new timetable's clock, both are never absent."""

    kind: MoveKind
    old: PlannedOperation | None
    new: PlannedOperation | None

    @property
    def by_s(self) -> int:
        """How much later it starts (less than 0: earlier), or ends where its start stays; 0 for what comes or goes."""
        if self.old is None or self.new is None:
            return 0
        return self.new.start_s - self.old.start_s or self.new.end_s - self.old.end_s

    @property
    def work(self) -> PlannedOperation:
        """The operation as it is now, or as it was where it is gone."""
        found = self.new or self.old
        assert found is not None
        return found


@dataclass(frozen=True, slots=True, kw_only=True)
class DeliveryMove:
    """One delivery in both timetables, on the new one's clock; absent where a timetable has it not."""

    order: str
    delivery: str
    old: Lateness | None
    new: Lateness | None

    @property
    def by_s(self) -> int:
        """How much later it is done (less than 0: earlier)."""
        return self.new.done_s - self.old.done_s if self.old is not None and self.new is not None else 0


@dataclass(frozen=True, slots=True, kw_only=True)
class TimetableChange:
    """What differs between two timetables: moves, the longest first; how many stay; deliveries, the most changed first."""

    moves: tuple[OperationMove, ...]
    quiet: int
    over: int  # of the old timetable alone, and to end before the new one begins: done, not dropped
    deliveries: tuple[DeliveryMove, ...]

    @property
    def counts(self) -> dict[MoveKind, int]:
        """How many moves there are of each kind, of those that there are."""
        found = Counter(move.kind for move in self.moves)
        return {kind: found[kind] for kind in KINDS if found[kind]}

    @property
    def longest_s(self) -> int:
        """How far the farthest move goes."""
        return max((abs(move.by_s) for move in self.moves), default=0)

    @property
    def sum_s(self) -> int:
        """How far all moves go together."""
        return sum(abs(move.by_s) for move in self.moves)


def move_kind_words(key: str, language: Language) -> str:
    """Return what a kind of move, or a sign of its picture, is called. Raises KeyError."""
    return language.text(WORDS[key], "moves")


def compare_timetables(old: Timetable, new: Timetable) -> TimetableChange:
    """Return what a new timetable changes of an old one; operations are matched by id, times told on the new one's clock."""
    old = rebase_to_epoch(old, new)
    was, now = {one.id: one for one in old.operations}, {one.id: one for one in new.operations}
    pairs = [(was.get(name), now.get(name)) for name in dict.fromkeys([*now, *was])]
    over = [a for a, b in pairs if b is None and a is not None and a.end_s <= 0]
    moves = [move for a, b in pairs if (a is None or a not in over) and (move := _move(a, b)) is not None]
    moves.sort(key=lambda move: (-abs(move.by_s), KINDS.index(move.kind), move.work.start_s, move.work.id))
    promised = sorted(_promised(old, new), key=lambda one: (-abs(one.by_s), one.order, one.delivery))
    quiet = len(pairs) - len(moves) - len(over)
    return TimetableChange(moves=tuple(moves), quiet=quiet, over=len(over), deliveries=tuple(promised))


def rebase_to_epoch(old: Timetable, new: Timetable) -> Timetable:
    """Return a timetable's work, closed hours and deliveries with times counted from another one's epoch."""
    by = int((datetime.fromisoformat(old.epoch) - datetime.fromisoformat(new.epoch)).total_seconds())
    if not by:
        return old
    machines = tuple(_shifted(machine, by) for machine in old.job.machines)
    return replace(
        old,
        epoch=new.epoch,
        job=replace(old.job, machines=machines),
        operations=tuple(
            replace(operation, start_s=Seconds(operation.start_s + by), end_s=Seconds(operation.end_s + by))
            for operation in old.operations
        ),
        deliveries=tuple(
            replace(
                delivery,
                done_s=Seconds(delivery.done_s + by),
                due_s=None if delivery.due_s is None else Seconds(delivery.due_s + by),
            )
            for delivery in old.deliveries
        ),
    )


def _shifted(machine: Machine, by: int) -> Machine:
    return replace(machine, closed=tuple((low + by, high + by) for low, high in machine.closed))


def _move(old: PlannedOperation | None, new: PlannedOperation | None) -> OperationMove | None:
    """What happened to an operation; None where it stays."""
    if old is None:
        return OperationMove(kind="added", old=None, new=new)
    if new is None:
        return OperationMove(kind="gone", old=old, new=None)
    if old.machine != new.machine:
        return OperationMove(kind="elsewhere", old=old, new=new)
    if (old.start_s, old.end_s) == (new.start_s, new.end_s):
        return None
    later = (new.start_s, new.end_s) > (old.start_s, old.end_s)
    return OperationMove(kind="later" if later else "earlier", old=old, new=new)


def _promised(old: Timetable, new: Timetable) -> Iterator[DeliveryMove]:
    was, now = ({(one.order, one.delivery): one for one in table.deliveries} for table in (old, new))
    for order, delivery in dict.fromkeys([*now, *was]):
        key = (order, delivery)
        yield DeliveryMove(order=order, delivery=delivery, old=was.get(key), new=now.get(key))
