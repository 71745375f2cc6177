"""A revised order through the service and the command line: kept marks, and what the planner sees of it."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from service.catalog import read_plant
from service.usecases.make.plan_files import plan_orders
from service.usecases.make.previous import earlier_takeoffs
from solver.codec import encode
from solver.domain.building import Building
from solver.domain.floor_snapshot import FloorSnapshot
from solver.domain.plan import Plan
from solver.domain.plant import Plant
from solver.domain.takeoff import Takeoff
from solver.progress_tracker import Report, ignore_progress
from solver.reading.read_order import read_order
from solver.search import Search
from solver.takeoff.take_off import take_off
from tests.integration.test_service_pages import Pages
from tests.service_fakes import fake_plan, one_sheet, order_document
from tests.shared import ROOT
from worker.claimed_job import claim_job, run_job
from worker.wiring import plant_of_settings


def revised_document(revision: int, door_at: str) -> dict[str, Any]:
    order: dict[str, Any] = order_document(revision=revision)
    order["openings"][0]["from_left"] = door_at
    return order


def taken_off(
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
    """A real takeoff after the one that the store held, and nothing made of it."""
    before = next((one for one in previous if one.building.order == buildings[0].order), None)
    plan = fake_plan(buildings, plant, search, epoch=epoch, predecessor=predecessor)
    return replace(plan, takeoffs=(take_off(buildings[0], plant, before),), stacks=(), cuts=(), sequences=(), loads=())


@pytest.fixture
def pages(tmp_path: Path) -> Iterator[Pages]:
    made = Pages(tmp_path)
    with made.web:
        yield made
    made.store.close()


def planned(pages: Pages, order: dict[str, Any]) -> str:
    assert pages.web.post("/api/orders", json=order).status_code == 201
    job = pages.web.post("/api/plans", json={"epoch": "2031-04-21T06:00:00-06:00"}).json()["job"]
    claim_job(job, "t", store=pages.store, settings=pages.settings)
    plant, settings = plant_of_settings(pages.settings), pages.settings
    run_job(job, "t", store=pages.store, settings=settings, plant=plant, pipeline=taken_off, printer=one_sheet)
    state = pages.web.get(f"/api/jobs/{job}").json()
    assert state["status"] == "done"
    plan: str = state["plan"]
    return plan


def test_the_planner_sees_what_a_revision_keeps_changes_and_drops(pages: Pages) -> None:
    first = planned(pages, revised_document(1, "5' 4\""))
    assert pages.web.get(f"/api/plans/{first}/changes").json() == {"orders": []}
    assert "No order of this plan was taken off before." in pages.read(f"/planner/plans/{first}/changes")
    second = planned(pages, revised_document(2, "6' 4\""))
    told = pages.web.get(f"/api/plans/{second}/changes").json()["orders"][0]
    assert (told["order"], told["revision"], told["since"]) == ("shed-1", 2, 1)
    assert told["kept"] > 20 and told["obsolete"]
    assert all("/L1.S-" in name for name in (*told["changed"], *told["new"], *(one["piece"] for one in told["obsolete"])))
    gone = told["obsolete"][0]["piece"]
    pages.happened("cut", gone, "e1")
    again = pages.web.get(f"/api/plans/{second}/changes").json()["orders"][0]
    assert [one["piece"] for one in again["obsolete"] if one["cut"]] == [gone]
    text = pages.read(f"/planner/plans/{second}/changes")
    assert f"{gone.partition('/')[2]} cut already: put it aside" in text
    assert "Revision 2, against revision 1 as it was taken off before." in text
    assert "ya cortada: apártela" in pages.read(f"/planner/plans/{second}/changes", "es")


def test_a_mark_that_fell_away_in_the_store_is_not_used_by_the_third_revision(pages: Pages) -> None:
    gone: set[str] = set()
    for n, place in enumerate(("5' 4\"", "6' 4\"", "5' 4\"", "4'"), start=1):
        plan = planned(pages, revised_document(n, place))
        orders = pages.web.get(f"/api/plans/{plan}/changes").json()["orders"]
        used = {name for one in orders for name in (*one["changed"], *one["new"])}
        assert not used & gone
        gone |= {item["piece"] for one in orders for item in one["obsolete"]}
    assert gone


def test_a_plan_after_an_earlier_plan_keeps_its_marks_and_proves_it() -> None:
    catalog = read_plant()
    buildings = [read_order(revised_document(n, at), catalog) for n, at in ((1, "5' 4\""), (2, "6' 4\""))]
    before = take_off(buildings[0], catalog)
    plan = plan_orders(
        (buildings[1],), catalog, epoch="2031-04-21T06:00:00-06:00", limit_s=3.0, seed=1,
        previous=earlier_takeoffs(encode(before, unit="in")),
    )  # fmt: skip
    told = plan.takeoffs[0].revised
    assert told is not None and told.since == 1 and told.kept and told.obsolete
    assert next(proof for proof in plan.proofs if proof.stage == "takeoff").checked
    cut = {item.piece for one in plan.cuts for bar in one.bars for item in bar.pieces}
    assert set(told.kept) <= cut and not cut & set(told.obsolete)


def sawbill(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "service.cli", *arguments], cwd=ROOT, capture_output=True, text=True, check=False
    )


def test_takeoff_after_an_earlier_takeoff_on_the_command_line(tmp_path: Path) -> None:
    files = [tmp_path / f"{n}.json" for n in (1, 2)]
    for n, (file, place) in enumerate(zip(files, ("5' 4\"", "6' 4\""), strict=True), start=1):
        file.write_text(json.dumps(revised_document(n, place)), encoding="utf-8")
    first = sawbill("takeoff", str(files[0]))
    earlier = tmp_path / "earlier.json"
    earlier.write_text(first.stdout, encoding="utf-8")
    second = sawbill("takeoff", str(files[1]), "--previous", str(earlier))
    assert second.returncode == 0, second.stderr
    told = json.loads(second.stdout)
    assert told["revised"]["since"] == 1 and told["retired"]
    assert not {piece["mark"] for piece in told["pieces"]} & set(told["retired"])
    checked = tmp_path / "checked.json"
    document = {"stage": "takeoff", "job": revised_document(2, "6' 4\""), "result": told}
    checked.write_text(json.dumps(document), encoding="utf-8")
    assert sawbill("check", str(checked)).returncode == 0
    back = sawbill("takeoff", str(files[0]), "--previous", str(tmp_path / "second.json"))
    assert back.returncode == 2 and "cannot be read" in back.stderr
    (tmp_path / "second.json").write_text(second.stdout, encoding="utf-8")
    older = sawbill("takeoff", str(files[0]), "--previous", str(tmp_path / "second.json"))
    assert older.returncode == 2 and "older than revision 2" in older.stderr
    none = sawbill("takeoff", str(files[0]), "--previous", str(files[1]))
    assert none.returncode == 2 and "is no takeoff and no plan" in none.stderr
