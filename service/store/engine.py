"""The database connection: SQLite in write-ahead mode, or PostgreSQL, by URL."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.engine import make_url
from sqlalchemy.pool import QueuePool


def open_engine(url: str) -> Engine:
    """Return an engine for a URL; `postgresql://` means psycopg 3. Makes the folder of an SQLite file."""
    where = make_url(url)
    if where.drivername == "postgresql":
        where = where.set(drivername="postgresql+psycopg")
    if where.get_backend_name() != "sqlite":
        return create_engine(where, pool_pre_ping=True, pool_size=10, max_overflow=20)
    if where.database:
        Path(where.database).parent.mkdir(parents=True, exist_ok=True)
    made = create_engine(where, poolclass=QueuePool, pool_size=10, max_overflow=20, connect_args={"timeout": 30})
    event.listen(made, "connect", _prepare)
    event.listen(made, "begin", _begin)
    return made


def _prepare(connection: sqlite3.Connection, _: Any) -> None:
    connection.isolation_level = None  # we say BEGIN ourselves: the driver's own BEGIN is deferred
    for line in ("journal_mode = WAL", "synchronous = FULL", "foreign_keys = ON", "busy_timeout = 30000"):
        connection.execute(f"PRAGMA {line}")


def _begin(connection: Connection) -> None:
    # A deferred transaction that reads first and then writes fails when another wrote in between; so writers say so at once.
    writes = connection.get_execution_options().get("sawbill_writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
