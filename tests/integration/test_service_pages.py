"""What the pages say, without a browser: over the real application, SQLite and a small fake plan."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from service.app import make_app
from service.contracts.floor import MayLoad, Reason
from service.reports.summary import plan_summary
from service.settings import Settings
from service.store.unit_of_work import SqlStore
from service.usecases.ask import floor
from solver.domain.timetable import Overfull, Waiting
from solver.units import Seconds
from tests.plans import demo_plan, demo_plant
from tests.service_fakes import fake_plan, no_plan, one_sheet, order_document
from tests.stored import keep_plan
from worker.claimed_job import claim_job, run_job
from worker.serve import upgrade_store_to_newest
from worker.wiring import plant_of_settings


class Pages:
    """The application's pages, and a way to make and release a plan."""

    def __init__(self, folder: Path, database: str = "", *, plant: str = "") -> None:
        self.settings = Settings(data_dir=str(folder), database=database, plant=plant)
        upgrade_store_to_newest(self.settings)
        self.store = SqlStore(self.settings.database_url)
        self.web = TestClient(make_app(self.settings), base_url="http://localhost")
        self.plan = ""

    def read(self, path: str, language: str = "en") -> str:
        told = self.web.get(path, headers={"accept-language": language})
        assert told.status_code == 200, (path, told.status_code)
        body = re.sub(r"<style>.*?</style>|<svg.*?</svg>|<[^>]*>", " ", told.text, flags=re.S)
        return " ".join(unescape(body).split())

    def make(self, *, release: bool = True, pipeline: Any = fake_plan) -> str:
        self.web.post("/api/orders", json=order_document())
        job = self.web.post("/api/plans", json={"epoch": "2031-04-21T06:00:00-06:00"}).json()["job"]
        claim_job(job, "t", store=self.store, settings=self.settings)
        plant, settings = plant_of_settings(self.settings), self.settings
        run_job(job, "t", store=self.store, settings=settings, plant=plant, pipeline=pipeline, printer=one_sheet)
        self.plan = self.web.get(f"/api/jobs/{job}").json().get("plan", job)  # the job, where no plan came of it
        if release:
            assert self.web.post(f"/api/plans/{self.plan}/release").status_code == 200
        return self.plan

    def happened(self, kind: str, subject: str, event_id: str, **more: str) -> None:
        event = {"id": event_id, "kind": kind, "at": "2031-05-05T07:42:00-06:00", "station": "t", "subject": subject, **more}
        assert self.web.post("/api/events", json=event).status_code in (200, 201)


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
    assert "shed-1.L1.S-01 30' is longer than its stock Right would be: longer stock, or a shorter piece" in text
    assert "The last plan was stopped by 1 fault." in pages.read("/planner")


def test_a_waiting_plan_says_so_and_can_be_stopped(pages: Pages) -> None:
    pages.web.post("/api/orders", json=order_document())
    name = pages.web.post("/api/plans", json={}).json()["job"]
    text = pages.read(f"/planner/jobs/{name}")
    assert "The plan is being made" in text
    assert "Stop, keep nothing" in text


def test_the_plan_page_answers_will_it_ship_and_what_is_proved(pages: Pages) -> None:
    text = pages.read(f"/planner/plans/{pages.make()}")
    assert "shed-1 D1 late by 16 min · why 2031-04-21 07:40 due 2031-04-21 07:23 8 min from start to end: 8 min work" in text
    assert "Proved that no plan cuts it cheaper: 1 of 1 materials." in text
    assert "cannot be better" in text
    assert "6 in wall, birch outside" in text


@pytest.mark.parametrize("path", ["", "/bars", "/timetable", "/stacks", "/trucks", "/walls", "/rack", "/happened"])
def test_no_page_of_a_plan_shows_an_id_of_a_program(pages: Pages, path: str) -> None:
    text = pages.read(f"/planner/plans/{pages.make()}{path}")
    assert "|" not in text
    assert "W6" not in text


def test_the_saw_pulls_a_bar_then_cuts_piece_by_piece_then_puts_the_drop_away(pages: Pages) -> None:
    pages.make()
    text = pages.read("/saw/panel-saw-1")
    assert "Bar 1 of 2" in text
    assert "Pull 24′ 0″ 6 in wall, birch outside" in text
    assert "2 pieces come out of it" in text
    text = pages.read("/saw/panel-saw-1?pulled=1")
    assert "From zero, on the fence edge 8′ 0″" in text
    assert "1.2° leaning away from zero on the far edge at 8′ 1″" in text
    assert "L1.S-01 stands no. 1" in text
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
    assert "1 piece is scrapped and not made again. shed-1/L1.S-03" in pages.read("/planner")
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
    pages.plan = pages.web.post("/api/plans", json=asked).json()["job"]
    claim_job(pages.plan, "t", store=pages.store, settings=pages.settings)
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
    assert "Bundle B2 lacks what was scrapped: L1.S-03 ." in text
    assert "It goes on once the piece is told as made again." in text
    assert "No such bundle." in pages.read("/dock/shed-1/T1?bundle=nonsense")


