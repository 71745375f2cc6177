"""One transaction: `with store.reading() as tx` or `with store.writing() as tx`; leaving it without fault commits."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from sqlalchemy import Connection, Engine

from service.store.engine import open_engine
from service.store.events import SqlEvents
from service.store.floor import SqlFloor
from service.store.jobs import SqlJobs
from service.store.orders import SqlOrders
from service.store.plans import SqlPlans


class SqlTransaction:
    """The repositories over one open connection."""

    def __init__(self, connection: Connection) -> None:
        self.orders = SqlOrders(connection)
        self.jobs = SqlJobs(connection)
        self.plans = SqlPlans(connection)
        self.floor = SqlFloor(connection)
        self.events = SqlEvents(connection)


class SqlStore:
    """The store behind a database URL."""

    def __init__(self, url: str) -> None:
        self.engine: Engine = open_engine(url)
        self._writer = self.engine.execution_options(sawbill_writes=True)

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

    def close(self) -> None:
        """Close all connections."""
        self.engine.dispose()
