"""The database connection: SQLite in write-ahead mode, or PostgreSQL, by URL."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, Table, bindparam, create_engine, event, insert
from sqlalchemy.dialects import postgresql, sqlite
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
        _make_ours(Path(where.database))
    made = create_engine(where, poolclass=QueuePool, pool_size=10, max_overflow=20, connect_args={"timeout": 30})
    event.listen(made, "connect", _prepare)
    event.listen(made, "begin", _begin)
    return made


def _make_ours(file: Path) -> None:
    """Make an SQLite file that only its owner reads: it holds all orders; the files beside it get its permissions."""
    file.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    if str(file) != ":memory:":
        os.close(os.open(file, os.O_CREAT | os.O_RDWR, 0o600))


def insert_new(connection: Connection, table: Table) -> Any:
    """Return an INSERT that leaves a row alone that is there already; two writers at once both end well."""
    dialect = sqlite if connection.dialect.name == "sqlite" else postgresql
    return dialect.insert(table).on_conflict_do_nothing()


def insert_many(connection: Connection, table: Table, columns: Sequence[str], rows: Sequence[tuple[Any, ...]]) -> None:
    """Insert many rows, each a value a column: by the driver itself, in a third of the time that SQLAlchemy takes for dicts."""
    if not rows:
        return
    command = insert(table).values({name: bindparam(name) for name in columns}).compile(dialect=connection.dialect)
    if command.positional:
        assert list(command.positiontup or ()) == list(columns)
        connection.exec_driver_sql(str(command), list(rows))
    else:
        connection.exec_driver_sql(str(command), [dict(zip(columns, row, strict=True)) for row in rows])


def _prepare(connection: sqlite3.Connection, _: Any) -> None:
    connection.isolation_level = None  # we say BEGIN ourselves: the driver's own BEGIN is deferred
    for line in ("journal_mode = WAL", "synchronous = FULL", "foreign_keys = ON", "busy_timeout = 30000"):
        connection.execute(f"PRAGMA {line}")


def _begin(connection: Connection) -> None:
    # A deferred transaction that reads first and then writes fails when another wrote in between; so writers say so at once.
    writes = connection.get_execution_options().get("sawbill_writes", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")