def test_a_bundle_may_be_typed_as_its_tag_prints_it_large(pages: Pages) -> None:
    """Typed from the tag of a bundle of this truck, "B1" was told to be unknown to the plan."""
    pages.make()
    for said in ("B2", "b2"):
        assert "Goes on next Bundle B2" in pages.read(f"/dock/shed-1/T1?bundle={said}")
        assert "No such bundle." not in pages.read(f"/dock/shed-1/T1?bundle={said}")
    assert "Bundle B1 stands on B2 , not on the truck yet." in pages.read("/dock/shed-1/T1?bundle=B1")
    assert "No such bundle." in pages.read("/dock/shed-1/T1?bundle=B99")


def test_a_truck_does_not_leave_unwarned_with_what_was_scrapped_after_loading(pages: Pages) -> None:
    pages.make()
    for n, bundle in enumerate(("shed-1/B2", "shed-1/B1")):
        pages.happened("loaded", bundle, f"l{n}", about="shed-1/T1")
    warned = "Bundle B2 lacks what was scrapped: L1.S-03 . It is on: tell the planner before the truck leaves."
    assert "All bundles are on" in pages.read("/dock/shed-1/T1") and warned not in pages.read("/dock/shed-1/T1")
    pages.happened("scrapped", "shed-1/L1.S-03", "s1")
    assert warned in pages.read("/dock/shed-1/T1")
    pages.happened("remade", "shed-1/L1.S-03", "s2")
    assert warned not in pages.read("/dock/shed-1/T1")


def test_a_label_tells_its_bar_as_the_saw_counts_it(pages: Pages) -> None:
    """It was the program's id of the bar, which is on no sheet and no other page."""
    pages.make()
    bar = next(one for one in pages.web.get("/api/cut-queue").json()["bars"] if one["position"] == 2)
    text = pages.read(f"/scan?code={bar['cuts'][0]['piece']}")
    assert f"{bar['machine']}, Bar 2 of {bar['of']}" in text
    assert bar["id"] not in text


def test_what_must_wait_is_never_on_the_big_button_and_leaving_without_it_is_decided_and_kept(pages: Pages) -> None:
    """B2 carries B1 and waits for a remake: neither may go on, and the truck leaves only by a decision that is kept."""
    pages.make()
    pages.happened("scrapped", "shed-1/L1.S-03", "s1")
    text = pages.read("/dock/shed-1/T1")
    assert "Nothing may go on now" in text
    assert "Bundle B2 lacks what was scrapped: L1.S-03 ." in text
    assert "Bundle B1 stands on B2 , not on the truck yet." in text
    markup = pages.web.get("/dock/shed-1/T1").text
    assert 'data-tell="loaded"' not in markup and 'data-tell="shipped"' not in markup
    assert "Leave incomplete" in text
    asked = pages.web.get("/dock/shed-1/T1?ask=leave").text
    assert 'data-reason="incomplete, without shed-1/B2, shed-1/B1"' in asked
    assert "Yes, truck T1 leaves without 2 bundles" in pages.read("/dock/shed-1/T1?ask=leave")
    pages.happened("shipped", "shed-1/T1", "s2", reason="incomplete, without shed-1/B2, shed-1/B1")
    assert "It left without B2 , B1 ." in pages.read("/dock/shed-1/T1")
    kept = pages.web.get("/api/events").json()["events"]
    assert [one["reason"] for one in kept if one["kind"] == "shipped"] == ["incomplete, without shed-1/B2, shed-1/B1"]


def test_a_bundle_of_uncut_pieces_is_loaded_by_a_decision_that_is_said_and_kept(pages: Pages) -> None:
    """Nothing is reported cut: the big button asks first, and only the answer tells that the bundle is on, with why."""
    pages.make()
    markup = pages.web.get("/dock/shed-1/T1").text
    assert 'data-tell="loaded"' not in markup
    assert "B2 is on, not all cut" in markup
    asked = pages.web.get("/dock/shed-1/T1?bundle=shed-1/B2&ask=uncut").text
    reason = re.search(r'data-tell="loaded" .*data-reason="(not reported cut, \d+ of \d+)"', asked)
    assert reason is not None
    assert "Load it though not all is told as cut?" in asked and "Not yet" in asked
    pages.happened("loaded", "shed-1/B2", "l1", about="shed-1/T1", reason=reason[1])
    kept = pages.web.get("/api/events").json()["events"]
    assert [one["reason"] for one in kept if one["kind"] == "loaded"] == [reason[1]]


