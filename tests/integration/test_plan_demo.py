"""The three demo orders, all the way: planned, checked, spoiled on purpose and caught."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from service.reports.summary import plan_summary
from service.reports.tables import plan_tables
from service.usecases.make.plan_files import plan_with_its_job
from service.usecases.make.stages import check_stage_result
from solver.bundling.stack import stack
from solver.documents.index import PlanIndex
from solver.documents.site import begin_sheets
from solver.domain.bundle import Bundle
from solver.domain.cut_plan import Bar, CutBar, CutPlan
from solver.domain.load import Load
from solver.domain.plan import Plan
from solver.domain.rack import RackPoint
from solver.domain.timetable import Overfull, Slot
from solver.plan_check import check_plan
from solver.search import Search
from solver.takeoff.take_off import take_off
from solver.units import MM, Grams, Nm, Seconds
from tests.plans import demo_buildings, demo_documents, demo_plan, demo_plant


def test_every_part_of_the_plan_holds() -> None:
    report = check_plan(demo_buildings(), demo_plant(), demo_plan())
    assert [str(fault) for fault in report.faults] == []
    assert len(report.checked) > 50
    assert all(proof.checked for proof in demo_plan().proofs)


def test_the_plan_holds_after_its_way_through_json() -> None:
    report = check_stage_result(plan_with_its_job(demo_plan(), [data for _, data in demo_documents()]), plant=demo_plant())
    assert [str(fault) for fault in report.faults] == []


def test_takeoff_and_stacks_come_out_the_same_again() -> None:
    """Stacks with all the time they ask for: a share of the plan's own may end sooner on a busy machine, and then differs."""
    plan, plant = demo_plan(), demo_plant()
    assert [take_off(house, plant) for house in demo_buildings()] == list(plan.takeoffs)
    assert len(plan.stacks) >= 3
    for part in plan.stacks:
        first, again = (stack(part.job, Search()) for _ in range(2))
        assert (first.bundles, first.lower_bound, first.notes) == (again.bundles, again.lower_bound, again.notes)


def test_bounds_are_never_above_what_was_reached() -> None:
    for proof in demo_plan().proofs:
        if proof.value is not None and proof.lower_bound is not None:
            assert proof.lower_bound <= proof.value * (1 + 1e-9) + 1e-9, proof
            if proof.status == "optimal":
                assert proof.value <= proof.lower_bound * (1 + 1e-6) + 1e-9, proof


def test_the_summary_answers_what_a_planner_asks() -> None:
    text = plan_summary(demo_plan(), demo_plant())
    for word in ("Pieces", "Bars", "yield", "nothing can cost less than", "Rack", "Ships", "Bundles", "Loads", "Checked"):
        assert word in text
    assert text.count(", may leave ") == text.count(", must by ") == sum(len(part.result.loads) for part in demo_plan().loads)


def test_tables_hold_every_piece_bar_bundle_and_load_once() -> None:
    made, plan = plan_tables(demo_plan(), demo_plant()), demo_plan()
    assert len(made["pieces"]) == sum(len(takeoff.pieces) for takeoff in plan.takeoffs)
    assert (made["pieces"]["bar"] != "").all() and (made["pieces"]["bundle"] != "").all()
    assert len(made["bars"]) == sum(len(cut.bars) for cut in plan.cuts)
    assert len(made["bundles"]) == sum(len(part.result.bundles) for part in plan.stacks)
    assert len(made["loads"]) == len(made["bundles"])
    assert len(made["yield"]) == len(plan.cuts)
    assert len(made["departures"]) == sum(len(part.result.loads) for part in plan.loads)
    assert (made["departures"]["may leave"] > made["departures"]["at the door from"]).all()
    assert (made["loads"]["may leave"] != "").all()
    assert plan.rack is not None
    assert list(made["rack"]["this plan"]).count("yes") == 1
    assert len(made["rack"]) == len(plan.rack.points)


