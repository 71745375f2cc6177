"""The demo again in the folder of an earlier one: it ends well and serves, whatever was done there in between."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient
from typer.testing import CliRunner

from service import catalog, cli, terminal_search, warm_up
from service.app import make_app
from service.catalog import read_plant
from service.reports import summary
from service.settings import Settings
from service.usecases.make import plan_files
from solver.domain.plan import Plan
from solver.reading.read_order import read_order
from solver.search import Search
from tests.service_fakes import fake_plan, order_document
from worker import serve
from worker.demo import put_on_floor

EPOCH = "2031-05-05T06:00:00-06:00"
Demo = Callable[[], Any]


def plan_of(document: dict[str, object]) -> Plan:
    return fake_plan((read_order(document, read_plant(None)),), read_plant(None), Search(), epoch=EPOCH)


def put(settings: Settings, document: dict[str, object]) -> list[str]:
    return [fault.path for fault in put_on_floor(settings, [document], plan_of(document), read_plant(None), ())]


def on_floor(settings: Settings) -> set[tuple[str, int]]:
    """Return orders and revisions of the plan that saw and dock work from."""
    with TestClient(make_app(settings), base_url="http://localhost") as web:
        released = [one for one in web.get("/api/plans").json()["plans"] if one["released"]]
        return {(order["id"], order["revision"]) for one in released for order in one["orders"]}


@pytest.fixture
def demo(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Demo:
    """The command, with a plan of a moment and a service that only says where it would be."""

    def write_plan(*given: Any, **named: Any) -> dict[str, Path]:
        tmp_path.mkdir(exist_ok=True)
        return {}

    monkeypatch.delenv("NO_SERVE", raising=False)
    for name in ("DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(cli, "read_json", lambda raw, name: order_document())
    monkeypatch.setattr(catalog, "demo_orders", lambda: {"shed-1.json": b""})
    monkeypatch.setattr(warm_up, "start_compiling", lambda: None)
    monkeypatch.setattr(terminal_search.TerminalSearch, "plan", lambda *given, **named: plan_of(order_document()))
    monkeypatch.setattr(plan_files, "write_plan", write_plan)
    monkeypatch.setattr(summary, "plan_summary", lambda *given: "the plan")
    monkeypatch.setattr(serve, "serve", lambda settings: print("serves", settings.port))
    return lambda: CliRunner().invoke(cli.app, ["demo", "--out", str(tmp_path), "--port", "8123"])


def test_the_demo_twice_serves_and_lists_the_stations(demo: Demo, tmp_path: Path) -> None:
    for _ in range(2):
        told = demo()
        assert told.exit_code == 0, told.output
        assert "The floor keeps" not in told.output
        for station in ("planner", "saw", "dock"):
            assert f"http://127.0.0.1:8123/{station}" in told.output
        assert "serves 8123" in told.output
    assert on_floor(Settings(data_dir=str(tmp_path))) == {("shed-1", 1)}


def test_the_demo_again_keeps_another_order_that_the_saw_is_at(demo: Demo, tmp_path: Path) -> None:
    """Refused with a fault before, and nothing was served: the released plan had pieces that this one has not."""
    settings = Settings(data_dir=str(tmp_path))
    assert put(settings, order_document("shed-2")) == []
    told = demo()
    assert told.exit_code == 0, told.output
    assert "The floor keeps the plan it works from" in told.output and "3 pieces on 2 bars of shed-2" in told.output
    assert "/dock" in told.output and "serves 8123" in told.output
    assert on_floor(settings) == {("shed-2", 1)}


def test_the_demo_again_keeps_an_order_that_was_revised_since(demo: Demo, tmp_path: Path) -> None:
    settings = Settings(data_dir=str(tmp_path))
    assert put(settings, order_document()) == [] and put(settings, order_document(revision=2)) == []
    told = demo()
    assert told.exit_code == 0, told.output
    assert "revision: 1 of shed-1 is planned, revision 2 is stored" in told.output and "serves 8123" in told.output
    assert on_floor(settings) == {("shed-1", 2)}
