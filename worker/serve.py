"""The run command: brings the store to its newest shape, then keeps a web process and a runner going."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from http.client import HTTPConnection, HTTPException

import structlog

from service import warm_up
from service.settings import Settings
from service.store.migrate import upgrade_store
from service.usecases.ask.stock import take_over_catalog_stock
from solver.errors import InputError
from worker.log import set_up_logging
from worker.sweep import sweep_command
from worker.wiring import open_store, plant_of_settings

log = structlog.get_logger()
LOOK_EVERY_S = 0.1
WAIT_MOST_S = 5.0  # between two starts of a process that keeps dying
STEADY_S = 10.0  # a process that lived so long is started again at once


@dataclass
class KeptProcess:
    """A process that is kept going."""

    name: str
    command: list[str]
    process: subprocess.Popen[bytes] | None = None
    started: float = 0.0
    next_start: float = 0.0
    wait_s: float = field(default=0.1)
    heard: float = 0.0  # when it last answered, or was started
    asked: float = 0.0  # when it was last asked


def serve(settings: Settings, host: str | None = None, port: int | None = None, *, stop: threading.Event | None = None) -> None:
    """Serve the stations and make plans until interrupted (or `stop` is set); either process is started anew when it dies."""
    settings = replace(settings, host=host or settings.host, port=port or settings.port)
    set_up_logging(settings)
    upgrade_store_to_newest(settings)
    take_over_stock(settings)
    if not settings.broker:  # else plans are made elsewhere
        warm_up.start_compiling()
    stop = stop or _stop_on_signals()
    supervise(settings, stop, process_commands(settings))


def upgrade_store_to_newest(settings: Settings) -> None:
    """Bring the store to its newest shape."""
    store = open_store(settings)
    try:
        upgrade_store(store.engine)
    finally:
        store.close()


def take_over_stock(settings: Settings) -> None:
    """Take the catalog's stock over into the book, once in the life of a store.

    A catalog that cannot be read opens nothing: the web process says why it does not start.
    """
    store = open_store(settings)
    try:
        with suppress(InputError):
            take_over_catalog_stock(plant_of_settings(settings), store=store)
    finally:
        store.close()


def process_commands(settings: Settings) -> dict[str, list[str]]:
    """Return what is kept going: web and runner, or web and sweeper where a broker hands out the jobs."""
    second = {"sweep": sweep_command()} if settings.broker else {"runner": [sys.executable, "-m", "worker.runner"]}
    return {"web": [sys.executable, "-m", "worker.web"], **second}


def _stop_on_signals() -> threading.Event:
    stop = threading.Event()
    for name in (signal.SIGTERM, signal.SIGINT):
        signal.signal(name, lambda *_: stop.set())
    return stop


def supervise(settings: Settings, stop: threading.Event, commands: dict[str, Sequence[str]] | dict[str, list[str]]) -> None:
    """Keep processes going until told to stop, then end them."""
    kept = [KeptProcess(name, list(command)) for name, command in commands.items()]
    try:
        while not stop.wait(LOOK_EVERY_S):
            for one in kept:
                _look(one, settings)
                if one.name == "web":
                    _listen(one, settings)
    finally:
        _end(kept)


def _look(one: KeptProcess, settings: Settings) -> None:
    now = time.monotonic()
    if one.process is not None and one.process.poll() is not None:
        log.warning("process ended, starting it again", name=one.name, code=one.process.returncode)
        one.wait_s = 0.1 if now - one.started > STEADY_S else min(2 * one.wait_s, WAIT_MOST_S)
        one.next_start, one.process = now + one.wait_s, None
    if one.process is None and now >= one.next_start:
        environment = {**os.environ, **settings.environment()}
        one.process = subprocess.Popen([*one.command, str(os.getpid())], env=environment)
        one.started = one.heard = now
        log.info("process started", name=one.name, process=one.process.pid)


def _listen(one: KeptProcess, settings: Settings) -> None:
    """Replace a web process that lives but answers nothing: it would keep the port, and every page, for ever."""
    now = time.monotonic()
    if one.process is None or now < one.asked + settings.web_silent_seconds / 10:
        return
    one.asked = now
    if _answers(settings, within_s=min(5.0, settings.web_silent_seconds / 3)):
        one.heard = time.monotonic()
    elif time.monotonic() - one.heard > settings.web_silent_seconds:
        log.warning("process answers nothing, replacing it", name=one.name, process=one.process.pid)
        one.process.kill()
        one.heard = time.monotonic()


def _answers(settings: Settings, *, within_s: float) -> bool:
    host = {"0.0.0.0": "127.0.0.1", "::": "::1", "": "127.0.0.1"}.get(settings.host, settings.host)
    try:
        connection = HTTPConnection(host, settings.port, timeout=within_s)
        try:
            connection.request("GET", "/livez")
            return connection.getresponse().status > 0
        finally:
            connection.close()
    except (OSError, HTTPException):
        return False


def _end(kept: list[KeptProcess]) -> None:
    alive = [one.process for one in kept if one.process is not None]
    for process in alive:
        process.terminate()
    for process in alive:
        try:
            process.wait(10)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
