"""What tablets, releases and remakes do to each other on the floor's pages."""

from __future__ import annotations

import re
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Any

import pypdfium2 as pdfium
import pytest
import zxingcpp
from fastapi.testclient import TestClient

from service.app import make_app
from solver.documents.codes import short_code
from tests.integration.test_service_pages import Pages
from tests.service_fakes import fake_plan, one_sheet, order_document
from worker.claimed_job import claim_job, run_job
from worker.wiring import plant_of_settings

FIRST, SECOND, THIRD = (f"shed-1/L1.S-0{n}" for n in (1, 2, 3))
SAW = "/saw/panel-saw-1"


@pytest.fixture
def pages(tmp_path: Path) -> Iterator[Pages]:
    made = Pages(tmp_path)
    with made.web:
        yield made
    made.store.close()


def other_plan(pages: Pages, *orders: str, seed: int = 1) -> str:
    """Make a plan of other orders, not released: the fake plans the first order given."""
    for order in orders:
        pages.web.post("/api/orders", json=order_document(order))
    asked = {"orders": list(orders), "epoch": "2031-04-21T06:00:00-06:00", "seed": seed}
    job = pages.web.post("/api/plans", json=asked).json()["job"]
    claim_job(job, "t", store=pages.store, settings=pages.settings)
    plant, settings = plant_of_settings(pages.settings), pages.settings
    run_job(job, "t", store=pages.store, settings=settings, plant=plant, pipeline=fake_plan, printer=one_sheet)
    name: str = pages.web.get(f"/api/jobs/{job}").json()["plan"]
    return name


def tell(pages: Pages, kind: str, subject: str, event_id: str, at: str = "saw-2", **more: str) -> Any:
    event = {"id": event_id, "kind": kind, "at": "2031-05-05T07:42:00-06:00", "station": at, "subject": subject, **more}
    told = pages.web.post("/api/events", json=event)
    assert told.status_code in (200, 201), told.text
    return told.json()


def second_bar(pages: Pages) -> str:
    bars = pages.web.get("/api/cut-queue").json()["bars"]
    return str(next(bar["id"] for bar in bars if bar["position"] == 2))


def test_a_bar_that_was_tapped_is_shown_until_it_is_done_whatever_comes_first(pages: Pages) -> None:
    pages.make()
    bar = second_bar(pages)
    assert "Bar 1 of 2" in pages.read(SAW)
    markup = pages.web.get(SAW, params={"bar": bar}).text
    link = re.search(r'href="(/saw/panel-saw-1\?bar=[^"]*)">It is on the saw', markup)
    assert link is not None
    assert "Bar 2 of 2" in pages.read(link[1].replace("&amp;", "&"))
    for _ in range(2):  # the page loaded anew, with nothing in its address
        text = pages.read(SAW)
        assert "Bar 2 of 2" in text and "On the saw" in text and "Pull" not in text
    with TestClient(make_app(pages.settings), base_url="http://localhost") as other_tablet:
        assert "Bar 1 of 2" in re.sub(r"<[^>]*>", "", other_tablet.get(SAW).text)
    pages.happened("cut", THIRD, "e1")
    assert "Bar 1 of 2" in pages.read(SAW)
    assert "Bar 1 of 2" in pages.read(SAW)


def test_a_bar_that_is_set_aside_is_not_shown_again_by_itself(pages: Pages) -> None:
    pages.make()
    pages.read(f"{SAW}?bar={second_bar(pages).replace('|', '%7C')}&pulled=2")
    assert "Bar 2 of 2" in pages.read(SAW)
    assert "Set the bar aside" in pages.read(f"{SAW}?ask=wrong&stroke=9")
    assert "Bar 1 of 2" in pages.read(f"{SAW}?aside=1")
    assert "Bar 1 of 2" in pages.read(SAW)


def test_a_bar_of_a_plan_that_is_not_the_floors_any_more_is_not_held(pages: Pages) -> None:
    pages.make()
    pages.read(f"{SAW}?bar={second_bar(pages).replace('|', '%7C')}&pulled=2")
    name = other_plan(pages, "shed-2")
    assert pages.web.post(f"/api/plans/{name}/release", params={"drop": True}).status_code == 200
    assert "Bar 1 of 2 shed-2" in pages.read(SAW)


