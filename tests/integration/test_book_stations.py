"""The book beside the stations and the command line: plain events, a released plan, and the state proved from outside."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text

from service.store.unit_of_work import SqlStore
from service.usecases.ask.stock import take_over_catalog_stock
from solver.codec import decode
from solver.domain.floor_snapshot import FloorSnapshot
from tests.integration.test_service_pages import Pages
from worker.wiring import plant_of_settings

FIRST, LAST = "shed-1/L1.S-01", "shed-1/L1.S-03"


@pytest.fixture
def pages(tmp_path: Path) -> Iterator[Pages]:
    made = Pages(tmp_path)
    with made.web:
        made.make()
        yield made
        with made.store.reading() as tx:
            assert tx.book.differences() == ()
    made.store.close()


def command(pages: Pages, *words: str) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, **pages.settings.environment()}
    line = [sys.executable, "-m", "service.cli", *words]
    return subprocess.run(line, env=environment, capture_output=True, text=True, check=False)


def piece(pages: Pages, name: str) -> tuple[str, Any, Any]:
    found = pages.web.get(f"/api/pieces/{name}").json()
    return found["state"], found["bar"], found["bundle"]


def test_plain_events_of_the_stations_move_the_state(pages: Pages) -> None:
    assert piece(pages, FIRST)[0] == "on_bar"
    bar = piece(pages, FIRST)[1]
    pages.happened("cut", FIRST, "e1", about=bar)
    assert piece(pages, FIRST) == ("cut", bar, "shed-1/B1")
    pages.happened("scrapped", FIRST, "e2", about=bar)
    assert piece(pages, FIRST)[0] == "wanted"
    pages.happened("remade", FIRST, "e3")
    pages.happened("loaded", "shed-1/B2", "e4", about="shed-1/T1")
    pages.happened("loaded", "shed-1/B1", "e5", about="shed-1/T1")
    assert piece(pages, FIRST)[0] == "on"
    pages.happened("shipped", "shed-1/T1", "e6")
    assert (piece(pages, FIRST)[0], piece(pages, LAST)[0]) == ("left", "on_bar")  # nobody told that the other was cut


def test_a_bundle_that_is_off_again_waits_at_the_dock(pages: Pages) -> None:
    def state() -> str:
        return str(pages.web.get("/api/bundles/shed-1/B2").json()["bundle"]["state"])

    event = {"at": "2031-05-05T07:42:00-06:00", "device": "dock", "bundle": "shed-1/B2", "load": "shed-1/T1"}
    assert pages.web.post("/api/events", json={**event, "id": "n1", "kind": "on"}).status_code == 201
    assert state() == "loaded"
    assert pages.web.post("/api/events", json={**event, "id": "n2", "kind": "off"}).status_code == 201
    assert state() == "waiting"


def test_a_bar_begun_takes_a_length_from_the_stock_and_gives_it_back_whole(pages: Pages) -> None:
    bar = pages.web.get("/api/cut-queue").json()["bars"][0]
    lot = {"id": "m1", "kind": "received", "material": bar["material"], "length": bar["length"], "count": 3}
    assert pages.web.post("/api/stock/movements", json={**lot, "unit": "in"}).status_code == 201

    def there() -> list[int]:
        return [one["count"] for one in pages.web.get("/api/stock").json()["stock"]]

    for n, (kind, count) in enumerate((("bar_begun", 2), ("bar_begun", 2), ("bar_set_aside", 3), ("bar_begun", 2))):
        event = {"id": f"b{n}", "kind": kind, "at": f"2031-05-05T07:0{n}:00-06:00", "device": "saw-1", "bar": bar["id"]}
        assert pages.web.post("/api/events", json=event).status_code == 201
        assert there() == [count]
    pages.happened("cut", bar["cuts"][0]["piece"], "c1", about=bar["id"])
    event = {"id": "b9", "kind": "bar_set_aside", "at": "2031-05-05T08:00:00-06:00", "device": "saw-1", "bar": bar["id"]}
    assert pages.web.post("/api/events", json=event).status_code == 201
    assert there() == [2]  # it was cut into: no stock length any more
    pages.happened("drop_put_away", bar["id"], "d1")
    assert there() == [2, 1]
    drop = pages.web.get("/api/stock/2").json()
    assert (drop["kind"], drop["length"], drop["from"]) == ("remnant", bar["drop"], bar["id"])


def test_the_state_is_proved_on_the_command_line(pages: Pages) -> None:
    pages.happened("cut", FIRST, "e1")
    told = command(pages, "rebuild")
    assert (told.returncode, told.stdout) == (0, "holds: the state of the floor after 1 events\n")
    with pages.store.engine.execution_options(sawbill_writes=True).begin() as connection:
        connection.execute(text("UPDATE piece_states SET making = 7"))
    told = command(pages, "rebuild")
    assert told.returncode == 4 and f"piece_states {FIRST}: kept" in told.stderr
    assert command(pages, "rebuild", "--write").returncode == 4
    assert command(pages, "rebuild").returncode == 0


def test_a_snapshot_tells_stock_and_pieces_of_open_orders(pages: Pages) -> None:
    plant = plant_of_settings(pages.settings)
    take_over_catalog_stock(plant, store=pages.store)
    pages.happened("cut", FIRST, "e1")
    told = command(pages, "floor")
    assert told.returncode == 0, told.stderr
    floor = decode(FloorSnapshot, json.loads(told.stdout), name="floor")
    assert [(one.id, one.state, one.making) for one in floor.pieces] == [
        (FIRST, "cut", 1), ("shed-1/L1.S-02", "on_bar", 1), ("shed-1/L1.S-03", "on_bar", 1),
    ]  # fmt: skip
    to_come = {one.bar for one in floor.pieces if one.state == "on_bar"}
    assert {bar.number for bar in floor.bars} == to_come and floor.last_bar == 2
    assert [one.order for one in floor.orders] == ["shed-1"]
    lots = [(one.material, one.length_nm, one.count) for one in floor.stock if one.kind == "lot"]
    assert lots == [(one.material, one.length_nm, one.count) for one in plant.stated_stock.bars]
    assert floor.seen == pages.web.get("/api/events", params={"limit": 1000}).json()["cursor"]


def test_a_store_of_before_comes_up_to_its_events_when_it_is_opened(pages: Pages, tmp_path: Path) -> None:
    from service.store.migrate import upgrade_store

    pages.happened("scrapped", FIRST, "e1")
    with pages.store.engine.execution_options(sawbill_writes=True).begin() as connection:
        for line in ("UPDATE events SET body = NULL, placed = false", "DELETE FROM event_things", "DELETE FROM piece_states"):
            connection.execute(text(line))
    again = SqlStore(pages.settings.database_url)
    upgrade_store(again.engine)
    with again.reading() as tx:
        assert tx.book.makings() == {FIRST: 2}
        assert tx.book.differences() == ()
    again.close()
