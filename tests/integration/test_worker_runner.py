"""The runner: stops are no deaths, what gets on is not killed, no job is started twice; and the supervisor over all."""

from __future__ import annotations

import socket
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlalchemy import update

from service.contracts.plans import OrderAt, PlanWanted
from service.settings import Settings
from service.store.tables import jobs
from service.store.unit_of_work import SqlStore
from worker import serve
from worker.runner import Runner
from worker.serve import KeptProcess, supervise, upgrade_store_to_newest

WANTED = PlanWanted(orders=(OrderAt(id="a", revision=1),), seconds=5, seed=1, epoch="2031-05-05T06:00:00-06:00")
SLEEPS = [sys.executable, "-c", "import time; time.sleep(600)"]


@pytest.fixture
def store(tmp_path: Path) -> Iterator[SqlStore]:
    settings = Settings(data_dir=str(tmp_path))
    upgrade_store_to_newest(settings)
    made = SqlStore(settings.database_url)
    with made.writing() as tx:
        tx.jobs.add("j1", WANTED)
    yield made
    made.close()


def runner_of(store: SqlStore) -> Runner:
    return Runner(Settings(lease_seconds=100), store=store, command=SLEEPS)


def stop(runner: Runner) -> None:
    told = threading.Event()
    told.set()
    runner.run(told)


def test_five_restarts_in_a_row_give_no_plan_up(store: SqlStore) -> None:
    """Issue 12, 29: after three it was given up as "died 3 times"."""
    for _ in range(5):
        runner = runner_of(store)
        runner.step()
        with store.reading() as tx:
            assert tx.jobs.get("j1").status == "working"
        stop(runner)
        with store.reading() as tx:
            job = tx.jobs.get("j1")
        assert (job.status, job.deaths) == ("waiting", 0)


def test_a_job_whose_sheets_take_longer_than_its_search_goes_on_while_it_gets_on(store: SqlStore) -> None:
    """Issue 12, 30: 200 small orders were accepted, then killed at search + 120 s, and begun again from zero."""
    runner = runner_of(store)
    runner.step()
    (child,) = runner._children
    for n in range(3):
        child.kill_at = time.monotonic() - 1  # search and overtime are over
        with store.writing() as tx:
            tx.jobs.renew("j1", child.token, lease_s=100, doing=f"sheets, {n}", fraction=0.96)
        runner.step()
        assert child.process.poll() is None
    child.kill_at = time.monotonic() - 1
    runner.step()  # nothing new was told since
    assert child.process.wait(60) != 0
    stop(runner)


def test_a_job_of_our_own_whose_lease_ran_out_while_the_store_was_away_is_not_started_twice(store: SqlStore) -> None:
    runner = runner_of(store)
    runner.step()
    with store.engine.begin() as connection:
        connection.execute(update(jobs).values(lease_ms=jobs.c.lease_ms - 1_000_000))
    runner._settings = Settings(lease_seconds=100, jobs_at_once=2)
    runner.step()
    assert len(runner._children) == 1
    with store.reading() as tx:
        assert tx.jobs.get("j1").deaths == 0
    stop(runner)


def test_a_web_process_that_listens_but_answers_nothing_is_replaced(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Issue 12, 26: one body stopped every page for minutes, and nobody noticed."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    deaf = (
        "import socket, time; s = socket.socket(); s.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1); "
        f"s.bind(('127.0.0.1', {port})); s.listen(); time.sleep(600)"
    )
    started: list[int] = []
    enough = threading.Event()
    real = serve._look

    def look(one: KeptProcess, settings: Settings) -> None:
        real(one, settings)
        if one.process is not None and one.process.pid not in started:
            started.append(one.process.pid)
            if len(started) == 3:
                enough.set()

    monkeypatch.setattr(serve, "_look", look)
    settings = Settings(data_dir=str(tmp_path), port=port, web_silent_seconds=0.5)
    supervise(settings, enough, {"web": [sys.executable, "-c", deaf]})
    assert len(set(started)) == 3


def test_a_web_process_that_answers_is_left_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[str] = []
    one = KeptProcess("web", [sys.executable, "-c", "import time; time.sleep(600)"])
    settings = Settings(data_dir=str(tmp_path), web_silent_seconds=0.01)
    serve._look(one, settings)
    first = one.process

    def answers(_settings: Settings, *, within_s: float) -> bool:
        asked.append(f"within {within_s}")
        return True

    monkeypatch.setattr(serve, "_answers", answers)
    for _ in range(5):
        time.sleep(0.02)
        serve._listen(one, settings)
        serve._look(one, settings)
    assert asked
    assert first is not None
    assert one.process is first
    assert first.poll() is None
    serve._end([one])
