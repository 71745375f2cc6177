"""What the pages say, without a browser: over the real application, SQLite and a small fake plan."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.app import make_app
from service.settings import Settings
from service.store.unit_of_work import SqlStore
from tests.service_fakes import fake_plan, no_plan, one_sheet, order_document
from worker.run import claim, run_job
from worker.serve import prepare
from worker.wiring import plant_of_settings


class Pages:
    """The application's pages, and a way to make and release a plan."""

    def __init__(self, folder: Path) -> None:
        self.settings = Settings(data_dir=str(folder))
        prepare(self.settings)
        self.store = SqlStore(self.settings.database_url)
        self.web = TestClient(make_app(self.settings))
        self.plan = ""

    def read(self, path: str, language: str = "en") -> str:
        told = self.web.get(path, headers={"accept-language": language})
        assert told.status_code == 200, (path, told.status_code)
        body = re.sub(r"<style>.*?</style>|<svg.*?</svg>|<[^>]*>", " ", told.text, flags=re.S)
        return " ".join(unescape(body).split())

    def make(self, *, release: bool = True, pipeline: Any = fake_plan) -> str:
        self.web.post("/api/orders", json=order_document())
        self.plan = self.web.post("/api/plans", json={"epoch": "2031-04-21T06:00:00-06:00"}).json()["id"]
        claim(self.plan, "t", store=self.store, settings=self.settings)
        plant, settings = plant_of_settings(self.settings), self.settings
        run_job(self.plan, "t", store=self.store, settings=settings, plant=plant, pipeline=pipeline, printer=one_sheet)
        if release:
            assert self.web.post(f"/api/plans/{self.plan}/release").status_code == 200
        return self.plan

    def happened(self, kind: str, subject: str, event_id: str, **more: str) -> None:
        event = {"id": event_id, "kind": kind, "at": "2031-05-05T07:42:00-06:00", "station": "t", "subject": subject, **more}
        assert self.web.post("/api/events", json=event).status_code == 200


@pytest.fixture
def pages(tmp_path: Path) -> Iterator[Pages]:
    made = Pages(tmp_path)
    with made.web:
        yield made
    made.store.close()


def test_empty_pages_teach_what_will_be_here_and_how_it_gets_here(pages: Pages) -> None:
    assert "Bring one in from a file or the clipboard" in pages.read("/planner")
    assert "They come when the planner gives a plan to the floor." in pages.read("/saw")
    assert "They come when the planner gives a plan to the floor." in pages.read("/dock")


def test_a_plan_that_is_not_released_and_late_deliveries_need_the_planner(pages: Pages) -> None:
    pages.make(release=False)
    text = pages.read("/planner")
    assert "The newest plan is not on the floor." in text
    assert "shed-1, delivery D1: late by 16 min." in text


def test_a_failed_plan_shows_every_fault_with_what_would_be_right(pages: Pages) -> None:
    pages.make(release=False, pipeline=no_plan)
    text = pages.read(f"/planner/plans/{pages.plan}")
    assert "No plan: 1 fault" in text
    assert "shed-1.L1.S-01 is longer than any bar Right would be: a shorter wall" in text
    assert "The last plan was stopped by 1 fault." in pages.read("/planner")


def test_a_waiting_plan_says_so_and_can_be_stopped(pages: Pages) -> None:
    pages.web.post("/api/orders", json=order_document())
    name = pages.web.post("/api/plans", json={}).json()["id"]
    text = pages.read(f"/planner/plans/{name}")
    assert "The plan is being made" in text
    assert "Stop it" in text


def test_the_plan_page_answers_will_it_ship_and_what_is_proved(pages: Pages) -> None:
    text = pages.read(f"/planner/plans/{pages.make()}")
    assert "shed-1 D1 late by 16 min · why 8 min from start to end: 8 min work" in text
    assert "2031-04-21 07:40 due 2031-04-21 07:23" in text
    assert "Proved that no plan cuts it cheaper: 1 of 1 materials." in text
    assert "cannot be better" in text


