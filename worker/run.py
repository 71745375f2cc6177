"""Run one job: hold its lease, make the plan, end it. The same code under the runner and under Celery."""

from __future__ import annotations

import time

import structlog

from service.contracts.faults import told
from service.errors import LostLease, NotFound
from service.ports import Store
from service.settings import Settings
from service.usecases.make.plan import Pipeline, Printer, make_plan_of
from solver.domain.plant import Plant
from solver.search import Search
from worker.lease import Lease

log = structlog.get_logger()


def claim(job_id: str, token: str, *, store: Store, settings: Settings) -> bool:
    """Take a job over; false when another has it or it has ended."""
    with store.writing() as tx:
        return tx.jobs.claim(job_id, token, lease_s=settings.lease_seconds, deaths_most=settings.deaths_most)


def run_job(
    job_id: str, token: str, *, store: Store, settings: Settings, plant: Plant, pipeline: Pipeline, printer: Printer
) -> None:
    """Do a job that was claimed with `token`. A fault of ours ends it as failed, told as a fault, never silently."""
    with store.reading() as tx:
        job = tx.jobs.get(job_id)
    with Lease(job_id, token, lease_s=settings.lease_seconds, store=store) as lease:
        end = time.monotonic() + job.wanted.seconds
        search = Search(
            seed=job.wanted.seed,
            workers=settings.solver_workers,
            left_s=lambda: end - time.monotonic(),
            stop=lease.stop,
            tell=lease.tell,
        )
        try:
            make_plan_of(job, token, plant, search, store=store, pipeline=pipeline, printer=printer)
        except (LostLease, NotFound) as error:
            log.warning("job given up", job=job_id, error=repr(error))
        except Exception as error:
            log.exception("job failed", job=job_id)
            _fail(job_id, token, error, store=store)


def _fail(job_id: str, token: str, error: Exception, *, store: Store) -> None:
    fault = told("job", f"{type(error).__name__}: {error}".replace("\n", " "), "tell whoever looks after the service")
    try:
        with store.writing() as tx:
            tx.jobs.end(job_id, token, "failed", doing="failed", faults=[fault])
    except LostLease:
        log.warning("failed job was taken over", job=job_id)
