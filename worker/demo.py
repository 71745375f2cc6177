"""Put a plan that was made on the command line into the store, as the one that the stations work from."""

from __future__ import annotations

import shutil
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any
from uuid import uuid4

from service.contracts.plans import PlanAsked
from service.errors import Conflict
from service.ports import Store
from service.settings import Settings
from service.usecases.ask.jobs import job_state
from service.usecases.ask.orders import list_orders, store_order
from service.usecases.ask.plans import ask_plan
from service.usecases.ask.release import release_plan
from service.usecases.make.plan import Tell
from solver.domain.building import Building
from solver.domain.floor_snapshot import FloorSnapshot
from solver.domain.plan import Plan
from solver.domain.plant import Plant
from solver.domain.takeoff import Takeoff
from solver.errors import FaultCollector, FieldFault, InputError
from solver.progress_tracker import Report, ignore_progress
from solver.search import Search
from worker.claimed_job import claim_job, run_job
from worker.serve import upgrade_store_to_newest
from worker.wiring import open_queue, open_store

NOT_SERVED = ("plan.json", "timetable.csv")  # in the store by parts: told from there, also when the plan goes on otherwise


def put_on_floor(
    settings: Settings, documents: Sequence[Any], plan: Plan, plant: Plant, files: Iterable[Path]
) -> tuple[FieldFault, ...]:
    """Store and release a plan as `store_plan` does; return why it is not on the floor where that would lose work done there.

    Whoever worked with an earlier plan there keeps it: other orders released, an order revised, a truck half loaded.
    """
    try:
        store_plan(settings, documents, plan, plant, files)
    except (InputError, Conflict) as error:
        return tuple(error.faults)
    return ()


def store_plan(settings: Settings, documents: Sequence[Any], plan: Plan, plant: Plant, files: Iterable[Path]) -> None:
    """Store orders, their plan and the files that it wrote, and release the plan. Raises InputError.

    Files are named one by one: the folder that they lie in may hold the store itself.
    """
    upgrade_store_to_newest(settings)
    store = open_store(settings)

    def pipeline(
        buildings: tuple[Building, ...],
        plant: Plant,
        search: Search,
        *,
        epoch: str,
        predecessor: str | None = None,
        previous: tuple[Takeoff, ...] = (),
        floor: FloorSnapshot | None = None,
        report: Report = ignore_progress,
    ) -> Plan:
        return replace(plan, predecessor=predecessor)

    def printer(_plan: Plan, _plant: Plant, out: Path, _tell: Tell) -> None:
        for path in files:
            if path.name not in NOT_SERVED:
                (shutil.copytree if path.is_dir() else shutil.copy)(path, out / path.name)  # calendars are a folder

    try:
        for document in documents:
            store_order(document, plant, store=store)
        _refuse_revised(plan, store)
        asked = PlanAsked(epoch=plan.timetable.epoch, orders=tuple(takeoff.building.order for takeoff in plan.takeoffs))
        asked_for = ask_plan(asked, plant=plant, store=store, queue=open_queue(settings), settings=settings)
        job, token = asked_for.job, uuid4().hex
        if claim_job(job, token, store=store, settings=settings):
            run_job(job, token, store=store, settings=settings, plant=plant, pipeline=pipeline, printer=printer)
            made = job_state(job, store=store).plan
            if made is not None:
                release_plan(made, store=store)
    finally:
        store.close()


def _refuse_revised(plan: Plan, store: Store) -> None:
    """A plan of an order as it was before is none of the order that is stored now."""
    faults, newest = FaultCollector(), {line.id: line.revision for line in list_orders(store=store).orders}
    for building in (takeoff.building for takeoff in plan.takeoffs):
        if building.revision != newest[building.order]:
            what = f"{building.revision} of {building.order} is planned, revision {newest[building.order]} is stored"
            faults.add("revision", what, f"a plan of revision {newest[building.order]}")
    faults.raise_if_any()