def test_the_saw_pulls_a_bar_then_cuts_piece_by_piece_then_puts_the_drop_away(pages: Pages) -> None:
    pages.make()
    text = pages.read("/saw/panel-saw-1")
    assert "Bar 1 of 2" in text
    assert "Pull 24′ 0″ W6, birch / white" in text
    assert "2 pieces come out of it" in text
    text = pages.read("/saw/panel-saw-1?pulled=1")
    assert "From zero, on the fence edge 8′ 0″" in text
    assert "1.2° leaning away from zero on the far edge at 8′ 1″" in text
    assert "L1.S-01 stands 1." in text
    assert "To bundle B1, place 2 of 2 from the bottom." in text
    assert "set the blade" in pages.read("/saw/panel-saw-1?pulled=1&stroke=7")
    pages.happened("cut", "shed-1/L1.S-01", "e1")
    text = pages.read("/saw/panel-saw-1")
    assert "First take off the wedge: from zero, on the fence edge 8′ 1 1 ⁄ 8 ″" in text
    assert "1 1 ⁄ 8 ″ from the last cut" in text
    assert "Off. Next cut" in text
    assert "16′ 1 1 ⁄ 8 ″" in pages.read("/saw/panel-saw-1?stroke=1")
    pages.happened("cut", "shed-1/L1.S-02", "e2")
    assert "Put the drop away 6′ 0″" in pages.read("/saw/panel-saw-1")
    pages.happened("drop_put_away", "W6|birch|white-2", "e3")
    assert "Bar 2 of 2" in pages.read("/saw/panel-saw-1")
    pages.happened("scrapped", "shed-1/L1.S-03", "e4")
    assert "All bars of this machine are cut" in pages.read("/saw/panel-saw-1")
    assert "L1.S-03 scrapped" in pages.read("/saw/panel-saw-1/bars")
    assert "1 piece is scrapped and waits for a remake. shed-1/L1.S-03" in pages.read("/planner")
    pages.happened("remade", "shed-1/L1.S-03", "e5")
    assert "scrapped" not in pages.read("/planner")


def test_a_cut_is_asked_about_because_steel_is_cut(pages: Pages) -> None:
    pages.make()
    assert "Yes, L1.S-01 is cut" not in pages.read("/saw/panel-saw-1?pulled=1")
    assert "Not yet Yes, L1.S-01 is cut" in pages.read("/saw/panel-saw-1?pulled=1&ask=cut")


def test_dock_and_planner_see_when_a_truck_leaves_and_that_it_is_late(pages: Pages) -> None:
    pages.make()
    text = pages.read("/dock").replace("\u2011", "-")  # a time is never broken over lines
    assert "at dock from 2031-04-21 07:00 must leave by 2031-04-21 07:30" in text
    assert "late by 30 min" in text
    text = pages.read("/dock/shed-1/T1")
    assert "Must leave by 2031-04-21 07:30 · may leave 2031-04-21 08:00 · wanted on site 2031-04-21 09:30" in text
    assert "late by 30 min" in text
    assert "tarde por 30 min" in pages.read("/dock/shed-1/T1", "es")
    text = pages.read(f"/planner/plans/{pages.plan}/trucks")
    assert "What leaves when" in text
    assert "shed-1 D1 2031-04-21 07:00 2031-04-21 07:00 dock 2031-04-21 08:00 2031-04-21 07:30 2031-04-21 09:30" in text
    assert "The latest truck is 30 min late on site; no other order at the dock can make it less than 30 min" in text


def test_the_planner_sees_what_yield_costs_in_rack_slots_and_may_pick(pages: Pages) -> None:
    pages.make()
    text = pages.read(f"/planner/plans/{pages.plan}/rack")
    assert "What does yield cost in rack slots?" in text
    assert "1 all bundles 2,000.00 0.00 % 4 at least 0 for these bars 7 2 this plan" in text
    assert "2 each bundle by itself 2,010.00 0.50 % 1 at least 0 for these bars 7 2 Plan for 1 slots" in text
    assert "There is room for 6 open bundles; the plan opens 7 at one time." in text
    assert "The rack holds" not in text
    raw = pages.web.get(f"/planner/plans/{pages.plan}/rack").text
    assert 'data-rack="1"' in raw
    assert "[&#34;shed-1&#34;]" in raw
    assert "Planear para 1 huecos" in pages.read(f"/planner/plans/{pages.plan}/rack", "es")


def test_a_rack_that_holds_too_little_is_said_before_the_saw_starts(pages: Pages) -> None:
    pages.make()
    asked = {"epoch": "2031-04-21T06:00:00-06:00", "seed": 2, "rack_slots": 0}
    pages.plan = pages.web.post("/api/plans", json=asked).json()["id"]
    claim(pages.plan, "t", store=pages.store, settings=pages.settings)
    run_job(
        pages.plan, "t", store=pages.store, settings=pages.settings, plant=plant_of_settings(pages.settings),
        pipeline=fake_plan, printer=one_sheet,
    )  # fmt: skip
    assert "The rack holds 0; the plan needs 1." in pages.read(f"/planner/plans/{pages.plan}/rack")


