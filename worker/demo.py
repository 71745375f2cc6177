"""Put a plan that was made on the command line into the store, as the one that the stations work from."""

from __future__ import annotations

import shutil
from collections.abc import Sequence
from pathlib import Path
from typing import Any
from uuid import uuid4

from service.contracts.plans import PlanAsked
from service.settings import Settings
from service.usecases.ask.orders import keep_order
from service.usecases.ask.plans import ask_plan
from service.usecases.ask.release import release_plan
from service.usecases.make.plan import Tell
from solver.domain.building import Building
from solver.domain.plan import Plan
from solver.domain.plant import Plant
from solver.domain.takeoff import Takeoff
from solver.search import Search
from worker.run import claim, run_job
from worker.serve import prepare
from worker.wiring import open_queue, open_store

NOT_SERVED = ("plan.json", "timetable.csv")  # in the store by parts: told from there, also when the plan goes on otherwise


def store_plan(settings: Settings, documents: Sequence[Any], plan: Plan, plant: Plant, folder: Path) -> None:
    """Store orders, their plan and its files from `folder`, and release the plan. Raises InputError."""
    prepare(settings)
    store = open_store(settings)

    def pipeline(
        buildings: tuple[Building, ...],
        plant: Plant,
        search: Search,
        *,
        epoch: str,
        predecessor: str | None = None,
        previous: tuple[Takeoff, ...] = (),
    ) -> Plan:
        return plan

    def printer(_plan: Plan, _plant: Plant, out: Path, _tell: Tell) -> None:
        for path in folder.iterdir():
            if path.is_file() and path.name not in NOT_SERVED:
                shutil.copy(path, out / path.name)

    try:
        for document in documents:
            keep_order(document, plant, store=store)
        asked = PlanAsked(epoch=plan.timetable.epoch, orders=tuple(takeoff.building.order for takeoff in plan.takeoffs))
        job, token = ask_plan(asked, store=store, queue=open_queue(settings), settings=settings).id, uuid4().hex
        if claim(job, token, store=store, settings=settings):
            run_job(job, token, store=store, settings=settings, plant=plant, pipeline=pipeline, printer=printer)
            release_plan(job, store=store)
    finally:
        store.close()
