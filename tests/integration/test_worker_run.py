"""What is no fault of a plan is tried again; only a fault of the plan ends it."""

from __future__ import annotations

import errno
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy.exc import IntegrityError, OperationalError

from service.catalog import read_plant
from service.contracts.plans import Job, PlanAsked
from service.queue import TableQueue
from service.settings import Settings
from service.store.unit_of_work import SqlStore
from service.usecases.ask.orders import store_order
from service.usecases.ask.plans import ask_plan
from tests.service_fakes import fake_plan, one_sheet, order_document, slow_plan
from worker import claimed_job
from worker.claimed_job import claim_job, run_job
from worker.serve import upgrade_store_to_newest

PLANT = read_plant(None)
SQL = "INSERT INTO parts (digest) VALUES ('secret')"


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    made = Settings(data_dir=str(tmp_path), retry_seconds=0.0)
    upgrade_store_to_newest(made)
    return made


def fails_with(error: Exception) -> Callable[..., Any]:
    def pipeline(*_: object, **__: object) -> Any:
        raise error

    return pipeline


def done(settings: Settings, pipeline: Callable[..., Any], **more: Any) -> Job:
    """Ask for a plan, do its job once and return it."""
    store = SqlStore(settings.database_url)
    store_order(order_document(), PLANT, store=store)
    asked = PlanAsked(epoch="2031-05-05T06:00:00-06:00")
    job = ask_plan(asked, plant=PLANT, store=store, queue=TableQueue(), settings=settings).job
    assert claim_job(job, "t", store=store, settings=settings)
    run_job(job, "t", store=store, settings=settings, plant=PLANT, pipeline=pipeline, printer=one_sheet, **more)
    with store.reading() as tx:
        ended = tx.jobs.get(job)
        assert (job in tx.jobs.claimable(5)) == (ended.status == "waiting")
    store.close()
    return ended


@pytest.mark.parametrize(
    "error",
    [
        OperationalError(SQL, {}, Exception("server closed the connection unexpectedly")),
        OSError(errno.ENOSPC, "No space left on device"),
        ConnectionResetError("by peer"),
    ],
)
def test_a_moment_without_the_store_or_room_puts_the_plan_back(settings: Settings, error: Exception) -> None:
    job = done(settings, fails_with(error))
    assert (job.status, job.deaths, job.faults) == ("waiting", 0, ())


@pytest.mark.parametrize("error", [IntegrityError(SQL, {}, Exception("duplicate key")), ValueError(SQL)])
def test_a_fault_of_ours_ends_the_plan_and_shows_nobody_its_sql(settings: Settings, error: Exception) -> None:
    job = done(settings, fails_with(error))
    assert job.status == "failed"
    assert SQL not in str(job.faults)
    assert type(error).__name__ in job.faults[0].problem


def test_a_store_that_is_away_when_the_plan_ends_is_waited_for(settings: Settings, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(claimed_job, "WAITS_S", (0.0,) * 5)
    real, tries = SqlStore.writing, []

    def writing(store: SqlStore) -> Any:
        if threading.current_thread() is threading.main_thread():
            tries.append(1)
            if 4 <= len(tries) <= 6:  # after the order, the question and the claim: storing, and twice putting back
                raise OperationalError(SQL, {}, Exception("away"))
        return real(store)

    monkeypatch.setattr(SqlStore, "writing", writing)
    job = done(settings, fake_plan)
    assert (job.status, job.deaths, len(tries)) == ("waiting", 0, 7)


def test_a_worker_that_is_told_to_end_gives_its_plan_back(settings: Settings) -> None:
    """As Celery's processes hear from their worker: no death is counted, and another begins it at once."""
    job = done(settings, slow_plan, stopping=lambda: True)
    assert (job.status, job.deaths, job.plan) == ("waiting", 0, None)