def test_the_dock_says_what_goes_on_next_and_refuses_with_the_way_out(pages: Pages) -> None:
    pages.make()
    text = pages.read("/dock/shed-1/T1")
    assert "Goes on next Bundle B2" in text
    assert "B2 is on" in text
    text = pages.read("/dock/shed-1/T1?bundle=shed-1/B1")
    assert "Not yet. Bundle B1 stands on B2 , not on the truck yet. Put on first: B2" in text
    pages.happened("scrapped", "shed-1/L1.S-03", "s1")
    text = pages.read("/dock/shed-1/T1?bundle=shed-1/B2")
    assert "Bundle B2 waits for a remake of L1.S-03 ." in text
    assert "Set it aside; it goes on when the remake is in it." in text
    assert "No such bundle." in pages.read("/dock/shed-1/T1?bundle=nonsense")


def test_a_truck_leaves_only_when_all_is_on_and_only_when_asked(pages: Pages) -> None:
    pages.make()
    pages.happened("loaded", "shed-1/B2", "l1", about="shed-1/T1")
    assert "B1 is on" in pages.read("/dock/shed-1/T1")
    pages.happened("loaded", "shed-1/B1", "l2", about="shed-1/T1")
    text = pages.read("/dock/shed-1/T1")
    assert "All bundles are on" in text
    assert "The truck leaves" in text
    assert "Yes, truck T1 leaves" in pages.read("/dock/shed-1/T1?ask=leave")
    pages.happened("shipped", "shed-1/T1", "l3")
    assert "This truck has left" in pages.read("/dock/shed-1/T1")


def test_the_timetable_tells_what_each_machine_does_and_why_something_is_late(pages: Pages) -> None:
    base = f"/planner/plans/{pages.make()}/timetable"
    week = pages.read(base)
    assert "shed-1 D1 is late by 16 min" in week
    assert "panel-saw-1: cut" in week and "8 min work" in week
    assert "panel-saw-1 2 2031-04-21 06:00" in week  # two operations, the first at six
    markup = pages.web.get(base).text
    assert f"/api/plans/{pages.plan}/machines/panel-saw-1/calendar.ics" in markup
    assert f"/api/plans/{pages.plan}/timetable.csv" in markup
    assert "makes a delivery late" in markup
    day = pages.read(f"{base}?view=day")
    assert "2031-04-21 06:00 – 2031-04-22 00:00" in day.replace("\u2011", "-").replace("\u00a0", " ")
    machine = pages.web.get(base, params={"machine": "panel-saw-1"}).text
    assert ">Mon 21</text>" in machine and ">Sun 27</text>" in machine
    assert "llega 16 min tarde" in pages.read(base, "es")


def test_a_machine_or_delivery_that_is_not_there_has_no_timetable(pages: Pages) -> None:
    base = f"/planner/plans/{pages.make()}/timetable"
    assert pages.web.get(base, params={"machine": "no-such"}).status_code == 404
    assert pages.web.get(base, params={"late": "shed-1 D9"}).status_code == 404
    assert pages.web.get(base, params={"late": "shed-1 D1", "view": "day"}).status_code == 200
    assert pages.web.get(base, params={"view": "year"}).status_code == 404
    assert pages.web.get(base, params={"at": 1000}).status_code == 200


def test_pages_speak_spanish_to_who_asks_for_it(pages: Pages) -> None:
    pages.make()
    assert "Sigue Paquete B2" in pages.read("/dock/shed-1/T1", "es-MX")
    assert "Saque 24′ 0″" in pages.read("/saw/panel-saw-1", "es")
    assert "¿Saldrá?" in pages.read(f"/planner/plans/{pages.plan}", "es")


def test_what_an_order_says_is_shown_as_text_never_as_markup(pages: Pages) -> None:
    order: dict[str, Any] = order_document()
    order["site"]["ship_to"]["name"] = "<script>alert(1)</script>"
    assert pages.web.post("/api/orders", json=order).status_code == 201
    for path in ("/planner", "/planner/orders/shed-1"):
        text = pages.web.get(path).text
        assert "<script>alert" not in text
        assert "&lt;script&gt;alert(1)&lt;/script&gt;" in text


def test_a_page_that_is_not_there_says_so_and_where_to_go(pages: Pages) -> None:
    for path in ("/saw/x/y/z", "/planner/plans/none", "/planner/orders/none", "/dock/none", "/static/../settings.py"):
        told = pages.web.get(path)
        assert told.status_code == 404, path
    assert "To the first page" in pages.web.get("/planner/plans/none").text


def test_every_part_of_a_plan_has_its_page(pages: Pages) -> None:
    pages.make()
    for part in ("bars", "rack", "timetable", "stacks", "trucks", "sheets"):
        assert pages.web.get(f"/planner/plans/{pages.plan}/{part}").status_code == 200, part
    assert "labels.txt" in pages.read(f"/planner/plans/{pages.plan}/sheets")
    assert pages.web.get(f"/planner/plans/{pages.plan}/bars", params={"about": "nothing"}).status_code == 404
