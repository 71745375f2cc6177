"""What others may send, and what the machine may lack, does no harm: names, bodies, a full disk."""

from __future__ import annotations

import errno
import tempfile
import threading
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import update
from starlette.testclient import TestClient

from service import dependencies
from service.app import make_app
from service.catalog import read_plant
from service.settings import Settings
from service.store.tables import bundle_pieces
from service.usecases.ask import reprint, scan
from service.usecases.ask.scan import read_scanned
from solver import codec
from solver.documents.codes import short_code
from solver.errors import InputError
from solver.reading.read_order import read_order
from solver.search import Search
from tests.integration.test_service_api import Stack, faults, stack
from tests.service_fakes import fake_plan, order_document
from worker.demo import store_plan

__all__ = ["stack"]

PIECE = "shed-1/L1.S-02"


class Key(str):
    """A name that counts how often it is compared."""

    compared = 0

    def __eq__(self, other: object) -> bool:
        Key.compared += 1
        return str.__eq__(self, other)

    __hash__ = str.__hash__


def test_names_given_many_times_are_told_apart_in_a_time_that_grows_with_their_number_only() -> None:
    """Issue 12, 26: each name was counted in the whole list: 560 kB of one key took ten seconds."""
    many = 2_000
    made = codec._pairs([(Key("a"), n) for n in range(many)])
    assert made.repeated == ("a",)
    assert Key.compared <= 10 * many


def test_a_body_is_read_beside_the_event_loop(stack: Stack, monkeypatch: pytest.MonkeyPatch) -> None:
    threads: list[str] = []

    def reading(*given: Any, **named: Any) -> Any:
        threads.append(threading.current_thread().name)
        return codec.read_json(*given, **named)

    monkeypatch.setattr(dependencies, "read_json", reading)
    assert stack.web.post("/api/orders", json={"id": 5}).status_code == 422
    assert [name.startswith("AnyIO worker") for name in threads] == [True]


def test_labels_are_drawn_and_spooled_beside_the_event_loop(stack: Stack, monkeypatch: pytest.MonkeyPatch) -> None:
    threads: list[str] = []

    def printing(*_: object, **__: object) -> None:
        threads.append(threading.current_thread().name)
        raise InputError(*scanning_fault())

    monkeypatch.setattr(reprint, "reprint", printing)
    stack.web.post("/scan/print", data={"code": PIECE}, follow_redirects=False)
    assert [name.startswith("AnyIO worker") for name in threads] == [True]


def scanning_fault() -> tuple[Any, ...]:
    try:
        read_scanned("", store=None)  # type: ignore[arg-type]  # an empty code is refused before the store is asked
    except InputError as error:
        return error.faults
    raise AssertionError


def test_only_names_that_are_ours_are_answered(tmp_path: Path, stack: Stack) -> None:
    """A foreign name made to point here brought its own Origin along, and its page could store an event."""
    settings = replace(stack.settings, allowed_hosts="saws.plant.example, Other.example")
    with TestClient(make_app(settings), base_url="http://localhost") as web:
        event = {"id": "e1", "kind": "cut", "at": "2031-05-05T07:42:00-06:00", "station": "saw", "subject": "x"}
        foreign = {"host": "evil.example", "origin": "http://evil.example"}
        told = web.post("/api/events", json=event, headers=foreign)
        assert (told.status_code, faults(told)) == (421, ["host"])
        assert web.get("/api/events").json()["events"] == []
        for name in (
            "127.0.0.1:8040",
            "[::1]:8040",
            "192.168.1.20",
            "localhost:8040",
            "SAWS.plant.example",
            "other.example:80",
        ):
            assert web.get("/healthz", headers={"host": name}).status_code == 200, name
        for name in ("evil.example", "localhost.evil.example", "", "1.2.3.4.evil.example"):
            assert web.get("/healthz", headers={"host": name}).status_code == 421, name


def test_half_a_letter_in_an_orders_id_is_refused_not_an_error_of_ours(stack: Stack) -> None:
    name = stack.released()
    told = stack.web.post(f"/api/plans/{name}/promises", content=b'{"order": "\\ud800"}')
    assert (told.status_code, faults(told)) == (422, ["order"])


