"""A stored plan goes on after what happened: each choice is a plan that is looked at, released, and goes on again."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.app import make_app
from service.contracts.plans import Document
from service.settings import Settings
from service.store.unit_of_work import SqlStore
from solver.codec import decode
from solver.documents.names import ThingNames
from solver.domain.plan import Plan
from solver.domain.timetable import Timetable
from solver.replan_problem import timetables_of_choices
from solver.units import Seconds
from tests.integration.test_promise_order import _plan
from tests.plans import EPOCH, demo_plant
from tests.stored import do_jobs, keep_plan
from worker.serve import upgrade_store_to_newest

HOUR = 3_600


class Shop:
    """A service with a real plan, released."""

    def __init__(self, folder: Path) -> None:
        self.plan: Plan = _plan()
        self.settings = Settings(data_dir=str(folder), replan_seconds=1)
        upgrade_store_to_newest(self.settings)
        self.store = SqlStore(self.settings.database_url)
        sheet = Document(name="saw.pdf", media_type="application/pdf", body=b"as printed")
        times = Document(name="departures.csv", media_type="text/csv", body=b"old times")
        self.id = keep_plan(self.store, self.plan, demo_plant(), (sheet, times))
        self.http = TestClient(make_app(self.settings), base_url="http://localhost")
        assert self.http.post(f"/api/plans/{self.id}/release").status_code == 200

    def asked(self, plan: str, happened: dict[str, Any]) -> dict[str, Any]:
        """The state of an answer once the worker was here."""
        told = self.http.post(f"/api/plans/{plan}/replans", json=happened)
        assert told.status_code == 202, told.text
        assert told.headers["Location"] == f"/api/jobs/{told.json()['job']}"
        do_jobs(self.store, self.settings, demo_plant())
        state: dict[str, Any] = self.http.get(told.headers["Location"]).json()
        return state

    def table(self, plan: str) -> Timetable:
        result = self.http.get(f"/api/plans/{plan}").json()
        (digest,) = [part["digest"] for part in result["parts"] if part["stage"] == "schedule"]
        return decode(Timetable, json.loads(self.http.get(f"/api/plans/{plan}/parts/{digest}").content), name="part", unit="mm")


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    made = Shop(tmp_path)
    yield made
    made.store.close()


def at(seconds: int) -> str:
    return (datetime.fromisoformat(EPOCH) + timedelta(seconds=seconds)).isoformat()


def cuts(plan: Plan) -> list[Any]:
    return sorted((one for one in plan.timetable.operations if one.step == "cut"), key=lambda one: one.start_s)


def test_after_a_breakdown_each_choice_is_a_plan_that_can_be_released_and_goes_on_again(shop: Shop) -> None:
    mine = cuts(shop.plan)
    now = mine[len(mine) // 2].start_s + 60
    down = {"machine": mine[0].machine, "start": at(now), "end": at(now + 4 * HOUR)}
    state = shop.asked(shop.id, {"down": [down], "at": at(now), "untold": "as_planned"})
    assert (state["kind"], state["status"], state["released"], state["of"]) == ("replan", "done", True, shop.id)
    answer = state["answer"]
    assert [one["name"] for one in answer["choices"]] in (["calm"], ["calm", "on_time"])
    calm = answer["choices"][0]
    assert calm["moved"] == len(calm["moves"]) > 0 and answer["kept"] > 0
    assert [abs(move["by_s"]) for move in calm["moves"]] == sorted((abs(m["by_s"]) for m in calm["moves"]), reverse=True)
    assert sum(abs(move["by_s"]) for move in calm["moves"]) == calm["shifted_s"]
    table = shop.table(calm["plan"])
    assert table.replanned_s == now
    stopped = [one for one in table.operations if one.machine == down["machine"]]
    assert not any(now <= one.start_s < now + 4 * HOUR for one in stopped)
    old, new = (shop.http.get(f"/api/plans/{one}").json() for one in (shop.id, calm["plan"]))
    assert new["predecessor"] == old["id"] == shop.id and new["id"] == calm["plan"]
    assert new["job"] == state["id"]  # no job is made up for a choice
    assert [one["kind"] for one in shop.http.get("/api/jobs").json()["jobs"]] == ["replan", "plan"]
    changed = {part["stage"] for part in new["parts"]} & {
        a["stage"] for a, b in zip(new["parts"], old["parts"], strict=True) if a != b
    }
    assert changed <= {"schedule", "dispatch"} and "schedule" in changed
    assert all(proof["checked"] for proof in new["proofs"])
    assert shop.http.get(f"/api/plans/{calm['plan']}/documents/saw.pdf").content == b"as printed"
    assert b"old times" not in shop.http.get(f"/api/plans/{calm['plan']}/documents/departures.csv").content
    for page in ("", "/timetable", "/trucks", "/bars", "/changes"):
        assert shop.http.get(f"/planner/plans/{calm['plan']}{page}").status_code == 200
    shown = shop.http.get(f"/planner/jobs/{state['id']}")
    assert shown.status_code == 200 and f'data-release="{calm["plan"]}"' in shown.text
    called = ThingNames(demo_plant()).of  # a bar's number stands before it on the page
    assert all(one["machine"] in shown.text and called(one["about"]) in shown.text for one in calm["moves"][:50])
    assert shop.http.post(f"/api/plans/{calm['plan']}/release").status_code == 200
    assert "data-release" not in shop.http.get(f"/planner/jobs/{state['id']}").text
    again = shop.asked(
        calm["plan"], {"down": [{**down, "end": at(now + 6 * HOUR)}], "at": at(now + HOUR), "untold": "as_planned"}
    )
    assert again["status"] == "done"
    listed = shop.http.get("/api/jobs?kind=replan").json()["jobs"]
    assert [one["id"] for one in listed] == [again["id"], state["id"]] and not listed[1]["released"]


def test_the_floors_word_decides_what_is_done_and_a_scrapped_piece_is_made_again(shop: Shop) -> None:
    mine = cuts(shop.plan)
    middle = len(mine) // 2
    now = mine[middle].end_s + 60
    bars = {bar.id: bar for cut in shop.plan.cuts for bar in cut.bars}
    pieces = [item.piece for one in mine[:middle] for bar in one.bars for item in bars[bar].pieces]

    def tell(kind: str, n: int, piece: str) -> None:
        event = {"id": f"{kind}-{n}", "kind": kind, "at": at(now - 60), "station": "saw", "subject": piece}
        assert shop.http.post("/api/events", json=event).status_code in (200, 201)

    for n, piece in enumerate(pieces):
        tell("cut", n, piece)
    tell("scrapped", 0, pieces[-1])
    state = shop.asked(shop.id, {"remake": [pieces[-1]], "at": at(now)})
    assert state["status"] == "done", state
    answer = state["answer"]
    assert answer["undone"] >= 1  # the middle bar should be cut, and nobody told that it is
    table = shop.table(answer["choices"][0]["plan"])
    placed = {one.id: one for one in table.operations}
    assert placed[mine[middle].id].start_s >= now
    assert all(placed[one.id].start_s == one.start_s for one in mine[:middle])
    again = [one for one in table.operations if one.about == pieces[-1]]
    assert again and min(one.start_s for one in again) >= now
    moves = answer["choices"][0]["moves"]
    assert {move["about"] for move in moves if "before" not in move} == {pieces[-1]}


def test_every_fault_of_what_happened_comes_in_one_answer_and_nothing_is_stored(shop: Shop) -> None:
    wrong = {
        "down": [{"machine": "lathe", "start": at(9), "end": at(8)}],
        "late": [{"material": "tin", "at": at(9)}],
        "rush": [{"order": "none"}],
        "remake": ["no-such-piece"],
        "at": at(0),
    }
    told = shop.http.post(f"/api/plans/{shop.id}/replans", json=wrong)
    assert told.status_code == 422
    paths = [fault["path"] for fault in told.json()["faults"]]
    assert paths == ["down[0].machine", "down[0].end", "late[0].material", "rush[0].order", "rush[0]", "remake[0]"]
    bad = shop.http.post(f"/api/plans/{shop.id}/replans", json={"at": "2031-99-01T00:00Z", "remake": ["no piece"]}).json()
    assert [fault["path"] for fault in bad["faults"]] == ["at", "remake[0]"]
    assert shop.http.post("/api/plans/none/replans", json={}).status_code == 404
    assert shop.http.get("/api/jobs?kind=replan").json() == {"jobs": []}
    assert shop.http.get(f"/api/jobs/{shop.id}").status_code == 404


def test_one_that_waits_can_be_stopped(shop: Shop) -> None:
    told = shop.http.post(f"/api/plans/{shop.id}/replans", json={}).json()
    assert shop.http.post(f"/api/jobs/{told['job']}/cancel").json()["status"] == "cancelled"
    do_jobs(shop.store, shop.settings, demo_plant())
    assert shop.http.get(f"/api/jobs/{told['job']}").json()["status"] == "cancelled"


def test_a_choice_that_its_check_does_not_prove_is_never_shown(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:

    def moved(*given: Any, **named: Any) -> Any:
        made = timetables_of_choices(*given, **named)
        one = made[0].operations[-1]
        return (
            replace(made[0], operations=(*made[0].operations[:-1], replace(one, start_s=Seconds(one.start_s + 1)))),
            *made[1:],
        )

    monkeypatch.setattr("service.usecases.make.replanning.timetables_of_choices", moved)
    state = shop.asked(shop.id, {})
    assert state["status"] == "failed" and "answer" not in state
    assert "is not when and where its slot is" in state["faults"][0]["problem"]
