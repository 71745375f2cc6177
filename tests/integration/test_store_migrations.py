"""The migrations lead to exactly the tables that the code knows, keep what is stored, and going back leaves nothing."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest
from alembic import command
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from sqlalchemy import Engine, inspect, text
from sqlalchemy.exc import IntegrityError

from service.contracts.plans import PlanWanted
from service.store import migrate
from service.store.engine import open_engine
from service.store.migrate import upgrade_store
from service.store.tables import metadata
from service.store.unit_of_work import SqlTransaction
from tests.servers import own_schema, postgres

SHEETS = {"path": "sheets", "problem": "not drawn", "fix": "plan again"}
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
    upgrade_store(engine)
    upgrade_store(engine)  # a second time does nothing
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
    upgrade_store(engine)
    with engine.connect() as connection:
        job = SqlTransaction(connection).jobs.newest(9, "plan")[0]
    assert (job.id, job.answer) == ("old", None)
    assert isinstance(job.wanted, PlanWanted)
    assert job.wanted.orders[0].id == "a"


def test_old_events_are_told_of_the_plan_that_was_on_the_floor_then(engine: Engine) -> None:
    upgrade_store(engine)
    go(engine, command.downgrade, "0002")
    days = {"p1": "2031-05-05", "p2": "2031-05-07"}
    with engine.execution_options(sawbill_writes=True).begin() as connection:
        for plan, day in days.items():
            values = {"plan": plan, "at": f"{day}T12:00:00.000+00:00", "late": f"{day}T13:00:00.000+00:00", "id": f"e-{plan}"}
            for line in (
                "INSERT INTO plans (id, made_at, manifest) VALUES (:plan, :at, '{}')",
                "INSERT INTO releases (plan, released_at) VALUES (:plan, :at)",
                "INSERT INTO bars (plan, id, machine, position, keep_drop, body) VALUES (:plan, 'b#1', 'm', 1, true, '{}')",
                "INSERT INTO cuts (plan, bar, n, piece, body) VALUES (:plan, 'b#1', 1, :plan, '{}')",
                "INSERT INTO events (id, kind, at, received_at, station, subject)"
                " VALUES (:id, 'drop_put_away', :at, :late, 'saw', 'b#1')",
            ):
                connection.execute(text(line), values)
    upgrade_store(engine)
    with engine.connect() as connection:
        told = SqlTransaction(connection).events
        assert dict(connection.execute(text("SELECT id, plan FROM events")).all()) == {"e-p1": "P1", "e-p2": "P2"}
        for plan in days:
            standing = told.last_events_in_force(["b#1"], ["drop_put_away"], bars_of=plan.upper())
            assert [event.id for event in standing.values()] == [f"e-{plan}"]


def test_plans_found_under_their_jobs_get_names_of_their_own_and_give_them_back(engine: Engine) -> None:
    """A plan and a choice of a replan, made when a job was made up for each choice."""
    go(engine, command.upgrade, "0005")
    orders = [{"id": "a", "revision": 2}]
    first = {"orders": orders, "seconds": 5, "seed": 1, "epoch": "2031-05-05T12:00Z"}
    asked = {"of": "j1", "plan": "c0ffee", "orders": orders, "happened": {}, "seconds": 9, "seed": 1, "now_s": 0}
    answer = {"proved": True, "choices": [{"name": "calm", "id": "j3", "plan": "f00d", "moved": 0}], "operations": 1}
    rows: list[dict[str, Any]] = [
        {"id": "j1", "kind": "plan", "wanted": first, "plan": "c0ffee", "answer": None, "faults": [SHEETS]},
        {"id": "j2", "kind": "replan", "wanted": {**asked, "firm_until_s": 0}, "plan": None, "answer": answer, "faults": []},
        {
            "id": "j3",
            "kind": "plan",
            "wanted": {**first, "predecessor": "c0ffee"},
            "plan": "f00d",
            "answer": None,
            "faults": [],
        },
    ]
    manifests = {"c0ffee": ("", None), "f00d": ("1", "c0ffee")}  # of the two forms in which they are stored
    with engine.execution_options(sawbill_writes=True).begin() as connection:
        for n, row in enumerate(rows):
            values = {
                **row, "wanted": json.dumps(row["wanted"]), "answer": row["answer"] and json.dumps(row["answer"]),
                "faults": json.dumps(row["faults"]), "at": f"2031-05-0{n + 1}T12:00:00.000+00:00",
            }  # fmt: skip
            connection.execute(
                text(
                    "INSERT INTO jobs (id, kind, status, wanted, doing, fraction, asked_at, lease_ms, sent_ms, deaths,"
                    " cancel_asked, plan, answer, faults)"
                    " VALUES (:id, :kind, 'done', :wanted, 'done', 1, :at, 0, 0, 0, false, :plan, :answer, :faults)"
                ),
                values,
            )
        for n, (plan, (form, before)) in enumerate(manifests.items()):
            body = form + json.dumps({"id": plan, "orders": orders, "epoch": "2031-05-05T12:00Z", "predecessor": before})
            values = {"plan": plan, "body": body, "at": f"2031-05-0{n + 1}T12:00:00.000+00:00"}
            for line in (
                "INSERT INTO plans (id, made_at, manifest) VALUES (:plan, :at, :body)",
                "INSERT INTO releases (plan, released_at) VALUES (:plan, :at)",
                "INSERT INTO bars (plan, id, machine, position, keep_drop, body) VALUES (:plan, 'b#1', 'm', 1, true, '{}')",
                "INSERT INTO cuts (plan, bar, n, piece, body) VALUES (:plan, 'b#1', 1, 'a/1', '{}')",
                "INSERT INTO bundles (plan, id, position, serial, body) VALUES (:plan, 'a/B1', 0, '', '{}')",
                "INSERT INTO bundle_pieces (plan, bundle, place, piece) VALUES (:plan, 'a/B1', 1, 'a/1')",
                "INSERT INTO events (id, kind, at, received_at, station, subject, plan)"
                " VALUES (:plan, 'cut', :at, :at, 'saw', 'a/1', :plan)",
            ):
                connection.execute(text(line), values)
    upgrade_store(engine)
    with engine.execution_options(sawbill_writes=True).begin() as connection:
        tx = SqlTransaction(connection)
        plans = {plan.id: plan for plan in tx.plans.newest(9)}
        assert [(plan.id, plan.job, plan.released) for plan in plans.values()] == [("P2", "j2", True), ("P1", "j1", False)]
        assert {(order.id, order.revision) for plan in plans.values() for order in plan.orders} == {("a", 2)}
        for table in ("bars", "cuts", "bundles", "bundle_pieces", "events", "releases"):
            assert connection.execute(text(f"SELECT plan FROM {table} ORDER BY plan")).scalars().all() == ["P1", "P2"], table
        told = {row.id: row for row in connection.execute(text("SELECT id, plan, wanted, answer FROM jobs"))}
        assert (told["j1"].plan, told["j3"].plan) == ("P1", "P2")  # what was kept of their addresses leads there
        assert json.loads(told["j2"].answer)["choices"] == [{"name": "calm", "plan": "P2", "moved": 0}]
        assert "of" not in json.loads(told["j2"].wanted) and json.loads(told["j2"].wanted)["plan"] == "P1"
        assert json.loads(told["j3"].wanted)["predecessor"] == "P1"
        stored = connection.execute(text("SELECT manifest FROM plans WHERE id = 'P2'")).scalar_one()
        assert (stored[0], json.loads(stored[1:])["predecessor"], json.loads(stored[1:])["id"]) == ("1", "P1", "P2")
        assert tx.plans.new_id() == "P3"
        connection.execute(text("DELETE FROM jobs WHERE id = 'j3'"))  # as of a choice that was made since
    assert engine.dialect.name != "postgresql" or _keys_hold(engine)
    go(engine, command.downgrade, "0005")
    with engine.connect() as connection:
        made_up: dict[str, str] = dict(connection.execute(text("SELECT plan, id FROM jobs WHERE plan IS NOT NULL")).all())
        back = connection.execute(text("SELECT wanted, answer FROM jobs WHERE id = 'j2'")).one()
    assert made_up == {"P1": "j1", "P2": f"{2:032x}"}
    assert json.loads(back.wanted)["of"] == "j1" and json.loads(back.answer)["choices"][0]["id"] == made_up["P2"]


def _keys_hold(engine: Engine) -> bool:
    """Whether a bar of a plan that there is not is refused: the keys that were taken away meanwhile are there again."""
    line = "INSERT INTO bars (plan, id, machine, position, keep_drop, body) VALUES ('P9', 'b', 'm', 1, true, '{}')"
    try:
        with engine.begin() as connection:
            connection.execute(text(line))
    except IntegrityError:
        return True
    return False


def test_going_back_step_by_step_keeps_the_plans_and_leaves_nothing_in_the_end(engine: Engine) -> None:
    upgrade_store(engine)
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
