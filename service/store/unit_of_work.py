"""One transaction: `with store.reading() as tx` or `with store.writing() as tx`; leaving it without fault commits."""

from __future__ import annotations

import os
import sqlite3
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import Connection, Engine, text

from service.store.book import SqlBook
from service.store.catalogs import SqlCatalogs
from service.store.engine import open_engine
from service.store.events import SqlEvents
from service.store.floor import SqlFloor
from service.store.jobs import SqlJobs
from service.store.order_life import SqlOrderLife
from service.store.orders import SqlOrders
from service.store.plan_rows import SqlPlanRows
from service.store.plans import SqlPlans

ROOM = 256 * 1024  # bytes that a store must still find room for


class SqlTransaction:
    """The repositories over one open connection."""

    def __init__(self, connection: Connection) -> None:
        self.orders = SqlOrders(connection)
        self.life = SqlOrderLife(connection)
        self.jobs = SqlJobs(connection)
        self.catalogs = SqlCatalogs(connection)
        self.plans = SqlPlans(connection)
        self.rows = SqlPlanRows(connection)
        self.floor = SqlFloor(connection)
        self.events = SqlEvents(connection)
        self.book = SqlBook(connection)


class SqlStore:
    """The store behind a database URL."""

    def __init__(self, url: str) -> None:
        self.engine: Engine = open_engine(url)
        self._writer = self.engine.execution_options(sawbill_writes=True)
        self._watching: sqlite3.Connection | None = None
        self._one_watches = threading.Lock()

    @contextmanager
    def reading(self) -> Iterator[SqlTransaction]:
        """Give a transaction for reading; it never waits for a writer."""
        with self.engine.connect() as connection:
            yield SqlTransaction(connection)

    @contextmanager
    def writing(self) -> Iterator[SqlTransaction]:
        """Give a transaction for writing, committed when left without a fault."""
        with self._writer.begin() as connection:
            yield SqlTransaction(connection)

    def change_stamp(self) -> str:
        """Return a text that is another one whenever a transaction of whatever process changed the store.

        PostgreSQL: the snapshot, which alone decides what a reader sees. SQLite: `data_version` of a connection that never
        writes, which changes when another one commits.
        """
        url = self.engine.url
        if url.get_backend_name() != "sqlite":
            with self.engine.connect() as connection:
                return str(connection.execute(text("SELECT CAST(pg_current_snapshot() AS text)")).scalar_one())
        with self._one_watches:
            if self._watching is None:
                self._watching = sqlite3.connect(url.database or "", isolation_level=None, check_same_thread=False)
            return str(self._watching.execute("PRAGMA data_version").fetchone()[0])

    def problem(self) -> str | None:
        """Return why nothing could be stored now, or None; a database server watches its own disk."""
        file = self.engine.url.database if self.engine.url.get_backend_name() == "sqlite" else None
        if not file:
            return None
        try:
            with tempfile.NamedTemporaryFile(dir=Path(file).parent, prefix=".room") as probe:
                probe.write(b"0" * ROOM)
                probe.flush()
                os.fsync(probe.fileno())
        except OSError as error:
            return f"the folder of the store cannot be written: {error.strerror or type(error).__name__}"
        return None

    def close(self) -> None:
        """Close all connections."""
        with self._one_watches:
            if self._watching is not None:
                self._watching.close()
                self._watching = None
        self.engine.dispose()
