"""A stored order's date, asked of a stored plan, comes in the plant's own time."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from typer.testing import CliRunner

from service.cli import app
from service.contracts.orders import OrderLine
from service.contracts.plans import OrderAt, PromiseWanted
from service.errors import NotFound
from service.store.migrate import upgrade_store
from service.store.unit_of_work import SqlStore
from service.usecases.make.plan import plan_manifest
from service.usecases.make.plan_files import plan_with_its_job
from service.usecases.make.promising import promise_order
from service.usecases.make.stages import countdown
from service.usecases.stored import plan_contents, written_parts
from solver.search import Search
from tests.integration.test_promise_order import _new, _plan
from tests.plans import demo_documents, demo_plant


def test_a_stored_order_is_promised_beside_a_stored_plan(tmp_path: Path) -> None:
    store, plan, order = SqlStore(f"sqlite:///{tmp_path}/store.db"), _plan(), _new().order
    upgrade_store(store.engine)
    lines, bodies = written_parts(plan_contents(plan, demo_plant()))
    line = OrderLine(id=order, revision=1, name=order, need_by=None, received_at="2031-04-28T12:00:00.000+00:00")
    with store.writing() as tx:
        tx.plans.add(plan_manifest(plan, (), lines), bodies, [])
        tx.orders.add(line, digest="d", document=json.dumps(demo_documents()[0][1]))
    wanted = PromiseWanted(
        plan=plan.id, order=OrderAt(id=order, revision=1), seconds=3, seed=1, now_s=0, firm_until_s=0, by_s=3_600
    )
    early = promise_order(wanted, Search(left_s=countdown(3.0)), store=store)
    zone = datetime.fromisoformat(plan.timetable.epoch).utcoffset()
    assert datetime.fromisoformat(early.ships).utcoffset() == zone
    assert plan.timetable.epoch < early.not_before <= early.ships
    assert early.met is False  # nothing that big is made in the first hour
    with pytest.raises(NotFound):
        promise_order(replace(wanted, plan="no-such-plan"), Search(left_s=countdown(3.0)), store=store)
    store.close()


def test_a_plans_file_and_an_order_give_a_date_on_the_command_line(tmp_path: Path) -> None:
    documents = [document for _, document in demo_documents()]
    plan, order = tmp_path / "plan.json", tmp_path / "order.json"
    plan.write_text(json.dumps(plan_with_its_job(_plan(), documents[2:])), encoding="utf-8")
    order.write_text(json.dumps(documents[0]), encoding="utf-8")
    told = CliRunner().invoke(app, ["promise", str(plan), "--order", str(order), "--by", "2032-01-01T00:00-07:00"])
    assert told.exit_code == 0, told.output
    said = json.loads(told.stdout)
    assert said["not_before"] <= said["ships"] < "2032"
    assert said["met"] is True
    wrong = CliRunner().invoke(app, ["promise", str(plan), "--order", str(order), "--by", "soon"])
    assert (wrong.exit_code, wrong.stdout) == (2, "")
    assert wrong.stderr.startswith("--by: 'soon' is no date and time; ")
    order.write_text(json.dumps(documents[2]), encoding="utf-8")
    twice = CliRunner().invoke(app, ["promise", str(plan), "--order", str(order)])
    assert twice.exit_code == 2
    assert "is in this plan already" in twice.stderr
