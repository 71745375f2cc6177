"""A job that came by a broker's message: claim it and do it, in this worker process."""

from __future__ import annotations

import multiprocessing
from functools import cache
from uuid import uuid4

from celery.signals import worker_shutting_down

from service.settings import Settings, read_settings
from service.store.unit_of_work import SqlStore
from solver.domain.plant import Plant
from worker import wiring
from worker.claimed_job import claim_job, run_job
from worker.log import set_up_logging

STOPPING = multiprocessing.Event()  # made before the fork: the worker tells its processes that it was asked to end


@worker_shutting_down.connect  # type: ignore[untyped-decorator]  # Celery ships no types
def _stop(**_: object) -> None:
    STOPPING.set()


@cache
def _ready() -> tuple[Settings, SqlStore, Plant]:
    """Opened once in each worker process, after the fork."""
    settings = read_settings()
    set_up_logging(settings)
    return settings, wiring.open_store(settings), wiring.plant_of_settings(settings)


def do_job(job_id: str) -> None:
    """Do a job, if it is still free: a message that came twice finds it taken or ended, and that is all."""
    settings, store, plant = _ready()
    token = uuid4().hex
    if claim_job(job_id, token, store=store, settings=settings):
        run_job(
            job_id,
            token,
            store=store,
            settings=settings,
            plant=plant,
            pipeline=wiring.load_pipeline(),
            printer=wiring.sheet_printer(settings),
            stopping=STOPPING.is_set,
        )
