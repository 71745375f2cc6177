"""What never changes is worked out once, and only so much of it is kept."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import Any

import pytest
from fastapi import Request, Response

from service.contracts.floor import Bar
from service.lru_cache import LruCache
from service.stations import planner, saw
from service.stations.pages import render_page
from service.usecases.ask.timetable import draw_timetable
from tests.integration.test_service_api import Stack, stack
from tests.integration.test_service_pages import Pages, pages
from tests.service_fakes import fake_plan, order_document

__all__ = ["pages", "stack"]


def test_a_value_is_made_once_and_the_one_asked_for_longest_ago_goes_first() -> None:
    kept, made = LruCache(2), []

    def ask(key: str) -> str:
        def make() -> str:
            made.append(key)
            return key.upper()

        return kept.get(key, make)

    assert [ask(key) for key in ("a", "b", "a", "c", "a", "b")] == ["A", "B", "A", "C", "A", "B"]
    assert made == ["a", "b", "c", "b"]


def test_of_those_who_ask_at_once_one_makes_it_and_the_others_wait() -> None:
    kept, begun, go, made = LruCache(2), threading.Event(), threading.Event(), []

    def make() -> str:
        made.append(threading.get_ident())
        begun.set()
        assert go.wait(60)
        return "made"

    with ThreadPoolExecutor(5) as threads:
        first = threads.submit(kept.get, "a", make)
        assert begun.wait(60)
        others = [threads.submit(kept.get, "a", make) for _ in range(4)]
        assert kept.get("b", lambda: "another waits for nobody") == "another waits for nobody"
        go.set()
        assert [one.result(60) for one in (first, *others)] == ["made"] * 5
    assert len(made) == 1


def test_what_raises_is_not_kept() -> None:
    kept = LruCache(2)
    with pytest.raises(ZeroDivisionError):
        kept.get("a", lambda: 1 // 0)
    assert kept.get("a", lambda: 1) == 1


def test_the_planners_picture_is_drawn_once_a_plan_and_language(stack: Stack, monkeypatch: pytest.MonkeyPatch) -> None:
    drawn: list[str] = []
    real = draw_timetable

    def draw(plan: str, language: str, **more: object) -> object:
        drawn.append(language)
        return real(plan, language, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(planner, "draw_timetable", draw)
    stack.plan()
    first = stack.web.get("/planner").text
    assert stack.web.get("/planner").text == first
    stack.web.get("/planner", headers={"accept-language": "es"})
    assert list(map(str, drawn)) == ["en", "es"]
    stack.web.post("/api/orders", json=order_document("shed-2"))
    stack.web.post("/api/plans", json={})
    stack.work(lambda *given, **named: replace(fake_plan(*given, **named), id="another"))
    assert stack.web.get("/planner").text != first
    assert list(map(str, drawn)) == ["en", "es", "en"]


def test_the_bar_on_the_saw_is_drawn_anew_once_a_piece_is_cut(stack: Stack, monkeypatch: pytest.MonkeyPatch) -> None:
    drawn: list[int] = []
    real = saw.draw_bar_on_saw

    def draw(bar: Bar, *more: object) -> object:
        drawn.append(sum(cut.state != "waiting" for cut in bar.cuts))
        return real(bar, *more)  # type: ignore[arg-type]

    monkeypatch.setattr(saw, "draw_bar_on_saw", draw)
    stack.released()
    bar = next(one for one in stack.web.get("/api/cut-queue").json()["bars"] if len(one["cuts"]) == 2)
    address = f"/saw/{bar['machine']}"
    shown = [stack.web.get(address, params={"bar": bar["id"]}).text for _ in range(3)]
    assert len(set(shown)) == 1
    stack.happened("cut", bar["cuts"][0]["piece"], "e1")
    assert stack.web.get(address, params={"bar": bar["id"]}).text != shown[0]
    assert drawn == [0, 1]


def test_a_kept_page_is_shown_until_the_store_changes_whoever_changes_it(pages: Pages, monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[str] = []

    def counting(request: Request, template: str, **values: Any) -> Response:
        made.append(template)
        return render_page(request, template, **values)

    for module in (planner, saw):
        monkeypatch.setattr(module, "render_page", counting)
    assert "No order is here yet" in pages.read("/planner")
    assert "No order is here yet" in pages.read("/planner")
    assert made == ["planner.html"]
    assert "Aún no hay pedidos" in pages.read("/planner", "es")
    pages.make()  # by another store, as the worker is another process
    made.clear()
    for _ in range(3):
        assert "2 of 2 bars to cut" in pages.read("/saw")
    assert made == ["saw_machines.html"]
    for n in (1, 2):
        pages.happened("cut", f"shed-1/L1.S-0{n}", f"e{n}")
    assert "1 of 2 bars to cut" in pages.read("/saw")
    pages.happened("undone", "shed-1/L1.S-01", "u", about="e1")
    assert "2 of 2 bars to cut" in pages.read("/saw")
    pages.happened("scrapped", "shed-1/L1.S-03", "e4")
    assert "1 piece is scrapped" in pages.read("/planner")
