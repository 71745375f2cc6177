"""The judge of whole plans notices each way to spoil one; a plan that is sound has no fault."""

from __future__ import annotations

import ast
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from service.usecases.make.plan_files import plan_orders, read_orders
from solver.domain.bundle import Bundle
from solver.domain.cut_plan import Bar
from solver.domain.load import Load
from solver.domain.plan import Plan
from solver.domain.timetable import PlannedOperation
from solver.units import Nm, Seconds
from tests.generators.plans import START, houses
from tests.plans import demo_documents, demo_plant
from tests.whole import judge
from tests.whole.paper import Paper, paper_of


@cache
def sound() -> Plan:
    """Two houses of two deliveries and more, planned in little time."""
    documents = [*demo_documents()[:1], *((one["id"], one) for one in houses(1, 1, demo_plant()))]
    buildings = read_orders(documents, demo_plant())
    return plan_orders(buildings, demo_plant(), epoch=START, limit_s=1.0, seed=1)


def with_bundle(plan: Plan, at: int, change: Callable[[Bundle], Bundle]) -> Plan:
    part = plan.stacks[0]
    bundles = tuple(change(one) if n == at else one for n, one in enumerate(part.result.bundles))
    return replace(plan, stacks=(replace(part, result=replace(part.result, bundles=bundles)), *plan.stacks[1:]))


def with_bars(plan: Plan, change: Callable[[Bar], Bar]) -> Plan:
    return replace(plan, cuts=tuple(replace(cut, bars=tuple(map(change, cut.bars))) for cut in plan.cuts))


def with_loads(plan: Plan, change: Callable[[tuple[Load, ...]], tuple[Load, ...]]) -> Plan:
    part = plan.loads[0]
    mine = replace(part, result=replace(part.result, loads=change(part.result.loads)))
    return replace(plan, loads=(mine, *plan.loads[1:]))


def with_work(plan: Plan, change: Callable[[PlannedOperation], PlannedOperation]) -> Plan:
    return replace(plan, timetable=replace(plan.timetable, operations=tuple(map(change, plan.timetable.operations))))


def by_step(plan: Plan, step: str) -> list[PlannedOperation]:
    return [one for one in plan.timetable.operations if one.step == step]


def moved(one: PlannedOperation, start_s: int) -> PlannedOperation:
    return replace(one, start_s=Seconds(start_s), end_s=Seconds(one.end_s - one.start_s + start_s))


def long_bundle(plan: Plan) -> int:
    return next(n for n, one in enumerate(plan.stacks[0].result.bundles) if len(one.pieces) > 1)


def drop_from_bundle(plan: Plan) -> Plan:
    return with_bundle(plan, long_bundle(plan), lambda one: replace(one, pieces=one.pieces[1:]))


def bundle_of_another_order(plan: Plan) -> Plan:
    other = plan.stacks[1].result.bundles[-1].pieces[-1]
    return with_bundle(plan, long_bundle(plan), lambda one: replace(one, pieces=(*one.pieces[1:], other)))


def piece_on_two_bars(plan: Plan) -> Plan:
    bars = [bar for cut in plan.cuts for bar in cut.bars]
    return with_bars(plan, lambda bar: replace(bar, pieces=(*bars[0].pieces, *bar.pieces)) if bar.id == bars[1].id else bar)


def pieces_overlap(plan: Plan) -> Plan:
    def squeezed(bar: Bar) -> Bar:
        if len(bar.pieces) < 2 or {item.way for item in bar.pieces} != {"whole"}:
            return bar
        first, second, *rest = bar.pieces
        by = Nm(second.edge_a[0] - first.edge_a[1])
        edge_a, edge_b = ((Nm(low - by), Nm(high - by)) for low, high in (second.edge_a, second.edge_b))
        return replace(bar, pieces=(first, replace(second, edge_a=edge_a, edge_b=edge_b), *rest))

    return with_bars(plan, squeezed)


