"""A stored order's date, asked of a stored plan, comes in the plant's own time."""

from __future__ import annotations

import hashlib
import json
from datetime import datetime
from pathlib import Path

import pytest

from service.contracts.orders import OrderLine
from service.contracts.plans import PartLine
from service.errors import NotFound
from service.store.migrate import upgrade
from service.store.unit_of_work import SqlStore
from service.usecases.make.plan import canonical, manifest_of, plan_contents
from service.usecases.make.promising import promise_order
from service.usecases.make.stages import clock
from solver.codec import encode
from solver.search import Search
from tests.integration.test_promise_order import _new, _plan
from tests.plans import demo_documents, demo_plant


def test_a_stored_order_is_promised_beside_a_stored_plan(tmp_path: Path) -> None:
    store, plan, order = SqlStore(f"sqlite:///{tmp_path}/store.db"), _plan(), _new().order
    upgrade(store.engine)
    lines, bodies = [], []
    for stage, about, part in plan_contents(plan, demo_plant()):
        body = canonical(encode(part))
        digest = hashlib.sha256(body.encode()).hexdigest()
        lines.append(PartLine(stage=stage, about=about, digest=digest))
        bodies.append((digest, body))
    line = OrderLine(id=order, revision=1, name=order, need_by=None, received_at="2031-04-28T12:00:00.000+00:00")
    with store.writing() as tx:
        tx.plans.add(manifest_of(plan, (), tuple(lines)), bodies, [])
        tx.orders.add(line, digest="d", document=json.dumps(demo_documents()[0][1]))
    early = promise_order(plan.id, order, Search(left_s=clock(3.0)), store=store, by_s=3_600)
    zone = datetime.fromisoformat(plan.timetable.epoch).utcoffset()
    assert datetime.fromisoformat(early.ships).utcoffset() == zone
    assert plan.timetable.epoch < early.not_before <= early.ships
    assert early.met is False  # nothing that big is made in the first hour
    with pytest.raises(NotFound):
        promise_order("no-such-plan", order, Search(left_s=clock(3.0)), store=store)
    store.close()
