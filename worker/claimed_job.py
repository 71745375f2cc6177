"""Run one job: hold its lease, make what it asks for, end it. The same code under the runner and under Celery."""

from __future__ import annotations

import errno
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import structlog
from sqlalchemy.exc import DBAPIError, InterfaceError, OperationalError
from sqlalchemy.exc import TimeoutError as PoolTimeoutError

from service.contracts.faults import to_fault
from service.contracts.plans import Job, JobKind
from service.errors import LostLease, NotFound
from service.ports import Store
from service.settings import Settings
from service.usecases.make.plan import Pipeline, Printer, Watch, make_plan_of
from solver.domain.plant import Plant
from solver.errors import Defect
from solver.search import Search
from worker.lease import Lease
from worker.wiring import timetable_printer

log = structlog.get_logger()
PASSING = {errno.ENOSPC, errno.EDQUOT, errno.EMFILE, errno.ENFILE, errno.EIO, errno.EAGAIN, errno.ENOMEM}
WAITS_S = (*(0.5,) * 20, *(5.0,) * 100)  # between tries to write to a store that is away


@dataclass(frozen=True, slots=True, kw_only=True)
class ClaimedJob:
    """A job that is ours, how hard to search, and what it is made with."""

    job: Job
    token: str
    search: Search
    store: Store
    plant: Plant
    pipeline: Pipeline
    printer: Printer
    times: Printer  # draws what quotes the timetable
    watch: Watch  # told how to ask how far it is


def _plan(work: ClaimedJob) -> None:
    make_plan_of(
        work.job,
        work.token,
        work.plant,
        work.search,
        store=work.store,
        pipeline=work.pipeline,
        printer=work.printer,
        watch=work.watch,
    )


def _promise(work: ClaimedJob) -> None:
    from service.usecases.make.promising import make_promise_of  # here: who only makes plans need not wait for it

    make_promise_of(work.job, work.token, work.search, store=work.store)


def _replan(work: ClaimedJob) -> None:
    from service.usecases.make.replanning import make_replan_of  # here, as above

    make_replan_of(work.job, work.token, work.search, store=work.store, printer=work.times)


MAKES: dict[JobKind, Callable[[ClaimedJob], None]] = {"plan": _plan, "promise": _promise, "replan": _replan}


def claim_job(job_id: str, token: str, *, store: Store, settings: Settings) -> bool:
    """Take a job over; false when another has it or it has ended."""
    with store.writing() as tx:
        return tx.jobs.claim(job_id, token, lease_s=settings.lease_seconds, deaths_most=settings.deaths_most)


def run_job(
    job_id: str,
    token: str,
    *,
    store: Store,
    settings: Settings,
    plant: Plant,
    pipeline: Pipeline,
    printer: Printer,
    stopping: Callable[[], bool] = lambda: False,
) -> None:
    """Do a job that was claimed with `token`.

    What is no fault of the plan (the store is away, the disk is full) puts it back, to be tried again after a pause.
    Any other fault of ours ends it as failed, told as a fault, never silently.
    """
    try:
        _run(job_id, token, store, settings, plant, pipeline, printer, stopping)
    except (LostLease, NotFound) as error:
        log.warning("job given up", job=job_id, error=repr(error))
    except Exception as error:
        if is_transient(error):
            log.warning("job could not be done now", job=job_id, error=repr(error)[:500])
            _until_stored(partial(_put_back, job_id, token, store, settings.retry_seconds))
            return
        log.exception("job failed", job=job_id)
        _until_stored(partial(_fail, job_id, token, error, store=store))


def _run(
    job_id: str,
    token: str,
    store: Store,
    settings: Settings,
    plant: Plant,
    pipeline: Pipeline,
    printer: Printer,
    stopping: Callable[[], bool],
) -> None:
    with store.reading() as tx:
        job = tx.jobs.get(job_id)
    with Lease(job_id, token, lease_s=settings.lease_seconds, store=store, stopping=stopping) as lease:
        end = time.monotonic() + job.wanted.seconds
        search = Search(
            seed=job.wanted.seed,
            workers=settings.solver_workers,
            left_s=lambda: 0.0 if lease.keep() else end - time.monotonic(),
            stop=lease.stop,
            tell=lease.tell,
        )
        times = timetable_printer(settings)
        work = ClaimedJob(
            job=job,
            token=token,
            search=search,
            store=store,
            plant=plant,
            pipeline=pipeline,
            printer=printer,
            times=times,
            watch=lease.watch,
        )
        MAKES[job.wanted.KIND](work)


def is_transient(error: Exception) -> bool:
    """Return whether a fault is one of the place and the moment, not of what was asked for."""
    if isinstance(error, DBAPIError):
        return error.connection_invalidated or isinstance(error, OperationalError | InterfaceError)
    return isinstance(error, PoolTimeoutError | ConnectionError) or (isinstance(error, OSError) and error.errno in PASSING)


def _until_stored(write: Callable[[], None]) -> None:
    """Write to a store that may be away for a while; the lease is kept by nobody meanwhile, so another may be faster."""
    for pause_s in WAITS_S:
        try:
            write()
        except OperationalError as error:
            log.warning("the store does not answer", error=str(error)[:200])
            time.sleep(pause_s)
        else:
            return


def _put_back(job_id: str, token: str, store: Store, pause_s: float) -> None:
    with store.writing() as tx:
        tx.jobs.release_for_retry(job_id, token, pause_s=pause_s)


def _fail(job_id: str, token: str, error: Exception, *, store: Store) -> None:
    # a defect's words are ours; those of any other fault are for the log: they may quote secrets
    problem = str(error) if isinstance(error, Defect) else f"a fault of the service ended it ({type(error).__name__})"
    fault = to_fault("job", problem, f"tell whoever looks after the service; its log has more under {job_id}")
    try:
        with store.writing() as tx:
            tx.jobs.end(job_id, token, "failed", doing="failed", faults=[fault])
    except LostLease:
        log.warning("failed job was taken over", job=job_id)
