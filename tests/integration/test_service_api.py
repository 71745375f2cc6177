"""The API from a client's side, over the real application and SQLite; plans come from a small fake pipeline."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import icalendar
import pytest
from fastapi.testclient import TestClient

from service.app import make_app
from service.settings import Settings
from service.store.unit_of_work import SqlStore
from service.usecases.make.plan import Pipeline, Printer
from tests.service_fakes import broken_plan, fake_plan, no_plan, order_document
from worker.claimed_job import claim_job, run_job
from worker.serve import upgrade_store_to_newest
from worker.wiring import plant_of_settings


def no_sheets(plan: object, plant: object, folder: Path, tell: object) -> None:
    (folder / "saw.pdf").write_bytes(b"%PDF-1.7 fake")
    (folder / "orders").mkdir()
    (folder / "orders" / "sheet one.csv").write_text("a,b\n")


class Stack:
    """The application, its store, and a way to do what waits."""

    def __init__(self, folder: Path) -> None:
        self.settings = Settings(data_dir=str(folder))
        upgrade_store_to_newest(self.settings)
        self.store = SqlStore(self.settings.database_url)
        self.web = TestClient(make_app(self.settings), base_url="http://localhost")

    def work(self, pipeline: Pipeline = fake_plan, printer: Printer = no_sheets) -> None:
        with self.store.reading() as tx:
            waiting = tx.jobs.claimable(10)
        for job_id in waiting:
            assert claim_job(job_id, "t", store=self.store, settings=self.settings)
            plant = plant_of_settings(self.settings)
            settings = self.settings
            run_job(job_id, "t", store=self.store, settings=settings, plant=plant, pipeline=pipeline, printer=printer)

    def plan(self, pipeline: Pipeline = fake_plan) -> str:
        assert self.web.post("/api/orders", json=order_document()).status_code == 201
        """Have all orders planned and return the plan's name, or the job's where no plan came of it."""
        job: str = self.web.post("/api/plans", json={}).json()["job"]
        self.work(pipeline)
        name: str = self.web.get(f"/api/jobs/{job}").json().get("plan", job)
        return name

    def released(self) -> str:
        name = self.plan()
        assert self.web.post(f"/api/plans/{name}/release").status_code == 200
        return name

    def happened(self, kind: str, subject: str, event_id: str, **more: str) -> Any:
        event = {"id": event_id, "kind": kind, "at": "2031-05-05T07:42:00-06:00", "station": "saw", "subject": subject, **more}
        told = self.web.post("/api/events", json=event)
        assert told.status_code in (200, 201), told.text
        return told.json()


@pytest.fixture
def stack(tmp_path: Path) -> Iterator[Stack]:
    made = Stack(tmp_path)
    with made.web:
        yield made
    made.store.close()


def faults(answer: Any) -> list[str]:
    return [fault["path"] for fault in answer.json()["faults"]]


def test_a_sound_order_is_stored_listed_and_read_back_as_it_came(stack: Stack) -> None:
    told = stack.web.post("/api/orders", json=order_document())
    assert (told.status_code, told.headers["location"]) == (201, "/api/orders/shed-1")
    assert told.json() == {"id": "shed-1", "revision": 1, "new": True}
    assert [line["id"] for line in stack.web.get("/api/orders").json()["orders"]] == ["shed-1"]
    read = stack.web.get("/api/orders/shed-1").json()
    assert read["document"] == order_document()
    assert (read["name"], read["need_by"], read["revisions"]) == ("Plot 1", "2031-05-12T07:00:00-06:00", [1])


def test_the_same_order_sent_twice_is_stored_once(stack: Stack) -> None:
    stack.web.post("/api/orders", json=order_document())
    assert stack.web.post("/api/orders", json=order_document()).json()["new"] is False
    assert len(stack.web.get("/api/orders").json()["orders"]) == 1


def test_a_stored_revision_is_never_overwritten_by_other_contents(stack: Stack) -> None:
    stack.web.post("/api/orders", json=order_document())
    told = stack.web.post("/api/orders", json={**order_document(), "openings": []})
    assert (told.status_code, faults(told)) == (422, ["revision"])
    assert stack.web.get("/api/orders/shed-1").json()["document"] == order_document()
    newer = {**order_document(revision=2), "openings": []}
    assert stack.web.post("/api/orders", json=newer).status_code == 201
    assert stack.web.get("/api/orders/shed-1").json()["revision"] == 2


def test_every_fault_of_an_order_comes_in_one_answer_and_nothing_is_stored(stack: Stack) -> None:
    wrong = order_document()
    wrong["colour"] = "green"
    wrong["openings"] = [{"id": "d", "on": "L1.Q", "kind": "door", "from_left": -5, "sill": 0, "width": 36, "height": 80}]
    told = stack.web.post("/api/orders", json=wrong)
    assert told.status_code == 422
    assert told.json()["status"] == "refused"
    assert "colour" in faults(told)
    assert any(path.startswith("openings[0]") for path in faults(told))
    for fault in told.json()["faults"]:
        assert set(fault) == {"path", "problem", "fix"}
        assert all(fault.values())
    assert stack.web.get("/api/orders").json() == {"orders": []}


@pytest.mark.parametrize(
    ("body", "status"),
    [
        (b"", 422),
        (b"{", 422),
        (b"\xff\xfe", 422),
        (b"[]", 422),
        (b"null", 422),
        (b'{"id": NaN}', 422),
        (b"[" * 100_000, 422),
        (b"x" * 10_000_000, 413),
    ],
)
def test_what_is_no_order_is_refused_with_a_fault_and_stores_nothing(stack: Stack, body: bytes, status: int) -> None:
    told = stack.web.post("/api/orders", content=body)
    assert told.status_code == status
    assert told.json()["status"] == "refused"
    assert len(told.json()["faults"]) >= 1
    assert stack.web.get("/api/orders").json() == {"orders": []}


def test_ten_megabytes_without_a_stated_length_are_refused_too(stack: Stack) -> None:
    told = stack.web.post("/api/orders", content=iter([b"[" + b"1," * 500_000] * 10))
    assert (told.status_code, faults(told)) == (413, ["document"])


def test_a_body_over_the_limit_is_refused_before_any_route_sees_it(stack: Stack) -> None:
    """Even where a route reads no body, and whether the length is stated or not."""
    for body in (b"x" * 5_000_000, iter([b"x" * 1_000_000] * 5)):
        assert stack.web.post("/api/jobs/nope/cancel", content=body).status_code == 413
    assert stack.web.post("/api/jobs/nope/cancel", content=b"x").status_code == 404


def test_a_plan_is_accepted_then_done_and_its_parts_are_fetched_by_digest(stack: Stack) -> None:
    name = stack.plan()
    assert name == "P1"
    result = stack.web.get(f"/api/plans/{name}").json()
    state = stack.web.get(f"/api/jobs/{result['job']}").json()
    assert (state["kind"], state["status"], state["plan"], state["fraction"]) == ("plan", "done", name, 1.0)
    assert [one["id"] for one in result["orders"]] == ["shed-1"] and result["made_at"] >= state["asked_at"]
    assert result["counts"] == {"pieces": 3, "bars": 2, "bundles": 2, "loads": 1}
    stages = [part["stage"] for part in result["parts"]]
    assert stages == ["plant", "takeoff", "stack", "nest", "sequence", "schedule", "load", "dispatch", "rack"]
    nest = next(part for part in result["parts"] if part["stage"] == "nest")
    part = stack.web.get(f"/api/plans/{name}/parts/{nest['digest']}").json()
    assert [bar["id"] for bar in part["bars"]] == ["W6|birch|white-1", "W6|birch|white-2"]
    assert stack.web.get(f"/api/plans/{name}/parts/{'0' * 64}").status_code == 404


def test_two_plans_share_the_parts_that_are_alike(stack: Stack) -> None:
    stack.plan()
    stack.web.post("/api/plans", json={"seed": 2, "epoch": "2031-05-05T06:00:00-06:00"})
    stack.work()
    with stack.store.engine.connect() as connection:
        parts = connection.exec_driver_sql("SELECT count(*) FROM parts").scalar_one()
        lines = connection.exec_driver_sql("SELECT count(*) FROM plan_parts").scalar_one()
    assert (lines, parts) == (18, 10)  # only the timetables differ, by their epoch


def test_a_plan_of_orders_that_are_not_stored_names_each_of_them(stack: Stack) -> None:
    stack.web.post("/api/orders", json=order_document())
    told = stack.web.post("/api/plans", json={"orders": ["shed-1", "b", "shed-1", "c"]})
    assert (told.status_code, faults(told)) == (422, ["orders[1]", "orders[2]", "orders[3]"])
    assert stack.web.get("/api/plans").json() == {"plans": []}


def test_a_plan_may_ask_for_a_rack_of_so_many_slots(stack: Stack) -> None:
    stack.web.post("/api/orders", json=order_document())
    stack.web.post("/api/plans", json={"epoch": "2031-05-05T06:00:00-06:00", "rack_slots": 1})
    stack.work()
    result = stack.web.get("/api/plans/P1").json()
    digest = {part["stage"]: part["digest"] for part in result["parts"]}
    curve = stack.web.get(f"/api/plans/P1/parts/{digest['rack']}").json()
    assert (curve["slots"], curve["chosen"]) == (1, "by 1")
    assert stack.web.get(f"/api/plans/P1/parts/{digest['plant']}").json()["rack_slots"] == 1
    assert faults(stack.web.post("/api/plans", json={"rack_slots": -1})) == ["rack_slots"]


def test_a_plan_of_nothing_is_refused(stack: Stack) -> None:
    assert faults(stack.web.post("/api/plans", json={})) == ["orders"]


def test_a_field_that_a_plan_does_not_know_is_a_fault(stack: Stack) -> None:
    assert faults(stack.web.post("/api/plans", json={"sekunds": 5, "seed": True})) == ["sekunds", "seed"]


def test_a_fault_about_a_nameless_or_odd_field_has_a_path_that_can_be_sent(stack: Stack) -> None:
    """Found by generated requests: a field named "" gave a fault without a path."""
    told = stack.web.post("/api/plans", content=b'{"": null, "a\\u0000b": 1, "c\\ud800": 2}')
    assert (told.status_code, faults(told)) == (422, ["document", "a?b", "c?"])


def test_an_impossible_order_ends_the_plan_with_its_faults(stack: Stack) -> None:
    state = stack.web.get(f"/api/jobs/{stack.plan(no_plan)}").json()
    assert state["status"] == "failed"
    assert state["faults"] == [
        {"path": "shed-1.L1.S-01", "problem": "30' is longer than its stock", "fix": "longer stock, or a shorter piece"}
    ]


def test_a_defect_of_ours_ends_the_plan_as_failed_and_is_told(stack: Stack) -> None:
    state = stack.web.get(f"/api/jobs/{stack.plan(broken_plan)}").json()
    assert state["status"] == "failed"
    assert state["faults"][0]["problem"] == "a fault of the service ended it (ZeroDivisionError)"


def test_a_defect_in_a_sheet_costs_the_sheets_never_the_plan(stack: Stack) -> None:
    def torn(plan: object, plant: object, folder: Path, tell: object) -> None:
        (folder / "half.pdf").write_bytes(b"%PDF-1.7 half")
        raise KeyError("a defect in a sheet")

    stack.web.post("/api/orders", json=order_document())
    job = stack.web.post("/api/plans", json={}).json()["job"]
    stack.work(printer=torn)
    state = stack.web.get(f"/api/jobs/{job}").json()
    name = state["plan"]
    assert stack.web.get(f"/api/plans/{name}").json()["faults"] == state["faults"]
    assert (state["status"], [fault["path"] for fault in state["faults"]]) == ("done", ["sheets"])
    assert stack.web.get(f"/api/plans/{name}/documents").json() == {"documents": []}
    assert stack.web.post(f"/api/plans/{name}/release").status_code == 200
    for path in ("/planner", f"/planner/plans/{name}"):
        assert "sheets: not drawn (KeyError)" in stack.web.get(path).text


def test_a_waiting_plan_is_cancelled_and_stays_so(stack: Stack) -> None:
    stack.web.post("/api/orders", json=order_document())
    name = stack.web.post("/api/plans", json={}).json()["job"]
    assert stack.web.post(f"/api/jobs/{name}/cancel").json()["status"] == "cancelled"
    stack.work()
    assert stack.web.get(f"/api/jobs/{name}").json()["status"] == "cancelled"
    assert stack.web.get("/api/plans").json() == {"plans": []}


def test_progress_is_told_as_server_sent_events_to_the_end(stack: Stack) -> None:
    job = stack.web.get(f"/api/plans/{stack.plan()}").json()["job"]
    with stack.web.stream("GET", f"/api/jobs/{job}/progress") as told:
        assert told.headers["content-type"].startswith("text/event-stream")
        lines = list(told.iter_lines())
    states = [json.loads(line.removeprefix("data: ")) for line in lines if line.startswith("data: ")]
    assert "event: state" in lines
    assert states[-1]["status"] == "done"
    assert stack.web.get("/api/jobs/nope/progress").status_code == 404


def test_documents_are_listed_and_fetched_by_name_and_nothing_else_is(stack: Stack) -> None:
    name = stack.plan()
    listed = stack.web.get(f"/api/plans/{name}/documents").json()["documents"]
    assert [(item["name"], item["bytes"]) for item in listed] == [("orders/sheet one.csv", 4), ("saw.pdf", 13)]
    pdf = stack.web.get(f"/api/plans/{name}/documents/saw.pdf")
    assert (pdf.headers["content-type"], pdf.content) == ("application/pdf", b"%PDF-1.7 fake")
    for sly in ("../sawbill.db", "..%2f..%2fsawbill.db", "%2e%2e/sawbill.db", "/etc/passwd"):
        assert stack.web.get(f"/api/plans/{name}/documents/{sly}").status_code == 404


def test_nothing_is_on_the_floor_before_a_release(stack: Stack) -> None:
    stack.plan()
    assert stack.web.get("/api/cut-queue").json()["bars"] == []
    assert stack.web.get("/api/bundles").json()["bundles"] == []
    assert stack.web.get("/api/loads").json()["loads"] == []
    assert stack.web.get("/api/bars/W6|birch|white-1").status_code == 404


def test_a_release_can_be_sent_twice(stack: Stack) -> None:
    name = stack.released()
    again = stack.web.post(f"/api/plans/{name}/release").json()
    assert (again["bars"], again["bundles"], again["loads"]) == (2, 2, 1)
    assert stack.web.get(f"/api/plans/{name}").json()["released"] is True
    assert len(stack.web.get("/api/cut-queue").json()["bars"]) == 2


def test_the_cut_queue_gives_bars_in_cut_order_with_where_the_blade_goes(stack: Stack) -> None:
    """Bar 2 is first in cut order: 8 ft with a head 1 in longer on the far edge, then a wedge, then 8 ft and 2 in."""
    stack.released()
    queue = stack.web.get("/api/cut-queue").json()
    assert queue["unit"] == "in"
    assert [bar["id"] for bar in queue["bars"]] == ["W6|birch|white-2", "W6|birch|white-1"]
    first, second = queue["bars"]
    assert (first["machine"], first["position"], first["of"], first["length"]) == ("panel-saw-1", 1, 2, 288)
    cuts = [[(s["fence"], s["far"], s["from_last"], s["frees"]) for s in cut["strokes"]] for cut in first["cuts"]]
    assert cuts == [
        [(96, 97, 96, "piece")],
        [(97.125, 97.125, 1.125, "waste"), (193.125, 195.125, 96, "piece")],
    ]
    trim = [(s["fence"], s["frees"]) for s in second["cuts"][0]["strokes"]]
    assert trim == [(0.5, "end"), (96.5, "piece")]
    assert first["cuts"][0]["strokes"][0]["swing_udeg"] == 1193489  # atan(1/48) = 1.193489 degrees
    assert (first["cuts"][0]["bundle"], first["cuts"][0]["bundle_place"]) == ("shed-1/B1", 2)
    assert (first["keep_drop"], second["keep_drop"]) == (True, False)


def test_an_event_is_kept_once_however_often_it_is_sent(stack: Stack) -> None:
    stack.released()
    first = stack.happened("cut", "shed-1/L1.S-01", "e1")
    again = stack.happened("scrapped", "shed-1/L1.S-02", "e1")
    assert (first["new"], again["new"]) == (True, False)
    assert (again["kind"], again["subject"], again["seq"]) == ("cut", "shed-1/L1.S-01", first["seq"])
    assert len(stack.web.get("/api/events").json()["events"]) == 1


def test_what_did_happen_is_never_refused_even_where_no_plan_knows_it(stack: Stack) -> None:
    assert stack.happened("loaded", "nobody/B9", "e1", about="nobody/T1")["known"] is False


def test_what_is_no_event_is_refused_with_every_fault(stack: Stack) -> None:
    wrong = {"id": "bad id!", "kind": "melted", "at": "yesterday", "station": "saw", "subject": "x", "colour": 1}
    told = stack.web.post("/api/events", json=wrong)
    assert (told.status_code, faults(told)) == (422, ["event.colour", "event.id", "event.kind"])
    wrong = {"id": "e", "kind": "undone", "at": "2031-05-05T07:42:00", "station": "s", "subject": "x" * 500}
    assert faults(stack.web.post("/api/events", json=wrong)) == ["event.at", "event.subject", "event.about"]


def test_a_cut_shows_in_the_queue_and_an_undone_one_does_not(stack: Stack) -> None:
    stack.released()
    stack.happened("cut", "shed-1/L1.S-01", "e1", about="W6|birch|white-2")

    def states() -> list[str]:
        return [cut["state"] for cut in stack.web.get("/api/bars/W6|birch|white-2").json()["bar"]["cuts"]]

    assert states() == ["cut", "waiting"]
    stack.happened("undone", "shed-1/L1.S-01", "e2", about="e1")
    assert states() == ["waiting", "waiting"]
    stack.happened("scrapped", "shed-1/L1.S-01", "e3", reason="wrong cut")
    stack.happened("cut", "shed-1/L1.S-02", "e4")
    assert states() == ["scrapped", "cut"]


def test_a_bar_with_a_drop_to_keep_is_done_only_when_the_drop_is_put_away(stack: Stack) -> None:
    stack.released()
    for n, piece in enumerate(("shed-1/L1.S-01", "shed-1/L1.S-02")):
        stack.happened("cut", piece, f"c{n}")
    assert stack.web.get("/api/bars/W6|birch|white-2").json()["bar"]["done"] is False
    stack.happened("drop_put_away", "W6|birch|white-2", "d1")
    assert stack.web.get("/api/bars/W6|birch|white-2").json()["bar"]["done"] is True


def test_a_bundle_that_stands_on_another_must_not_go_on_first(stack: Stack) -> None:
    stack.released()

    def may(bundle: str) -> Any:
        return stack.web.get("/api/loads/shed-1/T1/may-load", params={"bundle": bundle}).json()

    first = may("shed-1/B1")
    assert first["may"] is False
    assert first["reasons"] == [{"code": "supports", "bundle": "shed-1/B1", "first": ["shed-1/B2"]}]
    assert may("shed-1/B2")["may"] is True
    stack.happened("loaded", "shed-1/B2", "l1", about="shed-1/T1")
    assert may("shed-1/B1")["may"] is True
    assert may("shed-1/B2")["reasons"][0]["code"] == "on_already"
    stack.happened("undone", "shed-1/B2", "l2", about="l1")
    assert may("shed-1/B1")["may"] is False


def test_a_bundle_is_known_by_the_serial_on_its_tag(stack: Stack) -> None:
    stack.released()
    for said in ("009520000000000026", "00009520000000000026", "(00)009520000000000026", "shed-1/B2"):
        told = stack.web.get("/api/loads/shed-1/T1/may-load", params={"bundle": said}).json()
        assert (told["bundle"], told["may"]) == ("shed-1/B2", True), said
    told = stack.web.get("/api/loads/shed-1/T1/may-load", params={"bundle": "999"}).json()
    assert told["reasons"] == [{"code": "unknown", "bundle": "999"}]


def test_a_scrapped_piece_keeps_its_bundle_off_the_truck_until_it_is_remade(stack: Stack) -> None:
    stack.released()
    stack.happened("scrapped", "shed-1/L1.S-03", "s1")
    asked = {"bundle": "shed-1/B2"}
    told = stack.web.get("/api/loads/shed-1/T1/may-load", params=asked).json()
    assert told["reasons"] == [{"code": "scrapped", "bundle": "shed-1/B2", "first": ["shed-1/L1.S-03"]}]
    stack.happened("remade", "shed-1/L1.S-03", "s2")
    assert stack.web.get("/api/loads/shed-1/T1/may-load", params=asked).json()["may"] is True


def test_a_truck_that_left_takes_nothing_more(stack: Stack) -> None:
    stack.released()
    stack.happened("loaded", "shed-1/B2", "l1", about="shed-1/T1")
    stack.happened("shipped", "shed-1/T1", "l2")
    told = stack.web.get("/api/loads/shed-1/T1/may-load", params={"bundle": "shed-1/B1"}).json()
    assert [reason["code"] for reason in told["reasons"]] == ["left"]
    bundles = [
        [one["id"], one["state"]]
        for how in ("false", "true")
        for one in stack.web.get(f"/api/bundles?left={how}").json()["bundles"]
    ]
    assert bundles == [["shed-1/B1", "waiting"], ["shed-1/B2", "shipped"]]


def test_the_timetable_is_fetched_as_csv_and_as_a_calendar_a_machine(stack: Stack) -> None:
    plan = stack.released()
    told = stack.web.get(f"/api/plans/{plan}/timetable.csv")
    assert told.headers["content-type"].startswith("text/csv")
    rows = list(csv.DictReader(io.StringIO(told.content.decode("utf-8-sig"))))
    assert [(row["machine"], row["step"], row["work min"]) for row in rows] == [("panel-saw-1", "cut", "8.33")] * 2
    assert rows[1]["makes late"] == "shed-1 D1"
    told = stack.web.get(f"/api/plans/{plan}/machines/panel-saw-1/calendar.ics")
    assert told.headers["content-type"].startswith("text/calendar")
    assert len(icalendar.Calendar.from_ical(told.content).walk("VEVENT")) == 2
    assert stack.web.get(f"/api/plans/{plan}/machines/no-such/calendar.ics").status_code == 404
    assert stack.web.get("/api/plans/none/timetable.csv").status_code == 404


def test_what_each_machine_does_in_a_time(stack: Stack) -> None:
    plan = stack.released()
    week = stack.web.get(f"/api/plans/{plan}/machines").json()
    assert (week["from_s"], week["to_s"]) == (0, 604_800)
    work = {"machine": "panel-saw-1", "operations": 2, "open_s": 603_000, "work_s": 1_000, "setup_s": 0}
    assert week["machines"] == [{**work, "first_s": 0, "last_s": 1_100}]
    assert (
        stack.web.get(f"/api/plans/{plan}/machines", params={"from_s": 5_000, "to_s": 0}).json()["machines"][0]["open_s"] == 0
    )
    assert stack.web.get(f"/api/plans/{plan}/machines", params={"from_s": -1}).status_code == 422


def test_drawings_come_as_files_of_their_own(stack: Stack) -> None:
    name = stack.released()
    asked = {
        "bar.svg": {"material": "W6|birch|white", "bar": "W6|birch|white-2"},
        "stack.svg": {"order": "shed-1", "bundle": "shed-1/B1", "view": "end"},
        "deck.svg": {"order": "shed-1", "load": "shed-1/T1", "view": "above"},
        "timetable.svg": {"language": "es"},
    }
    for file, query in asked.items():
        told = stack.web.get(f"/api/plans/{name}/drawings/{file}", params=query)
        assert (told.status_code, told.headers["content-type"]) == (200, "image/svg+xml"), file
        assert told.text.startswith("<svg"), file
    parts: list[dict[str, str]] = [{"view": "day"}, {"view": "week", "at": "2"}, {"machine": "panel-saw-1"}]
    drawn = {stack.web.get(f"/api/plans/{name}/drawings/timetable.svg", params=query).text for query in parts}
    assert len(drawn) == 3 and all(text.startswith("<svg") for text in drawn)
    gone = {"order": "shed-1", "bundle": "shed-1/B7"}
    assert stack.web.get(f"/api/plans/{name}/drawings/stack.svg", params=gone).status_code == 404


def test_another_sites_page_can_write_nothing(stack: Stack) -> None:
    for headers in ({"sec-fetch-site": "cross-site"}, {"origin": "https://elsewhere.example"}):
        assert stack.web.post("/api/orders", json=order_document(), headers=headers).status_code == 403
    own = {"sec-fetch-site": "same-origin", "origin": "http://localhost"}
    assert stack.web.post("/api/orders", json=order_document(), headers=own).status_code == 201


def test_every_answer_tells_browsers_what_not_to_do(stack: Stack) -> None:
    for path in ("/", "/api/orders", "/api/nope", "/static/look.css"):
        headers = stack.web.get(path).headers
        assert "default-src 'none'" in headers["content-security-policy"], path
        assert "script-src 'self';" in headers["content-security-policy"], path
        assert headers["x-content-type-options"] == "nosniff", path


def test_health_and_counters_answer(stack: Stack) -> None:
    stack.plan()
    assert stack.web.get("/healthz").json() == {"status": "well"}
    text = stack.web.get("/metrics").text
    assert 'sawbill_jobs{status="done"} 1.0' in text
    assert 'sawbill_requests_total{method="POST",route="/api/plans",status="202"} 1.0' in text


def test_unknown_addresses_get_json_in_the_api_and_a_page_elsewhere(stack: Stack) -> None:
    assert stack.web.get("/api/nope").json()["status"] == "not_found"
    told = stack.web.get("/nope<script>")
    assert (told.status_code, "<script>" in told.text) == (404, False)
    assert stack.web.put("/api/orders").status_code == 405


def test_lists_of_the_floor_come_a_page_at_a_time(stack: Stack) -> None:
    stack.web.post(f"/api/plans/{stack.plan()}/release")
    for name, key in (("bundles", "bundles"), ("loads", "loads")):
        every = stack.web.get(f"/api/{name}").json()
        assert not every.get("more", False)
        told = [stack.web.get(f"/api/{name}", params={"after": n, "limit": 1}).json() for n in range(len(every[key]) + 1)]
        assert [one[key] for one in told] == [*([item] for item in every[key]), []]
        last = len(every[key]) - 1
        assert [one.get("more", False) for one in told] == [n < last for n in range(len(told))]
        assert stack.web.get(f"/api/{name}", params={"limit": 501}).status_code == 422
    assert len(every["loads"]) == 1