def test_a_bar_that_was_pulled_is_cut_on_after_a_scrap_was_taken_back(pages: Pages) -> None:
    """Undoing the scrap of a bar's first piece led to "Pull": nothing of the bar was told any more."""
    pages.make()
    bar = second_bar(pages)
    markup = pages.web.get(SAW, params={"bar": bar, "pulled": 2, "ask": "wrong", "stroke": 9}).text
    back = re.search(r'data-back="([^"]*)"', markup)
    assert back is not None
    address = back[1].replace("&amp;", "&")
    assert "pulled=2&" in address and address.endswith("&stroke=9")
    pages.happened("scrapped", THIRD, "e1", about=bar)
    assert "Bar 1 of 2" in pages.read(SAW)
    pages.happened("undone", THIRD, "e2", about="e1")
    text = pages.read(address)
    assert "Bar 2 of 2" in text and "On the saw" in text and "Pull" not in text
    assert "Something is wrong" in text


def test_something_is_wrong_may_be_said_before_a_piece_is_free(pages: Pages) -> None:
    """At a trim or a wedge the tap led back to the same page: a flaw seen there could not be told."""
    pages.make()
    cuts = pages.web.get("/api/cut-queue").json()["bars"][0]["cuts"]
    cut = next(one for one in cuts if len(one["strokes"]) > 1)
    for one in cuts[: cuts.index(cut)]:
        pages.happened("cut", one["piece"], f"before-{one['n']}")
    markup = pages.web.get(SAW, params={"pulled": 1}).text
    assert "Next cut" in pages.read(f"{SAW}?pulled=1")
    link = re.search(r'href="([^"]*)">Something is wrong', markup)
    assert link is not None
    asked = pages.web.get(link[1].replace("&amp;", "&")).text
    assert re.findall(r'data-tell="(\w+)" data-subject="([^"]*)"', asked) == [("scrapped", cut["piece"])] * 3
    assert "Set the bar aside" in asked


def test_a_page_that_asks_of_a_piece_told_elsewhere_does_not_ask_it_of_the_next(pages: Pages) -> None:
    """ "Cut" tapped for the first piece came to "Yes, the second is cut" where another tablet had told of the first."""
    pages.make()
    cuts = pages.web.get("/api/cut-queue").json()["bars"][0]["cuts"]
    first, second = cuts[0], cuts[1]
    markup = pages.web.get(SAW, params={"pulled": 1, "stroke": 9}).text
    links = {word: re.search(rf'href="([^"]*)">{word}', markup) for word in ("Cut", "Something is wrong")}
    addresses = [link[1].replace("&amp;", "&") for link in links.values() if link is not None]
    assert len(addresses) == 2
    assert f"Yes, {first['mark']} is cut" in pages.read(addresses[0])
    pages.happened("cut", first["piece"], "e1")
    for address in addresses:
        text = pages.read(address)
        assert f"{first['mark']} is told as cut already. Next comes {second['mark']}." in text
        assert "Yes, " not in text and "Scrap it" not in text
    pages.happened("scrapped", first["piece"], "e2")
    assert f"{first['mark']} is told as scrapped already." in pages.read(addresses[0])
    pages.happened("undone", first["piece"], "e3", about="e2")
    pages.happened("undone", first["piece"], "e4", about="e1")
    assert f"Yes, {first['mark']} is cut" in pages.read(addresses[0])


def test_a_scrap_of_the_last_piece_sends_nobody_to_the_rest_of_the_bar(pages: Pages) -> None:
    pages.make()
    cuts = pages.web.get("/api/cut-queue").json()["bars"][0]["cuts"]
    asked: dict[str, str | int] = {"pulled": 1, "ask": "wrong", "stroke": 9}
    assert len(cuts) == 2 and "Go on with the rest of the bar" in pages.web.get(SAW, params=asked).text
    pages.happened("cut", cuts[0]["piece"], "e1")
    text = pages.web.get(SAW, params=asked).text
    assert f"{cuts[1]['mark']} is scrapped. The planner sees it" in text and "rest of the bar" not in text


def test_an_order_on_the_floor_stays_planned_when_another_is_planned_alone(pages: Pages) -> None:
    """The page looked at the newest plan only: what saw and dock worked from was "not planned yet"."""
    pages.make()
    assert "shed-1 on the floor" in pages.read("/planner")
    pages.web.post("/api/orders", json=order_document("shed-3"))
    other_plan(pages, "shed-2")
    text = pages.read("/planner")
    assert "shed-1 on the floor" in text and "shed-2 planned" in text and "shed-3 not planned yet" in text


