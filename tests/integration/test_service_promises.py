"""When could an order ship? Asked over HTTP of a real plan, answered by the worker, kept, and shown on the planner's pages."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from fastapi.testclient import TestClient

from service.app import make_app
from service.contracts.plans import PromiseWanted
from service.contracts.promises import Promised, Slip
from service.settings import Settings
from service.stations import views
from service.store.unit_of_work import SqlStore
from service.usecases.make import promising
from service.usecases.make.promising import make_promise_of
from solver.codec import encode
from solver.domain.replan import PromiseJob, PromiseResult
from solver.domain.report import Report
from solver.errors import FieldFault
from solver.replanning.promise import promise
from solver.search import Search
from tests.integration.test_promise_order import _plan
from tests.plans import demo_documents, demo_plant
from tests.service_fakes import fake_plan, order_document
from worker.claimed_job import claim_job, run_job
from worker.demo import store_plan

SPANISH = {"accept-language": "es"}


@dataclass
class Stack:
    """The application over a store that holds a released plan of one demo order, and another order that is in no plan."""

    settings: Settings
    store: SqlStore
    web: TestClient
    plan: str
    order: str

    def work(self) -> None:
        with self.store.reading() as tx:
            waiting = tx.jobs.claimable(10)
        for job_id in waiting:
            assert claim_job(job_id, "t", store=self.store, settings=self.settings)
            run_job(
                job_id,
                "t",
                store=self.store,
                settings=self.settings,
                plant=demo_plant(),
                pipeline=fake_plan,
                printer=lambda plan, plant, folder, tell: None,
            )

    def ask(self, **asked: Any) -> Any:
        return self.web.post(f"/api/plans/{self.plan}/promises", json={"order": self.order, **asked})

    def answered(self, **asked: Any) -> Any:
        told = self.ask(**asked)
        assert told.status_code == 202, told.text
        self.work()
        return self.web.get(told.headers["location"]).json()

    def page(self, promise: str = "", **headers: str) -> str:
        told = self.web.get(promise or f"/planner/plans/{self.plan}/promises", headers=headers)
        assert told.status_code == 200
        return told.text


@pytest.fixture
def stack(tmp_path: Path) -> Iterator[Stack]:
    settings = Settings(data_dir=str(tmp_path), promise_seconds=3.0)
    documents = [document for _, document in demo_documents()]
    (tmp_path / "files").mkdir()
    for name in ("saw.pdf", "timetable.csv", "plan.json"):
        (tmp_path / "files" / name).write_bytes(b"-")
    store_plan(settings, documents[2:], _plan(), demo_plant(), sorted((tmp_path / "files").iterdir()))
    store = SqlStore(settings.database_url)
    with TestClient(make_app(settings), base_url="http://localhost") as web:
        assert web.post("/api/orders", json=documents[0]).status_code == 201
        plan = web.get("/api/plans").json()["plans"][0]["id"]
        yield Stack(settings, store, web, plan, documents[0]["id"])
    store.close()


def paths(answer: Any) -> list[str]:
    return sorted(fault["path"] for fault in answer.json()["faults"])


def test_a_demo_plan_keeps_no_file_of_what_is_told_from_the_store(stack: Stack) -> None:
    """A kept timetable.csv would be handed on, stale, to a plan that goes on otherwise; the address tells the plan's own."""
    files = stack.web.get(f"/api/plans/{stack.plan}/documents").json()["documents"]
    assert [file["name"] for file in files] == ["saw.pdf"]
    assert stack.web.get(f"/api/plans/{stack.plan}/timetable.csv").text.startswith("\ufeffmachine,")


def test_a_date_is_asked_for_answered_and_kept(stack: Stack) -> None:
    told = stack.ask()
    assert (told.status_code, told.headers["location"]) == (202, f"/api/jobs/{told.json()['job']}")
    asked = stack.web.get(told.headers["location"]).json()
    assert (asked["kind"], asked["status"]) == ("promise", "waiting")
    assert (asked["of"], [one["id"] for one in asked["orders"]]) == (stack.plan, [stack.order])
    stack.work()
    done = stack.web.get(told.headers["location"]).json()
    assert (done["status"], done["released"], done.get("faults")) == ("done", True, None)
    ships = datetime.fromisoformat(done["answer"]["ships"])
    assert ships.utcoffset() == ships.astimezone(ZoneInfo(demo_plant().time_zone)).utcoffset()
    assert _plan().timetable.epoch < done["answer"]["not_before"] <= done["answer"]["ships"]
    assert "met" not in done["answer"]  # no date was asked for
    assert stack.web.get("/api/jobs?kind=promise").json()["jobs"] == [done]
    assert [one["kind"] for one in stack.web.get("/api/jobs").json()["jobs"]] == ["promise", "plan"]
    assert "plan" not in done and len(stack.web.get("/api/plans").json()["plans"]) == 1