def test_a_full_disk_is_no_health(stack: Stack, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: object, **__: object) -> Any:
        raise OSError(errno.ENOSPC, "No space left on device")

    assert stack.web.get("/healthz").status_code == 200
    monkeypatch.setattr(tempfile, "NamedTemporaryFile", full)
    told = stack.web.get("/healthz")
    assert (told.status_code, told.json()["status"]) == (503, "unwell")
    assert "No space left" in told.json()["problem"]
    assert stack.web.get("/livez").status_code == 200


def test_a_short_code_is_looked_up_not_worked_out_of_every_name(stack: Stack, monkeypatch: pytest.MonkeyPatch) -> None:
    stack.released()
    code, hashed = short_code(PIECE), []

    def counting(name: str) -> str:
        hashed.append(name)
        return short_code(name)

    monkeypatch.setattr(scan, "short_code", counting)
    assert read_scanned(code, store=stack.store).id == PIECE
    assert hashed == []
    with stack.store.engine.begin() as connection:  # as a plan was released before codes were kept
        connection.execute(update(bundle_pieces).values(code=None))
    assert read_scanned(code, store=stack.store).id == PIECE


def test_what_happened_to_a_bar_of_another_plan_marks_no_bar_of_the_same_name(stack: Stack) -> None:
    """Issue 12, 18: plans give bars the same names anew; what was put away then is still to be put away now."""
    stack.released()
    bar = next(one for one in stack.web.get("/api/cut-queue").json()["bars"] if one["keep_drop"])
    stack.happened("drop_put_away", bar["id"], "e1")
    assert stack.web.get(f"/api/bars/{bar['id']}").json()["bar"]["drop_event"] == "e1"

    stack.web.post("/api/orders", json=order_document("shed-2"))
    name = stack.web.post("/api/plans", json={"orders": ["shed-2"]}).json()["job"]
    stack.work()  # a bar of the same name, with other pieces on it
    assert stack.web.post(f"/api/plans/{name}/release", params={"drop": True}).status_code == 200
    again = stack.web.get(f"/api/bars/{bar['id']}").json()["bar"]
    assert [cut["piece"] for cut in again["cuts"]] != [cut["piece"] for cut in bar["cuts"]]
    assert again.get("drop_event") is None
    machine = again["machine"]
    for n, cut in enumerate(again["cuts"]):
        stack.happened("cut", cut["piece"], f"cut-{n}")
    with stack.store.reading() as tx:
        released = tx.plans.released()
        assert released is not None
        waits = tx.floor.next_bar(released[0], machine)
    left = {one["id"] for one in stack.web.get("/api/cut-queue").json()["bars"] if not one["done"]}
    assert bar["id"] in left
    assert waits is not None


def test_the_demo_serves_what_its_plan_wrote_and_nothing_else_of_the_folder(tmp_path: Path) -> None:
    """Issue 12, 18: the store lay in the same folder, and was served with all orders and events."""
    for name in ("saw.pdf", "sawbill.db", "notes-of-mine.txt", "plan.json"):
        (tmp_path / name).write_bytes(b"-")
    settings, plant = Settings(data_dir=str(tmp_path)), read_plant(None)
    document = order_document()
    plan = fake_plan((read_order(document, plant),), plant, Search(), epoch="2031-05-05T06:00:00-06:00")
    (tmp_path / "sawbill.db").unlink()
    (tmp_path / "calendars").mkdir()
    (tmp_path / "calendars" / "saw-1.ics").write_text("BEGIN:VCALENDAR", encoding="utf-8")
    store_plan(settings, [document], plan, plant, (tmp_path / "saw.pdf", tmp_path / "plan.json", tmp_path / "calendars"))
    with TestClient(make_app(settings), base_url="http://localhost") as web:
        name = web.get("/api/plans").json()["plans"][0]["id"]
        served = [one["name"] for one in web.get(f"/api/plans/{name}/documents").json()["documents"]]
        assert sorted(served) == ["calendars/saw-1.ics", "saw.pdf"]
        assert web.get(f"/api/plans/{name}/documents/sawbill.db").status_code == 404
