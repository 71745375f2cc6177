"""The migrations lead to exactly the tables that the code knows, and going back leaves nothing."""

from __future__ import annotations

from pathlib import Path

from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import inspect

from service.store.engine import open_engine
from service.store.migrate import upgrade
from service.store.tables import metadata


def test_the_newest_migration_gives_the_tables_of_the_code(tmp_path: Path) -> None:
    engine = open_engine(f"sqlite:///{tmp_path / 'fresh.db'}")
    upgrade(engine)
    upgrade(engine)  # a second time does nothing
    with engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), metadata) == []
        assert set(inspect(connection).get_table_names()) == {*metadata.tables, "alembic_version"}
    engine.dispose()


def test_sqlite_is_opened_in_write_ahead_mode_with_foreign_keys(tmp_path: Path) -> None:
    engine = open_engine(f"sqlite:///{tmp_path / 'fresh.db'}")
    with engine.connect() as connection:
        assert connection.exec_driver_sql("PRAGMA journal_mode").scalar_one() == "wal"
        assert connection.exec_driver_sql("PRAGMA foreign_keys").scalar_one() == 1
        assert connection.exec_driver_sql("PRAGMA synchronous").scalar_one() == 2
    engine.dispose()