def test_the_second_who_tells_of_a_cut_hears_of_the_first(pages: Pages) -> None:
    pages.make()
    assert "before" not in tell(pages, "cut", FIRST, "e1", "saw-1")
    told = tell(pages, "cut", FIRST, "e2", "saw-2")
    assert told["before"] == {"kind": "cut", "at": "2031-05-05T07:42:00-06:00", "station": "saw-1"}
    assert told["new"] is True  # what a person told is kept
    assert tell(pages, "cut", FIRST, "e1", "saw-1").get("before") is None  # sent twice, told once
    assert tell(pages, "cut", FIRST, "e2", "saw-2")["before"]["station"] == "saw-1"
    tell(pages, "undone", FIRST, "e3", about="e2")
    tell(pages, "undone", FIRST, "e4", about="e1")
    assert "before" not in tell(pages, "cut", FIRST, "e5")


def test_who_tells_a_cut_of_what_was_scrapped_hears_of_it_and_a_scrap_after_a_cut_is_none(pages: Pages) -> None:
    pages.make()
    tell(pages, "cut", FIRST, "e1")
    assert "before" not in tell(pages, "scrapped", FIRST, "e2", "saw-1")
    assert tell(pages, "scrapped", FIRST, "e3")["before"]["station"] == "saw-1"
    assert tell(pages, "cut", FIRST, "e4")["before"]["kind"] == "scrapped"
    bar = second_bar(pages)
    tell(pages, "scrapped", bar, "e5")
    assert "before" not in tell(pages, "scrapped", bar, "e6")  # drops have names of their own in each plan


def test_pages_promise_no_bar_for_what_was_scrapped(pages: Pages) -> None:
    pages.make()
    assert "no bar is planned for it yet" in pages.web.get(SAW, params={"pulled": 1, "ask": "wrong", "stroke": 9}).text
    pages.happened("scrapped", THIRD, "s1")
    assert "No bar is planned for them" in pages.read("/planner")
    assert "no bar is planned for it" in pages.read("/dock/shed-1/T1?bundle=shed-1/B2")
    assert "machine time here, no bar" in pages.read(f"/planner/plans/{pages.plan}/happened")
    for path in ("/planner", SAW, "/dock/shed-1/T1?bundle=shed-1/B2", f"/planner/plans/{pages.plan}/happened", "/scan"):
        assert "remake" not in pages.read(path), path


def test_a_piece_is_told_as_made_again_on_its_page_and_its_bundle_may_go_on(pages: Pages) -> None:
    pages.make()
    pages.happened("scrapped", THIRD, "s1")
    markup = pages.web.get("/scan", params={"code": THIRD}).text
    button = re.search(r'data-tell="(\w+)" data-subject="([^"]*)"', markup)
    assert button is not None
    tell(pages, button[1], button[2], "s2")
    assert "B2 is on" in pages.read("/dock/shed-1/T1")
    assert 'data-tell="remade"' not in pages.web.get("/scan", params={"code": f"{THIRD}#2"}).text


def codes_of(pages: Pages, code: str) -> set[str]:
    """What is read off the labels that are printed for a code."""
    told = pages.web.get("/api/labels", params={"code": code, "dpi": "300"})
    assert told.status_code in (200, 201), told.text
    found = [zxingcpp.read_barcodes(page.render(scale=300 / 72).to_pil()) for page in pdfium.PdfDocument(BytesIO(told.content))]
    assert [len(some) for some in found] == [2, 2]
    return {one.text for some in found for one in some}


def text_of(pages: Pages, code: str) -> str:
    told = pages.web.get("/api/labels", params={"code": code})
    return str(pdfium.PdfDocument(BytesIO(told.content))[0].get_textpage().get_text_range())


def digits_on(text: str) -> str:
    found = re.search(r"\d{4} \d{4} \d{4}", text)
    assert found is not None, text
    return found[0].replace(" ", "")


