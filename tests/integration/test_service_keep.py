"""Stopping a plan that is being made: kept as it is, or not at all; and how far it is meanwhile."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.app import make_app
from service.settings import Settings
from service.store.unit_of_work import SqlStore
from service.usecases.make.plan import Printer
from solver.domain.plan import Plan
from solver.domain.plant import Plant
from tests.service_fakes import HOLD, one_sheet, order_document, slow_plan
from worker.claimed_job import claim_job, run_job
from worker.serve import upgrade_store_to_newest
from worker.wiring import plant_of_settings


class Making:
    """The application, and one plan of a fake search that goes on until it is told to end."""

    def __init__(self, folder: Path) -> None:
        self.settings = Settings(data_dir=str(folder), plan_seconds=60)
        upgrade_store_to_newest(self.settings)
        self.store = SqlStore(self.settings.database_url)
        self.web = TestClient(make_app(self.settings), base_url="http://localhost")
        self.drawing, self.drawn = threading.Event(), threading.Event()

    def ask(self) -> str:
        self.web.post("/api/orders", json=order_document())
        name: str = self.web.post("/api/plans", json={}).json()["job"]
        return name

    @contextmanager
    def made(self, name: str, printer: Printer = one_sheet) -> Iterator[None]:
        plant = plant_of_settings(self.settings)
        assert claim_job(name, "t", store=self.store, settings=self.settings)
        given: dict[str, Any] = {"store": self.store, "settings": self.settings, "plant": plant}
        work = threading.Thread(target=run_job, args=(name, "t"), kwargs={**given, "pipeline": slow_plan, "printer": printer})
        work.start()
        yield
        work.join(30)
        assert not work.is_alive()

    def state(self, name: str) -> Any:
        return self.web.get(f"/api/jobs/{name}").json()

    def until(self, name: str, true: Callable[[Any], bool]) -> Any:
        end = time.monotonic() + 30
        while time.monotonic() < end:
            state = self.state(name)
            if true(state):
                return state
            time.sleep(0.05)
        raise AssertionError(state)

    def slow_printer(self, plan: Plan, plant: Plant, folder: Path, tell: Callable[[str, float], None]) -> None:
        tell("labels.pdf", 0.5)
        self.drawing.set()
        assert self.drawn.wait(30)
        tell("saw.pdf", 0.6)
        one_sheet(plan, plant, folder, tell)


@pytest.fixture
def making(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Making]:
    hold = tmp_path / "hold"
    hold.touch()
    monkeypatch.setenv(HOLD, str(hold))
    made = Making(tmp_path)
    with made.web:
        yield made
    made.store.close()


def refusal(answer: Any) -> str:
    assert answer.status_code == 422
    told: str = answer.json()["faults"][0]["problem"]
    return told


def test_a_plan_that_is_told_to_stop_and_keep_what_it_has_is_done_soon(making: Making) -> None:
    name = making.ask()
    with making.made(name):
        state = making.until(name, lambda state: "making" in state)
        assert state["making"]["searching"] and not state["keep_asked"]
        assert 0 < state["fraction"] < 1
        assert 50 < state["making"]["left_s"] < 63  # of 60 s to search, and the sheets
        stages = {stage["stage"]: stage for stage in state["making"]["stages"]}
        assert [*stages] == ["takeoff", "stack", "nest", "sequence", "slit", "load", "schedule", "check", "sheets"]
        assert (stages["nest"]["parts"], stages["nest"]["proved"], stages["nest"]["gap"]) == (10, 6, 0.0036)
        told = making.web.post(f"/api/jobs/{name}/keep")
        assert told.status_code == 202 and told.json()["keep_asked"]
        assert making.web.post(f"/api/jobs/{name}/keep").status_code == 202  # twice is once
    state = making.state(name)
    assert (state["status"], state["fraction"]) == ("done", 1.0)
    assert "making" not in state
    result = making.web.get(f"/api/plans/{state['plan']}").json()
    assert all(proof["checked"] for proof in result["proofs"])
    assert making.web.get(f"/api/plans/{state['plan']}/documents").json()["documents"]


def test_a_plan_that_is_not_searched_for_cannot_be_kept_and_says_why(making: Making) -> None:
    name = making.ask()
    assert "has not begun" in refusal(making.web.post(f"/api/jobs/{name}/keep"))
    making.web.post(f"/api/jobs/{name}/cancel")
    assert "has ended" in refusal(making.web.post(f"/api/jobs/{name}/keep"))
    assert making.web.post("/api/jobs/nobody/keep").status_code == 404


def test_while_sheets_are_drawn_it_is_too_late_to_keep_and_in_time_to_stop(making: Making) -> None:
    name = making.ask()
    with making.made(name, making.slow_printer):
        making.until(name, lambda state: "making" in state)
        making.web.post(f"/api/jobs/{name}/keep")
        assert making.drawing.wait(30)
        state = making.until(name, lambda state: not state["making"]["searching"])
        assert state["doing"] == "drawing sheets"
        assert state["making"]["stages"][-1]["done"] == 0.5
        assert state["fraction"] < 1
        assert "its search is over" in refusal(making.web.post(f"/api/jobs/{name}/keep"))
        making.web.post(f"/api/jobs/{name}/cancel")
        assert "nothing of it is kept" in refusal(making.web.post(f"/api/jobs/{name}/keep"))
        making.drawn.set()
    assert making.state(name)["status"] == "cancelled"
    assert "plan" not in making.state(name)


def test_a_plan_that_is_begun_anew_forgets_that_it_was_to_be_kept(making: Making) -> None:
    """What there was to keep is gone with the process that had it."""
    name = making.ask()
    assert claim_job(name, "first", store=making.store, settings=making.settings)
    making.web.post(f"/api/jobs/{name}/keep")
    with making.store.writing() as tx:
        assert tx.jobs.renew(name, "first", lease_s=10, doing="nesting", fraction=0.5).keep_asked
        tx.jobs.release_for_retry(name, "first")
    assert not making.state(name)["keep_asked"]
    assert claim_job(name, "second", store=making.store, settings=making.settings)
    assert (making.state(name)["keep_asked"], making.state(name)["fraction"]) == (False, 0.0)


def test_the_stream_tells_every_change_to_the_end(making: Making) -> None:
    name = making.ask()
    states: list[Any] = []

    def listen() -> None:
        with making.web.stream("GET", f"/api/jobs/{name}/progress") as told:
            states.extend(json.loads(line.removeprefix("data: ")) for line in told.iter_lines() if line.startswith("data: "))

    ear = threading.Thread(target=listen)
    with making.made(name):
        ear.start()
        making.until(name, lambda state: "making" in state)
        time.sleep(1.5)
        making.web.post(f"/api/jobs/{name}/keep")
    ear.join(30)
    fractions = [state["fraction"] for state in states]
    assert fractions == sorted(fractions)
    assert states[-1]["status"] == "done"
    assert sum("making" in state for state in states) >= 2
