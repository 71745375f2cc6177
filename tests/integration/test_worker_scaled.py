"""The scaled mode, by settings alone, on real servers: the store on PostgreSQL, Celery with Redis for the work."""

from __future__ import annotations

import base64
import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import psutil  # ships no types
import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from fastapi.testclient import TestClient

from service.app import make_app
from service.settings import Settings
from service.store.migrate import upgrade_store
from service.store.tables import metadata
from service.store.unit_of_work import SqlStore
from tests.servers import own_schema, postgres, redis
from tests.service_fakes import HOLD, order_document
from worker.serve import upgrade_store_to_newest
from worker.sweep import sweep_once
from worker.wiring import open_queue


@pytest.fixture(scope="module")
def servers(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[str, str]]:
    with postgres(tmp_path_factory.mktemp("database")) as database, redis(tmp_path_factory.mktemp("broker")) as broker:
        yield database, broker


class Scaled:
    """The web side over real servers, and workers to start and kill."""

    def __init__(self, settings: Settings) -> None:
        self.settings = settings
        upgrade_store_to_newest(settings)
        self.store = SqlStore(settings.database_url)
        self.web = TestClient(make_app(settings), base_url="http://localhost")
        self.workers: list[subprocess.Popen[bytes]] = []

    def start_worker(self, application: str) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", "celery", "-A", application, "worker", "--concurrency", "1", "--loglevel", "WARNING"]
        command += ["--without-gossip", "--without-mingle", "--without-heartbeat"]
        made = subprocess.Popen(command, env={**os.environ, **self.settings.environment()}, start_new_session=True)
        self.workers.append(made)
        return made

    def until(self, true: Callable[[], bool], seconds: float = 60) -> None:
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            if true():
                return
            time.sleep(0.1)
        raise AssertionError("it did not come true in time")

    def state(self, name: str) -> Any:
        return self.web.get(f"/api/jobs/{name}").json()

    def sweep(self) -> tuple[str, ...]:
        return sweep_once(store=self.store, queue=open_queue(self.settings), settings=self.settings)

    def close(self) -> None:
        for worker in self.workers:
            kill_all(worker)
        self.store.close()


def kill_all(worker: subprocess.Popen[bytes]) -> None:
    """`kill -9` of a worker and all its children."""
    if worker.poll() is None:
        children = psutil.Process(worker.pid).children(recursive=True)
        os.kill(worker.pid, signal.SIGKILL)
        for child in children:
            child.kill()
    worker.wait()


@pytest.fixture
def scaled(servers: tuple[str, str], tmp_path: Path) -> Iterator[Scaled]:
    database, broker = servers
    with ExitStack() as stack:
        schema = stack.enter_context(own_schema(database))
        settings = Settings(data_dir=str(tmp_path), database=schema, broker=broker, lease_seconds=2.0, resend_seconds=1.0)
        made = Scaled(settings)
        with made.web:
            yield made
        made.close()


