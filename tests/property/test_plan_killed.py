"""Whenever a search is ended, a whole plan that holds is left, or none; never half of one."""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import pytest

from service.usecases.make.plan_files import plan_by_search
from service.usecases.make.stages import check_stage_result
from solver.domain.plan import Plan
from solver.domain.progress import PlanProgress
from solver.plan_check import check_plan
from solver.search import Search
from tests.plans import EPOCH, demo_buildings, demo_documents, demo_plant

PROGRAM = [sys.executable, "-c", "from service.cli import main; main()"]
LONG_S = 60.0  # a search that only its ending ends


class Ended:
    """A search that ends once a stage has told so and so often how far it is, or at a moment, or with its time."""

    def __init__(self, limit_s: float, *, after_s: float = LONG_S, told: int = 1_000_000, stop: bool = False) -> None:
        self.begun = time.monotonic()
        self.limit_s, self.after_s, self.told, self.by_stop = limit_s, after_s, told, stop

    def ended(self) -> bool:
        return self.told <= 0 or time.monotonic() - self.begun > self.after_s

    def report(self, _progress: PlanProgress) -> None:
        self.told -= 1

    def plan(self, orders: int) -> Plan:
        def left_s() -> float:
            return 0.0 if self.ended() and not self.by_stop else self.limit_s - (time.monotonic() - self.begun)

        search = Search(left_s=left_s, stop=lambda: self.by_stop and self.ended())
        return plan_by_search(demo_buildings()[:orders], demo_plant(), search, epoch=EPOCH, report=self.report)


def assert_whole(plan: Plan, orders: int) -> None:
    report = check_plan(demo_buildings()[:orders], demo_plant(), plan)
    assert report.sound, report.faults[:5]
    assert all(proof.checked for proof in plan.proofs)
    assert {takeoff.building.order for takeoff in plan.takeoffs} == {one.order for one in demo_buildings()[:orders]}


@pytest.mark.parametrize("limit_s", [0.0, 0.3])
def test_with_hardly_any_time_a_whole_plan_is_made(limit_s: float) -> None:
    assert_whole(Ended(limit_s).plan(1), 1)


def test_a_search_that_is_told_to_end_at_its_third_word_leaves_a_whole_plan() -> None:
    assert_whole(Ended(LONG_S, told=3).plan(1), 1)


@pytest.mark.parametrize("seed", range(12))
def test_whenever_a_search_is_told_to_keep_what_it_has_the_plan_holds(seed: int) -> None:
    chance = random.Random(seed)
    assert_whole(Ended(LONG_S, told=chance.randrange(60)).plan(3), 3)


@pytest.mark.parametrize("seed", range(6))
def test_at_whatever_second_a_search_is_told_to_keep_what_it_has_the_plan_holds(seed: int) -> None:
    chance = random.Random(100 + seed)
    assert_whole(Ended(LONG_S, after_s=chance.uniform(0, 8)).plan(3), 3)


@pytest.mark.parametrize("seed", range(6))
def test_a_search_that_is_stopped_gives_no_less_than_a_whole_plan_to_throw_away(seed: int) -> None:
    """Who stops it stores nothing; what comes back is whole all the same."""
    chance = random.Random(200 + seed)
    assert_whole(Ended(12.0, told=chance.randrange(40), stop=True).plan(3), 3)


@pytest.mark.parametrize("seed", range(8))
def test_whatever_the_time_from_0_to_5_s_the_plan_holds(seed: int) -> None:
    chance = random.Random(300 + seed)
    assert_whole(Ended(chance.uniform(0, 5)).plan(3), 3)


def order_files(folder: Path) -> list[str]:
    paths = []
    for name, document in demo_documents()[:1]:
        path = folder / f"{Path(name).stem}.json"
        path.write_text(json.dumps(document))
        paths.append(str(path))
    return paths


def begun(folder: Path, *more: str) -> subprocess.Popen[bytes]:
    """`sawbill plan` at work: in a session of its own, as one that a terminal began."""
    command = [*PROGRAM, "plan", *order_files(folder), "--out", str(folder / "out"), *more]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, start_new_session=True)


def left_behind(folder: Path) -> Any:
    path = folder / "out" / "plan.json"
    return json.loads(path.read_bytes()) if path.exists() else None


def assert_holds(plan: Any) -> None:
    report = check_stage_result(plan, plant=demo_plant())
    assert report.sound, report.faults[:5]


@pytest.mark.parametrize("seed", range(3))
def test_ctrl_c_once_writes_the_plan_as_it_is(tmp_path: Path, seed: int) -> None:
    work = begun(tmp_path, "--time-limit", "600")
    time.sleep(6 + 3 * seed)
    os.killpg(work.pid, signal.SIGINT)  # as a terminal does: to all processes of the group
    out, err = work.communicate(timeout=400)
    assert work.returncode == 0, err[-2000:]
    assert b"Ships" in out
    assert_holds(left_behind(tmp_path))


def test_ctrl_c_twice_leaves_nothing(tmp_path: Path) -> None:
    work = begun(tmp_path, "--time-limit", "600")
    time.sleep(8)
    os.killpg(work.pid, signal.SIGINT)
    time.sleep(0.15)
    os.killpg(work.pid, signal.SIGINT)
    _, err = work.communicate(timeout=60)
    assert work.returncode == 130
    assert b"stopped" in err
    assert left_behind(tmp_path) is None


@pytest.mark.parametrize("seed", range(5))
def test_killed_at_any_moment_the_command_leaves_a_whole_plan_or_none(tmp_path: Path, seed: int) -> None:
    work = begun(tmp_path, "--time-limit", "3")
    time.sleep(random.Random(seed).uniform(2, 14))
    os.killpg(work.pid, signal.SIGKILL)
    work.communicate(timeout=60)
    plan = left_behind(tmp_path)
    if plan is not None:
        assert_holds(plan)
