"""Bring a database to the newest shape."""

from __future__ import annotations

from pathlib import Path

from alembic import command
from alembic.config import Config
from sqlalchemy import Engine, text

from service.store.unit_of_work import SqlTransaction

LOCK = 0x5A_B1  # PostgreSQL's advisory lock, so that two processes that start together migrate once


def upgrade_store(engine: Engine) -> None:
    """Bring the database to the newest shape, and the state of all things up to the events; does nothing where it is so."""
    settings = Config()
    settings.set_main_option("script_location", str(Path(__file__).parent / "migrations"))
    with engine.execution_options(sawbill_writes=True).begin() as connection:
        if connection.dialect.name == "postgresql":
            connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": LOCK})
        settings.attributes["connection"] = connection
        command.upgrade(settings, "head")
        tx = SqlTransaction(connection)
        if tx.book.behind():
            tx.events.fill(tx.floor)
