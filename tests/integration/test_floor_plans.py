"""Plans that go on from the floor: the second morning of the demo, scrap, stock that others hold, a revision, a withdrawal.

What must be so is the plan's own check against the snapshot, which shares no code with what made the plan, and beside it the
plain statements of each case.
"""

from __future__ import annotations

import copy
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Literal

import pytest

from service.usecases.make.plan_files import plan_with_its_job
from service.usecases.make.promising import released_in_file
from service.usecases.make.stages import check_stage_result
from solver.check_floor_continuation import check_floor_continuation as check_against_floor
from solver.documents.index import PlanIndex
from solver.documents.labels import piece_labels
from solver.domain.building import Building
from solver.domain.disruptions import NOTHING_REPORTED, Disruptions
from solver.domain.floor_snapshot import FloorSnapshot
from solver.domain.ids import PieceId, StockId
from solver.domain.plan import Plan
from solver.domain.stock import StockItem
from solver.errors import InputError
from solver.floor_continuation import opening_stock, stock_of
from solver.pipeline import make_plan
from solver.plan_check import check_plan
from solver.promise_problem import ReleasedPlan
from solver.reading.read_order import read_order
from solver.replan_problem import replan_problem, timetables_of_choices
from solver.replanning.check import check_replan
from solver.replanning.replan import replan
from solver.search import Search
from solver.takeoff.take_off import take_off
from solver.units import FOOT, Nm
from tests.floors import floor_after, number_of
from tests.plans import EPOCH, demo_buildings, demo_documents, demo_plant

MORNING = "2031-04-29T06:00:00-06:00"
PLANT = replace(demo_plant(), nest_window_s=None)  # all that is due is nested together
TRIMS = sorted({piece.material for piece in take_off(demo_buildings()[0], PLANT).pieces if not piece.is_panel})
LOTS = tuple(
    StockItem(item=n, kind="lot", material=name, length_nm=Nm(20 * FOOT), count=60) for n, name in enumerate(TRIMS, 100)
)
EMPTY = FloorSnapshot(unit=PLANT.unit, seen=0, at=EPOCH, stock=(*opening_stock(PLANT), *LOTS))


def planned(buildings: tuple[Building, ...], floor: FloorSnapshot, seconds: float = 4.0) -> Plan:
    """The plan that goes on from a floor, proved by its check."""
    end = time.monotonic() + seconds
    search = Search(seed=1, left_s=lambda: end - time.monotonic())
    plan = make_plan(buildings, PLANT, search, epoch=floor.at, floor=floor)
    assert [str(fault) for fault in check_plan(buildings, PLANT, plan, floor).faults] == []
    assert all(proof.checked for proof in plan.proofs)
    return plan


@cache
def first() -> Plan:
    """The first morning: one order, from an empty floor."""
    return planned(demo_buildings()[:1], EMPTY)