def test_a_date_by_the_plants_clock_is_met_or_what_would_have_to_give_is_told(stack: Stack) -> None:
    late = stack.answered(by="2032-01-01T12:00")
    assert late["by"] == "2032-01-01T12:00:00-07:00"  # winter time at the plant
    assert (late["answer"]["met"], late["answer"].get("gives")) == (True, None)
    assert late["answer"].get("slips") is None
    early = stack.answered(by="2031-04-28T08:00:00-06:00", firm_hours=0)
    assert early["answer"]["met"] is False  # nothing that big is made in two hours
    shown = stack.page(f"/planner/jobs/{early['id']}")
    assert "The date cannot be met, as far as found." in shown
    assert ("What would have to give" in shown) is ("gives" in early["answer"])
    with stack.store.reading() as tx:
        first, second = (tx.jobs.get(one["id"]).wanted for one in (late, early))
    assert isinstance(first, PromiseWanted) and isinstance(second, PromiseWanted)
    assert (first.firm_until_s, second.firm_until_s) == (demo_plant().firm_s, 0)
    assert (first.now_s, second.by_s) == (0, 2 * 3600)  # the plan begins later than now


def test_every_fault_of_a_question_is_told_at_once_and_nothing_is_stored(stack: Stack) -> None:
    told = stack.ask(order="nobody's", by="2031-02-30T12:00", firm_hours=-1, colour="red")
    assert (told.status_code, paths(told)) == (422, ["by", "colour", "firm_hours", "order"])
    told = stack.ask(order=_plan().takeoffs[0].building.order, by="2031-04-28T05:00-06:00")
    assert (told.status_code, paths(told)) == (422, ["by", "order"])
    assert "in this plan already" in told.text
    assert (stack.ask(by="soon").status_code, paths(stack.ask(by="soon"))) == (422, ["by"])
    assert stack.web.post("/api/plans/nothing/promises", json={"order": stack.order}).status_code == 404
    assert stack.web.get("/api/jobs?kind=promise").json() == {"jobs": []}


def test_a_promise_is_no_plan_and_a_plan_no_promise(stack: Stack) -> None:
    asked = stack.ask().json()["job"]
    assert stack.web.get(f"/api/plans/{asked}").status_code == 404
    assert stack.web.post(f"/api/plans/{asked}/cancel").status_code == 404
    assert stack.web.get(f"/api/jobs/{stack.plan}").status_code == 404
    assert "makes no plan" in stack.web.post(f"/api/jobs/{asked}/keep").json()["faults"][0]["problem"]
    assert stack.web.get(f"/api/jobs/{asked}").json()["status"] == "waiting"  # not stopped by a plan's address


def test_a_question_that_waits_is_stopped(stack: Stack) -> None:
    asked = stack.ask().json()["job"]
    assert 'data-stop="/api/jobs/' in stack.page(f"/planner/jobs/{asked}")
    assert stack.web.post(f"/api/jobs/{asked}/cancel").json()["status"] == "cancelled"
    stack.work()
    assert stack.web.get(f"/api/jobs/{asked}").json()["status"] == "cancelled"
    assert "This question was stopped" in stack.page(f"/planner/jobs/{asked}")


def test_a_question_that_is_stopped_while_it_is_worked_out_has_no_answer(stack: Stack) -> None:
    asked = stack.ask().json()["job"]
    assert claim_job(asked, "t", store=stack.store, settings=stack.settings)
    with stack.store.reading() as tx:
        job = tx.jobs.get(asked)
    make_promise_of(job, "t", Search(stop=lambda: True), store=stack.store)
    told = stack.web.get(f"/api/jobs/{asked}").json()
    assert (told["status"], told.get("answer"), told.get("faults")) == ("cancelled", None, None)


def test_an_answer_that_its_check_does_not_prove_is_told_as_failed(stack: Stack, monkeypatch: pytest.MonkeyPatch) -> None:
    wrong = Report(checked=("no overlap",), faults=(FieldFault("operations[0]", "overlaps", "one after the other"),))
    monkeypatch.setattr(promising, "check_promise", lambda job, result: wrong)
    told = stack.answered()
    assert (told["status"], told.get("answer")) == ("failed", None)
    assert "overlaps" in told["faults"][0]["problem"]
    shown = stack.page(f"/planner/jobs/{told['id']}")
    assert "No date can be told" in shown and "It could ship" not in shown
    assert "stopped by faults" in stack.page()


