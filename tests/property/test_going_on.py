"""A real plan goes on from any floor: ahead, behind, in another order, whatever happened; each way to go on is proved."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from solver.domain.disruptions import (
    NOTHING_REPORTED,
    Disruptions,
    FloorReport,
    MachineDown,
    MaterialLate,
    OrderRush,
    materials_that_can_be_late,
)
from solver.domain.ids import LoadId, PieceId
from solver.loading.check_dispatch import check as check_dispatch
from solver.loading.dispatch import plan_departures
from solver.replan_problem import replan_problem
from tests.plans import demo_plan
from tests.unit.test_going_on import HOUR, answered, at, cut_until, released


def _told(dice: random.Random, now: int) -> FloorReport:
    """Cutting as planned, up to a day ahead or behind, or anyhow; in some of them trucks were loaded anyhow too."""
    plan, way = demo_plan(), dice.choice(("as planned", "ahead", "behind", "anyhow"))
    if way != "anyhow":
        by = {"as planned": 0, "ahead": 1, "behind": -1}[way] * dice.randrange(30 * HOUR)
        return cut_until(now + by, now)
    pieces = [piece.id for takeoff in plan.takeoffs for piece in takeoff.pieces]
    bundles = [bundle.id for part in plan.stacks for bundle in part.result.bundles]
    loads = [load.id for part in plan.loads for load in part.result.loads]
    return replace(
        NOTHING_REPORTED,
        cut={PieceId(one): dice.randrange(now) for one in pieces if dice.random() < 0.4},
        bundled={one: dice.randrange(now) for one in bundles if dice.random() < 0.1},
        loaded={one: dice.randrange(now) for one in bundles if dice.random() < 0.1},
        shipped={LoadId(one): dice.randrange(now) for one in loads if dice.random() < 0.1},
    )


@pytest.mark.parametrize("seed", range(10))
def test_whatever_happened_each_choice_is_proved(seed: int) -> None:
    dice, plan = random.Random(seed), demo_plan()
    now = dice.randrange(60, max(one.end_s for one in plan.timetable.operations))
    told = _told(dice, now)
    scrapped = tuple(dice.sample(sorted(told.cut), min(len(told.cut), dice.choice((0, 1, 3)))))
    machine = dice.choice(plan.timetable.job.machines).id
    material, order = dice.choice(materials_that_can_be_late(plan.timetable)), plan.takeoffs[0].building.order
    happened = Disruptions(
        down=(MachineDown(machine=machine, start=at(now - 60), end=at(now + dice.randrange(1, 24 * HOUR))),),
        late=(MaterialLate(material=material, at=at(now + dice.randrange(1, 72 * HOUR))),) if dice.random() < 0.4 else (),
        rush=(OrderRush(order=order, due=at(dice.randrange(now)), weight=3),) if dice.random() < 0.4 else (),
        remake=scrapped,
    )
    asked = replan_problem(
        released(), happened, replace(told, scrapped=scrapped), now_s=now, firm_until_s=now + dice.choice((0, 8, 40)) * HOUR
    )
    _, made = answered(asked, 0.3)
    for table in made:
        trucks = plan_departures(plan.takeoffs, plan.stacks, plan.loads, table)
        assert check_dispatch(plan.takeoffs, plan.stacks, plan.loads, table, trucks).faults == ()
