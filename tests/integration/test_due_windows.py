"""Orders due near each other are nested together, others not; two windows share bars only where that pays."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from service.catalog import read_plant
from solver.cut_materials import nest_by_due_window
from solver.domain.cut_plan import CutPlan
from solver.domain.takeoff import Takeoff
from solver.nesting.check import check
from solver.nesting.due_windows import due_windows
from solver.reading.read_order import read_order
from solver.search import Search
from solver.takeoff.take_off import take_off
from tests.generators.plans import houses

DAY = 86_400
PLANT = read_plant(None)


@cache
def taken_off() -> tuple[Takeoff, ...]:
    """Six houses: four due on a Monday, two on the Tuesday after."""
    return tuple(take_off(read_order(order, PLANT), PLANT) for order in houses(3, 6, PLANT))


def cut(window_s: int | None, pays: int, takeoffs: tuple[Takeoff, ...] | None = None) -> tuple[CutPlan, ...]:
    """The cut plans of the six houses, or of others, quickly."""
    left = iter([1.0] * 4_000 + [0.0] * 10_000_000)
    plant = replace(PLANT, nest_window_s=window_s, window_pays_permille=pays)
    return nest_by_due_window(takeoffs or taken_off(), plant, plant.stated_stock, Search(left_s=lambda: next(left)))


def test_windows_begin_with_the_first_delivery_after_the_last_window() -> None:
    windows = due_windows(taken_off(), DAY)
    by_order = {piece.order: windows[piece.id] for one in taken_off() for piece in one.pieces}
    assert list(by_order.values()) == [0, 0, 0, 0, 1, 1]
    assert set(due_windows(taken_off(), None).values()) == {0}
    assert set(due_windows(taken_off(), 3600).values()) == set(range(6))


@pytest.mark.parametrize("pays", (0, 10, 1000))
def test_every_piece_is_cut_once_and_windows_share_no_bar_but_where_that_pays(pays: int) -> None:
    plans = cut(DAY, pays)
    pieces = {piece.id: piece for one in taken_off() for piece in one.pieces}
    cut_once = [item.piece for plan in plans for bar in plan.bars for item in bar.pieces]
    assert sorted(cut_once) == sorted(pieces)
    names = [bar.id for plan in plans for bar in plan.bars]
    assert len(set(names)) == len(names)
    assert len({plan.name for plan in plans}) == len(plans)
    assert all(check(plan.job, plan.result).sound for plan in plans)
    windows = due_windows(taken_off(), DAY)
    mixed = [plan for plan in plans if len({windows[item.piece] for bar in plan.bars for item in bar.pieces}) > 1]
    if pays == 1000:  # nothing saves the whole price
        assert mixed == []
    apart = {plan.name: plan for plan in cut(DAY, 1000)}
    for plan in mixed:
        first, second = (apart[f"{plan.material}|window {n}"].result.cost for n in (1, 2))
        assert first is not None and second is not None and plan.result.cost is not None
        assert plan.result.cost <= (first + second) * (1 - pays / 1000) + 1e-6


def test_without_windows_all_are_nested_together() -> None:
    plans = cut(None, 10)
    assert {plan.window for plan in plans} == {0}
    assert len({plan.material for plan in plans}) == len(plans)


def test_a_window_that_shares_bars_is_not_asked_again_by_the_window_after() -> None:
    """Three windows in a row, an angle in each: two share a bar, the third stays by itself (it was a KeyError)."""
    angles = [(takeoff, [piece for piece in takeoff.pieces if piece.material.startswith("angle")]) for takeoff in taken_off()]
    takeoffs = [replace(takeoff, pieces=(min(pieces, key=lambda piece: piece.edge_a),)) for takeoff, pieces in angles if pieces]
    plans = cut(3600, 0, tuple(takeoffs[1:4]))
    shared = [[item.piece for bar in plan.bars for item in bar.pieces] for plan in plans]
    assert sorted(map(len, shared)) == [1, 2]
    assert {piece for pieces in shared for piece in pieces} == {takeoff.pieces[0].id for takeoff in takeoffs[1:4]}