def short_bar(plan: Plan) -> Plan:
    return with_bars(plan, lambda bar: replace(bar, length_nm=Nm(bar.length_nm // 2)))


def another_shape(plan: Plan) -> Plan:
    def shorter(bar: Bar) -> Bar:
        last = bar.pieces[-1]
        edges = (last.edge_a[0], Nm(last.edge_a[1] - 1_000_000))
        return replace(bar, pieces=(*bar.pieces[:-1], replace(last, edge_a=edges)))

    return with_bars(plan, shorter)


def bundle_on_two_trucks(plan: Plan) -> Plan:
    first = plan.loads[0].result.loads[0].placed[0]
    return with_loads(plan, lambda loads: (*loads[:-1], replace(loads[-1], placed=(*loads[-1].placed, first))))


def bundle_left_behind(plan: Plan) -> Plan:
    return with_loads(plan, lambda loads: (replace(loads[0], placed=loads[0].placed[1:]), *loads[1:]))


def truck_of_another_order(plan: Plan) -> Plan:
    theirs = plan.loads[1].result.loads[0]
    return with_loads(plan, lambda loads: (*loads, theirs))


def bars_swapped_in_time(plan: Plan) -> Plan:
    """The first bar is cut when the last one was, and the other way round: the first one's pieces come too late."""
    cuts = sorted(by_step(plan, "cut"), key=lambda one: one.start_s)
    first, last = cuts[0], cuts[-1]
    at = {first.id: last.start_s, last.id: first.start_s}
    return with_work(plan, lambda one: moved(one, at[one.id]) if one.id in at else one)


def bundled_too_soon(plan: Plan) -> Plan:
    last = max(by_step(plan, "bundle"), key=lambda one: one.start_s)
    return with_work(plan, lambda one: moved(one, 0) if one.id == last.id else one)


def loaded_too_soon(plan: Plan) -> Plan:
    last = max(by_step(plan, "load"), key=lambda one: one.start_s)
    return with_work(plan, lambda one: moved(one, 0) if one.id == last.id else one)


def at_one_time(plan: Plan) -> Plan:
    first, second = sorted(by_step(plan, "cut"), key=lambda one: one.start_s)[:2]
    return with_work(plan, lambda one: moved(one, first.start_s) if one.id == second.id else one)


def in_the_night(plan: Plan) -> Plan:
    """The last truck is loaded at two at night: 20 hours after the plan's six in the morning, some days on."""
    last = max(by_step(plan, "load"), key=lambda one: one.start_s)
    night = (last.end_s // 86_400 + 1) * 86_400 + 20 * 3_600
    return with_work(plan, lambda one: moved(one, night) if one.id == last.id else one)


def on_a_holiday(plan: Plan) -> Plan:
    """The last truck is loaded on Independence Day, which the catalog keeps: 67 days after the plan's Monday, at ten."""
    last = max(by_step(plan, "load"), key=lambda one: one.start_s)
    return with_work(plan, lambda one: moved(one, 67 * 86_400 + 4 * 3_600) if one.id == last.id else one)


def press_pauses(plan: Plan) -> Plan:
    """A press run goes on through the night."""
    run = max(by_step(plan, "laminate"), key=lambda one: one.start_s)
    return with_work(plan, lambda one: replace(one, end_s=Seconds(one.end_s + 86_400)) if one.id == run.id else one)


def bar_never_cut(plan: Plan) -> Plan:
    gone = by_step(plan, "cut")[0]
    work = tuple(one for one in plan.timetable.operations if one is not gone)
    return replace(plan, timetable=replace(plan.timetable, operations=work))


def late_and_untold(plan: Plan) -> Plan:
    told = tuple(replace(one, late_s=Seconds(one.late_s + 3600)) for one in plan.timetable.deliveries)
    return replace(plan, timetable=replace(plan.timetable, deliveries=told))


SPOILED: dict[Callable[[Plan], Plan], str] = {
    drop_from_bundle: "is in 0 bundles",
    bundle_of_another_order: "mixes orders",
    piece_on_two_bars: "is on 2 bars",
    pieces_overlap: "less than the kerf apart",
    short_bar: "lies past the end",
    another_shape: "does not lie in its own shape",
    bundle_on_two_trucks: "is on 2 trucks",
    bundle_left_behind: "is on 0 trucks",
    truck_of_another_order: "carries another order",
    bars_swapped_in_time: "is cut before",
    bundled_too_soon: "is bundled before",
    loaded_too_soon: "is loaded before",
    at_one_time: "at one time",
    in_the_night: "is closed",
    on_a_holiday: "is closed",
    press_pauses: "pauses and may not",
    bar_never_cut: "is cut 0 times",
    late_and_untold: "is said to be done",
}


def test_a_sound_plan_has_no_fault() -> None:
    assert judge.faults_of(sound(), demo_plant()) == []


@pytest.mark.parametrize("spoil", SPOILED, ids=lambda one: one.__name__)
def test_a_spoiled_plan_is_noticed(spoil: Callable[[Plan], Plan]) -> None:
    """Paper is the sound plan's, so that a plan whose paper can't be drawn is judged too."""
    found = judge.faults_of(spoil(sound()), demo_plant(), paper_of(sound(), demo_plant()))
    assert any(SPOILED[spoil] in fault for fault in found), found[:5]


PAPER: dict[str, tuple[Callable[[Paper], Paper], str]] = {
    "label missing": (lambda paper: replace(paper, labels=paper.labels[1:]), "has labels ['inside_face']"),
    "label twice": (lambda paper: replace(paper, labels=(*paper.labels, paper.labels[0])), "has labels"),
    "label of another bar": (
        lambda paper: replace(paper, labels=(replace(paper.labels[0], bar=paper.labels[-1].bar), *paper.labels[1:])),
        "names another place",
    ),
    "tag missing": (lambda paper: replace(paper, tags=paper.tags[1:]), "has 0 tags"),
    "tag upside down": (
        lambda paper: replace(paper, tags=tuple(replace(tag, rows=tag.rows[::-1]) for tag in paper.tags)),
        "does not list its pieces",
    ),
    "load sheet missing": (lambda paper: replace(paper, trucks=paper.trucks[1:]), "has 0 sheets"),
    "saw sheet missing": (lambda paper: replace(paper, saws=paper.saws[1:]), "is on 0 saw sheets"),
    "summary wrong": (lambda paper: replace(paper, summary=paper.summary.replace("Bars      ", "Bars      1")), "does not say"),
    "price wrong": (lambda paper: replace(paper, summary=paper.summary.replace("$", "$9")), "another price"),
}


@pytest.mark.parametrize("name", PAPER)
def test_spoiled_paper_is_noticed(name: str) -> None:
    spoil, said = PAPER[name]
    paper = spoil(paper_of(sound(), demo_plant()))
    assert any(said in fault for fault in judge.faults_of(sound(), demo_plant(), paper))


def test_the_judge_shares_no_code_with_checks_or_searches() -> None:
    """Domain types, units and the rows that are judged: nothing else of the solver."""
    allowed = ("solver.domain.", "solver.documents.", "solver.units")
    for path in (Path(__file__).resolve().parents[1] / "whole").glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("solver"):
                assert (node.module or "").startswith(allowed), f"{path.name} imports {node.module}"
