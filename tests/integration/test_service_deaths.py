"""Sudden death: `kill -9` of the runner, of a job's process and of the web process loses no order and no accepted plan."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import psutil  # ships no types
import pytest

from service.settings import Settings
from tests.service_fakes import HOLD, order_document
from worker.serve import supervise, upgrade_store_to_newest

WEB = [sys.executable, "-m", "worker.web"]
RUNNER = [sys.executable, "-m", "tests.slow_runner"]
pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="processes are told apart by Linux' process table")


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        port: int = one.getsockname()[1]
    return port


class Running:
    """The run command, with a runner whose plans take four seconds, or until they are let go, unless stopped."""

    def __init__(self, folder: Path) -> None:
        self.settings = Settings(data_dir=str(folder), port=free_port(), lease_seconds=2.0)
        upgrade_store_to_newest(self.settings)
        self.stop = threading.Event()
        commands = {"web": WEB, "runner": RUNNER}
        self.thread = threading.Thread(target=supervise, args=(self.settings, self.stop, commands))
        self.thread.start()
        self.web = httpx.Client(base_url=f"http://127.0.0.1:{self.settings.port}", timeout=5)
        self.until(lambda: self.web.get("/healthz").status_code == 200)

    def until(self, true: Any, seconds: float = 120) -> None:
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            try:
                if true():
                    return
            except httpx.HTTPError:
                pass
            time.sleep(0.05)
        raise AssertionError("it did not come true in time")

    def process(self, module: str, *, ready: bool = False) -> psutil.Process | None:
        for one in psutil.Process().children(recursive=True):
            try:
                said = one.cmdline()
                if module in said and ("wait" in said) is ready and one.status() != psutil.STATUS_ZOMBIE:
                    return one
            except psutil.Error:
                continue
        return None

    def kill(self, module: str, *, ready: bool = False) -> int:
        self.until(lambda: self.process(module, ready=ready) is not None)
        found = self.process(module, ready=ready)
        assert found is not None
        os.kill(found.pid, signal.SIGKILL)
        return int(found.pid)

    def state(self, name: str) -> Any:
        return self.web.get(f"/api/jobs/{name}").json()

    def working(self, name: str) -> bool:
        state = self.state(name)
        return bool(state["status"] == "working" and state["doing"] == "nesting")

    def close(self) -> None:
        self.stop.set()
        self.thread.join(30)
        self.web.close()


@pytest.fixture
def running(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Running]:
    monkeypatch.setenv(HOLD, str(tmp_path / "hold"))
    made = Running(tmp_path)
    yield made
    made.close()


def test_deaths_of_runner_job_and_web_lose_nothing_and_the_plan_is_made(running: Running) -> None:
    assert running.web.post("/api/orders", json=order_document()).status_code == 201
    name = running.web.post("/api/plans", json={}).json()["job"]
    running.until(lambda: running.working(name))

    job = running.process("tests.slow_job")
    running.kill("tests.slow_runner")
    running.until(lambda: job is None or not job.is_running() or job.status() == psutil.STATUS_ZOMBIE)  # no orphan goes on
    running.until(lambda: running.working(name))  # the new runner took it over when the lease had run out

    running.kill("tests.slow_job")
    running.until(lambda: running.process("tests.slow_job") is not None)

    running.kill("worker.web")
    running.until(lambda: running.web.get("/healthz").status_code == 200)  # the port is free again at once
    assert [line["id"] for line in running.web.get("/api/orders").json()["orders"]] == ["shed-1"]
    assert running.state(name)["status"] in ("waiting", "working", "done")

    running.until(lambda: running.state(name)["status"] == "done")
    assert running.web.get(f"/api/plans/{running.state(name)['plan']}").json()["counts"]["pieces"] == 3


def test_a_question_is_answered_while_a_plan_is_made_also_after_the_ready_process_died(
    running: Running, tmp_path: Path
) -> None:
    for name in ("shed-1", "shed-2"):
        assert running.web.post("/api/orders", json=order_document(name)).status_code == 201
    done = running.web.post("/api/plans", json={"orders": ["shed-1"]}).json()["job"]
    running.until(lambda: running.state(done)["status"] == "done")
    plan = running.state(done)["plan"]
    for _ in range(2):
        (tmp_path / "hold").touch()  # the plan is being made for as long as the answer takes on this machine
        other = running.web.post("/api/plans", json={"orders": ["shed-1"]}).json()["job"]
        running.until(lambda name=other: running.working(name))
        asked = running.web.post(f"/api/plans/{plan}/promises", json={"order": "shed-2"}).headers["location"]
        running.until(lambda where=asked: running.web.get(where).json()["status"] == "failed")
        assert running.web.get(asked).json()["faults"][0]["path"] == "plan"  # a plan by hand: no timetable to ask
        assert running.working(other)
        (tmp_path / "hold").unlink()
        running.until(lambda name=other: running.state(name)["status"] == "done")
        running.kill("tests.slow_job", ready=True)


def test_a_working_plan_is_stopped_by_a_cancel(running: Running) -> None:
    running.web.post("/api/orders", json=order_document())
    name = running.web.post("/api/plans", json={}).json()["job"]
    running.until(lambda: running.working(name))
    assert running.web.post(f"/api/jobs/{name}/cancel").status_code == 202
    running.until(lambda: running.state(name)["status"] == "cancelled", 5)
    running.until(lambda: running.process("tests.slow_job") is None, 5)


def test_a_killed_supervisor_leaves_no_child_that_keeps_the_port(tmp_path: Path) -> None:
    settings = Settings(data_dir=str(tmp_path), port=free_port())
    code = "from service.settings import read_settings; from worker.serve import serve; serve(read_settings())"
    parent = subprocess.Popen([sys.executable, "-c", code], env={**os.environ, **settings.environment()})
    try:
        end = time.monotonic() + 30
        children: list[psutil.Process] = []
        while time.monotonic() < end and len(children) < 2:
            time.sleep(0.1)
            children = psutil.Process(parent.pid).children()
        while time.monotonic() < end:
            with socket.socket() as one:
                if one.connect_ex(("127.0.0.1", settings.port)) == 0:
                    break
            time.sleep(0.1)
    finally:
        parent.kill()
        parent.wait()
    _, alive = psutil.wait_procs(children, timeout=60)
    assert alive == []
    with socket.socket() as one:
        one.bind(("127.0.0.1", settings.port))
