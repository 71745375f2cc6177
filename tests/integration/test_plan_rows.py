"""Pages read rows of a plan: the rows tell what its parts tell, no page decodes a timetable, and old plans get theirs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlalchemy import delete, select

from service import stored_form
from service.app import make_app
from service.settings import Settings
from service.store import tables
from service.store.unit_of_work import SqlStore
from service.usecases.ask.bounds import bounds_page
from service.usecases.ask.moves import moves_page
from service.usecases.ask.timetable import timetable_page
from service.usecases.plan_bounds import PartBounds, PlanBounds
from service.usecases.plan_rows import (
    moves_from_rows,
    nameable_texts,
    operations_between,
    plan_thing_names,
    timetable_head,
    write_plan_rows,
)
from service.usecases.stored import stored_plan
from solver.documents.moves import compare_timetables
from solver.documents.names import ThingNames
from solver.domain.certificate import BoundReport
from solver.domain.plan import Plan
from solver.domain.timetable import Timetable
from tests.bench.every_page import HOUR_S, house, many, shifted
from tests.gets import address_of, gets, things_of
from tests.languages import ENGLISH, SPANISH
from tests.stored import keep_plan
from worker.serve import upgrade_store_to_newest


class Kept:
    """A service over the plan of three houses, and of the same an hour later."""

    def __init__(self, folder: Path) -> None:
        self.settings = Settings(data_dir=str(folder))
        upgrade_store_to_newest(self.settings)
        self.store = SqlStore(self.settings.database_url)
        one, plant = house()
        before = many(one, 3)
        work = before.timetable.operations
        other = replace(before, timetable=replace(before.timetable, operations=work[:-2]))
        first = keep_plan(self.store, before, plant)
        self.plan: Plan = replace(before, id="later", timetable=shifted(other.timetable, HOUR_S), predecessor=first)
        self.job = keep_plan(self.store, self.plan, plant)
        self.app: FastAPI = make_app(self.settings)
        self.web = TestClient(self.app, base_url="http://localhost")


@pytest.fixture
def kept(tmp_path: Path) -> Iterator[Kept]:
    made = Kept(tmp_path)
    with made.web:
        yield made
    made.store.close()


def test_rows_tell_what_the_parts_tell(kept: Kept) -> None:
    write_plan_rows("P2", store=kept.store)
    with kept.store.reading() as tx:
        new, plant = stored_plan(tx, "P2")
        old, _ = stored_plan(tx, "P1")
        table = new.timetable
        assert operations_between(tx, "P2") == table.operations
        low, high = 20_000, 60_000
        seen = {one.id for one in table.operations if one.end_s + one.hold_s > low and one.start_s < high}
        assert {one.id for one in operations_between(tx, "P2", low, high)} == seen != set()
        assert len(seen) < len(table.operations)
        saw = tuple(one for one in table.operations if one.machine == "panel-saw-1")
        assert operations_between(tx, "P2", machine="panel-saw-1") == saw
        change = compare_timetables(old.timetable, table)
        assert moves_from_rows(tx.rows.moves("P2", 0, 1_000_000)) == change.moves
        assert moves_from_rows(tx.rows.moves("P2", 5, 7)) == change.moves[5:12]
        between = moves_from_rows(tx.rows.moves_between("P2", low, high))
        assert set(between) == {
            move
            for move in change.moves
            if (move.old is not None and move.old.end_s > low and move.old.start_s < high)
            or (move.new is not None and move.new.id in seen)
        }
        assert sum(move.kind == "gone" for move in change.moves) == 2
        head = timetable_head(tx, "P2")
        assert (head.operations, head.end_s) == (len(table.operations), max(one.end_s for one in table.operations))
        assert head.table.deliveries == table.deliveries
        pieces = {str(piece.id) for takeoff in new.takeoffs for piece in takeoff.pieces}
        assert set(tx.rows.names("P2", "piece")) == pieces
        assert set(tx.rows.numbers("P2", "piece", [*list(pieces)[:3], "none"])) == set(list(pieces)[:3])
        whole = ThingNames.for_timetable(plant, SPANISH, table, new.sequences)
        told = plan_thing_names(tx, "P2", SPANISH, nameable_texts(table.operations))
        assert [told.operation(one) for one in table.operations] == list(map(whole.operation, table.operations))


def test_no_page_and_no_request_decodes_a_timetable(kept: Kept, monkeypatch: pytest.MonkeyPatch) -> None:
    write_plan_rows("P2", store=kept.store)
    kept.web.get(f"/planner/plans/{kept.job}/bounds")  # verified once, kept as a row
    assert kept.web.post(f"/api/plans/{kept.job}/release").status_code == 200
    things, decoded = things_of(kept.web, kept.job), list[str]()
    real = stored_form.from_stored_text

    def noting(kind: type[Any], text: str, **more: Any) -> Any:
        decoded.append(kind.__name__)
        return real(kind, text, **more)

    monkeypatch.setattr("service.stored_form.from_stored_text", noting)
    for module in ("stored", "plan_rows", "ask.timetable", "ask.reprint"):
        monkeypatch.setattr(f"service.usecases.{module}.from_stored_text", noting, raising=False)
    opened = 0
    for path, query in gets(kept.app):
        where = address_of(path, query, things)
        if where is None or path == "/api/printers":
            continue
        decoded.clear()
        status = kept.web.get(where).status_code
        assert status == 200 or (status, path.partition("{order_id")[1]) == (404, "{order_id"), where  # no order is stored
        assert Timetable.__name__ not in decoded, where
        opened += 1
    assert opened > 40


def test_a_plan_without_rows_gets_them_when_a_page_first_asks(kept: Kept) -> None:
    address = f"/api/plans/{kept.job}/machines"
    first = kept.web.get(address).json()
    assert sum(one["operations"] for one in first["machines"]) > 0
    with kept.store.engine.begin() as connection:
        for table in (tables.extracts, tables.operations, tables.moves, tables.names):
            assert connection.execute(select(table.c.plan).where(table.c.plan == "P2").limit(1)).first() is not None
            connection.execute(delete(table))
    assert kept.web.get(address).json() == first
    write_plan_rows("P2", store=kept.store)  # again: nothing is written twice
    with kept.store.engine.connect() as connection:
        rows = connection.execute(select(tables.operations.c.id).where(tables.operations.c.plan == "P2")).all()
    assert len(rows) == len(kept.plan.timetable.operations)


def test_a_page_shows_its_window_and_the_list_goes_on(kept: Kept, monkeypatch: pytest.MonkeyPatch) -> None:
    now = datetime(2031, 1, 1, tzinfo=UTC)
    shown = timetable_page(kept.job, ENGLISH, view="day", at=0, machine=None, marked=None, now=now, store=kept.store)
    low, high = shown.machines.from_s, shown.machines.to_s
    there = [one.id for one in kept.plan.timetable.operations if one.start_s < high and one.end_s > low]
    assert [one.id for one in shown.operations] == there and 0 < len(there) < len(kept.plan.timetable.operations)
    monkeypatch.setattr("service.stations.timetable.LISTED", 3)
    address = f"/planner/plans/{kept.job}/timetable?view=day"
    texts = [kept.web.get(f"{address}&first={first}").text for first in range(0, len(there), 3)]
    assert sum(text.count('<li><span class="num">') for text in texts) == len(there)
    moved = moves_page(kept.job, ENGLISH, view="week", at=None, first=0, now=now, store=kept.store)
    assert moved is not None and moved.change.moved == moved.change.counts["later"] + 2 and moved.change.counts["gone"] == 2


def test_bounds_are_shown_a_page_at_a_time() -> None:
    report = BoundReport(about="x", state="confirmed", claimed=1.0, proved=1.0)
    bounds = PlanBounds(parts=tuple(PartBounds(stage="nest", about=str(n), bounds=(report,) * 40) for n in range(6)))
    pages = [bounds_page(bounds, at=at, part=None) for at in range(3)]
    assert [part.about for page in pages for part in page.parts] == [str(n) for n in range(6)]
    assert [page.more for page in pages] == [True, True, False]
    assert bounds_page(bounds, at=0, part="nest 5") == pages[2]
