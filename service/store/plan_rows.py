"""What the pages of a plan read: operations, moves, names and extracts, as many as a page shows."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from itertools import islice
from typing import Any

from sqlalchemy import Connection, Select, or_, select

from service.ports import PlanRows
from service.store.engine import insert_many, insert_new
from service.store.tables import extracts, moves, names, operations

FIRST = "timetable"  # the extract that every plan has: where it is written, all rows are
ASKED_MOST = 5_000  # names in one question: a database takes so many and no more


class SqlPlanRows:
    """The rows of stored plans."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def written(self, plan_id: str) -> bool:
        """Return whether a plan's rows are there already."""
        return self.extract(plan_id, FIRST) is not None

    def write(self, plan_id: str, rows: PlanRows) -> None:
        """Write a plan's rows; of two who write the same at once the first one counts."""
        first = insert_new(self._connection, extracts).values(plan=plan_id, kind=FIRST, body=rows.extracts[FIRST])
        if self._connection.execute(first.returning(extracts.c.kind)).first() is None:
            return
        others = [(plan_id, kind, body) for kind, body in rows.extracts.items() if kind != FIRST]
        insert_many(self._connection, extracts, ("plan", "kind", "body"), others)
        insert_many(
            self._connection,
            operations,
            ("plan", "n", "id", "machine", "start_s", "until_s", "body"),
            [
                (plan_id, n, one.id, one.machine, one.start_s, one.end_s + one.hold_s, body)
                for n, (one, body) in enumerate(rows.operations)
            ],
        )
        insert_many(
            self._connection,
            moves,
            ("plan", "n", "kind", "new_n", "start_s", "end_s", "machine", "body"),
            [
                (plan_id, n, kind, new_n, *((None,) * 3 if old is None else (old.start_s, old.end_s, old.machine)), body)
                for n, (kind, new_n, old, body) in enumerate(rows.moves)
            ],
        )
        insert_many(
            self._connection,
            names,
            ("plan", "kind", "name", "number"),
            [(plan_id, kind, name, number) for kind, some in rows.names.items() for name, number in some.items()],
        )

    def extract(self, plan_id: str, kind: str) -> str | None:
        """Return an extract as it is stored, or None."""
        asked = select(extracts.c.body).where(extracts.c.plan == plan_id, extracts.c.kind == kind)
        found: str | None = self._connection.execute(asked).scalar_one_or_none()
        return found

    def add_extract(self, plan_id: str, kind: str, body: str) -> None:
        """Write one more extract, unless it is there."""
        self._connection.execute(insert_new(self._connection, extracts).values(plan=plan_id, kind=kind, body=body))

    def operations(self, plan_id: str, *, from_s: int | None, to_s: int | None, machine: str | None) -> tuple[str, ...]:
        """Return operations, what sets after them too, that are in part between two seconds; of one machine where named."""
        asked = select(operations.c.body).where(operations.c.plan == plan_id)
        if from_s is not None:
            asked = asked.where(operations.c.until_s > from_s)
        if to_s is not None:
            asked = asked.where(operations.c.start_s < to_s)
        if machine is not None:
            asked = asked.where(operations.c.machine == machine)
        return tuple(self._connection.execute(asked.order_by(operations.c.n)).scalars())

    def operations_named(self, plan_id: str, ids: Collection[str]) -> tuple[str, ...]:
        """Return the operations of some ids."""
        asked = select(operations.c.body).where(operations.c.plan == plan_id)
        return tuple(
            body for some in _parts(ids) for body in self._connection.execute(asked.where(operations.c.id.in_(some))).scalars()
        )

    def moves(self, plan_id: str, first: int, limit: int) -> tuple[tuple[str, str | None, str | None], ...]:
        """Return so many moves from the `first` on, the longest first: what it is, the operation as it was, and as it is."""
        return self._moves(_moves_of(plan_id).where(moves.c.n >= first).limit(limit))

    def moves_between(self, plan_id: str, from_s: int, to_s: int) -> tuple[tuple[str, str | None, str | None], ...]:
        """Return the moves of which the old or the new operation is in part between two seconds."""
        asked = _moves_of(plan_id)
        was = self._connection.execute(asked.where(moves.c.end_s > from_s, moves.c.start_s < to_s))
        not_then = or_(moves.c.start_s.is_(None), moves.c.end_s <= from_s, moves.c.start_s >= to_s)
        now = self._connection.execute(asked.where(operations.c.until_s > from_s, operations.c.start_s < to_s, not_then))
        found = {row.n: (row.kind, row.old, row.new) for rows in (was, now) for row in rows}  # apart: each has its index
        return tuple(found[n] for n in sorted(found))

    def _moves(self, asked: Select[Any]) -> tuple[tuple[str, str | None, str | None], ...]:
        return tuple((row.kind, row.old, row.new) for row in self._connection.execute(asked))

    def gone(self, plan_id: str, machine: str) -> tuple[str, ...]:
        """Return the operations that were on a machine and are no more."""
        asked = select(moves.c.body).where(moves.c.plan == plan_id, moves.c.kind == "gone", moves.c.machine == machine)
        return tuple(self._connection.execute(asked.order_by(moves.c.n)).scalars())

    def names(self, plan_id: str, kind: str) -> tuple[str, ...]:
        """Return the names of a kind, in their order."""
        asked = select(names.c.name).where(names.c.plan == plan_id, names.c.kind == kind).order_by(names.c.name)
        return tuple(self._connection.execute(asked).scalars())

    def numbers(self, plan_id: str, kind: str, names_asked: Collection[str]) -> dict[str, int | None]:
        """Return those of some names that a plan has, each with its number."""
        asked = select(names.c.name, names.c.number).where(names.c.plan == plan_id, names.c.kind == kind)
        found: dict[str, int | None] = {}
        for some in _parts(names_asked):
            found |= {row.name: row.number for row in self._connection.execute(asked.where(names.c.name.in_(some)))}
        return found


def _moves_of(plan_id: str) -> Select[Any]:
    joined = moves.outerjoin(operations, (operations.c.plan == moves.c.plan) & (operations.c.n == moves.c.new_n))
    asked = select(moves.c.n, moves.c.kind, moves.c.body.label("old"), operations.c.body.label("new")).select_from(joined)
    return asked.where(moves.c.plan == plan_id).order_by(moves.c.n)


def _parts(names_asked: Collection[str]) -> Iterator[list[str]]:
    """The names, as many at once as a question may have."""
    left = iter(dict.fromkeys(names_asked))
    while some := list(islice(left, ASKED_MOST)):
        yield some
