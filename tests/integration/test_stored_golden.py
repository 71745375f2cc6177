"""What was stored by older versions opens, shows and releases: an order, its plan, events and a replan, kept as files.

How the files were made is told by `tests/golden/stored/keep.py`; each bears the commit whose code stored it.
"""

from __future__ import annotations

import json
import lzma
import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from service.app import make_app
from service.settings import Settings
from service.store.unit_of_work import SqlStore
from tests.gets import address_of, gets, things_of
from tests.plans import demo_plant
from tests.stored import do_jobs
from worker.serve import upgrade_store_to_newest

KEPT = sorted((Path(__file__).parents[1] / "golden" / "stored").glob("*.sql.xz"))


class Old:
    """A service over a store that an older version wrote."""

    def __init__(self, kept: Path, folder: Path) -> None:
        self.settings = Settings(data_dir=str(folder), replan_seconds=1)
        old = sqlite3.connect(folder / "sawbill.db")
        old.executescript(lzma.decompress(kept.read_bytes()).decode())
        self.job: str = old.execute("SELECT id FROM jobs WHERE kind = 'plan' ORDER BY asked_at").fetchone()[0]
        self.replan: str = old.execute("SELECT id FROM jobs WHERE kind = 'replan'").fetchone()[0]
        told = json.loads(old.execute("SELECT answer FROM jobs WHERE kind = 'replan'").fetchone()[0])
        self.choice: str = told["choices"][0]["id"]  # the job that was made up for it
        self.first = "P1"
        self.rows = {name: old.execute(f"SELECT count(*) FROM {name}").fetchone()[0] for name in ("events", "cuts")}
        old.close()
        upgrade_store_to_newest(self.settings)
        self.store = SqlStore(self.settings.database_url)
        self.app: FastAPI = make_app(self.settings)
        self.web = TestClient(self.app, base_url="http://localhost")


@pytest.fixture(params=KEPT, ids=lambda path: path.name.partition(".")[0])
def old(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Old]:
    made = Old(request.param, tmp_path)
    with made.web:
        yield made
    made.store.close()


def test_stores_of_two_older_versions_are_kept() -> None:
    assert [path.name.partition(".")[0] for path in KEPT] == ["2be1aa3", "546afd0"]


def test_every_page_of_an_old_store_opens(old: Old) -> None:
    things = things_of(old.web, old.first)
    opened = 0
    for path, query in gets(old.app):
        where = address_of(path, query, things)
        if where is None or path == "/api/printers":  # asks the machine's spooler
            continue
        told = old.web.get(where)
        allowed = (404,) if "promise" in path or path.endswith("/changes") else ()
        assert told.status_code == 200 or told.status_code in allowed, (where, told.status_code, told.text[:300])
        opened += told.status_code == 200
    assert opened >= 45


def test_what_was_kept_of_addresses_of_older_versions_leads_on(old: Old) -> None:
    """A plan was found under its job, a promise and a replan each under an address of their own kind."""

    def leads(address: str, method: str = "GET") -> str:
        told = old.web.request(method, address, follow_redirects=False)
        assert told.status_code == 308, (address, told.status_code, told.text[:300])
        return told.headers["location"]

    assert leads(f"/api/plans/{old.job}") == f"/api/jobs/{old.job}"
    assert leads(f"/api/plans/{old.job}/cancel", "POST") == f"/api/jobs/{old.job}/cancel"
    assert leads(f"/api/plans/{old.job}/result") == "/api/plans/P1"
    assert leads(f"/api/plans/{old.job}/documents/a%20b.pdf?x=1%202") == "/api/plans/P1/documents/a%20b.pdf?x=1%202"
    assert leads(f"/api/plans/{old.choice}/release?drop=true", "POST") == "/api/plans/P2/release?drop=true"
    assert leads(f"/planner/plans/{old.job}") == "/planner/plans/P1"
    assert leads(f"/planner/plans/{old.choice}/timetable?view=day") == "/planner/plans/P2/timetable?view=day"
    assert leads(f"/planner/replans/{old.replan}") == f"/planner/jobs/{old.replan}"
    assert leads(f"/api/replans/{old.replan}") == f"/api/jobs/{old.replan}"
    assert leads("/api/replans") == "/api/jobs?kind=replan"
    assert old.web.get(f"/planner/plans/{old.choice}/changes").status_code == 200
    assert old.web.get(f"/api/plans/{old.replan}").status_code == 404  # a replan was never a plan
    assert old.web.get(f"/api/plans/{'0' * 32}/result").status_code == 404
    (choice,) = [one for one in old.web.get("/api/plans").json()["plans"] if one["id"] == "P2"]
    assert choice["job"] == old.replan and choice["orders"]


def test_every_part_of_an_old_plan_is_fetched_under_its_digest_as_it_was_written(old: Old) -> None:
    result = old.web.get(f"/api/plans/{old.first}").json()
    with sqlite3.connect(Path(old.settings.data_dir) / "sawbill.db") as database:
        written = dict(database.execute("SELECT digest, body FROM parts"))
    assert {part["stage"] for part in result["parts"]} >= {"plant", "takeoff", "stack", "nest", "schedule", "load"}
    for part in result["parts"]:
        told = old.web.get(f"/api/plans/{old.first}/parts/{part['digest']}")
        assert told.json() == json.loads(written[part["digest"]])


def test_what_happened_to_an_old_plan_stands(old: Old) -> None:
    events = old.web.get("/api/events").json()["events"]
    assert [event["kind"] for event in events][:2] == ["cut", "scrapped"]
    assert len(events) == old.rows["events"]
    pages = old.web.get("/planner").text
    assert events[1]["subject"] in pages  # waits for its remake


def test_an_old_plan_is_released_again_and_a_way_to_go_on_too(old: Old) -> None:
    choice = old.web.get(f"/api/jobs/{old.replan}").json()["answer"]["choices"][0]["plan"]
    for plan in (choice, old.first, choice):
        told = old.web.post(f"/api/plans/{plan}/release")
        assert told.status_code == 200, told.text
        assert old.web.get("/api/cut-queue").json()["plan"] == told.json()["plan"] == plan
    assert len(old.web.get("/api/cut-queue?limit=500").json()["bars"]) == told.json()["bars"]


def test_an_old_plan_goes_on_and_promises_beside_itself(old: Old) -> None:
    asked = old.web.post(f"/api/plans/{old.first}/replans", json={"at": "2031-04-28T10:00:00-06:00"})
    assert asked.status_code == 202, asked.text
    do_jobs(old.store, old.settings, demo_plant())
    state = old.web.get(asked.headers["Location"]).json()
    assert state["status"] == "done", state
    assert state["answer"]["choices"]
