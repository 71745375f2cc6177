"""A real plan after what happened: nothing done or firm moves, each choice is a timetable, and spoiled ones are caught."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from functools import cache

import pytest

from service.usecases.make.stages import countdown
from solver.domain.disruptions import (
    NOTHING_REPORTED,
    Disruptions,
    FloorReport,
    MachineDown,
    MaterialLate,
    OrderRush,
    Vocabulary,
    disruption_faults,
    materials_that_can_be_late,
)
from solver.domain.ids import OrderId
from solver.domain.replan import ReplanResult
from solver.domain.timetable import PlannedOperation, Timetable
from solver.domain.work_ids import is_remake
from solver.promise_problem import NEW, ReleasedPlan, promise_problem
from solver.replan_problem import ReplanProblem, replan_problem, timetables_of_choices
from solver.replanning.check import check_replan, choices_as_schedules
from solver.replanning.replan import replan
from solver.replanning.validate import replan_faults
from solver.scheduling.check import check
from solver.scheduling.check_timetable import timetable_faults
from solver.search import Search
from solver.units import Seconds
from tests.plans import EPOCH, demo_buildings, demo_plan, demo_plant

HOUR = 3_600


def released() -> ReleasedPlan:
    return ReleasedPlan.of(demo_plan(), demo_plant(), demo_plant().stated_stock)


def at(seconds: int) -> str:
    return (datetime.fromisoformat(EPOCH) + timedelta(seconds=seconds)).isoformat()


@cache
def cuts() -> tuple[PlannedOperation, ...]:
    return tuple(sorted((one for one in demo_plan().timetable.operations if one.step == "cut"), key=lambda one: one.start_s))


def middle() -> int:
    return cuts()[len(cuts()) // 2].start_s + 60


def cut_until(seconds: int, now: int) -> FloorReport:
    """All that was to be cut until some second of the plan is told, none of it after now."""
    bars = {bar.id: bar for cut in demo_plan().cuts for bar in cut.bars}
    told = {
        item.piece: min(int(one.end_s), now - 5)
        for one in demo_plan().timetable.operations
        if one.step in ("cut", "cut trim") and one.end_s <= seconds
        for bar in one.bars
        for item in bars[bar].pieces
    }
    return replace(NOTHING_REPORTED, cut=told)


def answered(asked: ReplanProblem, seconds: float = 1.0) -> tuple[ReplanResult, tuple[Timetable, ...]]:
    """The result and its timetables, each proved."""
    assert replan_faults(asked.job) == []
    result = replan(asked.job, Search(left_s=countdown(seconds)))
    assert check_replan(asked.job, result).faults == ()
    assert [str(fault) for claim in choices_as_schedules(asked.job, result) for fault in check(*claim).faults] == []
    made = timetables_of_choices(asked, result, demo_plant(), epoch=EPOCH)
    for table in made:
        assert check(table.job, table.result).faults == () and timetable_faults(table) == []
    return result, made


@cache
def broken() -> tuple[ReplanProblem, ReplanResult, tuple[Timetable, ...]]:
    """The saw is down for four hours in the middle of the plan; the hour behind now is firm."""
    now = middle()
    down = MachineDown(machine=cuts()[0].machine, start=at(now), end=at(now + 4 * HOUR))
    happened = Disruptions(down=(down,), untold="as_planned")
    asked = replan_problem(released(), happened, NOTHING_REPORTED, now_s=now, firm_until_s=now + HOUR)
    return asked, *answered(asked)


def test_after_a_breakdown_nothing_done_or_firm_moves_but_what_must() -> None:
    asked, result, made = broken()
    now, firm = asked.job.now, asked.job.firm_until
    before = {one.id: one for one in demo_plan().timetable.operations}
    down = asked.job.down[0]
    for choice, table in zip(result.choices, made, strict=True):
        assert {one.id for one in table.operations} == set(before)
        forced = {(one.job, one.index) for one in choice.moves if one.forced}
        for one in table.operations:
            job, _, index = one.id.rpartition("/")
            old = before[one.id]
            if old.end_s <= now or (old.start_s < firm and (job, int(index)) not in forced):
                assert (one.machine, one.start_s) == (old.machine, old.start_s)
            if one.machine == down.machine and one.start_s >= now:
                assert not down.start <= one.start_s < down.end
            assert (one.step, one.order, one.about, one.bars) == (old.step, old.order, old.about, old.bars)
        assert table.replanned_s == now
        assert {(one.order, one.delivery) for one in table.deliveries} == {
            (one.order, one.delivery) for one in demo_plan().timetable.deliveries
        }


def test_where_nothing_happened_nothing_moves() -> None:
    now = middle()
    asked = replan_problem(released(), Disruptions(untold="as_planned"), NOTHING_REPORTED, now_s=now)
    _, (table,) = answered(asked)
    assert table.operations == demo_plan().timetable.operations
    assert table.deliveries == demo_plan().timetable.deliveries


def test_a_floor_that_is_behind_cuts_what_is_left_and_one_ahead_is_not_told_to_cut_again() -> None:
    now = middle()
    behind = replan_problem(released(), Disruptions(), cut_until(now - 2 * HOUR, now), now_s=now)
    _, (table, *_) = answered(behind)
    late = [one for one in cuts() if now - 2 * HOUR < one.end_s <= now]
    placed = {one.id: one for one in table.operations}
    assert late and all(placed[one.id].start_s >= now for one in late)
    ahead = replan_problem(released(), Disruptions(), cut_until(now + 3 * HOUR, now), now_s=now)
    assert ahead.ran.sooner and not {(one.job, one.index) for one in ahead.ran.undone} & {*ahead.ran.sooner}
    _, (table, *_) = answered(ahead)
    placed = {one.id: one for one in table.operations}
    soon = [one for one in cuts() if now < one.end_s <= now + 3 * HOUR]
    assert soon and all(placed[one.id].end_s < now for one in soon)


@pytest.mark.parametrize("firm", [0, 8 * HOUR])
def test_what_was_done_before_the_plan_begins_is_done(firm: int) -> None:
    down = MachineDown(machine=cuts()[0].machine, start=at(0), end=at(30 * HOUR))
    asked = replan_problem(released(), Disruptions(down=(down,)), cut_until(middle(), 0), now_s=0, firm_until_s=firm)
    _, (table, *_) = answered(asked)
    placed = {one.id: one for one in table.operations}
    done = [one for one in cuts() if one.end_s <= middle()]
    assert done and all((placed[one.id].start_s, placed[one.id].end_s) == (0, 0) for one in done)


def test_a_scrapped_piece_is_cut_again_and_its_bundle_waits_for_it() -> None:
    now = middle()
    piece = next(bar.pieces[0].piece for cut in demo_plan().cuts for bar in cut.bars if bar.id in cuts()[-1].bars)
    told = replace(cut_until(now, now), scrapped=(piece,))
    asked = replan_problem(released(), Disruptions(remake=(piece,)), told, now_s=now)
    _, (table, *_) = answered(asked)
    again = [one for one in table.operations if is_remake(one.id)]
    assert again[0].step == "cut" and {one.about for one in again} == {piece} and again[0].start_s >= now
    bundle = next(b.id for part in demo_plan().stacks for b in part.result.bundles if piece in {lay.piece for lay in b.pieces})
    (built,) = [one for one in table.operations if one.step == "bundle" and one.about == bundle]
    assert built.start_s >= max(one.end_s for one in again)
    # once more, from the plan that goes on: it is cut again under another name, and a date can still be promised beside it
    once = replace(released(), table=table)
    more = replan_problem(once, Disruptions(remake=(piece,)), told, now_s=now + 60)
    assert {one.id for one in more.job.added} == {f"{again[0].id.rpartition('/')[0]} 2"}
    other = replace(demo_buildings()[0], order=OrderId("another"))
    asked_beside = promise_problem(once, other, Search(left_s=countdown(3.0)))
    assert all(one.id.startswith(NEW) for one in asked_beside.job.order)


def test_late_material_waits_and_an_order_in_a_hurry_counts_more() -> None:
    order = demo_plan().takeoffs[0].building.order
    lots = [one for one in demo_plan().timetable.operations if one.step == "cut core"]
    now = lots[len(lots) // 2].start_s + 60
    material = lots[-1].id.removeprefix("lot ").rpartition(" ")[0]
    there = lots[-1].start_s + 9 * HOUR
    happened = Disruptions(
        late=(MaterialLate(material=material, at=at(there)),),
        rush=(OrderRush(order=order, due=at(now + HOUR), weight=7),),
        untold="as_planned",
    )
    asked = replan_problem(released(), happened, NOTHING_REPORTED, now_s=now)
    _, made = answered(asked)
    for table in made:
        waited = [one for one in table.operations if one.id == lots[-1].id]
        assert [one.start_s >= there for one in waited] == [True]
        mine = [one for one in table.deliveries if one.order == order]
        assert mine and all(one.due_s == now + HOUR and one.late_s > 0 and one.chain for one in mine)
    loads = [job for job in made[0].job.jobs if job.id.startswith(f"load {order}")]
    assert loads and all((job.due, job.weight) == (now + HOUR, 7) for job in loads)


def _sooner(table: Timetable) -> Timetable:
    last = max(table.result.operations, key=lambda slot: slot.start)
    early = replace(last, start=last.start - 10 * HOUR, end=last.end - 10 * HOUR)
    slots = tuple(early if slot == last else slot for slot in table.result.operations)
    return replace(table, result=replace(table.result, operations=slots))


def _not_told(table: Timetable) -> Timetable:
    one = table.operations[-1]
    return replace(table, operations=(*table.operations[:-1], replace(one, start_s=Seconds(one.start_s + 60))))


@pytest.mark.parametrize("spoil", [_sooner, _not_told])
def test_a_spoiled_timetable_is_caught(spoil: Callable[[Timetable], Timetable]) -> None:
    table = spoil(broken()[2][0])
    assert check(table.job, table.result).faults or timetable_faults(table)


def test_only_a_timetable_that_goes_on_may_have_work_that_stayed() -> None:
    now = middle()
    rush = tuple(OrderRush(order=takeoff.building.order, due=at(now)) for takeoff in demo_plan().takeoffs)
    _, (table, *_) = answered(
        replan_problem(released(), Disruptions(rush=rush, untold="as_planned"), NOTHING_REPORTED, now_s=now)
    )
    promise = next(one for one in table.deliveries if any(link.closed_s or link.stayed_s for link in one.chain))
    links = [replace(one, stayed_s=Seconds(one.stayed_s + one.closed_s), closed_s=Seconds(0)) for one in promise.chain]
    assert any(one.stayed_s for one in links)
    told = tuple(replace(one, chain=tuple(links)) if one == promise else one for one in table.deliveries)
    stayed = replace(table, deliveries=told)
    assert timetable_faults(stayed) == []
    assert any("has work that stayed" in fault.problem for fault in timetable_faults(replace(stayed, replanned_s=None)))


def test_every_fault_of_what_happened_is_told_at_once() -> None:
    table, now = demo_plan().timetable, middle()
    known = Vocabulary(
        machines=("panel-saw-1",), materials=materials_that_can_be_late(table), orders=("cottage-7",), pieces=("p",)
    )
    wrong = Disruptions(
        down=(
            MachineDown(machine="lathe", start=at(now), end=at(now)),
            MachineDown(machine="panel-saw-1", start=at(0), end=at(now - 1)),
            MachineDown(machine="panel-saw-1", start=at(now), end=at(now + 61 * 86_400)),
            MachineDown(machine="panel-saw-1", start="2031-99-99T00:00Z", end=at(now)),
        ),
        late=(MaterialLate(material="tin", at=at(now)),),
        rush=(OrderRush(order="none"),),
        remake=("q", "p", "p"),
    )
    paths = [fault.path for fault in disruption_faults(wrong, known, epoch=EPOCH, now_s=now)]
    assert paths == [
        "down[0].machine", "down[0].end", "down[1].end", "down[2].end", "down[3].start",
        "late[0].material", "late[0].at", "rush[0].order", "rush[0]", "remake[0]", "remake[2]",
    ]  # fmt: skip
    nothing = disruption_faults(Disruptions(untold="as_planned"), known, epoch=EPOCH, now_s=now)
    assert [fault.problem for fault in nothing] == ["nothing happened"]
