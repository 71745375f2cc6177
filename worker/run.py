"""Run one job: hold its lease, make what it asks for, end it. The same code under the runner and under Celery."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass

import structlog

from service.contracts.faults import told
from service.contracts.plans import Job, JobKind
from service.errors import LostLease, NotFound
from service.ports import Store
from service.settings import Settings
from service.usecases.make.plan import Pipeline, Printer, make_plan_of
from solver.domain.plant import Plant
from solver.search import Search
from worker.lease import Lease
from worker.wiring import times_printer

log = structlog.get_logger()


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """A job that is ours, how hard to search, and what it is made with."""

    job: Job
    token: str
    search: Search
    store: Store
    plant: Plant
    pipeline: Pipeline
    printer: Printer
    times: Printer  # draws what quotes the timetable


def _plan(work: Work) -> None:
    make_plan_of(work.job, work.token, work.plant, work.search, store=work.store, pipeline=work.pipeline, printer=work.printer)


def _promise(work: Work) -> None:
    from service.usecases.make.promising import make_promise_of  # here: who only makes plans need not wait for it

    make_promise_of(work.job, work.token, work.search, store=work.store)


def _replan(work: Work) -> None:
    from service.usecases.make.replanning import make_replan_of  # here, as above

    make_replan_of(work.job, work.token, work.search, store=work.store, printer=work.times)


MAKES: dict[JobKind, Callable[[Work], None]] = {"plan": _plan, "promise": _promise, "replan": _replan}


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
        times = times_printer(settings)
        work = Work(
            job=job, token=token, search=search, store=store, plant=plant, pipeline=pipeline, printer=printer, times=times
        )
        try:
            MAKES[job.wanted.KIND](work)
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
