"""The second morning of a running service: plans go on from the floor, releases say where it went on, scrap comes back.

Cases L1, L2, L3, L5 of how plans go on, through HTTP, with real plans; each plan's own check proves it against its snapshot.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from service.usecases.stored import stored_plan
from solver.pipeline import make_plan
from solver.promise_problem import ReleasedPlan, rebuild_plant_work
from tests.book import fresh
from tests.integration.test_service_pages import Pages
from tests.plans import demo_documents
from tests.servers import postgres
from tests.service_fakes import one_sheet
from tests.shared import ROOT
from worker.claimed_job import claim_job, run_job
from worker.wiring import plant_of_settings

EPOCH, MORNING = "2031-04-28T06:00:00-06:00", "2031-04-29T06:00:00-06:00"
COTTAGE, ELL, WORKSHOP = (order for _, order in demo_documents())


@pytest.fixture(scope="module")
def database(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with postgres(tmp_path_factory.mktemp("server")) as url:
        yield url


class Plant(Pages):
    """A service whose plans are real ones."""

    told = 0

    def __init__(self, folder: Path, database: str = "") -> None:
        catalog = folder / "plant.toml"  # nothing is firm but what the press has: one house is cut within a shift
        text = (ROOT / "service/data/plant.toml").read_text(encoding="utf-8")
        catalog.write_text(re.sub(r"(?m)^firm_s = \d+", "firm_s = 0", text), encoding="utf-8")
        super().__init__(folder, database, plant=str(catalog))

    def planned(self, *orders: dict[str, Any], at: str) -> str:
        """Plan some orders, sent in where they are not there yet."""
        for order in orders:
            assert self.web.post("/api/orders", json=order).status_code in (200, 201)
        asked = {"orders": [order["id"] for order in orders], "epoch": at, "seconds": 4}
        job = self.web.post("/api/plans", json=asked).json()["job"]
        claim_job(job, "t", store=self.store, settings=self.settings)
        plant = plant_of_settings(self.settings)
        run_job(job, "t", store=self.store, settings=self.settings, plant=plant, pipeline=make_plan, printer=one_sheet)
        told = self.web.get(f"/api/jobs/{job}").json()
        assert told["status"] == "done", told
        plan: str = told["plan"]
        read = self.web.get(f"/api/plans/{plan}").json()
        assert all(proof["checked"] for proof in read["proofs"])  # the floor's is one of them
        return plan

    def release(self, plan: str) -> Any:
        return self.web.post(f"/api/plans/{plan}/release")

    def queue(self) -> list[dict[str, Any]]:
        told: list[dict[str, Any]] = []
        for machine in self.web.get("/api/cut-queue").json()["machines"]:
            page = self.web.get("/api/cut-queue", params={"machine": machine, "limit": 500}).json()
            assert not page.get("more")
            told += page["bars"]
        return told

    def to_cut(self) -> list[str]:
        return [cut["piece"] for bar in self.queue() for cut in bar["cuts"] if cut["state"] == "waiting"]

    def cut(self, bar: dict[str, Any], *, but_last: bool = False) -> list[str]:
        """Tell all pieces of a bar as cut."""
        pieces = [cut["piece"] for cut in bar["cuts"]][: -1 if but_last else None]
        for piece in pieces:
            self.tell("cut", piece, bar)
        return pieces

    def tell(self, kind: str, piece: str, bar: dict[str, Any]) -> None:
        """Tell what happened to a piece of a bar, in the form of its kind."""
        self.told += 1
        said = {"kind": kind, "piece": piece, "bar": bar["id"], "at": MORNING, "device": "saw-1", "counter": self.told}
        answer = self.web.post("/api/events", json={"id": f"t{self.told}", **said})
        assert answer.status_code == 201, answer.text

    def piece(self, name: str) -> dict[str, Any]:
        told: dict[str, Any] = self.web.get(f"/api/pieces/{name}").json()
        return told


@pytest.fixture(params=["sqlite", "postgres"])
def plant(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Plant]:
    with fresh(request.param, request, tmp_path) as url:
        made = Plant(tmp_path, url)
        with made.web:
            yield made
            with made.store.reading() as tx:
                assert tx.book.differences() == ()
        made.store.close()


def test_the_second_morning(plant: Plant) -> None:
    """Half of an order is cut, one of its pieces scrapped; another order comes: nothing is cut twice, the scrap once more."""
    first = plant.planned(COTTAGE, at=EPOCH)
    assert plant.release(first).status_code == 200
    bars = [bar for bar in plant.queue() if len(bar["cuts"]) > 1]
    done = [piece for bar in bars[: len(bars) // 2] for piece in plant.cut(bar)]
    half = next(bar for bar in bars[len(bars) // 2 :] if len(bar["cuts"]) > 2)
    done += plant.cut(half, but_last=True)
    last = half["cuts"][-1]["piece"]
    spoiled = done[0]
    plant.tell("scrapped", spoiled, bars[0])
    assert plant.piece(spoiled)["making"] == 2
    loads = {one["id"] for one in plant.web.get("/api/loads").json()["loads"]}
    second = plant.planned(COTTAGE, ELL, at=MORNING)
    answer = plant.release(second)
    assert answer.status_code == 200, answer.text
    to_cut = plant.to_cut()
    assert len(to_cut) == len(set(to_cut))
    assert not set(to_cut) & set(done[1:])  # nothing that is cut is on any bar
    assert spoiled in to_cut and last in to_cut
    kept = next(bar for bar in plant.queue() if any(cut["piece"] == last for cut in bar["cuts"]))
    assert [cut["piece"] for cut in kept["cuts"]] == [last]  # the bar that was begun is finished as it was
    assert kept["length"] == half["length"]
    there = {one["id"]: one for one in plant.web.get("/api/loads", params={"limit": 100}).json()["loads"]}
    assert loads < set(there) and any(name.startswith(ELL["id"]) for name in there)
    told = plant.piece(spoiled)
    assert (told["making"], told["state"]) == (2, "on_bar")
    assert [(one["making"], one["valid"]) for one in told["labels"]] == [(1, False), (2, True)]
    again = next(bar for bar in plant.queue() if any(cut["piece"] == spoiled for cut in bar["cuts"]))
    assert next(cut for cut in again["cuts"] if cut["piece"] == spoiled)["making"] == 2
    plant.tell("cut", spoiled, again)
    assert plant.piece(spoiled)["state"] == "cut" and spoiled not in plant.to_cut()
    plant.tell("scrapped", spoiled, again)
    third = plant.planned(COTTAGE, ELL, at="2031-04-30T06:00:00-06:00")
    assert plant.release(third).status_code == 200
    assert plant.piece(spoiled)["making"] == 3 and spoiled in plant.to_cut()


def test_a_plan_is_stored_with_the_stock_that_it_was_made_from(plant: Plant) -> None:
    """What comes after it (a promise, a replan, its sheets) draws on the ledger's stock too, not on what the catalog states."""
    lot = {"id": "lot-1", "kind": "received", "stock": "lot", "material": "W6|birch|white", "length": 24 * 12, "unit": "in"}
    assert plant.web.post("/api/stock/movements", json={**lot, "count": 3}).status_code == 201
    plan_id = plant.planned(WORKSHOP, at=EPOCH)
    with plant.store.reading() as tx:
        plan, catalog = stored_plan(tx, plan_id)
    stock = catalog.stated_stock
    assert [(bar.material, bar.count) for bar in stock.bars] == [("W6|birch|white", 3)]
    assert not stock.coils and not stock.cores and plant_of_settings(plant.settings).stated_stock.coils
    work = rebuild_plant_work(ReleasedPlan.of(plan, catalog, stock))  # raises where the timetable was made from other stock
    assert work.job.jobs


