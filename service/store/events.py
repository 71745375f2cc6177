"""The ledger: what happened, kept once however often it is sent, and never edited."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import Any, Protocol

from sqlalchemy import ColumnElement, Connection, FromClause, Row, exists, func, insert, or_, select, update

from service.clock import utc_now_text
from service.contracts.floor import EventKept
from service.store.book import SqlBook, event_from_row
from service.store.tables import bars, events, piece_states
from service.stored_form import to_stored_text
from solver.book.things import affected_things
from solver.domain.event import AnyEvent, FloorEvent, event_about, event_from_plain, event_subject

_OTHER = bars.alias()  # made once: it takes longer than the question
UNDONE = events.c.stands.is_(False)
BOOK_LOCK = 0x5A_B3  # PostgreSQL's advisory lock of who writes to the book
SAME = {"loaded": ("loaded", "on"), "shipped": ("shipped", "left"), "bundled": ("bundled", "bundle_closed")}
CHUNK = 500  # ids in one IN list: SQLite's older limit is 999 variables


class EventCompleter(Protocol):
    """Who adds to an event what a plan knows of it."""

    def complete_event(self, plan_id: str, event: AnyEvent) -> AnyEvent:
        """Return an event with what the plan knows of it."""


class SqlEvents:
    """Stored events."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def lock(self) -> None:
        """Let no other write to the book until this transaction has ended.

        So numbers are committed in their order, and no reader who follows them misses one; what is free is promised once.
        SQLite has one writer at a time by itself.
        """
        if self._connection.dialect.name == "postgresql":
            self._connection.execute(select(func.pg_advisory_xact_lock(BOOK_LOCK)))

    def add(self, event: AnyEvent, *, plan: str | None = None) -> EventKept:
        """Keep an event, told while `plan` was the floor's, and what it makes of the things that it tells of.

        Where its id is there already, return that first one and change nothing.
        """
        self.lock()
        before = self._connection.execute(select(events).where(events.c.id == event.id)).first()
        if before is not None:
            return _kept(before, new=False)
        book = SqlBook(self._connection)
        event = book.numbered(event)
        values = {
            "id": event.id,
            "kind": event.kind,
            "at": event.at,
            "received_at": utc_now_text(),
            "station": event.device,
            "subject": event_subject(event),
            "about": event_about(event),
            "reason": event.reason,
            "plan": plan,
            "actor": event.actor,
            "counter": event.counter,
            "release": event.release,
            "body": to_stored_text(event),
        }
        seq = int(self._connection.execute(insert(events).values(**values).returning(events.c.seq)).scalar_one())
        book.place(seq, event, affected_things(event))
        row = self._connection.execute(select(events).where(events.c.id == event.id)).one()
        return _kept(row, new=True)

    def by_id(self, event: str) -> EventKept | None:
        """Return an event, or None."""
        row = self._connection.execute(select(events).where(events.c.id == event)).first()
        return None if row is None else _kept(row, new=False)

    def fill(self, floor: EventCompleter) -> None:
        """Write what was told before there were kinds in the form of its kind, and all state from it."""
        asked = select(events).where(events.c.body.is_(None)).order_by(events.c.seq)
        for row in self._connection.execute(asked).all():
            told = ("id", "kind", "at", "station", "subject", "about", "reason")
            event = event_from_plain(FloorEvent(**{name: getattr(row, name) for name in told}))
            if row.plan is not None:
                event = floor.complete_event(row.plan, event)
            self._connection.execute(update(events).where(events.c.seq == row.seq).values(body=to_stored_text(event)))
        SqlBook(self._connection).rebuild_tables()

    def last_before(self, seq: int | None, subject: str, kinds: Iterable[str]) -> EventKept | None:
        """Return the last event about a thing, of some kinds, that stands and came before another (None: of all); or None."""
        asked = select(events).where(events.c.subject == subject, events.c.kind.in_(list(kinds)), ~UNDONE)
        if seq is not None:
            asked = asked.where(events.c.seq < seq)
        row = self._connection.execute(asked.order_by(events.c.seq.desc()).limit(1)).first()
        return None if row is None else _kept(row, new=False)

    def last(self) -> int:
        """Return the number of the event received last, 0 before the first."""
        return int(self._connection.execute(select(func.coalesce(func.max(events.c.seq), 0))).scalar_one())

    def since(self, seq: int, limit: int) -> tuple[EventKept, ...]:
        """Return events received after a sequence number, in order."""
        asked = select(events).where(events.c.seq > seq).order_by(events.c.seq).limit(limit)
        return tuple(_kept(row, new=False) for row in self._connection.execute(asked))

    def events_of_release(self, plan_id: str, released_at: str, limit: int) -> tuple[EventKept, ...]:
        """Return what was told while a release of a plan was the floor's, and was not undone, in order."""
        asked = select(events).where(
            events.c.plan == plan_id, events.c.received_at >= released_at, events.c.kind != "undone", ~UNDONE
        )
        rows = self._connection.execute(asked.order_by(events.c.seq).limit(limit))
        return tuple(_kept(row, new=False) for row in rows)

    def waiting_for_remake(self, limit: int) -> tuple[str, ...]:
        """Return pieces whose last word is that they were scrapped, the latest first."""
        asked = (
            select(events.c.subject)
            .join(piece_states, piece_states.c.name == events.c.subject)
            .where(events.c.kind == "scrapped", ~UNDONE, piece_states.c.state == "wanted")
            .order_by(events.c.seq.desc())
        )
        return tuple(dict.fromkeys(self._connection.execute(asked.limit(limit)).scalars()))

    def last_events_in_force(
        self, subjects: Collection[str], kinds: Iterable[str], *, bars_of: str | None = None
    ) -> dict[tuple[str, str], EventKept]:
        """Return the last event that stands (was not undone) of each subject and kind.

        Where the subjects are bars of a plan, only what was told of this very bar: plans give the same names anew. A bundle
        that is off its load again is not loaded.
        """
        wanted, found = list(subjects), {}
        called = {word: kind for kind in kinds for word in SAME.get(kind, (kind,))}
        for start in range(0, len(wanted), CHUNK):
            asked = (
                select(events)
                .where(events.c.subject.in_(wanted[start : start + CHUNK]), events.c.kind.in_(list(called)), ~UNDONE)
                .order_by(events.c.seq)
            )
            if bars_of is not None:
                asked = asked.join(bars, bars.c.id == events.c.subject).where(bars.c.plan == bars_of, is_same_bar(bars))
            for row in self._connection.execute(asked):
                found[row.subject, called[row.kind]] = _kept(row, new=False, whole=False)
        loaded = [subject for subject, kind in found if kind == "loaded"]
        on = SqlBook(self._connection).now("bundle", loaded)
        return {key: event for key, event in found.items() if key[1] != "loaded" or on.get(key[0]) in ("on", "left")}


def is_same_bar(bar: FromClause) -> ColumnElement[bool]:
    """Whether an event about a bar's name means this bar: told of its plan, or of one that cuts the same from it."""
    alike = exists().where(
        _OTHER.c.plan == events.c.plan, _OTHER.c.id == bar.c.id, _OTHER.c.pieces_digest == bar.c.pieces_digest
    )
    return or_(events.c.plan.is_(None), events.c.plan == bar.c.plan, alike)


def _kept(row: Row[*tuple[Any, ...]], *, new: bool, whole: bool = True) -> EventKept:
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
        actor=row.actor,
        counter=row.counter,
        release=row.release,
        stands=row.stands,
        new=new,
        body=event_from_row(row) if whole else None,
    )
