"""The catalog in force is stored by its digest and named in the job: who asks and who plans never use two different files."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from service.app import make_app
from service.catalog import read_plant
from service.contracts.plans import PlanAsked, PlanManifest
from service.errors import NotFound
from service.queue import TableQueue
from service.settings import Settings
from service.store.unit_of_work import SqlStore
from service.stored_form import from_stored_text
from service.usecases.ask.jobs import job_state
from service.usecases.ask.orders import store_order
from service.usecases.ask.plans import ask_plan, plan_result
from solver.domain.plan import Plan
from solver.domain.plant import Plant
from tests.service_fakes import fake_plan, one_sheet, order_document
from worker.claimed_job import claim_job, run_job
from worker.serve import upgrade_store_to_newest

EPOCH = "2031-05-05T06:00:00-06:00"
PLANT = read_plant(None)
DEARER = replace(PLANT, seasoning_s=PLANT.seasoning_s + 3600)


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    made = Settings(data_dir=str(tmp_path), retry_seconds=0.0)
    upgrade_store_to_newest(made)
    return made


def planned(settings: Settings, *, asked_with: Plant, worker_has: Plant) -> tuple[PlanManifest, list[Plant]]:
    """Ask for a plan with one catalog where the worker's file is another: its plan, and what it was made by."""
    store, seen = SqlStore(settings.database_url), list[Plant]()

    def pipeline(*given: object, **named: object) -> Plan:
        seen.append(given[1])  # type: ignore[arg-type]  # buildings, plant, search
        plan = fake_plan(*given, **named)  # type: ignore[arg-type]
        return replace(plan, id=f"{plan.id}-{seen[-1].seasoning_s}")  # another catalog, another plan

    store_order(order_document(), asked_with, store=store)
    job = ask_plan(PlanAsked(epoch=EPOCH), plant=asked_with, store=store, queue=TableQueue(), settings=settings).job
    assert claim_job(job, "t", store=store, settings=settings)
    run_job(job, "t", store=store, settings=settings, plant=worker_has, pipeline=pipeline, printer=one_sheet)
    manifest = plan_result(str(job_state(job, store=store).plan), store=store)
    store.close()
    return manifest, seen


def test_a_worker_plans_by_the_catalog_that_the_job_names(settings: Settings) -> None:
    manifest, seen = planned(settings, asked_with=DEARER, worker_has=PLANT)
    assert seen == [DEARER]
    store = SqlStore(settings.database_url)
    with store.reading() as tx:
        assert from_stored_text(Plant, tx.catalogs.body(str(manifest.catalog))) == DEARER
        with pytest.raises(NotFound):
            tx.catalogs.body("0" * 64)
    store.close()


def test_a_changed_file_has_a_new_digest_and_the_page_of_a_plan_says_so(settings: Settings) -> None:
    first, _ = planned(settings, asked_with=PLANT, worker_has=PLANT)
    again, _ = planned(settings, asked_with=replace(PLANT), worker_has=PLANT)
    other, _ = planned(settings, asked_with=DEARER, worker_has=PLANT)
    assert first.catalog == again.catalog != other.catalog
    with TestClient(make_app(settings), base_url="http://localhost") as client:  # serves with the demo plant, as the first
        page = client.get(f"/planner/plans/{first.id}").text
        assert str(first.catalog)[:8] in page
        assert "another is in force now" not in page
        newest = client.get("/api/plans").json()["plans"][0]["id"]
        page = client.get(f"/planner/plans/{newest}").text
        assert str(other.catalog)[:8] in page
        assert "another is in force now" in page
