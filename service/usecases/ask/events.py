"""Tell what happened, and read it back."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Any

from service.contracts.floor import EventKept, EventList
from service.ports import Store, Transaction
from solver.codec import decode
from solver.domain.event import FloorEvent
from solver.errors import Faults

NAME_MOST = 400  # characters of a subject: ids of things are far shorter


def keep_event(data: Any, *, store: Store) -> EventKept:
    """Keep an event, once however often it is sent. What did happen is never refused: only what is no event at all.

    Raises InputError with every fault of the message.
    """
    event = decode(FloorEvent, data, name="event")
    _judge(event)
    with store.writing() as tx:
        kept = tx.events.add(event)
        return replace(kept, known=_known(tx, event))


def list_events(after: int, limit: int, *, store: Store) -> EventList:
    """Return events in the order in which they were received, after a sequence number."""
    with store.reading() as tx:
        found = tx.events.since(after, limit + 1)
    return EventList(events=found[:limit], more=len(found) > limit)


def _judge(event: FloorEvent) -> None:
    faults = Faults()
    try:
        aware = datetime.fromisoformat(event.at).tzinfo is not None
    except ValueError:
        aware = False
    if not aware or len(event.at) > 80:
        faults.add("event.at", f"{event.at[:60]!r} is no instant", "ISO 8601 with offset, such as 2031-05-05T07:42:00-06:00")
    for name in ("station", "subject", "about", "reason"):
        value = getattr(event, name)
        if value is not None and len(value) > NAME_MOST:
            faults.add(f"event.{name}", f"has {len(value)} characters", f"at most {NAME_MOST}")
    if event.kind == "undone" and event.about is None:
        faults.add("event.about", "is missing", "the id of the event that is undone")
    faults.raise_any()


def _known(tx: Transaction, event: FloorEvent) -> bool:
    released = tx.plans.released()
    return released is not None and tx.floor.knows(released[0], event.subject)