def test_a_booklet_names_each_start_box_and_the_truck_that_it_comes_on() -> None:
    begins, plan = begin_sheets(PlanIndex(demo_plan(), demo_plant())), demo_plan()
    on = {placed.bundle: load.id for part in plan.loads for load in part.result.loads for placed in load.placed}
    assert set(begins) == {takeoff.building.order for takeoff in plan.takeoffs}
    for order, sheet in begins.items():
        boxes = [one.id for part in plan.stacks for one in part.result.bundles if one.items and one.order == order]
        assert boxes
        assert [(f"{order}/{box}", load) for box, load in sheet.boxes] == [(box, on[box]) for box in boxes]


def test_the_first_panel_to_stand_lies_on_top_of_the_first_bundle() -> None:
    for takeoff, part in zip(demo_plan().takeoffs, demo_plan().stacks, strict=True):
        stands = {piece.id: piece.stands for piece in takeoff.pieces}
        panels = [piece for piece in takeoff.pieces if piece.is_panel]
        bundles = [bundle for bundle in part.result.bundles if bundle.kind == "panels"]
        first = min(bundles, key=lambda bundle: bundle.first_stands)
        assert stands[first.pieces[-1].piece] == min(piece.stands for piece in panels)


# Spoiled on purpose: each a way to go wrong, and words that its fault must say.


def first(items: Any, wanted: Callable[[Any], bool] = lambda _item: True) -> int:
    return next(n for n, item in enumerate(items) if wanted(item))


def put(items: tuple[Any, ...], n: int, item: Any) -> tuple[Any, ...]:
    return (*items[:n], item, *items[n + 1 :])


def without(items: tuple[Any, ...], n: int) -> tuple[Any, ...]:
    return (*items[:n], *items[n + 1 :])


def panel_cut(plan: Plan) -> int:
    return first(plan.cuts, lambda cut: len(cut.bars) > 3 and cut.material.startswith("W"))


def with_cut(plan: Plan, change: Callable[[CutPlan], CutPlan]) -> Plan:
    n = panel_cut(plan)
    return replace(plan, cuts=put(plan.cuts, n, change(plan.cuts[n])))


def with_result(plan: Plan, **changes: Any) -> Plan:
    return with_cut(plan, lambda cut: replace(cut, result=replace(cut.result, **changes)))


def with_cut_bar(plan: Plan, change: Callable[[CutBar], CutBar]) -> Plan:
    def changed(cut: CutPlan) -> CutPlan:
        n = first(cut.result.bars, lambda bar: len(bar.pieces) > 1)
        return replace(cut, result=replace(cut.result, bars=put(cut.result.bars, n, change(cut.result.bars[n]))))

    return with_cut(plan, changed)


def shifted(bar: CutBar, n: int, by_nm: int) -> CutBar:
    piece = bar.pieces[n]
    moved = replace(
        piece,
        edge_a=(Nm(piece.edge_a[0] + by_nm), Nm(piece.edge_a[1] + by_nm)),
        edge_b=(Nm(piece.edge_b[0] + by_nm), Nm(piece.edge_b[1] + by_nm)),
    )
    return replace(bar, pieces=put(bar.pieces, n, moved))


def with_bars(plan: Plan, change: Callable[[tuple[Bar, ...]], tuple[Bar, ...]]) -> Plan:
    return with_cut(plan, lambda cut: replace(cut, bars=change(cut.bars)))


def with_bundles(plan: Plan, change: Callable[[tuple[Bundle, ...]], tuple[Bundle, ...]]) -> Plan:
    part = plan.stacks[0]
    return replace(
        plan, stacks=put(plan.stacks, 0, replace(part, result=replace(part.result, bundles=change(part.result.bundles))))
    )


def with_bundle(plan: Plan, change: Callable[[Bundle], Bundle]) -> Plan:
    def changed(bundles: tuple[Bundle, ...]) -> tuple[Bundle, ...]:
        n = first(bundles, lambda one: one.kind == "panels" and len(one.pieces) > 2)
        return put(bundles, n, change(bundles[n]))

    return with_bundles(plan, changed)


def with_loads(plan: Plan, change: Callable[[tuple[Load, ...]], tuple[Load, ...]]) -> Plan:
    part = plan.loads[0]
    return replace(plan, loads=put(plan.loads, 0, replace(part, result=replace(part.result, loads=change(part.result.loads)))))


