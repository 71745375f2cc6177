"""A real plan kept in a store as the worker keeps it, and the jobs of one done at once, for tests of what is asked of it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any
from uuid import uuid4

from service.contracts.plans import Document, OrderAt, PlanWanted
from service.settings import Settings
from service.store.unit_of_work import SqlStore
from service.usecases.make.plan import plan_manifest
from service.usecases.stored import plan_contents, written_parts
from solver.domain.plan import Plan
from solver.domain.plant import Plant
from worker.claimed_job import claim_job, run_job


def keep_plan(store: SqlStore, plan: Plan, plant: Plant, files: tuple[Document, ...] = ()) -> str:
    """Keep a plan as a job's and return the name under which it is found."""
    job = uuid4().hex
    lines, bodies = written_parts(plan_contents(plan, plant))
    orders = tuple(OrderAt(id=takeoff.building.order, revision=1) for takeoff in plan.takeoffs)
    manifest = plan_manifest(plan, orders, lines)
    with store.writing() as tx:
        name = tx.plans.new_id()
        tx.plans.add(replace(manifest, id=name), bodies, files, job=job)
        tx.jobs.add(job, PlanWanted(orders=orders, seconds=1, seed=1, epoch=plan.timetable.epoch))
        tx.jobs.claim(job, job, lease_s=60, deaths_most=1)
        tx.jobs.end(job, job, "done", doing="done", plan=name)
    return name


def do_jobs(store: SqlStore, settings: Settings, plant: Plant) -> None:
    """Do all jobs that wait, in this process."""

    def none(*_: Any, **__: Any) -> Any:
        raise AssertionError("no plan is made here")

    with store.reading() as tx:
        waiting = tx.jobs.claimable(10)
    for job in waiting:
        assert claim_job(job, job, store=store, settings=settings)
        run_job(job, job, store=store, settings=settings, plant=plant, pipeline=none, printer=none)