def test_an_answer_on_a_machine_that_is_taken_is_told_as_failed(stack: Stack, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its own counts are true, so that only the timetable's check can notice."""

    def on_released_work(job: PromiseJob, search: Search) -> PromiseResult:
        found = promise(job, search)
        first = found.operations[0]
        taken = next(slot for slot in job.slots if slot.machine == first.machine and slot.end > slot.start)
        length = first.end - first.start
        moved = replace(first, start=taken.start, end=taken.start + length)
        return replace(found, operations=(moved, *found.operations[1:]))

    monkeypatch.setattr(promising, "promise", on_released_work)
    told = stack.answered()
    assert (told["status"], told.get("answer")) == ("failed", None)
    assert "overlap" in told["faults"][0]["problem"] or "before" in told["faults"][0]["problem"]


def test_a_plan_whose_timetable_its_parts_do_not_ask_for_promises_nothing(stack: Stack) -> None:
    assert stack.web.post("/api/orders", json=order_document()).status_code == 201
    job = stack.web.post("/api/plans", json={"orders": ["shed-1"]}).json()["job"]
    stack.work()
    other = stack.web.get(f"/api/jobs/{job}").json()["plan"]
    told = stack.web.post(f"/api/plans/{other}/promises", json={"order": stack.order})
    stack.work()
    state = stack.web.get(told.headers["location"]).json()
    assert (state["status"], state["faults"][0]["path"]) == ("failed", "plan")


def test_the_page_teaches_asks_and_lists_what_was_answered(stack: Stack) -> None:
    empty = stack.page()
    assert "Nothing yet. Each answer stays here" in empty and f'value="{stack.order}"' in empty
    assert "Work that starts within 8 h 0 min from now is firm" in empty
    way = f"/planner/plans/{stack.plan}/promises?order={stack.order}"
    assert way in stack.web.get(f"/planner/orders/{stack.order}").text
    assert f'value="{stack.order}" selected' in stack.web.get(way).text
    assert "/promises" not in stack.web.get(f"/planner/orders/{_plan().takeoffs[0].building.order}").text  # it is in the plan
    told = stack.answered(by="2032-01-01T12:00")
    shown = stack.page(f"/planner/jobs/{told['id']}")
    ships = told["answer"]["ships"][:16].replace("T", " ").replace("-", "\u2011").replace(" ", "\u00a0")
    assert ships in shown and "The date is met, and nothing has to give." in shown
    assert ships in stack.page() and "of a plan that is not on the floor now" not in stack.page()
    assert "La fecha se cumple" in stack.page(f"/planner/jobs/{told['id']}", **SPANISH)
    stack.web.post("/api/orders", json=order_document())
    job = stack.web.post("/api/plans", json={"orders": ["shed-1"]}).json()["job"]
    stack.work()
    other = stack.web.get(f"/api/jobs/{job}").json()["plan"]
    assert stack.web.post(f"/api/plans/{other}/release", params={"drop": True}).status_code == 200
    assert "of a plan that is not on the floor now" in stack.page()
    assert "Asked of a plan that is not on the floor now." in stack.page(f"/planner/jobs/{told['id']}")
    assert stack.web.get(f"/api/jobs/{told['id']}").json()["released"] is False


def test_where_every_order_is_in_the_plan_the_page_says_how_a_new_one_comes(tmp_path: Path) -> None:
    settings = Settings(data_dir=str(tmp_path))
    (tmp_path / "files").mkdir()
    store_plan(
        settings,
        [document for _, document in demo_documents()[2:]],
        _plan(),
        demo_plant(),
        sorted((tmp_path / "files").iterdir()),
    )
    with TestClient(make_app(settings), base_url="http://localhost") as web:
        plan = web.get("/api/plans").json()["plans"][0]["id"]
        shown = web.get(f"/planner/plans/{plan}/promises").text
    assert "Every order that is stored is in this plan already." in shown
    assert 'href="/planner/orders/new"' in shown and "data-ask" not in shown


@pytest.mark.parametrize(
    ("met", "gives", "word", "shown"),
    [
        (True, None, "met", "The date is met, and nothing has to give."),
        (True, "2031-05-08T12:00:00-06:00", "met only if other work gives", "The date is met only if other work gives."),
        (False, "2031-05-08T12:00:00-06:00", "not met", "With other work moved it could ship"),
        (False, None, "not met", "Nothing that may move makes it sooner."),
    ],
)
def test_a_date_is_told_as_met_only_where_it_is(stack: Stack, met: bool, gives: str | None, word: str, shown: str) -> None:
    answer = Promised(
        ships="2031-05-09T12:00:00-06:00", not_before="2031-05-09T12:00:00-06:00", proved=True, met=met, gives=gives,
        slips=(Slip(order="a", load="a/L01", later_s=7200),) if gives else (), moved=3 if gives else 0,
    )  # fmt: skip
    asked = stack.ask(by="2031-05-08T13:00").json()["job"]
    assert claim_job(asked, "t", store=stack.store, settings=stack.settings)
    told = json.dumps(encode(answer))
    with stack.store.writing() as tx:
        tx.jobs.end(asked, "t", "done", doing="done", answer=told)
    page = stack.page(f"/planner/jobs/{asked}")
    assert shown in page and views.date_met_words(answer) == word and word in stack.page()
    assert ("truck L01 of order a" in page, "2 h 0 min later" in page, "3 released operations move" in page) == (
        bool(gives),
    ) * 3
