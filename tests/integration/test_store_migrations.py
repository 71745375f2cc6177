"""The migrations lead to exactly the tables that the code knows, keep what is stored, and going back leaves nothing."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from sqlalchemy import Engine, inspect, text

from service.contracts.plans import PlanWanted
from service.store import migrate
from service.store.engine import open_engine
from service.store.migrate import upgrade
from service.store.tables import metadata
from service.store.unit_of_work import SqlTransaction
from tests.servers import own_schema, postgres

OLD_JOB = {
    "id": "old",
    "status": "waiting",
    "wanted": json.dumps({"orders": [{"id": "a", "revision": 1}], "seconds": 5, "seed": 1, "epoch": "2031-05-05T12:00Z"}),
    "asked_at": "2031-05-05T12:00:00.000+00:00",
}


@pytest.fixture(scope="module")
def database(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with postgres(tmp_path_factory.mktemp("server")) as url:
        yield url


@pytest.fixture(params=["sqlite", "postgres"])
def engine(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Engine]:
    with ExitStack() as stack:
        url = f"sqlite:///{tmp_path / 'fresh.db'}"
        if request.param == "postgres":
            url = stack.enter_context(own_schema(request.getfixturevalue("database")))
        made = open_engine(url)
        yield made
        made.dispose()


def go(engine: Engine, way: Callable[[Config, str], None], revision: str) -> None:
    settings = Config()
    settings.set_main_option("script_location", str(Path(migrate.__file__).parent / "migrations"))
    with engine.execution_options(sawbill_writes=True).begin() as connection:
        settings.attributes["connection"] = connection
        way(settings, revision)


def test_the_newest_migration_gives_the_tables_of_the_code(engine: Engine) -> None:
    upgrade(engine)
    upgrade(engine)  # a second time does nothing
    with engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), metadata) == []
        assert set(inspect(connection).get_table_names()) == {*metadata.tables, "alembic_version"}


def test_what_was_asked_for_before_there_were_kinds_is_plans(engine: Engine) -> None:
    go(engine, command.upgrade, "0001")
    with engine.execution_options(sawbill_writes=True).begin() as connection:
        connection.execute(
            text(
                "INSERT INTO jobs (id, status, wanted, doing, fraction, asked_at, lease_ms, sent_ms, deaths, cancel_asked,"
                " faults) VALUES (:id, :status, :wanted, 'waiting', 0, :asked_at, 0, 0, 0, false, '[]')"
            ),
            OLD_JOB,
        )
    upgrade(engine)
    with engine.connect() as connection:
        job = SqlTransaction(connection).jobs.newest(9, "plan")[0]
    assert (job.id, job.answer) == ("old", None)
    assert isinstance(job.wanted, PlanWanted)
    assert job.wanted.orders[0].id == "a"


def test_going_back_step_by_step_keeps_the_plans_and_leaves_nothing_in_the_end(engine: Engine) -> None:
    upgrade(engine)
    go(engine, command.downgrade, "0001")
    with engine.connect() as connection:
        assert not {"kind", "answer"} & {column["name"] for column in inspect(connection).get_columns("jobs")}
    go(engine, command.downgrade, "base")
    with engine.connect() as connection:
        assert set(inspect(connection).get_table_names()) == {"alembic_version"}


def test_sqlite_is_opened_in_write_ahead_mode_with_foreign_keys(tmp_path: Path) -> None:
    engine = open_engine(f"sqlite:///{tmp_path / 'fresh.db'}")
    with engine.connect() as connection:
        assert connection.exec_driver_sql("PRAGMA journal_mode").scalar_one() == "wal"
        assert connection.exec_driver_sql("PRAGMA foreign_keys").scalar_one() == 1
        assert connection.exec_driver_sql("PRAGMA synchronous").scalar_one() == 2
    engine.dispose()
