"""Jobs of every kind: asked for, watched, listed, stopped, told to keep what they have; written once for all of them."""

from __future__ import annotations

import json
from typing import Any
from uuid import uuid4

from service.contracts.jobs import JOB_TYPES, JobAccepted, JobList, JobState
from service.contracts.plans import Job, JobKind, OrderAt, PlanWanted, PromiseWanted, ReplanWanted, Wanted
from service.errors import NotFound
from service.lru_cache import LruCache
from service.ports import Queue, Store
from solver.codec import decode
from solver.errors import FaultCollector

LISTED = 50
ANSWERS: LruCache = LruCache(64)  # by kind and text: whoever looks at an answer looks again


def submit_job(wanted: Wanted, *, store: Store, queue: Queue, catalog: tuple[str, str] | None = None) -> JobAccepted:
    """Store a job, with the catalog (digest and text) that it names, and send it once it is really in the database."""
    with store.writing() as tx:
        if catalog is not None:
            tx.catalogs.keep(*catalog)
        job = tx.jobs.add(uuid4().hex, wanted)
    queue.send(job.id)
    return JobAccepted(job=job.id)


def job_state(job_id: str, *, store: Store, kind: JobKind | None = None) -> JobState:
    """Return how far a job is, and what came of it. Raises NotFound, also where it is of another `kind`."""
    with store.reading() as tx:
        job, released = tx.jobs.get(job_id), tx.plans.released()
    if kind not in (None, job.wanted.KIND):
        raise NotFound(str(kind), job_id)
    return _state_of(job, released)


def list_jobs(kind: JobKind | None = None, *, of: str | None = None, store: Store) -> JobList:
    """Return the jobs asked for last, the newest first; of one kind, or asked of one plan, where that is said."""
    with store.reading() as tx:
        released = tx.plans.released()
        found = tx.jobs.newest(LISTED, *(() if kind is None else (kind,)))
    jobs = tuple(_state_of(job, released, listed=True) for job in found)
    return JobList(jobs=tuple(job for job in jobs if of is None or job.of == of))


def cancel_job(job_id: str, *, store: Store) -> JobState:
    """Stop a job that waits or is worked on; one that ended stays as it is. Raises NotFound."""
    with store.writing() as tx:
        job, released = tx.jobs.request_cancel(job_id), tx.plans.released()
    return _state_of(job, released)


def finish_job_early(job_id: str, *, store: Store) -> JobState:
    """Ask a plan that is being made to end its search and keep what it has. Raises NotFound, InputError that says why not."""
    with store.writing() as tx:
        _refuse_to_keep(tx.jobs.get(job_id))
        job, released = tx.jobs.request_keep(job_id), tx.plans.released()
    return _state_of(job, released)


def _refuse_to_keep(job: Job) -> None:
    faults = FaultCollector()
    if not isinstance(job.wanted, PlanWanted):
        faults.add("job", "it makes no plan: there is nothing to keep before it has ended", "wait for it, or cancel it")
    elif job.status == "waiting":
        faults.add("plan", "its search has not begun: there is nothing to keep yet", "wait for it, or cancel it")
    elif job.status != "working":
        faults.add("plan", "it has ended", "a plan that is being made")
    elif job.cancel_asked:
        faults.add("plan", "it is being stopped, and nothing of it is kept", "plan again")
    elif job.making is not None and not job.making.searching:
        faults.add("plan", "its search is over: it is being checked and drawn, then kept", "wait for it, or cancel it")
    faults.raise_if_any()


def _state_of(job: Job, released: tuple[str, str] | None, *, listed: bool = False) -> JobState:
    wanted, kind = job.wanted, JOB_TYPES[job.wanted.KIND]
    of = None if isinstance(wanted, PlanWanted) else wanted.plan
    told = job.answer if kind.answers_listed or not listed else None
    return JobState(
        id=job.id,
        kind=wanted.KIND,
        status=job.status,
        doing=job.doing,
        fraction=job.fraction,
        orders=_orders_of(wanted),
        of=of,
        released=of is not None and released is not None and of == released[0],
        by=wanted.by if isinstance(wanted, PromiseWanted) else None,
        happened=wanted.happened if isinstance(wanted, ReplanWanted) else None,
        asked_at=job.asked_at,
        ended_at=job.ended_at,
        cancel_asked=job.cancel_asked,
        keep_asked=job.keep_asked,
        making=job.making if job.status == "working" else None,
        plan=job.plan,
        answer=None if told is None else ANSWERS.get((kind.spec.KIND, told), lambda: _answer(job)),
        faults=job.faults,
    )


def _answer(job: Job) -> Any:
    kind = JOB_TYPES[job.wanted.KIND].answer
    assert kind is not None and job.answer is not None
    return decode(kind, json.loads(job.answer), name="answer")


def _orders_of(wanted: Wanted) -> tuple[OrderAt, ...]:
    return (wanted.order,) if isinstance(wanted, PromiseWanted) else wanted.orders
