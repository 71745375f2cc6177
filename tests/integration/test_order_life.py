"""An order from received to shipped by what is told, withdrawn midway and received again, on both databases."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text

from tests.book import fresh
from tests.integration.test_service_pages import Pages
from tests.servers import postgres
from tests.service_fakes import order_document

FIRST, SECOND, THIRD = (f"shed-1/L1.S-0{n}" for n in (1, 2, 3))


@pytest.fixture(scope="module")
def database(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with postgres(tmp_path_factory.mktemp("server")) as url:
        yield url


@pytest.fixture(params=["sqlite", "postgres"])
def pages(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Pages]:
    with fresh(request.param, request, tmp_path) as url:
        made = Pages(tmp_path, url)
        with made.web:
            yield made
            with made.store.reading() as tx:
                assert tx.book.differences() == ()
        made.store.close()


def order(pages: Pages) -> Any:
    return pages.web.get("/api/orders/shed-1").json()


def state(pages: Pages) -> tuple[str, dict[str, int]]:
    told = order(pages)
    return told["state"], told["progress"]


def test_an_order_lives_from_received_to_shipped(pages: Pages) -> None:
    assert pages.web.post("/api/orders", json=order_document("shed-1")).status_code == 201
    assert state(pages) == ("received", {"pieces": None, "cut": 0, "laid": 0, "on": 0, "left": 0})
    pages.make()
    got = state(pages)
    assert got[0] == "released"
    pieces = got[1]["pieces"]
    assert got[1] == {"pieces": pieces, "cut": 0, "laid": 0, "on": 0, "left": 0} and pieces >= 3
    pages.happened("cut", FIRST, "e1")
    assert state(pages) == ("in_work", {"pieces": pieces, "cut": 1, "laid": 0, "on": 0, "left": 0})
    pages.happened("scrapped", FIRST, "e2")
    told = order(pages)
    assert told["state"] == "in_work" and told["progress"]["cut"] == 0
    waits = told["waits"]
    assert [(one["for"], one.get("piece"), one.get("bundle")) for one in waits] == [
        ("remake", FIRST, None),
        (FIRST, None, "shed-1/B1"),
    ]
    assert all(one["until"] is None and "the next plan" in one["why"] for one in waits)
    pages.happened("remade", FIRST, "e3")
    assert (order(pages)["waits"], state(pages)[1]["cut"]) == ([], 1)
    for n, name in enumerate((SECOND, THIRD)):
        pages.happened("cut", name, f"c{n}")
    pages.happened("loaded", "shed-1/B2", "e4", about="shed-1/T1")
    pages.happened("loaded", "shed-1/B1", "e5", about="shed-1/T1")
    told = state(pages)
    assert told == ("in_work", {"pieces": pieces, "cut": 3, "laid": 3, "on": 3, "left": 0})
    assert [one["id"] for one in pages.web.get("/api/loads").json()["loads"]] == ["shed-1/T1"]
    assert len(pages.web.get("/api/bundles").json()["bundles"]) == 2
    pages.happened("shipped", "shed-1/T1", "e6")
    assert state(pages) == ("shipped", {"pieces": pieces, "cut": 3, "laid": 3, "on": 3, "left": 3})
    assert pages.web.get("/api/loads").json()["loads"] == pages.web.get("/api/bundles").json()["bundles"] == []
    assert [one["id"] for one in pages.web.get("/api/loads?left=true").json()["loads"]] == ["shed-1/T1"]
    gone = pages.web.get("/api/bundles?left=true").json()["bundles"]
    assert {one["id"] for one in gone} == {"shed-1/B1", "shed-1/B2"} and {one["state"] for one in gone} == {"shipped"}
    refused = pages.web.post("/api/orders/shed-1/withdraw")
    assert (refused.status_code, refused.json()["status"]) == (409, "shipped")
    nothing = pages.web.post("/api/plans", json={})
    assert nothing.status_code == 422 and "no order is open" in nothing.text


def test_an_order_withdrawn_midway_lists_what_is_made_and_comes_back_as_a_revision(pages: Pages) -> None:
    pages.make()
    pages.happened("cut", FIRST, "e1")
    asked = pages.read("/planner/orders/shed-1")
    assert f"1 piece is made already and stays where it lies: {FIRST} Withdraw it" in asked
    assert "1 cut, 0 laid, 0 on a truck, 0 left, of 3 pieces" in asked
    made = [{"piece": FIRST, "making": 1, "state": "cut", "bundle": None, "load": None}]
    told = pages.web.post("/api/orders/shed-1/withdraw")
    assert told.status_code == 200, told.text
    assert (told.json()["state"], told.json()["made"]) == ("withdrawn", made)
    assert pages.web.post("/api/orders/shed-1/withdraw").json() == told.json()
    with pages.store.engine.connect() as connection:
        assert connection.execute(text("SELECT kind, revision FROM order_decisions")).all() == [("withdrawn", 1)]
    assert state(pages)[0] == "withdrawn" and state(pages)[1]["cut"] == 1
    assert "shed-1 withdrawn" in pages.read("/planner") and "shed-1 retirado" in pages.read("/planner", "es")
    assert pages.web.post("/api/plans", json={}).status_code == 422
    named = pages.web.post("/api/plans", json={"orders": ["shed-1"]})
    assert named.status_code == 422 and "is withdrawn" in named.text
    assert pages.web.post("/api/orders", json=order_document("shed-1", 2)).status_code == 201
    assert state(pages) == ("received", {"pieces": None, "cut": 0, "laid": 0, "on": 0, "left": 0})
    assert order(pages)["made"] == made  # what lies there stays told
    job = pages.web.post("/api/plans", json={}).json()["job"]
    assert pages.web.get(f"/api/jobs/{job}").json()["orders"] == [{"id": "shed-1", "revision": 2}]


def test_an_order_held_back_is_left_out_of_plans_of_all_open_ones(pages: Pages) -> None:
    for name in ("shed-1", "shed-2"):
        assert pages.web.post("/api/orders", json=order_document(name)).status_code == 201
    assert pages.web.post("/api/orders/shed-2/hold").json()["held"] is True
    job = pages.web.post("/api/plans", json={}).json()["job"]
    assert [one["id"] for one in pages.web.get(f"/api/jobs/{job}").json()["orders"]] == ["shed-1"]
    assert pages.web.delete("/api/orders/shed-2/hold").json()["held"] is False
    job = pages.web.post("/api/plans", json={}).json()["job"]
    assert [one["id"] for one in pages.web.get(f"/api/jobs/{job}").json()["orders"]] == ["shed-1", "shed-2"]
    assert pages.web.post("/api/orders/nobody/withdraw").status_code == 404
