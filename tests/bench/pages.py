"""Pages under many eyes: requests a second of `/planner` and `/saw` at 50 clients, on SQLite and on PostgreSQL.

`python -m tests.bench pages`; writes results/pages.json. The floor is that of the demo orders' plan, released, one web process
as `sawbill serve` starts it; a writer tells of a piece each second, as a busy saw does, so that what is kept goes stale.
PostgreSQL is the one that SAWBILL_TEST_POSTGRES names, or the wheel's. Fails below 100 and 200 requests a second.
"""

from __future__ import annotations

import asyncio
import os
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from service.settings import Settings
from service.store.unit_of_work import SqlStore
from service.usecases.ask.events import store_event_data
from service.usecases.ask.orders import store_order
from service.usecases.ask.release import release_plan
from tests.bench.machine import write_result
from tests.plans import demo_documents, demo_plan, demo_plant
from tests.servers import free_port, own_schema, postgres
from tests.stored import keep_plan
from worker.serve import upgrade_store_to_newest

CLIENTS, SECONDS = 50, 8.0
LEAST = {"/planner": 100.0, "/saw": 200.0}


async def _client(port: int, path: str, until: float, spent: list[float]) -> None:
    """One browser that asks for a page over and over on one connection until its time is over."""
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    asked = f"GET {path} HTTP/1.1\r\nHost: localhost\r\nAccept-Language: en\r\n\r\n".encode()
    while time.perf_counter() < until:
        begun = time.perf_counter()
        writer.write(asked)
        head = await reader.readuntil(b"\r\n\r\n")
        size = next(int(line[15:]) for line in head.lower().split(b"\r\n") if line.startswith(b"content-length:"))
        await reader.readexactly(size)
        if not head.startswith(b"HTTP/1.1 200"):
            raise RuntimeError(head.decode("latin-1"))
        spent.append(time.perf_counter() - begun)
    writer.close()


async def _ask(port: int, path: str) -> dict[str, Any]:
    spent: list[float] = []
    begun = time.perf_counter()
    await asyncio.gather(*(_client(port, path, begun + SECONDS, spent) for _ in range(CLIENTS)))
    took = time.perf_counter() - begun
    spent.sort()
    middle, late = spent[len(spent) // 2], spent[len(spent) * 99 // 100]
    return {
        "requests": len(spent),
        "a_second": round(len(spent) / took, 1),
        "median_ms": round(middle * 1000, 1),
        "99th_ms": round(late * 1000, 1),
    }


@contextmanager
def serving(settings: Settings) -> Iterator[subprocess.Popen[bytes]]:
    """Run the web process of `sawbill serve` until this is left."""
    web = subprocess.Popen([sys.executable, "-m", "worker.web"], env={**os.environ, **settings.environment()})
    try:
        for _ in range(600):
            try:
                urllib.request.urlopen(f"http://127.0.0.1:{settings.port}/livez", timeout=2)
                break
            except OSError:
                time.sleep(0.1)
        yield web
    finally:
        web.terminate()
        web.wait(20)


async def _while_told(store: SqlStore, port: int, path: str) -> dict[str, Any]:
    """Ask while a saw tells of a piece each second."""
    over = asyncio.Event()

    async def telling() -> int:
        n = 0
        while not over.is_set():
            event = {
                "id": f"{path[1:]}-{n}",
                "kind": "cut",
                "at": "2031-05-05T07:42:00-06:00",
                "station": "bench",
                "subject": f"none-{n}",
            }
            await asyncio.to_thread(store_event_data, event, store=store)
            n += 1
            await asyncio.sleep(1.0)
        return n

    teller = asyncio.create_task(telling())
    found = await _ask(port, path)
    over.set()
    return {**found, "events_told": await teller}


def measured(url: str, folder: Path) -> dict[str, Any]:
    """Return what each page gives on a database, filled with the demo's released plan."""
    port = free_port()
    settings = Settings(data_dir=str(folder), database=url, port=port)
    upgrade_store_to_newest(settings)
    store = SqlStore(settings.database_url)
    for _, document in demo_documents():
        store_order(document, demo_plant(), store=store)
    release_plan(keep_plan(store, demo_plan(), demo_plant()), store=store)
    try:
        with serving(settings):
            for path in LEAST:  # its templates are compiled once a process
                urllib.request.urlopen(f"http://127.0.0.1:{port}{path}", timeout=60)
            return {path: asyncio.run(_while_told(store, port, path)) for path in LEAST}
    finally:
        store.close()


def main(_arguments: list[str]) -> int:
    """Measure, write the result, and return 1 where a page gives less than it must."""
    found: dict[str, Any] = {}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        found["sqlite"] = measured(f"sqlite:///{folder / 'lite' / 'sawbill.db'}", folder / "lite")
        with postgres(folder) as server, own_schema(server) as url:
            found["postgresql"] = measured(url, folder / "post")
    result = {
        "what": "requests a second by one web process while a saw tells of a piece each second",
        "clients": CLIENTS,
        "seconds": SECONDS,
        "load_of_the_machine_before": round(os.getloadavg()[1], 1),
        "found": found,
        "least": LEAST,
    }
    write_result("pages", result, command="python -m tests.bench pages")
    for database, by_path in found.items():
        for path, one in by_path.items():
            print(f"{database} {path}: {one['a_second']} a second, median {one['median_ms']} ms, 99th {one['99th_ms']} ms")
    return int(any(one["a_second"] < LEAST[path] for by_path in found.values() for path, one in by_path.items()))