def with_load(plan: Plan, change: Callable[[Load], Load]) -> Plan:
    return with_loads(plan, lambda loads: put(loads, 0, change(loads[0])))


def with_slots(plan: Plan, change: Callable[[tuple[Slot, ...]], tuple[Slot, ...]]) -> Plan:
    table = plan.timetable
    return replace(plan, timetable=replace(table, result=replace(table.result, operations=change(table.result.operations))))


def moved_slot(slots: tuple[Slot, ...], n: int, by_s: int) -> tuple[Slot, ...]:
    return put(slots, n, replace(slots[n], start=slots[n].start + by_s, end=slots[n].end + by_s))


def cut_in_another_order(plan: Plan) -> Plan:
    """The first and the last bar of the last cut order change places on the saw."""
    order, table = plan.sequences[-1].result.order, plan.timetable
    cuts = {one.about: one for one in table.operations if one.step == "cut"}
    swapped = {order[0]: cuts[order[-1]], order[-1]: cuts[order[0]]}
    return replace(
        plan,
        timetable=replace(
            table,
            operations=tuple(
                replace(one, start_s=swapped[one.about].start_s) if one.step == "cut" and one.about in swapped else one
                for one in table.operations
            ),
        ),
    )


def with_sequence(plan: Plan, **changes: Any) -> Plan:
    part = plan.sequences[-1]
    return replace(plan, sequences=(*plan.sequences[:-1], replace(part, result=replace(part.result, **changes))))


def with_slit(plan: Plan, **changes: Any) -> Plan:
    part = plan.slits[0]
    return replace(plan, slits=put(plan.slits, 0, replace(part, result=replace(part.result, **changes))))


def with_truck(plan: Plan, **changes: Any) -> Plan:
    assert plan.dispatch is not None
    trucks = plan.dispatch.departures
    return replace(plan, dispatch=replace(plan.dispatch, departures=put(trucks, 0, replace(trucks[0], **changes))))


def with_rack(plan: Plan, **changes: Any) -> Plan:
    assert plan.rack is not None
    return replace(plan, rack=replace(plan.rack, **changes))


def with_point(plan: Plan, **changes: Any) -> Plan:
    """The chosen point of the rack's curve changed."""
    assert plan.rack is not None
    n = first(plan.rack.points, lambda point: point.id == plan.rack.chosen)  # type: ignore[union-attr]
    return with_rack(plan, points=put(plan.rack.points, n, replace(plan.rack.points[n], **changes)))


def picked(plan: Plan) -> RackPoint:
    assert plan.rack is not None
    return plan.rack.chosen_point


def dearer_chosen(plan: Plan) -> Plan:
    assert plan.rack is not None
    dear = replace(picked(plan), id="dear", cost=picked(plan).cost + 100, best=False)
    return with_rack(plan, points=(*plan.rack.points, dear), chosen="dear")


def with_piece(plan: Plan, n: int, **changes: Any) -> Plan:
    takeoff = plan.takeoffs[0]
    pieces = put(takeoff.pieces, n, replace(takeoff.pieces[n], **changes))
    return replace(plan, takeoffs=put(plan.takeoffs, 0, replace(takeoff, pieces=pieces)))


def swap_pieces(bars: tuple[Bar, ...]) -> tuple[Bar, ...]:
    """Two marked pieces of different lengths in each other's slots."""
    one = bars[0]
    size = one.pieces[0].edge_a
    n = first(bars, lambda bar: any(item.edge_a[1] - item.edge_a[0] != size[1] - size[0] for item in bar.pieces))
    two = bars[n]
    m = first(two.pieces, lambda item: item.edge_a[1] - item.edge_a[0] != size[1] - size[0])
    a, b = one.pieces[0].piece, two.pieces[m].piece
    if n == 0:
        pieces = put(one.pieces, 0, replace(one.pieces[0], piece=b))
        return put(bars, 0, replace(one, pieces=put(pieces, m, replace(one.pieces[m], piece=a))))
    bars = put(bars, 0, replace(one, pieces=put(one.pieces, 0, replace(one.pieces[0], piece=b))))
    return put(bars, n, replace(two, pieces=put(two.pieces, m, replace(two.pieces[m], piece=a))))


