"""Every page and every GET on a large store: CPU and bytes of each, and of a release; results/every_page.json.

`python -m tests.bench every_page [-- before]`. The store is built directly, without a search: the plan of one house that
`tests/golden/stored` keeps, again and again under other names and later by two hours each, until there are 42,000 operations
(more than 500 orders, 42,000 pieces); a plan an hour earlier came before it, all of whose work has moved. The routes are
those of the application. `before` writes what is measured as the figures to compare with; a later run keeps them.
Wanted: each within 0.3 s of CPU and 300 kB, what is fetched as a file aside, and a release within 3 s.
"""

from __future__ import annotations

import json
import lzma
import re
import sqlite3
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

from fastapi.testclient import TestClient

from service.app import make_app
from service.contracts.orders import OrderLine
from service.settings import Settings
from service.store.unit_of_work import SqlStore
from service.stored_form import from_stored_text, to_stored_text
from service.usecases.plan_bounds import verified_bounds
from service.usecases.plan_rows import write_plan_rows
from service.usecases.stored import stored_plan
from solver.codec import decode, encode
from solver.domain.cut_plan import CutPlan
from solver.domain.plan import Plan, SequencePart
from solver.domain.plant import Plant
from solver.domain.timetable import Timetable
from tests.bench.machine import RESULTS, write_result
from tests.gets import address_of, gets, things_of
from tests.plans import demo_documents
from tests.stored import keep_plan
from worker.serve import upgrade_store_to_newest

T = TypeVar("T")
OPERATIONS = 42_000
HOUR_S = 3_600
KEPT = max((Path(__file__).parents[1] / "golden" / "stored").glob("5*.sql.xz"))
MOST_S, MOST_BYTES, RELEASE_S = 0.3, 300_000, 3.0
FILES = ("/parts/{digest}", "/documents/{name:path}", ".csv", ".ics", "openapi.json")  # fetched as files, not looked at
ELSEWHERE = ("/api/printers",)  # asks the machine's spooler


def house() -> tuple[Plan, Plant]:
    """Return the kept plan of one house."""
    with tempfile.TemporaryDirectory() as folder:
        old = sqlite3.connect(Path(folder) / "sawbill.db")
        old.executescript(lzma.decompress(KEPT.read_bytes()).decode())
        old.close()
        settings = Settings(data_dir=folder)
        upgrade_store_to_newest(settings)
        store = SqlStore(settings.database_url)
        with store.reading() as tx:
            made = stored_plan(tx, "P1")  # the first that the store was given
        store.close()
    return made


def renamed(kind: type[T], value: T, order: str, name: str, bars: set[str]) -> T:
    """Return a part with an order's name for another's in every id, and its bars, jobs and coils made its own."""
    text = to_stored_text(value).replace(f'"{order}', f'"{name}').replace(f" {order}/", f" {name}/")
    own = {one for one in bars if f'"{one}"' in text or f"bar {one}" in text}
    for bar in sorted(own, key=len, reverse=True):
        text = re.sub(rf"(?<=[\"/ ]){re.escape(bar)}(?=[\"/])", f"{bar}~{name}", text)
    return from_stored_text(kind, text)


def shifted(table: Timetable, by_s: int) -> Timetable:
    """Return a timetable whose every instant is so much later."""
    operations = tuple(
        replace(one, start_s=one.start_s + by_s, end_s=one.end_s + by_s)  # type: ignore[arg-type]
        for one in table.operations
    )
    slots = tuple(replace(one, start=one.start + by_s, end=one.end + by_s) for one in table.result.operations)
    late = tuple(
        replace(one, due_s=None if one.due_s is None else one.due_s + by_s, done_s=one.done_s + by_s)  # type: ignore[arg-type]
        for one in table.deliveries
    )
    return replace(table, operations=operations, deliveries=late, result=replace(table.result, operations=slots))


def many(plan: Plan, count: int) -> Plan:
    """Return the plan of so many houses alike, each a day after the one before."""
    order = plan.takeoffs[0].building.order
    bars = {str(bar.id) for cut in plan.cuts for bar in cut.bars}
    jobs = {job.id for job in plan.timetable.job.jobs}
    copies: list[Plan] = []
    for n in range(count):
        name = f"{order}-{n:03d}"
        table = shifted(renamed(Timetable, plan.timetable, order, name, bars | jobs), 2 * n * HOUR_S)
        copies.append(
            replace(
                plan,
                takeoffs=tuple(renamed(type(one), one, order, name, bars) for one in plan.takeoffs),
                stacks=tuple(renamed(type(one), one, order, name, bars) for one in plan.stacks),
                cuts=tuple(renamed(CutPlan, one, order, name, bars) for one in plan.cuts),
                sequences=tuple(renamed(SequencePart, one, order, name, bars) for one in plan.sequences),
                timetable=table,
                loads=tuple(renamed(type(one), one, order, name, bars) for one in plan.loads),
                dispatch=None if plan.dispatch is None else renamed(type(plan.dispatch), plan.dispatch, order, name, bars),
            )
        )
    return _together(plan, copies)