def test_a_remake_brings_the_big_button_back(pages: Pages) -> None:
    pages.make()
    pages.happened("scrapped", "shed-1/L1.S-03", "s1")
    pages.happened("remade", "shed-1/L1.S-03", "s2")
    assert "B2 is on" in pages.read("/dock/shed-1/T1")


def test_what_others_stand_on_is_not_taken_from_under_them(pages: Pages) -> None:
    pages.make()
    pages.happened("loaded", "shed-1/B2", "l1", about="shed-1/T1")
    pages.happened("loaded", "shed-1/B1", "l2", about="shed-1/T1")
    text = pages.read("/dock/shed-1/T1?bundle=shed-1/B2")
    assert "Others stand on it. Take off first: B1" in text
    assert "It is not on" not in text
    undo = {"kind": "undone", "at": "2031-05-05T07:42:00-06:00", "station": "t", "subject": "shed-1/B2", "about": "l1"}
    refused = pages.web.post("/api/events", json={**undo, "id": "u1"})
    assert refused.status_code == 409
    assert "take shed-1/B1 off first" in refused.text
    pages.happened("undone", "shed-1/B1", "u2", about="l2")
    pages.happened("undone", "shed-1/B2", "u3", about="l1")
    assert "B2 is on" in pages.read("/dock/shed-1/T1")


def test_a_refusal_at_the_dock_names_the_order(pages: Pages, monkeypatch: pytest.MonkeyPatch) -> None:
    """A bundle of one order was told to go on L01, said on another order's L01."""
    pages.make()
    reason = Reason(code="other_load", bundle="cottage-7/B05", load="cottage-7/L01")
    judged = MayLoad(load="shed-1/T1", bundle="cottage-7/B05", may=False, reasons=(reason,))
    monkeypatch.setattr(floor, "may_load", lambda load_id, said, *, store: judged)
    text = pages.read("/dock/shed-1/T1?bundle=cottage-7/B05")
    assert "Not on this truck. Bundle B05 of cottage-7 goes on truck L01 of cottage-7." in text


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


def test_an_overfull_room_is_told_with_how_much_when_and_what_would_help(pages: Pages) -> None:
    """Ten too many from 07:00 to 09:30 by the clock in Denver, UTC-6 then (tz database): 2.5 h, shown in whole hours."""
    plan = demo_plan()
    epoch = datetime.fromisoformat("2031-04-28T12:00:00+00:00")
    over = Overfull(room="bundle_bay", size=400, most=410, at=3_600, since=3_600, until=12_600, time=9_000)
    waits = (Waiting(place="bundle_bay", most=410, at_s=Seconds(3_600), room=400, over=over),)
    full = replace(plan, timetable=replace(plan.timetable, epoch=epoch.isoformat(), waiting=waits))
    job = keep_plan(pages.store, full, demo_plant())
    shown = pages.read(f"/planner/plans/{job}/timetable")
    assert "10 too many at the worst, for 3 h in all between 2031-04-28 07:00 and 2031-04-28 09:30" in shown
    assert "Nest fewer weeks together, or make room with another rack." in shown
    assert "Anide menos semanas juntas" in pages.read(f"/planner/plans/{job}/timetable", "es")
    assert shown.count("times by the clock of America/Denver") == 1
    assert any("10 too many at the worst, 3 h in all" in line for line in plan_summary(full, demo_plant()).splitlines())


def test_what_cannot_be_better_links_to_what_its_bound_rests_on(pages: Pages) -> None:
    plan = pages.make(release=False)
    told = pages.web.get(f"/planner/plans/{plan}").text
    words = "(?:cannot be better|good, not proved best)"
    links = re.findall(rf'<a href="(/planner/plans/{plan}/bounds[^"#]*)#([^"]*)">{words}</a>', told)
    assert links
    page = pages.web.get(links[0][0]).text
    assert all(f'id="{anchor}"' in page for _, anchor in links)
    assert "What the bounds rest on" in pages.read(links[0][0])
    assert "En qué se basan las cotas" in pages.read(links[0][0], "es")
