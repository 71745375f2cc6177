"""Every page of the service in the states that it can be in, over a real plan, for tests that look at them all."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import uvicorn
from fastapi import FastAPI
from fastapi.routing import iter_route_contexts
from fastapi.testclient import TestClient

from service.app import make_app
from service.contracts.plans import Document
from service.settings import Settings
from service.stations.pages import NO_PAGE
from service.store.unit_of_work import SqlStore
from service.usecases.ask.stock import take_over_catalog_stock
from service.usecases.make.plan_files import plan_orders, read_orders
from solver.domain.plan import Plan
from tests.plans import demo_documents, demo_plant
from tests.servers import free_port
from tests.service_fakes import no_plan, one_sheet
from tests.stored import do_jobs, keep_plan
from worker.claimed_job import claim_job, run_job
from worker.serve import upgrade_store_to_newest

EPOCH = "2031-05-12T06:00:00-06:00"  # so late that deliveries of the demo orders are
LONG_NAME = "Upper Mill Lane Smallholders and Market Gardeners, Plot 4 behind the Old Weir"  # up to 80 characters are allowed
HOUR = 3_600
Addresses = Mapping[str, list[str]]  # of each page's route


class PageSet:
    """A service whose store holds what every page shows: a plan on the floor, others in each state, answers, events."""

    def __init__(self, folder: Path) -> None:
        self.settings = Settings(data_dir=str(folder), promise_seconds=2.0, replan_seconds=1)
        upgrade_store_to_newest(self.settings)
        self.store = SqlStore(self.settings.database_url)
        self.app = make_app(self.settings)
        self.web = TestClient(self.app, base_url="http://localhost")
        self.waits, self.asked = self._orders()
        self.plan, self.id = self._released()
        self.promise, self.replan = self._answers()
        self._happened()
        self.states = self._states()

    def _orders(self) -> tuple[str, list[str]]:
        """Take the demo orders in, the first of them for a customer with a long name; the last stays without a plan."""
        documents = [dict(document) for _, document in demo_documents()]
        ship_to = {**documents[0]["site"]["ship_to"], "name": LONG_NAME}
        documents[0]["site"] = {**documents[0]["site"], "ship_to": ship_to}
        self.documents = documents
        for document in documents:
            told = self.web.post("/api/orders", json=document)
            assert told.status_code == 201, told.text
        return documents[1]["id"], [documents[0]["id"], documents[2]["id"]]

    def _released(self) -> tuple[Plan, str]:
        buildings = read_orders(tuple((one["id"], one) for one in self.documents if one["id"] in self.asked), demo_plant())
        plan = plan_orders(buildings, demo_plant(), epoch=EPOCH, limit_s=4.0, seed=1)
        assert any(one.late_s > 0 for one in plan.timetable.deliveries)
        sheet = Document(name="saw.pdf", media_type="application/pdf", body=b"%PDF-1.4")
        name = keep_plan(self.store, plan, demo_plant(), (sheet,))
        assert self.web.post(f"/api/plans/{name}/release").status_code == 200
        return plan, name

    def _answers(self) -> tuple[str, str]:
        """Ask for a date, and how to go on when a machine breaks; have both answered."""
        first = min((one for one in self.plan.timetable.operations if one.step == "cut"), key=lambda one: one.start_s)
        asked = {"order": self.waits, "by": "2031-05-12T12:00:00-06:00"}
        promise = self.web.post(f"/api/plans/{self.id}/promises", json=asked)
        down = {"machine": first.machine, "start": at(first.start_s + 60), "end": at(first.start_s + 5 * HOUR)}
        happened = {"down": [down], "at": at(first.start_s + 60), "untold": "as_planned"}
        replan = self.web.post(f"/api/plans/{self.id}/replans", json=happened)
        assert (promise.status_code, replan.status_code) == (202, 202), (promise.text, replan.text)
        do_jobs(self.store, self.settings, demo_plant())
        self.calm = self.web.get(replan.headers["Location"]).json()["answer"]["choices"][0]["plan"]
        return promise.json()["job"], replan.json()["job"]

    def _happened(self) -> None:
        """A piece is cut, another scrapped, a bundle is on its truck."""
        self.bars = self.web.get("/api/cut-queue", params={"limit": 500}).json()["bars"]
        self.loads = self.web.get("/api/loads").json()["loads"]
        take_over_catalog_stock(demo_plant(), store=self.store)
        moved = {"kind": "drawn", "item": 1, "count": 1_000}  # more than the book has: somebody is to count
        assert self.web.post("/api/stock/movements", json={"id": "m1", **moved}).status_code == 201
        first = self.bars[0]
        told = [("cut", cut["piece"], "") for cut in first["cuts"]] + [("scrapped", self.bars[1]["cuts"][0]["piece"], "")]
        told.append(("loaded", self.loads[0]["bundles"][0]["bundle"], self.loads[0]["id"]))
        for n, (kind, subject, about) in enumerate(told):
            event = {"id": f"e{n}", "kind": kind, "at": at(HOUR + n), "station": "t", "subject": subject}
            assert self.web.post("/api/events", json={**event, "about": about} if about else event).status_code == 201

    def _states(self) -> dict[str, str]:
        """Plans that failed, were stopped, are being made and wait, by their state."""
        made = {}
        for seed, state in enumerate(("failed", "cancelled", "working", "waiting"), start=7):
            told = self.web.post("/api/plans", json={"seed": seed, "orders": [self.waits]})
            made[state] = told.json()["job"]
            if state == "cancelled":
                assert self.web.post(f"/api/jobs/{made[state]}/cancel").status_code == 202
            if state in ("failed", "working"):
                assert claim_job(made[state], "t", store=self.store, settings=self.settings)
            if state == "failed":
                run_job(
                    made[state], "t", store=self.store, settings=self.settings, plant=demo_plant(), pipeline=no_plan,
                    printer=one_sheet,
                )  # fmt: skip
            assert self.web.get(f"/api/jobs/{made[state]}").json()["status"] == state
        return made

    def addresses(self) -> Addresses:
        """Return the addresses to look at, by the route that answers them."""
        plan, base = "/planner/plans/{plan_id}", f"/planner/plans/{self.id}"
        calm, machine, load = f"/planner/plans/{self.calm}", self.bars[0]["machine"], self.loads[0]
        saw = f"/saw/{machine}"
        late = next(one for one in self.plan.timetable.deliveries if one.late_s > 0)
        above = next((one["bundle"] for one in load["bundles"][1:] if one.get("stands_on")), "none")
        bar, tilted = self.bars[2], self._tilted()
        return {
            "/": ["/"],
            "/planner": ["/planner"],
            "/planner/stock": ["/planner/stock", "/planner/stock?after=2"],
            "/planner/orders/new": ["/planner/orders/new"],
            "/planner/orders/{order_id:path}": [f"/planner/orders/{self.asked[0]}", f"/planner/orders/{self.waits}"],
            plan: [base],
            "/planner/jobs/{job_id}": [f"/planner/jobs/{one}" for one in (*self.states.values(), self.promise, self.replan)],
            f"{plan}/bars": [f"{base}/bars"],
            f"{plan}/rack": [f"{base}/rack"],
            f"{plan}/stacks": [f"{base}/stacks"],
            f"{plan}/trucks": [f"{base}/trucks"],
            f"{plan}/walls": [f"{base}/walls"],
            f"{plan}/changes": [f"{base}/changes", f"{calm}/changes"],
            f"{plan}/sheets": [f"{base}/sheets"],
            f"{plan}/timetable": [
                f"{base}/timetable?late={late.order}%20{late.delivery}", f"{base}/timetable?view=day",
                f"{base}/timetable?machine={machine}",
            ],
            f"{plan}/promises": [f"{base}/promises"],
            f"{plan}/happened": [f"{base}/happened"],
            f"{plan}/bounds": [f"{base}/bounds"],
            f"{plan}/release": [f"{calm}/release", f"{base}/release"],
            "/saw": ["/saw"],
            "/saw/{machine}/bars": [f"{saw}/bars"],
            "/saw/{machine}": [
                f"{saw}?bar={quoted(bar['id'])}", f"{saw}?bar={quoted(bar['id'])}&pulled={bar['position']}",
                f"{saw}?bar={quoted(bar['id'])}&pulled={bar['position']}&ask=wrong",
                f"/saw/{tilted['machine']}?bar={quoted(tilted['id'])}&pulled={tilted['position']}",
                f"{saw}?bar={quoted(self.bars[0]['id'])}",
            ],
            "/dock": ["/dock"],
            "/dock/{load_id:path}": [
                f"/dock/{load['id']}", f"/dock/{load['id']}?bundle={above}", f"/dock/{load['id']}?ask=leave",
                f"/dock/{self.loads[-1]['id']}?bundle=nonsense",
            ],
            "/scan": ["/scan", f"/scan?code={self.bars[2]['cuts'][0]['piece']}", "/scan?code=nonsense"],
        }  # fmt: skip

    def _tilted(self) -> dict[str, Any]:
        """A bar whose first cut is tilted, or else one on which something leans."""

        def strokes(bar: dict[str, Any], leans: str) -> list[Any]:
            return [one for one in bar["cuts"][0].get("strokes", ()) if one.get(leans)]

        leans = [bar for bar in self.bars[2:] if strokes(bar, "swing_udeg")]
        tilts = [bar for bar in self.bars[2:] if strokes(bar, "tilt_udeg")]
        bar: dict[str, Any] = (tilts or leans or self.bars)[-1]
        return bar


def at(seconds: int) -> str:
    """Return an instant of the plan."""
    return (datetime.fromisoformat(EPOCH) + timedelta(seconds=seconds)).isoformat()


def quoted(name: str) -> str:
    """Return a name as it stands in an address."""
    return name.replace("|", "%7C").replace("#", "%23").replace("/", "%2F")


def page_routes(app: FastAPI) -> set[str]:
    """Return the routes that answer with a page, as the application has them."""
    there = [route for route in iter_route_contexts(app.routes) if route.path and "GET" in (route.methods or ())]
    moved = {route.path for route in there if getattr(route.endpoint, "__module__", "") == "service.api.redirects"}
    return {str(route.path) for route in there if not str(route.path).startswith(NO_PAGE)} - moved


@contextmanager
def served(pages: PageSet) -> Iterator[str]:
    """Serve the pages on a port of this machine and give their address."""
    port = free_port()
    server = uvicorn.Server(uvicorn.Config(pages.app, host="127.0.0.1", port=port, log_level="warning"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        assert thread.is_alive()
        time.sleep(0.02)
    try:
        yield f"http://127.0.0.1:{port}"
    finally:
        server.should_exit = True
        thread.join(20)
