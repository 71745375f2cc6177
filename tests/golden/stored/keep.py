"""Keeps a store with an order, its plan, a release and events: `python tests/golden/stored/keep.py FILE.sql.xz`.

It was run with the code of two days, each from a checkout of its own commit (PYTHONPATH), and the files are never made
anew: they show that what was stored then is read by every later version. It uses only what both commits have.
"""

from __future__ import annotations

import lzma
import sqlite3
import sys
import tempfile
from pathlib import Path
from typing import Any

from service.catalog import read_plant
from service.contracts.plans import PlanAsked
from service.queue import TableQueue
from service.settings import Settings
from service.store.migrate import upgrade_store
from service.store.unit_of_work import SqlStore
from service.usecases.ask.events import store_event_data
from service.usecases.ask.orders import store_order
from service.usecases.ask.plans import ask_plan
from service.usecases.ask.release import release_plan
from service.usecases.ask.replans import ask_replan
from solver.domain.plan import Plan
from solver.domain.plant import Plant
from worker.claimed_job import claim_job, run_job
from worker.wiring import load_pipeline

EPOCH = "2031-04-28T06:00:00-06:00"
FLOOR = EPOCH[:11]
SHEETS = 'INSERT INTO "documents"'  # those that a replan draws anew are left out: they are ten times all the rest


def order() -> dict[str, Any]:
    """A shed with a gable roof, a window and a door: a piece of every kind that a small house has."""
    from service.catalog import demo_orders
    from solver.codec import read_json

    name, raw = min(demo_orders().items(), key=lambda item: len(item[1]))
    return dict(read_json(raw, name=name))


def nothing_printed(plan: Plan, plant: Plant, folder: Path, *_: Any) -> None:
    """One small file in the place of sheets."""
    (folder / "labels.txt").write_text("kept\n", encoding="utf-8")


def work(store: SqlStore, settings: Settings, plant: Plant) -> None:
    """Do all jobs that wait."""
    with store.reading() as tx:
        waiting = tx.jobs.claimable(10)
    for job in waiting:
        assert claim_job(job, job, store=store, settings=settings)
        run_job(job, job, store=store, settings=settings, plant=plant, pipeline=load_pipeline(), printer=nothing_printed)


def main(target: Path) -> None:
    """Keep the store as the text of its tables."""
    with tempfile.TemporaryDirectory() as folder:
        settings = Settings(data_dir=folder, replan_seconds=2)
        store, plant, queue = SqlStore(settings.database_url), read_plant(), TableQueue()
        upgrade_store(store.engine)
        store_order(order(), plant, store=store)
        asked = ask_plan(PlanAsked(seconds=8, epoch=EPOCH), plant=plant, store=store, queue=queue, settings=settings)
        work(store, settings, plant)
        with store.reading() as tx:
            plan = str(tx.jobs.get(asked.job).plan)
        release_plan(plan, store=store)
        with store.reading() as tx:
            bars = tx.floor.bars(plan, tx.floor.machines(plan)[0], 0, 2)
        for n, cut in enumerate(bars[0].cuts):
            store_event_data(
                {
                    "id": f"kept-{n}",
                    "kind": "scrapped" if n == 1 else "cut",
                    "at": f"{FLOOR}09:{n:02}:00-06:00",
                    "station": "panel-saw",
                    "subject": cut.piece,
                    "about": bars[0].id,
                },
                store=store,
            )
        ask_replan(plan, {"at": f"{FLOOR}09:30:00-06:00"}, store=store, queue=queue, settings=settings)
        work(store, settings, plant)
        store.close()
        lines = sqlite3.connect(Path(folder) / "sawbill.db").iterdump()
        text = "\n".join(line for line in lines if not line.startswith(SHEETS) or "labels.txt" in line)
    target.write_bytes(lzma.compress(text.encode(), preset=9 | lzma.PRESET_EXTREME))
    print(target, len(text), target.stat().st_size)


if __name__ == "__main__":
    main(Path(sys.argv[1]))
