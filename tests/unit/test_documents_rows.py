"""Rows of documents against the plan they come from: cuts where the pieces end, totals that add up, nothing left out."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace

import pytest

from solver.documents.bundles import bundle_tag, bundle_tags
from solver.documents.index import PlanIndex
from solver.documents.lists import hardware_by_item, packing_lists, purchase_rows
from solver.documents.loads import load_sheet, load_sheets
from solver.documents.machines import brake_rows, drill_shapes, drop_rows, panel_shapes, rip_rows, router_shapes
from solver.documents.numbering import BarNumber
from solver.documents.saw import saw_bar, saw_sheets
from solver.documents.site import installation_sheets
from solver.domain.cut_plan import Bar, BarPiece, CutPlan, NestJob, NestResult, StockLength
from solver.domain.ids import BarId, MaterialId, PieceId, StockId, short_name
from solver.domain.piece import EndCut
from solver.domain.takeoff import BrokenRule, HardwareLine
from solver.units import INCH, MM, MicroDeg, Nm
from tests.orders import DEMOS
from tests.samples import demo_index


def cut_plan(bar: Bar, *, width_mm: int = 1200, kerf_nm: int = 3_200_000) -> CutPlan:
    job = NestJob(
        unit="mm",
        kerf_nm=Nm(kerf_nm),
        width_nm=Nm(width_mm * MM),
        stock=(StockLength(id=StockId("S"), length_nm=bar.length_nm),),
        pieces=(),
    )
    result = NestResult(status="feasible", cost=None, lower_bound=0.0, waste=None, seconds=0.0, bars=())
    return CutPlan(material=MaterialId("W6|birch|white"), job=job, result=result, bars=(bar,))


FIRST = BarNumber("panel-saw-1", 1, 1)


def bar_of(index: PlanIndex, *extents_mm: tuple[float, float, float, float], length_mm: int = 6000) -> Bar:
    """A bar of pieces by their ends on the near edge and the far edge."""
    ids = [piece.id for piece in index.pieces.values() if piece.is_panel]
    slots = tuple(
        BarPiece(
            piece=PieceId(ids[n]),
            turn="as_is",
            edge_a=(Nm(round(a0 * MM)), Nm(round(a1 * MM))),
            edge_b=(Nm(round(b0 * MM)), Nm(round(b1 * MM))),
        )
        for n, (a0, a1, b0, b1) in enumerate(extents_mm)
    )
    return Bar(
        id=BarId("b1"),
        material=MaterialId("W6|birch|white"),
        stock=StockId("S"),
        length_nm=Nm(length_mm * MM),
        drop_nm=Nm(0),
        pieces=slots,
    )


def test_a_kerf_between_parallel_faces_is_one_cut() -> None:
    index = demo_index()
    # lean 26.565 degrees: half the width of 48 in over it; the kerf along the bar is 3.2 / cos(lean) (case G6)
    gap = 3.2 / math.cos(math.atan2(1, 2))
    bar = bar_of(index, (0, 2000, 0, 2609.6), (2000 + gap, 4000, 2609.6 + gap, 4000))
    row = saw_bar(index, cut_plan(bar), bar, FIRST)
    assert [cut.kind for cut in row.cuts] == ["part", "part"]
    assert row.cuts[0].lean_udeg == pytest.approx(26_565_051, abs=1)
    assert row.cuts[1].lean_udeg == 0


def test_faces_that_are_not_parallel_take_two_cuts_and_so_does_a_wide_gap() -> None:
    index = demo_index()
    bar = bar_of(index, (0, 2000, 0, 2600), (2800, 4000, 2800, 4000), (4010, 5000, 4010, 5000))
    row = saw_bar(index, cut_plan(bar), bar, FIRST)
    assert [cut.kind for cut in row.cuts] == ["part", "start", "part", "start", "part"]


def test_an_end_trim_is_cut_and_a_flush_end_is_not() -> None:
    index = demo_index()
    trimmed = bar_of(index, (12.7, 2000, 12.7, 2000))
    flush = bar_of(index, (0, 6000, 0, 6000))
    assert [cut.kind for cut in saw_bar(index, cut_plan(trimmed), trimmed, FIRST).cuts] == ["trim", "part"]
    assert saw_bar(index, cut_plan(flush), flush, FIRST).cuts == ()


@pytest.mark.parametrize("name", DEMOS)
def test_every_piece_has_its_end_cut_where_the_bar_says(name: str) -> None:
    index = demo_index(name)
    seen: Counter[str] = Counter()
    for sheet in saw_sheets(index):
        for row in sheet.bars:
            ends = {cut.piece: (cut.near_nm, cut.far_nm) for cut in row.cuts if cut.kind == "part"}
            for slot in row.bar.pieces:
                seen[slot.piece] += 1
                end = (slot.edge_a[1], slot.edge_b[1])
                assert ends.get(slot.piece) == end or min(end) >= row.bar.length_nm - 1000
            places = [min(cut.near_nm, cut.far_nm) for cut in row.cuts]
            assert len(row.pieces) == len(row.bar.pieces)
            assert len(places) >= len(ends)
    assert seen == Counter(dict.fromkeys(index.pieces, 1))


@pytest.mark.parametrize("name", DEMOS)
def test_every_piece_is_on_one_installation_sheet_in_order_of_standing(name: str) -> None:
    index = demo_index(name)
    seen: list[str] = []
    for sheet in installation_sheets(index):
        assert [row.stands for row in sheet.rows] == sorted(row.stands for row in sheet.rows)
        assert {piece.group for piece in sheet.pieces} == {sheet.group}
        seen += [row.piece for row in sheet.rows]
    assert sorted(seen) == sorted(index.pieces)


def test_the_first_panel_to_stand_is_first_from_the_top_of_the_first_panel_bundle() -> None:
    index = demo_index()
    panels = [tag for tag in bundle_tags(index) if tag.bundle.kind == "panels"]
    assert panels[0].rows[0].stands == min(piece.stands for piece in index.pieces.values() if piece.is_panel)


@pytest.mark.parametrize("name", DEMOS)
def test_the_packing_list_counts_and_weighs_every_piece_once(name: str) -> None:
    index = demo_index(name)
    (one,) = packing_lists(index)
    marks = [mark for row in one.rows for mark in row.marks]
    assert sorted(marks) == sorted(piece.mark for piece in index.pieces.values())
    boxes = sum(bundle.kind == "box" for bundle in index.bundles.values()) * index.plant.bundle.box_tare_g
    assert one.weight_g == boxes + sum(piece.weight_g for piece in index.pieces.values())
    assert all(len(row.serial) == 18 for row in one.rows)
    assert len({row.serial for row in one.rows}) == len(one.rows)


@pytest.mark.parametrize("name", DEMOS)
def test_the_purchase_list_buys_what_is_not_on_the_rack(name: str) -> None:
    index = demo_index(name)
    rows = [row for row in purchase_rows(index) if row.kind == "bar"]
    assert sum(row.needed for row in rows) == sum(len(cut.bars) for cut in index.plan.cuts)
    assert all(row.needed == row.on_hand + row.to_make + row.to_buy for row in rows)
    spent = 0.0
    for cut in index.plan.cuts:
        stock = {one.id: one for one in cut.job.stock}
        spent += sum(stock[bar.stock].cost or 0 for bar in cut.bars if stock[bar.stock].count is None)
    assert sum(row.cents or 0 for row in rows) == round(spent)


@pytest.mark.parametrize("name", DEMOS)
def test_the_packing_list_names_what_each_box_holds_and_counts_no_hardware_twice(name: str) -> None:
    index = demo_index(name)
    (one,) = packing_lists(index)
    wanted: Counter[str] = Counter()
    for line in index.plan.takeoffs[0].hardware:
        wanted[line.item] += line.quantity
    listed: Counter[str] = Counter()
    for item in (item for row in one.rows for item in row.items):
        listed[item.item] += item.quantity
    for line in one.hardware:
        listed[line.item] += line.quantity
    assert listed == wanted
    for row in one.rows:
        held = {item.item: item.quantity for item in index.bundles[row.bundle].items}
        assert {item.item: item.quantity for item in row.items} == held
        assert bool(row.marks) != bool(row.items)


def test_hardware_is_summed_by_item_and_packed_once() -> None:
    lines = [
        HardwareLine(item="screw", quantity=30, pack=50, packs=1, why="a"),
        HardwareLine(item="screw", quantity=30, pack=50, packs=1, why="b"),
        HardwareLine(item="tape", quantity=3, pack=6, packs=1, why="c"),
    ]
    screw, tape = hardware_by_item(lines)
    assert (screw.quantity, screw.packs, screw.why) == (60, 2, "a; b")
    assert (tape.quantity, tape.packs) == (3, 1)


@pytest.mark.parametrize("name", DEMOS)
def test_load_sheets_put_every_bundle_on_one_truck_and_unload_in_reverse(name: str) -> None:
    index = demo_index(name)
    sheets = load_sheets(index)
    assert sorted(row.bundle for sheet in sheets for row in sheet.rows) == sorted(index.bundles)
    for sheet in sheets:
        assert [row.at + row.off for row in sheet.rows] == [len(sheet.rows) + 1] * len(sheet.rows)
        assert sum(row.weight_g for row in sheet.rows) == sheet.load.weight_g
        assert load_sheet(index, sheet.load.id) == sheet
    with pytest.raises(KeyError):
        load_sheet(index, "no-such")


def test_a_load_says_when_its_own_deliveries_are_wanted() -> None:
    index = demo_index()
    wanted = {one.id: one.need_by for one in index.plan.takeoffs[0].building.deliveries}
    for sheet in load_sheets(index):
        trips = {bundle.trip for bundle in sheet.bundles if bundle.trip}
        assert set(sheet.need_by) == {wanted[trip] for trip in trips}


@pytest.mark.parametrize("name", DEMOS)
def test_shapes_name_every_panel_once_and_only_alike_ones_together(name: str) -> None:
    index = demo_index(name)
    rows = panel_shapes(index)
    named = [piece.id for row in rows for piece in row.pieces]
    assert sorted(named) == sorted(piece.id for piece in index.pieces.values() if piece.is_panel)
    for row in rows:
        assert len({(piece.material, piece.edge_a, piece.edge_b, piece.left, piece.right) for piece in row.pieces}) == 1
    assert all(piece.cutouts or piece.holes for row in router_shapes(index) for piece in row.pieces)
    assert all(not piece.is_panel and piece.holes for row in drill_shapes(index) for piece in row.pieces)


def test_roof_panels_of_one_shape_are_drawn_once() -> None:
    rows = panel_shapes(demo_index())
    assert max(len(row.pieces) for row in rows) >= 8


@pytest.mark.parametrize("name", DEMOS)
def test_bevels_alike_come_together_and_none_is_missing(name: str) -> None:
    index = demo_index(name)
    rows = rip_rows(index)
    assert [row.bevel_udeg for row in rows] == sorted(row.bevel_udeg for row in rows)
    edges = sum(edge.kind != "joint" for piece in index.pieces.values() for edge in (piece.left, piece.right))
    assert len(rows) == edges > 0


def test_the_brake_forms_every_linear_part_that_has_bends() -> None:
    index = demo_index()
    bends = {profile.id: profile.bends for profile in index.plant.profiles}
    wanted = [p.mark for p in index.pieces.values() if not p.is_panel and bends[p.material.split("|")[0]]]
    assert sorted(mark for row in brake_rows(index) for mark in row.marks) == sorted(wanted)


def test_a_bundle_without_a_code_gets_one_and_keeps_it() -> None:
    index = demo_index()
    part = index.plan.stacks[0]
    bare = tuple(replace(bundle, serial="") for bundle in part.result.bundles)
    plan = replace(index.plan, stacks=(replace(part, result=replace(part.result, bundles=bare)),))
    first = bundle_tag(PlanIndex(plan, index.plant), bare[0].id)
    assert first.serial == bundle_tag(PlanIndex(plan, index.plant), bare[0].id).serial
    assert len(first.serial) == 18
    assert first.link.endswith(first.serial)


def test_names_are_said_short() -> None:
    assert short_name("cottage-7/B03") == "B03"


def with_ends(index: PlanIndex, *ends: tuple[EndCut, EndCut]) -> PlanIndex:
    """The plan with its first panels cut so at foot and head."""
    takeoff = index.plan.takeoffs[0]
    ids = [piece.id for piece in index.pieces.values() if piece.is_panel]
    cut = {ids[n]: pair for n, pair in enumerate(ends)}
    pieces = tuple(
        replace(piece, peak_nm=None, foot=cut[piece.id][0], head=cut[piece.id][1]) if piece.id in cut else piece
        for piece in takeoff.pieces
    )
    return PlanIndex(replace(index.plan, takeoffs=(replace(takeoff, pieces=pieces),)), index.plant)


TILT = MicroDeg(30_000_000)
UPRIGHT, OUT_LONG = EndCut(), EndCut(tilt_udeg=TILT, long_face="outside")
IN_LONG = EndCut(tilt_udeg=TILT, long_face="inside")


@pytest.mark.parametrize(
    ("before", "after", "cuts"),
    [(OUT_LONG, UPRIGHT, 2), (UPRIGHT, IN_LONG, 2), (OUT_LONG, OUT_LONG, 2), (OUT_LONG, IN_LONG, 2), (UPRIGHT, UPRIGHT, 1)],
)
def test_a_blade_makes_both_ends_only_where_they_lie_a_kerf_apart_through_and_through(
    before: EndCut, after: EndCut, cuts: int
) -> None:
    index = with_ends(demo_index(), (UPRIGHT, before), (after, UPRIGHT))
    bar = bar_of(index, (0, 2000, 0, 2000), (2003.2, 4000, 2003.2, 4000), length_mm=4000)
    row = saw_bar(index, cut_plan(bar), bar, FIRST)
    assert [cut.kind for cut in row.cuts] == ["part", "start"][:cuts]
    assert row.cuts[0].tilt_udeg == before.tilt_udeg
    assert row.cuts[0].long_up == (before == IN_LONG)  # the plant lays panels with their inside face up


def test_one_tilted_cut_makes_two_ends_where_the_longer_faces_overlap_by_what_the_tilt_takes() -> None:
    """Figures are on the longer faces, one up and one down: at 30 degrees through 6 in they lie t tan 30 past one another."""
    index = with_ends(demo_index(), (UPRIGHT, OUT_LONG), (IN_LONG, UPRIGHT))
    start = 2000 + 3.2 / math.cos(math.radians(30)) - 152.4 * math.tan(math.radians(30))
    bar = bar_of(index, (0, 2000, 0, 2000), (start, 4000, start, 4000), length_mm=4000)
    assert [cut.kind for cut in saw_bar(index, cut_plan(bar), bar, FIRST).cuts] == ["part"]


def test_the_other_face_of_a_tilted_cut_ends_within_the_piece() -> None:
    index = with_ends(demo_index(), (UPRIGHT, OUT_LONG), (IN_LONG, UPRIGHT))
    bar = bar_of(index, (0, 2000, 0, 2000), (2100, 4000, 2100, 4000), length_mm=4000)
    part, start = saw_bar(index, cut_plan(bar), bar, FIRST).cuts
    back = 6 * INCH * math.tan(math.radians(30))  # a 6 in panel
    assert part.arris_nm == pytest.approx(-back, abs=1)
    assert start.arris_nm == pytest.approx(back, abs=1)


def test_a_tilted_end_at_the_end_of_a_bar_is_cut_all_the_same() -> None:
    index = with_ends(demo_index(), (IN_LONG, IN_LONG))
    bar = bar_of(index, (0, 6000, 0, 6000))
    assert [cut.kind for cut in saw_bar(index, cut_plan(bar), bar, FIRST).cuts] == ["trim", "part"]


def test_a_piece_turned_end_for_end_has_its_head_first() -> None:
    index = with_ends(demo_index(), (UPRIGHT, OUT_LONG))
    bar = bar_of(index, (100, 6000, 100, 6000))
    turned = replace(bar, pieces=(replace(bar.pieces[0], turn="end_for_end"),))
    assert [cut.tilt_udeg for cut in saw_bar(index, cut_plan(turned), turned, FIRST).cuts] == [TILT]


@pytest.mark.parametrize("name", DEMOS)
def test_every_drop_is_listed_for_whoever_puts_it_away(name: str) -> None:
    index = demo_index(name)
    wanted = index.plan.takeoffs[0].drops
    rows = drop_rows(index)
    assert sum(len(row.marks) for row in rows) == len(wanted) > 0
    area = sum(row.width_nm * row.length_nm * len(row.marks) for row in rows)
    assert area == sum(drop.width_nm * drop.length_nm for drop in wanted)
    shown = sum(len(row.drops) * len(row.pieces) for row in router_shapes(index))
    assert shown == len(wanted)


@pytest.mark.parametrize("name", DEMOS)
def test_every_note_of_a_piece_is_on_its_installation_sheet_once(name: str) -> None:
    index = demo_index(name)
    for sheet in installation_sheets(index):
        for row, piece in zip(sheet.rows, sheet.pieces, strict=True):
            shared = [
                remark.note
                for remark in sheet.remarks
                if remark.role == piece.role and (not remark.marks or piece.mark in remark.marks)
            ]
            assert Counter([*row.notes, *shared]) == Counter(set(piece.notes))


def test_warnings_and_broken_rules_stand_on_the_sheet_they_concern() -> None:
    index = demo_index()
    takeoff = index.plan.takeoffs[0]
    walls = [wall.id for wall in takeoff.building.walls]
    window = next(opening.id for wall in takeoff.building.walls if wall.id == walls[1] for opening in wall.openings)
    told = (f"{walls[1]}-03 is 290.2 in long: over the 288 in that two forks handle, lift with a spreader", "of no wall at all")
    rules = (
        BrokenRule(rule="leg", where=window, wanted_nm=Nm(6 * INCH), got_nm=Nm(4 * INCH)),
        BrokenRule(rule="stagger", where=walls[2], wanted_nm=Nm(12 * INCH), got_nm=Nm(3 * INCH)),
        BrokenRule(rule="narrowest_rip", where="R.S panel 3", wanted_nm=Nm(12 * INCH), got_nm=Nm(8 * INCH)),
    )
    plan = replace(index.plan, takeoffs=(replace(takeoff, warnings=told, broken=rules),))
    sheets = {str(sheet.group): sheet for sheet in installation_sheets(PlanIndex(plan, index.plant))}
    assert sheets[walls[1]].warnings == told[:1]
    assert sheets[walls[1]].broken == rules[:1]
    assert sheets[walls[2]].broken == rules[1:2]
    assert sheets["R.S"].broken == rules[2:]
    assert [text for sheet in sheets.values() for text in sheet.warnings if text in told] == [told[1], told[0]]


def test_a_drop_that_the_plan_uses_says_what_it_makes() -> None:
    index = demo_index()
    drop = index.plan.takeoffs[0].drops[0]
    small = next(piece for piece in index.pieces.values() if piece.is_panel and piece.id != drop.piece)
    cuts = tuple(
        replace(
            cut,
            bars=tuple(
                replace(
                    bar,
                    pieces=tuple(
                        replace(slot, way="drop", host=drop.piece, opening=drop.opening) if slot.piece == small.id else slot
                        for slot in bar.pieces
                    ),
                )
                for bar in cut.bars
            ),
        )
        for cut in index.plan.cuts
    )
    rows = drop_rows(PlanIndex(replace(index.plan, cuts=cuts), index.plant))
    assert [row.makes for row in rows if row.makes] == [(small.mark,)]
    assert next(row for row in rows if row.makes).marks == (index.pieces[drop.piece].mark,)


def test_a_bar_of_a_remnant_that_no_job_names_is_on_hand() -> None:
    index = demo_index()
    cut = index.plan.cuts[0]
    bars = (replace(cut.bars[0], stock=StockId("remnant-7")), *cut.bars[1:])
    plan = replace(index.plan, cuts=(replace(cut, bars=bars), *index.plan.cuts[1:]))
    rows = [row for row in purchase_rows(PlanIndex(plan, index.plant)) if row.kind == "bar"]
    before = [row for row in purchase_rows(index) if row.kind == "bar"]
    assert sum(row.on_hand for row in rows) == sum(row.on_hand for row in before) + 1