def heavier_in_the_load(plan: Plan) -> Plan:
    part = plan.loads[0]
    bundles = put(part.job.bundles, 0, replace(part.job.bundles[0], weight_g=Grams(part.job.bundles[0].weight_g + 1)))
    return replace(plan, loads=put(plan.loads, 0, replace(part, job=replace(part.job, bundles=bundles))))


def panel(plan: Plan) -> int:
    return first(plan.takeoffs[0].pieces, lambda piece: piece.role == "wall_panel" and not piece.cutouts)


def nudged(plan: Plan) -> Plan:
    n = panel(plan)
    outline = tuple((Nm(u + MM), z) for u, z in plan.takeoffs[0].pieces[n].outline)
    return with_piece(plan, n, outline=outline)


SPOILED: dict[str, tuple[Callable[[Plan], Plan], str]] = {
    "timetable cuts in another order": (cut_in_another_order, "in another order"),
    "a crowd before the bundle bay is played down": (
        lambda plan: replace(
            plan,
            timetable=replace(plan.timetable, waiting=tuple(replace(one, most=one.most - 1) for one in plan.timetable.waiting)),
        ),
        "wait at most",
    ),
    "an overfull room is told that is not": (
        lambda plan: replace(
            plan,
            timetable=replace(
                plan.timetable,
                waiting=tuple(
                    replace(
                        one, over=Overfull(room=one.place, size=one.room or 1, most=one.most, at=0, since=0, until=9, time=9)
                    )
                    for one in plan.timetable.waiting
                ),
            ),
        ),
        "says of what finds no room",
    ),
    "a takeoff is missing": (lambda plan: replace(plan, takeoffs=plan.takeoffs[1:]), "not those of the orders"),
    "a panel is a millimetre off": (nudged, "overlap"),
    "a mark is used twice": (
        lambda plan: with_piece(plan, panel(plan), mark=plan.takeoffs[0].pieces[panel(plan) + 1].mark),
        "2 pieces have this mark",
    ),
    "a piece is in no bundle": (
        lambda plan: with_bundle(plan, lambda one: replace(one, pieces=one.pieces[1:])),
        "is on 0 bundles",
    ),
    "a bundle is upside down": (
        lambda plan: with_bundle(plan, lambda one: replace(one, pieces=tuple(reversed(one.pieces)))),
        "stand",
    ),
    "a bundle weighs other than its pieces": (
        lambda plan: with_bundle(plan, lambda one: replace(one, weight_g=Grams(one.weight_g - 5000))),
        "weigh",
    ),
    "a bundle is missing": (lambda plan: with_bundles(plan, lambda all_of: all_of[:-1]), "0 bundles"),
    "a piece is cut once too often": (
        lambda plan: with_cut_bar(plan, lambda bar: replace(bar, repeat=bar.repeat + 1)),
        "is made",
    ),
    "two pieces overlap on a bar": (
        lambda plan: with_cut_bar(plan, lambda bar: shifted(bar, len(bar.pieces) - 1, -10 * MM)),
        "kerf",
    ),
    "a piece lies beyond its bar": (
        lambda plan: with_cut_bar(plan, lambda bar: shifted(bar, len(bar.pieces) - 1, 20_000 * MM)),
        "leaves the bar",
    ),
    "a cost is understated": (
        lambda plan: with_result(plan, cost=(plan.cuts[panel_cut(plan)].result.cost or 0) - 100.0),
        "cost",
    ),
    "a bound is above the cost": (
        lambda plan: with_result(plan, lower_bound=(plan.cuts[panel_cut(plan)].result.cost or 0) * 1.01),
        "lower_bound",
    ),
    "a bar is lost": (lambda plan: with_bars(plan, lambda bars: bars[1:]), "are not the bars that nesting gave"),
    "two pieces lie in each other's slots": (lambda plan: with_bars(plan, swap_pieces), "slot of another shape"),
    "bars are out of cut order": (
        lambda plan: with_bars(plan, lambda bars: tuple(reversed(bars))),
        "the order of sequencing",
    ),
    "the cut order loses a bar": (
        lambda plan: with_sequence(plan, order=plan.sequences[-1].result.order[1:]),
        "missing",
    ),
    "open bundles are understated": (
        lambda plan: with_sequence(plan, open=(plan.sequences[-1].result.open or 0) - 1),
        "open",
    ),
    "a slitting pattern makes too little": (
        lambda plan: with_slit(plan, patterns=plan.slits[0].result.patterns[1:]),
        "short",
    ),
    "the steel is understated": (
        lambda plan: with_slit(plan, steel_nm=Nm((plan.slits[0].result.steel_nm or 0) - 1000 * MM)),
        "steel",
    ),
    "an operation is missing": (lambda plan: with_slots(plan, lambda slots: slots[1:]), "is missing"),
    "an operation runs before what it waits for": (
        lambda plan: with_slots(plan, lambda slots: moved_slot(slots, first(slots, lambda s: s.index > 0), -86_400)),
        "before",
    ),
    "an operation takes less time than the work": (
        lambda plan: with_slots(plan, lambda slots: put(slots, 0, replace(slots[0], end=slots[0].end - 1))),
        "works",
    ),
    "lateness is misstated": (
        lambda plan: replace(
            plan,
            timetable=replace(
                plan.timetable, result=replace(plan.timetable.result, objective=(plan.timetable.result.objective or 0) + 7)
            ),
        ),
        "is true",
    ),
    "a bundle stays behind": (
        lambda plan: with_load(plan, lambda load: replace(load, placed=load.placed[:-1])),
        "is on 0 loads",
    ),
    "two bundles stand in one place": (
        lambda plan: with_load(
            plan,
            lambda load: replace(
                load, placed=(load.placed[0], replace(load.placed[0], bundle=load.placed[1].bundle), *load.placed[2:])
            ),
        ),
        "overlap",
    ),
    "a tie-down is forgotten": (
        lambda plan: with_load(
            plan,
            lambda load: replace(
                load, tiedowns=None if load.tiedowns is None else replace(load.tiedowns, required=load.tiedowns.required - 1)
            ),
        ),
        "tie-down",
    ),
    "rack slots are understated": (lambda plan: with_point(plan, slots=picked(plan).slots - 1), "pieces wait at one time"),
    "a way to cut is cheaper than its bars": (lambda plan: with_point(plan, cost=picked(plan).cost - 100), "its bars cost"),
    "a way to cut loses a bar": (lambda plan: with_point(plan, bars=picked(plan).bars[1:]), "do not cut"),
    "a way to cut is told in another order than it is cut": (
        lambda plan: with_point(plan, bars=tuple(reversed(picked(plan).bars))),
        "are not those of",
    ),
    "a dearer way is chosen": (dearer_chosen, "is not the cheapest"),
    "the best way is not called so": (lambda plan: with_point(plan, best=False), "False is stated"),
    "stacks are not the bundles": (
        lambda plan: with_rack(plan, stacks=tuple(tuple(reversed(stack)) for stack in plan.rack.stacks)),  # type: ignore[union-attr]
        "are not the panels of the bundles",
    ),
    "a truck leaves before it is loaded": (
        lambda plan: with_truck(plan, leave_s=Seconds(plan.dispatch.departures[0].start_s)),  # type: ignore[union-attr]
        "loaded when the timetable does not load it",
    ),
    "a truck's lateness is hidden": (lambda plan: with_truck(plan, need_by_s=10**9, late_s=-(10**9)), "is not when delivery"),
    "a bundle is loaded as lighter than it is": (heavier_in_the_load, "is loaded as what it is not"),
    "a part was changed after it was proved": (
        lambda plan: replace(plan, proofs=put(plan.proofs, 0, replace(plan.proofs[0], digest="0" * 64))),
        "digest is not that of the part",
    ),
}


@pytest.mark.parametrize("name", SPOILED)
def test_a_spoiled_plan_is_caught_with_the_right_words(name: str) -> None:
    spoil, words = SPOILED[name]
    report = check_plan(demo_buildings(), demo_plant(), spoil(demo_plan()))
    said = "\n".join(str(fault) for fault in report.faults)
    assert words in said, said[:1500]