def test_a_release_says_where_the_floor_went_on(plant: Plant) -> None:
    """A bar that the new plan had dropped is cut before it is released: refused with that bar; planned again it holds."""
    first = plant.planned(COTTAGE, at=EPOCH)
    assert plant.release(first).status_code == 200
    second = plant.planned(COTTAGE, WORKSHOP, at=EPOCH)
    rival = plant.planned(COTTAGE, ELL, at=EPOCH)
    panels = [bar for bar in plant.queue() if bar["machine"] == "panel-saw-1" and len(bar["cuts"]) > 1]
    dropped = panels[-1]  # not so soon that it is firm
    plant.cut(dropped, but_last=True)
    answer = plant.release(second)
    assert answer.status_code == 409
    assert answer.json()["status"] == "moved_on"
    told = " ".join(fault["problem"] for fault in answer.json()["faults"])
    assert dropped["cuts"][0]["piece"] in told and "made since" in told
    assert "plan again" in answer.json()["faults"][0]["fix"]
    assert plant.web.get("/api/cut-queue").json()["plan"] == first
    again = plant.planned(COTTAGE, WORKSHOP, at=EPOCH)
    assert plant.release(again).status_code == 200
    late = plant.release(rival)  # two plans from one floor: one counts, the other is told
    assert late.status_code == 409 and again in late.text
    assert plant.release(again).status_code == 200  # again changes nothing