def test_the_migrations_give_the_tables_of_the_code_on_postgresql(servers: tuple[str, str]) -> None:
    with own_schema(servers[0]) as schema:
        store = SqlStore(schema)
        start = threading.Barrier(3)

        def together() -> None:
            start.wait()
            upgrade_store(store.engine)

        threads = [threading.Thread(target=together) for _ in range(3)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        with store.engine.connect() as connection:
            assert compare_metadata(MigrationContext.configure(connection), metadata) == []
        store.close()


def test_a_plan_is_made_by_a_celery_worker_with_the_real_stages_and_goes_to_the_floor(scaled: Scaled) -> None:
    scaled.start_worker("worker.app")
    assert scaled.web.post("/api/orders", json=order_document()).status_code == 201
    assert scaled.web.post("/api/orders", json={"id": 5}).status_code == 422
    name = scaled.web.post("/api/plans", json={"epoch": "2031-04-21T06:00:00-06:00", "seconds": 8}).json()["job"]
    scaled.until(lambda: scaled.state(name)["status"] not in ("waiting", "working"), 120)
    assert scaled.state(name)["status"] == "done", scaled.state(name)
    plan = scaled.state(name)["plan"]
    released = scaled.web.post(f"/api/plans/{plan}/release").json()
    assert released["bars"] == len(scaled.web.get("/api/cut-queue", params={"limit": 500}).json()["bars"]) > 0
    boxed = scaled.web.get("/api/bundles").json()["bundles"]  # the first is the start box: hardware, no pieces
    piece = next(bundle["pieces"][0]["piece"] for bundle in boxed if bundle["pieces"])
    event = {"id": "e1", "kind": "cut", "at": "2031-05-05T07:42:00-06:00", "station": "saw", "subject": piece}
    assert [scaled.web.post("/api/events", json=event).json()["new"] for _ in range(2)] == [True, False]
    documents = scaled.web.get(f"/api/plans/{plan}/documents").json()["documents"]
    assert any(item["name"].endswith(".pdf") and item["bytes"] > 1000 for item in documents)


def test_a_worker_killed_at_work_loses_no_plan(scaled: Scaled) -> None:
    """Late acknowledgement alone is not enough: the message of a killed worker hides for the broker's visibility timeout."""
    first = scaled.start_worker("tests.slow_celery")
    scaled.web.post("/api/orders", json=order_document())
    name = scaled.web.post("/api/plans", json={}).json()["job"]
    scaled.until(lambda: scaled.state(name)["doing"] == "nesting")
    kill_all(first)
    scaled.start_worker("tests.slow_celery")

    def done() -> bool:
        scaled.sweep()
        return bool(scaled.state(name)["status"] == "done")

    scaled.until(done, 60)
    with scaled.store.reading() as tx:
        assert tx.jobs.get(name).deaths == 1


def test_a_worker_that_is_told_to_end_gives_its_plan_back_and_no_death_is_counted(scaled: Scaled) -> None:
    """Issue 12, 29: an ordinary restart; three of them gave a plan up."""
    first = scaled.start_worker("tests.slow_celery")
    scaled.web.post("/api/orders", json=order_document())
    name = scaled.web.post("/api/plans", json={}).json()["job"]
    scaled.until(lambda: scaled.state(name)["doing"] == "nesting")
    first.terminate()
    scaled.until(lambda: scaled.state(name)["status"] == "waiting")
    first.wait(60)
    scaled.start_worker("tests.slow_celery")

    def done() -> bool:
        scaled.sweep()
        return bool(scaled.state(name)["status"] == "done")

    scaled.until(done, 60)
    with scaled.store.reading() as tx:
        assert tx.jobs.get(name).deaths == 0


def test_a_plan_with_a_celery_worker_is_kept_as_it_is_once_that_is_asked(
    scaled: Scaled, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    hold = tmp_path / "hold"
    hold.touch()
    monkeypatch.setenv(HOLD, str(hold))  # it searches until it is told to end
    scaled.start_worker("tests.slow_celery")
    scaled.web.post("/api/orders", json=order_document())
    name = scaled.web.post("/api/plans", json={"seconds": 600}).json()["job"]
    scaled.until(lambda: "making" in scaled.state(name))
    assert scaled.state(name)["making"]["searching"]
    assert scaled.web.post(f"/api/jobs/{name}/keep").status_code == 202
    scaled.until(lambda: scaled.state(name)["status"] == "done")
    assert scaled.web.get(f"/api/plans/{scaled.state(name)['plan']}").json()["proofs"]
    assert scaled.web.post(f"/api/jobs/{name}/keep").status_code == 422


def test_an_order_and_a_plan_are_accepted_while_the_broker_is_away_and_sent_later(scaled: Scaled) -> None:
    away = Scaled(Settings(**{**_fields(scaled.settings), "broker": "redis://127.0.0.1:1/0"}))
    with away.web:
        away.web.post("/api/orders", json=order_document())
        told = away.web.post("/api/plans", json={})
    away.close()
    assert told.status_code == 202
    name = told.json()["job"]
    scaled.until(lambda: name in scaled.sweep(), 5)


def test_a_message_that_comes_twice_makes_one_plan(scaled: Scaled) -> None:
    scaled.web.post("/api/orders", json=order_document())
    name = scaled.web.post("/api/plans", json={}).json()["job"]
    queue = open_queue(scaled.settings)
    queue.send(name)
    queue.send(name)
    scaled.start_worker("tests.slow_celery")
    scaled.until(lambda: scaled.state(name)["status"] == "done")
    time.sleep(1)
    with scaled.store.reading() as tx:
        job = tx.jobs.get(name)
    assert (job.status, job.deaths) == ("done", 0)


def _fields(settings: Settings) -> dict[str, Any]:
    return {name: getattr(settings, name) for name in settings.__dataclass_fields__}


def test_the_message_is_the_jobs_id_and_nothing_else(servers: tuple[str, str]) -> None:
    import redis as client

    broker = client.Redis.from_url(servers[1])
    broker.delete("celery")
    open_queue(Settings(broker=servers[1])).send("0123456789abcdef")
    sent: Any = broker.lpop("celery")
    raw = json.loads(sent)
    broker.close()
    body = json.loads(base64.b64decode(raw["body"]))
    assert body[:2] == [["0123456789abcdef"], {}]
    assert raw["headers"]["task"] == "make_plan"