def _together(plan: Plan, copies: list[Plan]) -> Plan:
    cuts = tuple(
        replace(cut, bars=tuple(bar for copy in copies for bar in copy.cuts[n].bars)) for n, cut in enumerate(plan.cuts)
    )
    sequences = tuple(
        replace(
            part,
            job=replace(part.job, bars=tuple(bar for copy in copies for bar in copy.sequences[n].job.bars)),
            result=replace(part.result, order=tuple(bar for copy in copies for bar in copy.sequences[n].result.order or ())),
        )
        for n, part in enumerate(plan.sequences)
    )
    tables = [copy.timetable for copy in copies]
    table = replace(
        plan.timetable,
        job=replace(plan.timetable.job, jobs=tuple(job for one in tables for job in one.job.jobs)),
        result=replace(plan.timetable.result, operations=tuple(slot for one in tables for slot in one.result.operations)),
        operations=tuple(operation for one in tables for operation in one.operations),
        deliveries=tuple(late for one in tables for late in one.deliveries),
    )
    return replace(
        plan,
        id="before",
        takeoffs=tuple(one for copy in copies for one in copy.takeoffs),
        stacks=tuple(one for copy in copies for one in copy.stacks),
        cuts=cuts,
        sequences=sequences,
        timetable=table,
        loads=tuple(one for copy in copies for one in copy.loads),
        dispatch=None
        if plan.dispatch is None
        else replace(
            plan.dispatch, departures=tuple(one for copy in copies if copy.dispatch for one in copy.dispatch.departures)
        ),
        rack=None,
    )


def cpu_of(work: Any) -> tuple[float, Any]:
    """Return the CPU seconds that some work takes in this process, and what came of it."""
    begun = time.process_time()
    found = work()
    return round(time.process_time() - begun, 3), found


def pages(web: TestClient, plan_id: str) -> dict[str, dict[str, Any]]:
    """Return CPU and bytes of every route, the second time it is asked too: what is kept shows there."""
    things, rows = things_of(web, plan_id), {}
    for path, query in gets(web.app):  # type: ignore[arg-type]
        where = address_of(path, query, things)
        if where is None or path in ELSEWHERE:
            continue
        first, told = cpu_of(lambda where=where: web.get(where))
        again, _ = cpu_of(lambda where=where: web.get(where))
        file = any(end in path for end in FILES)
        rows[path] = {"status": told.status_code, "cpu_s": first, "again_s": again, "bytes": len(told.content), "file": file}
        print(path, json.dumps(rows[path]), flush=True)
    return rows


def forms(table: Timetable) -> dict[str, float]:
    """Return what the largest part takes to write and to read, in the stored form and by the codec."""
    writing, text = cpu_of(lambda: to_stored_text(table))
    reading, _ = cpu_of(lambda: from_stored_text(Timetable, text))
    encoding, data = cpu_of(lambda: json.dumps(encode(table)))
    decoding, _ = cpu_of(lambda: decode(Timetable, json.loads(data), name="part", unit="mm"))
    size = round(len(text) / 1e6, 1)
    return {"mb": size, "write_s": writing, "read_s": reading, "codec_write_s": encoding, "codec_read_s": decoding}


def main(arguments: list[str]) -> int:
    """Build the store, ask for everything, release; 1 where something is over what is wanted."""
    one, plant = house()
    count = -(-OPERATIONS // len(one.timetable.operations))
    before = many(one, count)
    plan = replace(before, id="many", timetable=shifted(before.timetable, HOUR_S))
    order, document = one.takeoffs[0].building.order, dict(demo_documents())[f"{one.takeoffs[0].building.order}.json"]
    lines = [
        OrderLine(id=takeoff.building.order, revision=1, name=order, need_by=None, received_at="2031-04-28T12:00:00.000+00:00")
        for takeoff in plan.takeoffs
    ]
    with tempfile.TemporaryDirectory() as folder:
        settings = Settings(data_dir=folder)
        upgrade_store_to_newest(settings)
        store = SqlStore(settings.database_url)
        with store.writing() as tx:
            for line in lines:
                tx.orders.add(line, digest=line.id, document=json.dumps({**document, "id": line.id}))
        plan = replace(plan, predecessor=keep_plan(store, before, plant))
        storing, job = cpu_of(lambda: keep_plan(store, plan, plant))
        with TestClient(make_app(settings), base_url="http://localhost") as web:
            rows_s, _ = cpu_of(lambda: write_plan_rows(plan.id, store=store))  # as the worker does when it has stored a plan
            bounds_s, _ = cpu_of(lambda: verified_bounds(plan.id, store=store))
            releasing, told = cpu_of(lambda: web.post(f"/api/plans/{job}/release"))
            assert told.status_code == 200, told.text
            rows = pages(web, job)
        store.close()
    looked_at = {path: row for path, row in rows.items() if not row["file"]}
    over = [path for path, row in looked_at.items() if row["cpu_s"] > MOST_S or row["bytes"] > MOST_BYTES]
    result: dict[str, Any] = {
        "wanted": {"cpu_s": MOST_S, "bytes": MOST_BYTES, "release_s": RELEASE_S},
        "orders": len(plan.takeoffs),
        "pieces": sum(len(takeoff.pieces) for takeoff in plan.takeoffs),
        "operations": len(plan.timetable.operations),
        "store_s": storing,
        "rows_s": rows_s,
        "bounds_s": bounds_s,
        "release_s": releasing,
        "timetable": forms(plan.timetable),
        "over": over,
        "pages": rows,
    }
    path = RESULTS / "every_page.json"
    kept = json.loads(path.read_text(encoding="utf-8")) if path.exists() else {}
    earlier = result if "before" in arguments else kept.get("before")
    write_result("every_page", {"before": earlier, **result}, command="python -m tests.bench every_page")
    print(f"{len(over)} of {len(looked_at)} over; release {releasing} s")
    return 1 if over or releasing > RELEASE_S else 0