def test_labels_of_what_is_made_again_share_no_number_with_the_old_ones(pages: Pages) -> None:
    pages.make()
    old = codes_of(pages, THIRD)
    typed = digits_on(text_of(pages, THIRD))
    assert typed == short_code(THIRD)
    pages.happened("scrapped", THIRD, "s1")
    new = codes_of(pages, THIRD)
    again = digits_on(text_of(pages, THIRD))
    assert old == {THIRD} and new == {f"{THIRD}#2"} and again not in (typed, *old)
    assert "MADE AGAIN, no. 2: older labels are void" in text_of(pages, THIRD)
    pages.happened("remade", THIRD, "s2")
    for code in (f"{THIRD}#2", again):
        assert pages.web.get("/api/scan", params={"code": code}).json()["id"] == THIRD
    for code in (THIRD, typed):
        told = pages.web.get("/api/scan", params={"code": code})
        assert told.status_code == 422 and "void" in told.json()["faults"][0]["problem"], code
    pages.happened("undone", THIRD, "s3", about="s2")
    pages.happened("undone", THIRD, "s4", about="s1")  # it was good all the while: the first labels hold
    assert pages.web.get("/api/scan", params={"code": typed}).json()["code"] == THIRD
    assert pages.web.get("/api/scan", params={"code": again}).status_code == 422
    pages.happened("scrapped", THIRD, "s5")
    assert codes_of(pages, THIRD) == {f"{THIRD}#3"}  # number 2 was printed once already


def test_a_scrap_that_two_told_begins_one_making(pages: Pages) -> None:
    pages.make()
    pages.happened("scrapped", THIRD, "s1")
    pages.happened("scrapped", THIRD, "s2")
    assert codes_of(pages, THIRD) == {f"{THIRD}#2"}


def test_a_plan_made_after_a_scrap_prints_the_labels_of_the_next_making(pages: Pages) -> None:
    pages.make()
    pages.happened("scrapped", THIRD, "s1")
    drawn: list[Any] = []

    def printer(plan: Any, plant: Any, folder: Path, tell: Any) -> None:
        drawn.append(plan)

    name = pages.web.post("/api/plans", json={"seed": 2}).json()["job"]
    claim_job(name, "t", store=pages.store, settings=pages.settings)
    plant, settings = plant_of_settings(pages.settings), pages.settings
    run_job(name, "t", store=pages.store, settings=settings, plant=plant, pipeline=fake_plan, printer=printer)
    assert [(one.piece, one.making) for one in drawn[0].makings] == [(THIRD, 2)]


def test_a_release_says_what_it_would_drop_and_asks(pages: Pages) -> None:
    pages.make()
    pages.happened("cut", FIRST, "e1")
    name = other_plan(pages, "shed-2")
    refused = pages.web.post(f"/api/plans/{name}/release")
    assert refused.status_code == 422
    assert [fault["path"] for fault in refused.json()["faults"]] == ["drop"]
    assert "2 pieces on 2 bars of shed-1 are not cut" in refused.json()["faults"][0]["problem"]
    text = pages.read(f"/planner/plans/{name}/release")
    assert "2 pieces are not cut yet and are not in this plan." in text
    assert "They are of shed-1, on 2 bars" in text
    assert "Trucks that have not left stay at the dock: shed-1/T1" in text
    assert "Bar 1 of 2 shed-1" in pages.read(SAW)  # nothing happened
    assert pages.web.post(f"/api/plans/{name}/release", params={"drop": True}).status_code == 200
    assert "Bar 1 of 2 shed-2" in pages.read(SAW)


def test_a_release_is_taken_back_while_nothing_was_done_by_it(pages: Pages) -> None:
    first = pages.make()
    pages.happened("cut", FIRST, "e1")
    second = other_plan(pages, "shed-2")
    assert pages.web.delete(f"/api/plans/{second}/release").status_code == 404  # it is not on the floor
    assert pages.web.post(f"/api/plans/{second}/release", params={"drop": True}).status_code == 200
    assert f'data-take-back="{second}"' in pages.web.get(f"/planner/plans/{second}/release").text
    pages.happened("cut", "shed-2/L1.S-01", "e2")
    refused = pages.web.delete(f"/api/plans/{second}/release")
    assert (refused.status_code, refused.json()["status"]) == (409, "moved_on")
    assert "shed-2/L1.S-01 was told as cut at t" in refused.json()["faults"][0]["problem"]
    assert "Bar 1 of 2 shed-2" in pages.read(SAW)  # nothing changed
    pages.happened("undone", "shed-2/L1.S-01", "e3", about="e2")
    told = pages.web.delete(f"/api/plans/{second}/release")
    assert (told.status_code, told.json()) == (200, {"plan": second, "floor": first})
    assert "Bar 1 of 2 shed-1" in pages.read(SAW)
    assert pages.web.delete(f"/api/plans/{first}/release").status_code == 409  # the cut was told of it before
    assert pages.web.post(f"/api/plans/{second}/release", params={"drop": True}).status_code == 200
    assert pages.web.delete(f"/api/plans/{second}/release").status_code == 200