def test_an_order_withdrawn_since_stops_a_release_and_its_bars_go_with_the_next_plan(plant: Plant) -> None:
    assert plant.release(plant.planned(COTTAGE, WORKSHOP, at=EPOCH)).status_code == 200
    waiting = plant.planned(COTTAGE, WORKSHOP, at=MORNING)
    assert plant.web.post(f"/api/orders/{WORKSHOP['id']}/withdraw").status_code == 200
    refused = plant.release(waiting)
    assert refused.status_code == 409 and f"{WORKSHOP['id']} was withdrawn" in refused.text
    assert plant.web.post("/api/plans", json={"epoch": MORNING, "seconds": 4}).status_code == 202


def test_stock_is_held_for_the_release_and_given_back_by_the_next(plant: Plant) -> None:
    """Bars come from the ledger's items by number; what one release holds, the next that drops it frees."""
    first = plant.planned(COTTAGE, at=EPOCH)
    assert plant.release(first).status_code == 200
    trims = sorted({bar["material"] for bar in plant.queue() if bar["machine"] == "trim-saw"})
    for n, material in enumerate(trims):
        lot = {"id": f"lot-{n}", "kind": "received", "stock": "lot", "material": material, "length": 20 * 12, "unit": "in"}
        assert plant.web.post("/api/stock/movements", json={**lot, "count": 30}).status_code == 201
    assert plant.release(plant.planned(COTTAGE, at=EPOCH)).status_code == 200
    held = _held(plant)
    assert held and all(count <= there for there, count in held.values())
    assert plant.release(plant.planned(COTTAGE, WORKSHOP, at=EPOCH)).status_code == 200
    assert all(count <= there for there, count in _held(plant).values())
    from_stock = [bar["stock"] for bar in plant.queue() if bar["stock"].startswith("item ")]
    for item, (_, count) in _held(plant).items():
        assert from_stock.count(f"item {item}") == count
    bar = next(bar for bar in plant.queue() if bar["stock"].startswith("item ") and len(bar["cuts"]) > 1)
    item = int(bar["stock"].removeprefix("item "))
    there, count = _held(plant)[item]
    done = plant.cut(bar, but_last=True)  # the first cut draws it
    assert (_count(plant, item), _held(plant).get(item, (0, 0))[1]) == (there - 1, count - 1)
    plant.tell("scrapped", done[0], bar)
    assert plant.release(plant.planned(COTTAGE, WORKSHOP, at=EPOCH)).status_code == 200
    last = bar["cuts"][-1]["piece"]
    kept = next(one for one in plant.queue() if any(cut["piece"] == last for cut in one["cuts"]))
    assert kept["stock"] == bar["stock"]
    before = _count(plant, item)
    plant.cut(kept)
    assert _count(plant, item) == before  # it was drawn already, by another release


def test_a_release_taken_back_gives_its_stock_back_to_the_one_before(plant: Plant) -> None:
    assert plant.release(plant.planned(COTTAGE, at=EPOCH)).status_code == 200
    for n, material in enumerate(sorted({bar["material"] for bar in plant.queue() if bar["machine"] == "trim-saw"})):
        lot = {"id": f"lot-{n}", "kind": "received", "stock": "lot", "material": material, "length": 20 * 12, "unit": "in"}
        assert plant.web.post("/api/stock/movements", json={**lot, "count": 30}).status_code == 201
    assert plant.release(plant.planned(COTTAGE, at=EPOCH)).status_code == 200
    before = _held(plant)
    again = plant.planned(COTTAGE, WORKSHOP, at=EPOCH)
    assert plant.release(again).status_code == 200
    assert _held(plant) != before
    assert plant.web.delete(f"/api/plans/{again}/release").status_code == 200
    assert _held(plant) == before


def test_an_order_sent_anew_since_stops_a_release(plant: Plant) -> None:
    waiting = plant.planned(COTTAGE, at=EPOCH)
    assert plant.web.post("/api/orders", json={**COTTAGE, "revision": 2}).status_code in (200, 201)
    refused = plant.release(waiting)
    assert refused.status_code == 409 and f"{COTTAGE['id']} was sent anew" in refused.text


def _count(plant: Plant, item: int) -> int:
    return int(plant.web.get(f"/api/stock/{item}").json()["count"])


def _held(plant: Plant) -> dict[int, tuple[int, int]]:
    items = plant.web.get("/api/stock", params={"limit": 500}).json()["stock"]
    return {one["item"]: (one["count"], one["reserved"]) for one in items if one.get("reserved")}
