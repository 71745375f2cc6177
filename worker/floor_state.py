"""The state of the floor from a store: proved against the events that it was made of."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime

from service.settings import Settings
from service.usecases.snapshot import floor_snapshot
from solver.domain.floor_snapshot import FloorSnapshot
from worker.wiring import open_store, plant_of_settings


def rebuild(settings: Settings, *, write: bool = False) -> tuple[int, tuple[str, ...]]:
    """Return how many events there are, and every row of state that is kept otherwise than the events alone make it.

    With `write` the tables are written anew where they differ.
    """
    store = open_store(settings)
    try:
        with store.reading() as tx:
            seen, found = tx.events.last(), tx.book.differences()
        if write and found:
            with store.writing() as tx:
                tx.events.lock()
                tx.book.rebuild_tables()
    finally:
        store.close()
    return seen, tuple(_said(found))


def snapshot(settings: Settings) -> FloorSnapshot:
    """Return the floor now, lengths in the catalog's unit."""
    store = open_store(settings)
    try:
        return floor_snapshot(
            datetime.now(UTC).isoformat(timespec="seconds"), unit=plant_of_settings(settings).unit, store=store
        )
    finally:
        store.close()


def _said(found: tuple[tuple[str, str, str | None, str | None], ...]) -> Iterator[str]:
    for table, name, kept, rebuilt in found:
        yield f"{table} {name}: kept {kept or 'nothing'}; the events make {rebuilt or 'nothing'}"
