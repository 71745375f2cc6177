"""A running stack to test from outside: one that SAWBILL_TEST_URL names, else one started here as the run command does."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest

from api_tests.samples import small_order

CHROMIUM = "/usr/bin/chromium"
CHROMIUM_FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
START = "import sys; from service.settings import read_settings; from worker.serve import serve; serve(read_settings())"


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        port: int = one.getsockname()[1]
    return port


def wait_for(address: str, process: subprocess.Popen[bytes] | None = None) -> None:
    end = time.monotonic() + 240  # a busy machine takes its time; one that died is noticed at once
    while time.monotonic() < end:
        try:
            if httpx.get(f"{address}/healthz", timeout=2).status_code == 200:
                return
        except httpx.HTTPError:
            pass
        if process is not None and process.poll() is not None:
            break
        time.sleep(0.1)
    raise RuntimeError("the stack did not start")


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Where a fresh stack answers."""
    if "SAWBILL_TEST_URL" in os.environ:
        yield os.environ["SAWBILL_TEST_URL"].rstrip("/")
        return
    folder, port = tmp_path_factory.mktemp("stack"), free_port()
    settings = {"SAWBILL_DATA_DIR": str(folder), "SAWBILL_PORT": str(port), "SAWBILL_PLAN_SECONDS": "10"}
    root = Path(__file__).resolve().parents[1]
    process = subprocess.Popen([sys.executable, "-c", START], env={**os.environ, **settings}, cwd=root)
    try:
        wait_for(f"http://127.0.0.1:{port}", process)
        yield f"http://127.0.0.1:{port}"
    finally:
        process.terminate()
        process.wait(20)


@pytest.fixture(scope="module")
def client(address: str) -> Iterator[httpx.Client]:
    with httpx.Client(base_url=address, timeout=60) as made:
        yield made


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """Debian's Chromium, driven from outside; where it is needed (as in CI), its absence is a failure."""
    if shutil.which(CHROMIUM) is None:
        assert not os.environ.get("SAWBILL_NEED_BROWSER"), f"{CHROMIUM} is not on this machine"
        pytest.skip(f"{CHROMIUM} is not on this machine")
    playwright = pytest.importorskip("playwright.sync_api")
    with playwright.sync_playwright() as driver:
        made = driver.chromium.launch(executable_path=CHROMIUM, args=CHROMIUM_FLAGS)
        yield made
        made.close()


@pytest.fixture(scope="module")
def planned(client: httpx.Client) -> str:
    """The id of a plan of one small order, made by the real pipeline and given to the floor."""
    assert client.post("/api/orders", json=small_order("shed-1")).status_code in (200, 201)
    told = client.post("/api/plans", json={"orders": ["shed-1"], "epoch": "2031-04-21T06:00:00-06:00"})
    assert told.status_code == 202, told.text
    job: str = told.json()["job"]
    end = time.monotonic() + 120
    state: Any = {}
    while time.monotonic() < end:
        state = client.get(f"/api/jobs/{job}").json()
        if state["status"] not in ("waiting", "working"):
            break
        time.sleep(0.2)
    assert state.get("status") == "done", state
    name: str = state["plan"]
    assert client.post(f"/api/plans/{name}/release", params={"drop": True}).status_code == 200
    return name
