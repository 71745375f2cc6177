"""Some days of a plant, each planned from the floor that the day before left: everything ships once and whole."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from functools import cache

from solver.check_floor_continuation import check_floor_continuation as check_against_floor
from solver.floor_continuation import snapshot_faults
from solver.pipeline import make_plan
from solver.search import Search
from tests.generators.plans import START, houses
from tests.plans import demo_plant
from tests.rolling import Weeks, simulate

STARTS = datetime.fromisoformat(START)


@cache
def lived(days: int) -> Weeks:
    """A plant some days after two houses came, one a day."""
    orders = houses(31, 2, demo_plant())
    documents = [(STARTS.date() + timedelta(days=n), order) for n, order in enumerate(orders)]
    return simulate(documents, demo_plant(), STARTS, seconds=2.0, days=days)


def test_orders_ship_once_and_whole_though_every_morning_is_planned_anew() -> None:
    weeks = lived(12)
    assert [morning.faults for morning in weeks.mornings if morning.faults] == []
    assert weeks.open_orders == {} and len(weeks.shipped) == 2
    assert any(piece.making > 1 for piece in weeks.pieces.values())  # scrap found its way
    assert weeks.balance() == 0


def test_a_bar_in_the_press_is_not_laminated_again_and_waits_for_its_glue() -> None:
    weeks, at = lived(1), STARTS + timedelta(days=1)
    floor, buildings = weeks.snapshot(at), tuple(weeks.open_orders.values())
    pressed = [bar for bar in floor.bars if bar.ready is not None]
    assert pressed
    plan = make_plan(buildings, weeks.plant, Search(left_s=lambda: 0.0), epoch=floor.at, floor=floor)
    assert check_against_floor(plan, floor).faults == ()
    blind = replace(floor, bars=tuple(replace(bar, ready=None) for bar in floor.bars))
    again = make_plan(buildings, weeks.plant, Search(left_s=lambda: 0.0), epoch=floor.at, floor=blind)
    told = [str(fault) for fault in check_against_floor(again, floor).faults]
    assert any("is to laminate" in fault for fault in told)
    soon = replace(floor, bars=tuple(replace(bar, ready=bar.ready and floor.at) for bar in floor.bars))
    early = make_plan(buildings, weeks.plant, Search(left_s=lambda: 0.0), epoch=floor.at, floor=soon)
    assert any(": glue of" in str(fault) for fault in check_against_floor(early, floor).faults)
    free = replace(floor, bars=tuple(replace(bar, state="free") for bar in floor.bars))
    assert len(snapshot_faults(free, weeks.plant, epoch=floor.at).found) == len(pressed)