@cache
def half_cut() -> FloorSnapshot:
    """The second morning: half of its bars are cut, one is on the saw, three are firm."""
    return floor_after(first(), EMPTY, at=MORNING, cut=_bars(first()) // 2, firm=3)


@cache
def second() -> Plan:
    """The first order and one more, from there."""
    return planned(demo_buildings()[:2], half_cut())


def _bars(plan: Plan) -> int:
    return sum(len(cut.bars) for cut in plan.cuts)


def on_new_bars(plan: Plan) -> Counter[PieceId]:
    return Counter(item.piece for cut in plan.cuts for bar in cut.bars for item in bar.pieces)


def test_the_second_morning_goes_on_from_the_first() -> None:
    plan, floor = second(), half_cut()
    made = {piece.id for piece in floor.pieces if piece.made}
    assert plan.kept is not None
    assert len(made) > 50 and len(plan.kept.bars) == 4  # half of the order is cut; one bar on the saw, three firm
    new = on_new_bars(plan)
    assert not made & new.keys()
    assert not made & {item.piece for one in plan.kept.bars for item in one.bar.pieces}
    begun = [bar for bar in floor.bars if bar.state == "begun"]
    kept = [one for one in plan.kept.bars if one.state == "begun"]
    assert [one.number for one in kept] == [bar.number for bar in begun]
    assert all(item in begun[0].bar.pieces for item in kept[0].bar.pieces)
    assert plan.stacks[0] == first().stacks[0] and plan.loads[0] == first().loads[0]
    assert [part.order for part in plan.loads] == [building.order for building in demo_buildings()[:2]]
    assert {slot.job for slot in plan.timetable.result.operations} >= {
        f"load {load.id}" for part in plan.loads for load in part.result.loads
    }
    assert plan.timetable.epoch == MORNING


def test_free_bars_are_nested_together_with_those_of_the_new_order() -> None:
    shared = [
        bar for cut in second().cuts for bar in cut.bars if len({str(item.piece).partition("/")[0] for item in bar.pieces}) > 1
    ]
    assert shared  # some bar cuts pieces of both orders


def test_a_plan_and_its_floor_go_through_json_and_hold() -> None:
    documents = [data for _, data in demo_documents()[:2]]
    whole = plan_with_its_job(second(), documents, half_cut())
    assert check_stage_result(copy.deepcopy(whole), plant=PLANT).faults == ()
    assert [fault.path for fault in check_stage_result(whole | {"job": {"orders": documents}}, plant=PLANT).faults] == [
        "kept.kept"
    ]


def _moved(plan: Plan) -> Plan:
    assert plan.kept is not None
    one = plan.kept.bars[-1]
    item = one.bar.pieces[0]
    aside = replace(item, edge_a=(Nm(item.edge_a[0] + 1), Nm(item.edge_a[1] + 1)))
    bar = replace(one.bar, pieces=(aside, *one.bar.pieces[1:]))
    return replace(plan, kept=replace(plan.kept, bars=(*plan.kept.bars[:-1], replace(one, bar=bar))))


def _again(plan: Plan) -> Plan:
    """What is cut already is cut once more."""
    assert plan.kept is not None
    cut, bar = plan.cuts[0], plan.cuts[0].bars[0]
    more = replace(bar, pieces=(*bar.pieces, replace(bar.pieces[0], piece=plan.kept.made[0])))
    return replace(plan, cuts=(replace(cut, bars=(more, *cut.bars[1:])), *plan.cuts[1:]))


def _left_out(plan: Plan) -> Plan:
    cut, bar = plan.cuts[0], plan.cuts[0].bars[0]
    return replace(plan, cuts=(replace(cut, bars=(replace(bar, pieces=bar.pieces[1:]), *cut.bars[1:])), *plan.cuts[1:]))


def _dropped(plan: Plan) -> Plan:
    assert plan.kept is not None
    return replace(plan, kept=replace(plan.kept, bars=plan.kept.bars[1:]))


def _from_nowhere(plan: Plan) -> Plan:
    cut, bar = plan.cuts[0], plan.cuts[0].bars[0]
    gone = replace(bar, stock=StockId("item 999"))
    return replace(plan, cuts=(replace(cut, bars=(gone, *cut.bars[1:])), *plan.cuts[1:]))


def _restacked(plan: Plan) -> Plan:
    part = plan.stacks[0]
    fewer = replace(part, result=replace(part.result, bundles=part.result.bundles[1:]))
    return replace(plan, stacks=(fewer, *plan.stacks[1:]))


def _forgot_what_is_built(plan: Plan) -> Plan:
    assert plan.kept is not None
    return replace(plan, kept=replace(plan.kept, built=()))


def _early(plan: Plan) -> Plan:
    return replace(plan, timetable=replace(plan.timetable, epoch=EPOCH))


@pytest.mark.parametrize(
    ("spoil", "path"),
    [
        (_moved, "kept.bars["),
        (_again, "cuts"),
        (_left_out, "cuts"),
        (_dropped, "kept.bars["),
        (_from_nowhere, "cuts["),
        (_restacked, "stacks["),
        (_forgot_what_is_built, "kept.built"),
        (_early, "timetable.epoch"),
    ],
)
def test_the_check_sees_what_was_spoiled(spoil: Callable[[Plan], Plan], path: str) -> None:
    faults = check_against_floor(spoil(second()), half_cut()).faults
    assert any(fault.path.startswith(path) for fault in faults), faults


def test_a_piece_scrapped_twice_is_on_one_later_bar_and_its_bundle_waits() -> None:
    """L4 and L5, the solver's side: it is wanted with its next making, and bundle and truck wait for it."""
    bars = [bar for cut in first().cuts for bar in cut.bars if len(bar.pieces) > 2 and cut.material.startswith("W")]
    piece = bars[0].pieces[0].piece
    floor = floor_after(first(), EMPTY, at=MORNING, cut=_bars(first()) // 2, lay=False, scrap=[piece])
    floor = replace(floor, pieces=tuple(replace(one, making=3) if one.id == piece else one for one in floor.pieces))
    plan = planned(demo_buildings()[:1], floor)
    assert on_new_bars(plan)[piece] == 1
    assert [(one.piece, one.making) for one in plan.makings] == [(piece, 3)]
    (bar,) = [bar for cut in plan.cuts for bar in cut.bars if piece in {item.piece for item in bar.pieces}]
    (bundle,) = [one.id for one in plan.stacks[0].result.bundles if piece in {lay.piece for lay in one.pieces}]
    ends = max(one.end_s for one in plan.timetable.operations if bar.id in one.bars)
    starts = next(one.start_s for one in plan.timetable.operations if one.step == "bundle" and one.about == bundle)
    assert starts >= ends


def test_what_others_reserved_is_not_taken_and_the_rest_is_bought() -> None:
    """L7, the solver's side: of 30 lengths 25 are another's; the plan takes 5 at most and buys the others."""
    before = planned(demo_buildings()[:1], replace(EMPTY, stock=()))
    wanted = Counter((bar.material, bar.length_nm) for cut in before.cuts for bar in cut.bars)
    (material, length), count = wanted.most_common(1)[0]
    assert count > 5
    lot = replace(EMPTY.stock[0], item=7, kind="lot", material=material, length_nm=length, count=30, reserved=25)
    plan = planned(demo_buildings()[:1], replace(EMPTY, stock=(lot,)))
    stocks = Counter(bar.stock for cut in plan.cuts if cut.material == material for bar in cut.bars)
    assert stocks[StockId("item 7")] == 5
    assert sum(stocks.values()) > 5
    assert all(name == "item 7" or name.startswith(("new ", "made ")) for name in stocks)
    short = replace(EMPTY, stock=(replace(lot, reserved=26),))
    (fault,) = check_against_floor(plan, short).faults
    assert "5 bars are taken of item 7" in fault.problem


def test_free_bars_give_back_what_they_reserved() -> None:
    """Their bars fall away: what they held is on offer again, and is not counted twice; what firm bars hold is not."""
    floor = half_cut()
    lot = next(item for item in floor.stock if item.kind == "lot" and item.unreserved > 1)
    free = next(bar for bar in floor.bars if bar.state == "free")
    others = tuple(replace(bar, item=None) if bar.item == lot.item else bar for bar in floor.bars if bar != free)
    held = replace(lot, reserved=1)
    stock = tuple(held if item == lot else item for item in floor.stock)

    def offered(state: Literal["free", "firm"]) -> int:
        bars = (*others, replace(free, item=lot.item, state=state))
        snapshot = stock_of(PLANT, replace(floor, bars=bars, stock=stock))
        assert snapshot.at == floor.at
        return next(bar.count for bar in snapshot.bars if bar.id == f"item {lot.item}")

    assert (offered("free"), offered("firm")) == (lot.count, lot.count - 1)
    used = Counter(number_of(bar.stock) for cut in second().cuts for bar in cut.bars)
    given_back = Counter(bar.item for bar in floor.bars if bar.state == "free")
    for item in floor.stock:
        assert used[item.item] <= item.count - item.reserved + given_back[item.item]


def _revised() -> Building:
    """The first order with the kitchen's window moved by half a foot."""
    document = copy.deepcopy(demo_documents()[0][1])
    document["revision"] += 1
    window = next(one for one in document["openings"] if one["id"] == "kitchen")
    assert window["from_left"] == "17' 6\""
    window["from_left"] = "18'"
    return read_order(document, PLANT)


def test_a_revision_after_half_of_it_is_cut_uses_what_is_alike_and_tells_what_was_made_for_nothing() -> None:
    """L9: pieces made alike are used, panels now wrong are surplus, and no mark means two things."""
    floor = floor_after(first(), EMPTY, at=MORNING, cut=_bars(first()) - 4, lay=False)
    house = _revised()
    plan = planned((house,), floor)
    assert plan.kept is not None
    old = {piece.id: piece for piece in first().takeoffs[0].pieces}
    new = {piece.id: piece for piece in plan.takeoffs[0].pieces}
    assert plan.takeoffs[0].revised is not None and not plan.takeoffs[0].revised.changes_nothing
    for name in old.keys() & new.keys():  # what keeps its mark is made alike
        assert (old[name].edge_a, old[name].edge_b, old[name].cutouts == ()) == (
            new[name].edge_a, new[name].edge_b, new[name].cutouts == (),
        )  # fmt: skip
    made = {piece.id for piece in floor.pieces if piece.made}
    assert set(plan.kept.made) == made & new.keys()
    assert {one.piece for one in plan.kept.surplus} == made - new.keys() != set()
    assert {one.why for one in plan.kept.surplus} == {"revised"}


def test_a_revision_with_bundles_begun_is_refused_by_name() -> None:
    with pytest.raises(InputError) as refused:
        planned((_revised(),), half_cut())
    (fault,) = refused.value.faults
    assert fault.path == f"orders[{demo_buildings()[0].order}]"
    assert "not yet" in fault.problem


def test_a_withdrawn_order_leaves_its_uncut_bars_and_what_it_has_made_is_told() -> None:
    """L11: the other order's plan takes none of its pieces; reserved stock is free again; what is made is a person's."""
    gone, stays = demo_buildings()[0], demo_buildings()[2]
    plan = planned((stays,), half_cut())
    assert plan.kept is not None
    names = {*on_new_bars(plan), *(item.piece for one in plan.kept.bars for item in one.bar.pieces)}
    assert names and not any(name.startswith(f"{gone.order}/") for name in names)
    assert {one.piece for one in plan.kept.surplus} == {one.id for one in half_cut().pieces if one.made}
    assert {one.why for one in plan.kept.surplus} == {"withdrawn"}
    assert {one.bundle for one in plan.kept.surplus if one.bundle} == {one.bundle for one in half_cut().bundles}


def test_labels_are_printed_for_what_is_newly_cut_alone() -> None:
    """A label holds as long as its making does: what is cut, and what kept bars bring, has its own."""
    printed = {label.piece.id for label in piece_labels(PlanIndex(second(), PLANT))}
    assert printed == set(on_new_bars(second()))


def test_what_happens_to_a_plan_that_went_on_is_planned_as_to_any_other() -> None:
    """Kept bars, bundles begun and a piece that none of its bars holds: a breakdown and a remake find their way."""
    plan = second()
    assert plan.kept is not None
    released = ReleasedPlan.of(plan, PLANT, stock_of(PLANT, half_cut()))
    again = plan.kept.made[0]
    happened = Disruptions(remake=(again,))
    problem = replan_problem(released, happened, NOTHING_REPORTED, now_s=3600)
    end = time.monotonic() + 3.0
    result = replan(problem.job, Search(seed=1, left_s=lambda: end - time.monotonic()))
    assert check_replan(problem.job, result).faults == ()
    table = timetables_of_choices(problem, result, released.plant, epoch=plan.timetable.epoch)[0]
    remade = [one for one in table.operations if one.about == again]
    assert remade and min(one.start_s for one in remade) >= 3600
    assert {bar for one in table.operations for bar in one.bars} >= {one.bar.id for one in plan.kept.bars}


def test_a_floor_that_cannot_be_is_refused_with_every_fault() -> None:
    wrong = replace(
        half_cut(),
        bars=(*half_cut().bars, replace(half_cut().bars[0], item=999)),
        stock=(*half_cut().stock, half_cut().stock[0]),
    )
    with pytest.raises(InputError) as refused:
        make_plan(demo_buildings()[:1], PLANT, Search(), epoch=EPOCH, floor=wrong)
    paths = [fault.path for fault in refused.value.faults]
    assert paths == ["start", "floor.stock", "floor.bars", f"floor.bars[{len(half_cut().bars)}].item"]


def test_a_plan_file_that_went_on_is_read_with_its_floors_stock() -> None:
    """A date asked beside it draws on what the plan left of that stock, not on what the catalog states."""
    floor = half_cut()
    assert stock_of(PLANT, floor) != PLANT.stated_stock
    assert released_in_file(plan_with_its_job(second(), [], floor), PLANT).stock == stock_of(PLANT, floor)
    assert released_in_file(plan_with_its_job(first(), []), PLANT).stock == PLANT.stated_stock
