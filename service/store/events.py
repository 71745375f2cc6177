"""The ledger: what happened, kept once however often it is sent, and never edited."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import Any

from sqlalchemy import Connection, Row, exists, select
from sqlalchemy.dialects import postgresql, sqlite

from service.clock import now_text
from service.contracts.floor import EventKept
from service.store.tables import events
from solver.domain.event import FloorEvent

CHUNK = 500  # ids in one IN list: SQLite's older limit is 999 variables


class SqlEvents:
    """Stored events."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def add(self, event: FloorEvent) -> EventKept:
        """Keep an event; one whose id is there already changes nothing and the first is returned."""
        values = {
            "id": event.id,
            "kind": event.kind,
            "at": event.at,
            "received_at": now_text(),
            "station": event.station,
            "subject": event.subject,
            "about": event.about,
            "reason": event.reason,
        }
        dialect = sqlite if self._connection.dialect.name == "sqlite" else postgresql
        asked = dialect.insert(events).values(**values).on_conflict_do_nothing(index_elements=["id"])
        new = self._connection.execute(asked.returning(events.c.seq)).first() is not None
        row = self._connection.execute(select(events).where(events.c.id == event.id)).one()
        return _kept(row, new=new)

    def since(self, seq: int, limit: int) -> tuple[EventKept, ...]:
        """Return events received after a sequence number, in order."""
        asked = select(events).where(events.c.seq > seq).order_by(events.c.seq).limit(limit)
        return tuple(_kept(row, new=False) for row in self._connection.execute(asked))

    def waiting_for_remake(self, limit: int) -> tuple[str, ...]:
        """Return pieces whose last word is that they were scrapped, the latest first."""
        undoing, later = events.alias(), events.alias()
        undone = exists().where(undoing.c.kind == "undone", undoing.c.about == events.c.id)
        made = exists().where(
            later.c.subject == events.c.subject,
            later.c.kind.in_(("cut", "remade", "drop_put_away")),
            later.c.seq > events.c.seq,
        )
        asked = select(events.c.subject).where(events.c.kind == "scrapped", ~undone, ~made).order_by(events.c.seq.desc())
        return tuple(dict.fromkeys(self._connection.execute(asked.limit(limit)).scalars()))

    def standing(self, subjects: Collection[str], kinds: Iterable[str]) -> dict[tuple[str, str], EventKept]:
        """Return the last event that stands (was not undone) of each subject and kind."""
        undoing = events.alias()
        undone = exists().where(undoing.c.kind == "undone", undoing.c.about == events.c.id)
        wanted, found = list(subjects), {}
        for start in range(0, len(wanted), CHUNK):
            asked = (
                select(events)
                .where(events.c.subject.in_(wanted[start : start + CHUNK]), events.c.kind.in_(list(kinds)), ~undone)
                .order_by(events.c.seq)
            )
            for row in self._connection.execute(asked):
                found[row.subject, row.kind] = _kept(row, new=False)
        return found


def _kept(row: Row[*tuple[Any, ...]], *, new: bool) -> EventKept:
    return EventKept(
        id=row.id,
        seq=row.seq,
        kind=row.kind,
        at=row.at,
        received_at=row.received_at,
        station=row.station,
        subject=row.subject,
        about=row.about,
        reason=row.reason,
        new=new,
    )