def test_the_first_release_is_taken_back_to_an_empty_floor(pages: Pages) -> None:
    plan = pages.make()
    assert pages.web.delete(f"/api/plans/{plan}/release").json() == {"plan": plan}
    assert pages.web.get("/api/cut-queue").json()["bars"] == []
    assert not pages.web.get(f"/api/plans/{plan}").json()["released"]
    assert pages.web.delete("/api/plans/nothing/release").status_code == 404
    assert pages.web.post(f"/api/plans/{plan}/release").status_code == 200
    assert len(pages.web.get("/api/cut-queue").json()["bars"]) == 2


def test_a_release_that_drops_nothing_asks_nothing(pages: Pages) -> None:
    pages.make()
    again = other_plan(pages, "shed-1", seed=2)
    assert "Nothing is lost" in pages.read(f"/planner/plans/{again}/release")
    assert pages.web.post(f"/api/plans/{again}/release").status_code == 200


def test_trucks_of_an_earlier_plan_that_have_not_left_are_loaded_on(pages: Pages) -> None:
    pages.make()
    pages.happened("loaded", "shed-1/B2", "l1", about="shed-1/T1")
    name = other_plan(pages, "shed-2")
    pages.web.post(f"/api/plans/{name}/release", params={"drop": True})
    loads = pages.web.get("/api/loads").json()["loads"]
    assert [load["id"] for load in loads] == ["shed-2/T1", "shed-1/T1"]
    text = pages.read("/dock")
    assert "shed-2 T1" in text and "shed-1 T1" in text
    page = pages.read("/dock/shed-1/T1")
    assert "B1 is on" in page and "1 of 2 bundles on" in page
    told = pages.web.get("/api/loads/shed-2/T1/may-load", params={"bundle": "shed-1/B1"}).json()
    assert told["reasons"] == [{"code": "other_load", "bundle": "shed-1/B1", "load": "shed-1/T1"}]
    assert tell(pages, "loaded", "shed-1/B1", "l2", about="shed-1/T1")["known"] is True
    undo = {
        "id": "u",
        "kind": "undone",
        "at": "2031-05-05T07:42:00-06:00",
        "station": "t",
        "subject": "shed-1/B2",
        "about": "l1",
    }
    assert pages.web.post("/api/events", json=undo).status_code == 409  # B1 stands on it
    scan = pages.web.get("/api/scan", params={"code": "shed-1/B1"}).json()
    assert (scan["kind"], scan["load"], scan["state"]) == ("bundle", "shed-1/T1", "loaded")
    assert pages.web.get("/api/scan", params={"code": FIRST}).json()["bundle"] == "shed-1/B1"
    assert pages.web.get("/api/labels", params={"code": "shed-1/B1"}).status_code == 200
    tell(pages, "shipped", "shed-1/T1", "l3")
    assert [load["id"] for load in pages.web.get("/api/loads").json()["loads"]] == ["shed-2/T1"]


def test_a_truck_that_is_begun_and_would_be_loaded_otherwise_is_named(pages: Pages, monkeypatch: pytest.MonkeyPatch) -> None:
    pages.make()
    pages.happened("loaded", "shed-1/B2", "l1", about="shed-1/T1")
    again = other_plan(pages, "shed-1", seed=2)
    assert pages.web.get(f"/api/plans/{again}/release").json() == {"pieces": 0, "bars": 0}
    with pages.store.engine.begin() as connection:  # as the plan had stacked it when it was released
        connection.exec_driver_sql("update loads set body = replace(body, 'shed-1/B1', 'shed-1/B9')")
    told = pages.web.get(f"/api/plans/{again}/release").json()
    assert told["changed"] == ["shed-1/T1"]
    assert "is being loaded" in pages.web.post(f"/api/plans/{again}/release").json()["faults"][0]["problem"]


def test_an_order_that_a_later_plan_has_again_is_loaded_as_that_plan_says(pages: Pages) -> None:
    pages.make()
    second = other_plan(pages, "shed-2")
    pages.web.post(f"/api/plans/{second}/release", params={"drop": True})
    third = other_plan(pages, "shed-1", seed=3)
    pages.web.post(f"/api/plans/{third}/release", params={"drop": True})
    loads = pages.web.get("/api/loads").json()["loads"]
    assert [load["id"] for load in loads] == ["shed-1/T1", "shed-2/T1"]
