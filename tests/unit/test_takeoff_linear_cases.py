"""Worked cases of linear parts and anchors: G13 to G17, S6, and the published floor for anchors (IRC R403.1.6)."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest

from solver.domain.building import Building, MeasuredAnchor
from solver.domain.ids import GroupId
from solver.domain.plant import Plant, StockPrice
from solver.domain.takeoff import Takeoff
from solver.reading.read_order import read_order
from solver.takeoff.anchors import ChannelSection, section_bolts
from solver.takeoff.check import check
from solver.takeoff.linear_runs import lapped_spans
from solver.takeoff.take_off import take_off
from solver.units import FOOT, INCH, MM, Cents, Nm
from tests.generators.walls import box, building_of, demo_plant, metric_plant, mm, opening, walls_of
from tests.orders import box as order_box
from tests.orders import with_gable
from tests.shared import case

INCHES = 25.4  # the helpers take millimetres


def of(taken: Any, role: str, wall: str = "L1.0") -> list[Any]:
    return sorted((p for p in taken.pieces if p.role == role and p.group == wall), key=lambda piece: piece.mark)


def inch_box(width: float, depth: float, **more: Any) -> Building:
    return building_of(walls_of(box(width * INCHES, depth * INCHES), height=108 * INCHES, family="W6", **more))


def with_stock(plant: Plant, use: str, feet: int) -> Plant:
    price = (StockPrice(length_nm=Nm(feet * FOOT), price_cents=Cents(1)),)
    return replace(plant, profiles=tuple(replace(p, stock=price) if p.use == use else p for p in plant.profiles))


@pytest.mark.parametrize(
    ("feet", "field"), [(40, "one_run"), (20, "stock_20ft_two_sections"), (10, "stock_10ft_four_sections")]
)
def test_anchors_are_counted_by_spliced_section(feet: int, field: str) -> None:
    """Case G15: a 40 ft wall, mitred at both ends."""
    told = case("G15")["expected"]
    taken = take_off(inch_box(480, 240), with_stock(demo_plant(), "base_channel", feet))
    places = [anchor.along_nm / INCH for anchor in taken.anchors if anchor.wall == "L1.0"]
    assert len(places) == told[field]
    assert len(of(taken, "base_channel")) == 40 // feet
    if feet == 20:
        assert places == pytest.approx(told["positions_20ft"], abs=1e-6)
    low, high = told["corner_window_from_outside_corner_in"]
    assert low <= places[0] <= high and low <= 480 - places[-1] <= high
    near, far = told["splice_bolts_each_side_in"]
    for splice in range(feet * 12, 480, feet * 12):
        left, right = max(x for x in places if x < splice), min(x for x in places if x > splice)
        assert near <= splice - left <= far and near <= right - splice <= far


@pytest.mark.parametrize("length_in", [8, 14, 20, 26, 40, 60, 100, 239, 240])
def test_anchors_are_never_looser_than_the_published_floor(length_in: int) -> None:
    """IRC R403.1.6 (written for wood plates): two a section, 6 ft apart at most, seven diameters to 12 in from each end."""
    wall = walls_of(box(9000, 9000), family="W6")[0]
    rules = demo_plant().anchors
    section = ChannelSection(wall=wall, start_nm=0, end_nm=length_in * INCH)
    places = [place for place, _ in section_bolts(section, rules)]
    clear = 7 * rules.diameter_nm
    assert all(clear <= place <= length_in * INCH - clear for place in places)
    if length_in > 8:  # R403.1.6's exception for short walls is kept to: one bolt, mid-length (from memory, check A2)
        assert len(places) >= 2
        assert places[0] <= 12 * INCH and length_in * INCH - places[-1] <= 12 * INCH
    assert all(b - a <= 48 * INCH for a, b in pairwise(places))


def test_every_bolt_has_its_hole_and_its_pocket() -> None:
    taken = take_off(inch_box(300, 240, openings={0: [opening("d", 100 * INCHES, 136 * INCHES, 0, 80 * INCHES)]}), demo_plant())
    for anchor in taken.anchors:
        holes = [
            (piece.outline[0][0] + hole.along_nm, hole.across_nm, hole.across_size_nm)
            for piece in taken.pieces
            if piece.role == "base_channel" and piece.group == anchor.wall
            for hole in piece.holes
            if hole.anchor == anchor.id
        ]
        assert holes == [(anchor.along_nm, 3 * INCH, 5 * INCH // 8)]
        pockets = [
            piece.outline[0][0] + hole.along_nm
            for piece in taken.pieces
            if piece.role == "wall_panel" and piece.group == anchor.wall
            for hole in piece.holes
            if hole.anchor == anchor.id
        ]
        assert pockets and set(pockets) == {anchor.along_nm}
    beside_door = [a.along_nm / INCH for a in taken.anchors if a.wall == "L1.0" and a.why == "door"]
    assert beside_door == [88, 148]


def test_holes_follow_the_bolts_as_measured_or_the_channel_is_the_template() -> None:
    """Case S6: a hole 1/8 in over forgives 1/16 in, so holes go to the measured bolts."""
    told = case("S6")["expected"]
    building = inch_box(240, 240)
    plain = take_off(building, demo_plant())
    moved = [
        MeasuredAnchor(
            id=f"m{n}",
            on=GroupId("L1.0"),
            along_nm=Nm(anchor.along_nm + INCH // 8),
            across_nm=Nm(anchor.across_nm + INCH // 16),
        )
        for n, anchor in enumerate(anchor for anchor in plain.anchors if anchor.wall == "L1.0")
    ]
    taken = take_off(replace(building, anchor_holes="as_measured", measured=tuple(moved)), demo_plant())
    holes = [(hole.along_nm, hole.across_nm) for piece in of(taken, "base_channel") for hole in piece.holes]
    assert holes == [(item.along_nm, item.across_nm) for item in moved]
    hole = demo_plant().anchors
    assert hole.hole_over_nm / 2 / INCH == told["allowed_error_any_direction_in"]
    template = of(plain, "base_channel")[0]
    assert any("template" in note for note in template.notes)
    waiting = take_off(replace(building, anchor_holes="as_measured"), demo_plant())
    assert any("measured" in note for note in of(waiting, "base_channel")[0].notes)


def test_bolts_measured_looser_than_the_rules_are_told() -> None:
    """IRC R403.1.6 as in the plan's rules: a bolt pulled out of place, one off the line, one in a doorway."""
    door = opening("d", 100 * INCHES, 136 * INCHES, 0, 80 * INCHES)
    building = inch_box(300, 240, openings={0: [door]})
    places = ((20, 3), (60, 3), (88, 3), (110, 3), (148, 5), (190, 3), (240, 3), (288, 3))
    measured = tuple(
        MeasuredAnchor(id=f"m{n}", on=GroupId("L1.0"), along_nm=Nm(x * INCH), across_nm=Nm(y * INCH))
        for n, (x, y) in enumerate(places)
    )
    taken = take_off(replace(building, anchor_holes="as_measured", measured=measured), demo_plant())
    assert "m3" not in {hole.anchor for piece in taken.pieces for hole in piece.holes}  # nothing stands in the doorway
    told = taken.warnings
    assert all(text.endswith("ask the engineer of record before setting") for text in told)
    assert [text.split(":")[0] for text in told] == [
        "m3 stands under no base channel of L1.0",
        "m0 as measured is 20.00 in from the end of L1.0-11",
        "m5 and m6 as measured are 50.00 in apart",
        "m4 stands outside the middle third of the channel",
    ]


def test_opening_channel_long_points_are_the_opening_and_two_flanges() -> None:
    """Case G16."""
    told = case("G16")["expected"]
    window = opening("w", 40 * INCHES, 76 * INCHES, 30 * INCHES, 78 * INCHES)
    door = opening("d", 120 * INCHES, 156 * INCHES, 0, 80 * INCHES)
    frames = of(take_off(inch_box(300, 240, openings={0: [window, door]}), demo_plant()), "opening_channel")
    shapes = [((p.edge_a[1] - p.edge_a[0]) / INCH, (p.edge_b[1] - p.edge_b[0]) / INCH) for p in frames]
    sill, left, right, head = shapes[:4]
    assert sill == head == (told["head_sill"]["long_tip"], told["head_sill"]["short_web"])
    assert left == right == (told["jambs"]["long_tip"], told["jambs"]["short_web"])
    assert sum(tip for tip, _ in shapes[:4]) == told["bar_by_long_points"]
    assert len(shapes) == 7  # a door has three sides
    expect = told["door_36x80"]
    assert shapes[6][0] == expect["head_tip"]
    assert shapes[4] == shapes[5] == (expect["jamb_tip"], expect["jamb_web"])
    assert {piece.turns for piece in frames} == {("as_is",)}
    assert {piece.width_nm for piece in frames} == {2 * INCH}


def test_base_channel_between_outside_corners_may_alternate() -> None:
    """Case G17: 3000 outside, 150 wide, mitred: three from one bar, alternating saves the width at every shared cut."""
    told = case("G17")["expected"]
    channel = of(take_off(building_of(walls_of(box(3000, 3000))), metric_plant()), "base_channel")[0]
    assert (channel.edge_a, channel.edge_b, channel.width_nm) == ((0, mm(3000)), (mm(150), mm(2850)), mm(150))
    assert channel.turns == ("as_is", "end_for_end")
    kerf = 3.2 * math.sqrt(2)
    outside, inside = 3000, 2700
    assert outside + inside + outside + 2 * kerf == pytest.approx(told["alternating"], abs=0.006)
    assert 3 * outside + 2 * kerf == pytest.approx(told["all_as_is"], abs=0.006)


def test_caps_of_a_gable_are_butted_and_run_the_slopes_length() -> None:
    """Case G13: 45 degrees between level tops only; the rake's length along the outside, cut plumb at the ridge."""
    told = case("G13")["expected"]
    rise = 5000 * math.tan(math.radians(30))
    gable = [(0, 2000), (5000, 2000 + rise), (10000, 2000)]
    walls = walls_of(box(10000, 4000), height=2000, tops={0: gable, 2: gable})
    taken = take_off(building_of(walls), metric_plant())
    caps = of(taken, "top_cap")
    left = [piece for piece in caps if piece.outline[1][0] <= mm(5000)]
    length = sum(piece.edge_a[1] - piece.edge_a[0] for piece in left)
    behind = 150 / math.cos(math.radians(30))  # butted against the eave wall's cap, which runs through
    assert length / MM == pytest.approx(told["rake_length_along_outside"] - behind, abs=0.05)
    ridge = max(left, key=lambda piece: piece.outline[1][0])
    assert ridge.head.tilt_udeg == pytest.approx(told["ridge_end_cut_from_square"] * 1e6, abs=2)
    assert all(piece.foot.swing_udeg == 0 == piece.head.swing_udeg for piece in caps)
    eave = of(taken, "top_cap", "L1.1")
    assert eave[0].outline[0][0] == 0 and eave[-1].outline[1][0] == mm(4000)
    flat = take_off(building_of(walls_of(box(10000, 4000))), metric_plant())
    corner = of(flat, "top_cap")[0]
    assert corner.foot.swing_udeg == told["flat_wall_corner"] * 1e6
    assert corner.edge_b[0] - corner.edge_a[0] == mm(150)


def bevelled_gable() -> tuple[Building, Plant, Takeoff]:
    """A gable of 10 m under 30 degrees, ridge along y, on a plant that bevels the tops of eave walls; walls 150 thick."""
    plant = metric_plant(bevel_top=True)
    order = with_gable(order_box(), ridge="y") | {"families": {"wall": "M"}, "openings": []}
    corners = order["outlines"]["o"]["corners"]
    corners[1]["at"], corners[2]["at"] = [10000, 0], [10000, 6000]
    building = read_order(order, plant)
    return building, plant, take_off(building, plant)


def test_caps_are_mitred_at_a_gable_corner_over_bevelled_eaves() -> None:
    """Case G13: the plan's 45 degrees lie in the roof's plane, so that the two caps are cut at different angles."""
    told = case("G13")["expected"]
    building, plant, taken = bevelled_gable()
    assert check(building, plant, taken).faults == ()
    gable, eave = of(taken, "top_cap", "L1.S"), of(taken, "top_cap", "L1.E")
    assert gable[0].foot.swing_udeg / 1e6 == pytest.approx(told["gable_cap_corner_cut"], abs=0.001)
    assert eave[0].foot.swing_udeg / 1e6 == pytest.approx(told["eave_cap_corner_cut_if_eave_top_bevelled"], abs=0.001)
    left = [piece for piece in gable if piece.outline[1][0] <= mm(5000)]
    length = sum(piece.edge_a[1] - piece.edge_a[0] for piece in left)
    assert length / MM == pytest.approx(told["rake_length_along_outside"], abs=0.05)
    assert eave[0].width_nm / MM == pytest.approx(150 / math.cos(math.radians(30)), abs=0.001)
    square = take_off(building, metric_plant())
    assert {p.foot.swing_udeg for p in of(square, "top_cap", "L1.S")} == {0}
    assert check(building, metric_plant(), square).faults == ()


@pytest.mark.parametrize(
    ("wall", "change"),
    [
        ("L1.S", lambda cap: replace(cap, foot=replace(cap.foot, swing_udeg=cap.foot.swing_udeg - 4_107_000))),
        ("L1.S", lambda cap: replace(cap, edge_b=(cap.edge_a[0], cap.edge_b[1]))),
        ("L1.E", lambda cap: replace(cap, width_nm=mm(150))),
        ("L1.E", lambda cap: replace(cap, outline=((mm(150), cap.outline[0][1]), cap.outline[1]))),
    ],
    ids=["at 45 degrees", "square", "narrow", "cut back"],
)
def test_a_cap_that_does_not_close_its_mitre_is_noticed(wall: str, change: Any) -> None:
    building, plant, taken = bevelled_gable()
    first = of(taken, "top_cap", wall)[0]
    spoiled = replace(taken, pieces=tuple(change(piece) if piece is first else piece for piece in taken.pieces))
    assert any(fault.path in (first.mark, wall) for fault in check(building, plant, spoiled).faults)


def test_a_mitred_cap_over_square_eaves_is_noticed() -> None:
    """A square eave top lies 86.6 mm below the roof on the inside: caps cut to close there would gape."""
    building, _, taken = bevelled_gable()
    square = metric_plant()
    plain = take_off(building, square)
    mitred = {piece.mark: piece for piece in taken.pieces if piece.role == "top_cap"}
    spoiled = replace(plain, pieces=tuple(mitred.get(piece.mark, piece) for piece in plain.pieces))
    assert any("differ by" in fault.problem for fault in check(building, square, spoiled).faults)


def test_lapped_parts_are_counted_by_what_they_cover() -> None:
    """Case G14."""
    expected = case("G14")["expected"]
    for name, inches in (("L 120", 120), ("L 234", 234), ("L 235", 235), ("L 480 (naive L/stock says 4)", 480)):
        assert len(lapped_spans(Nm(inches * INCH), Nm(120 * INCH), Nm(6 * INCH))) == expected[name]
    assert len(lapped_spans(mm(13000), mm(3048), mm(152.4))) == expected["ridge 13000 mm, 3048, lap 152.4"]


def test_cap_splices_keep_the_stagger_from_panel_joints() -> None:
    """12 in, common practice, no source."""
    plant = demo_plant()
    taken = take_off(inch_box(700, 500), plant)
    for wall in ("L1.0", "L1.1", "L1.2", "L1.3"):
        joints = [piece.outline[1][0] for piece in taken.pieces if piece.role == "wall_panel" and piece.group == wall][:-1]
        caps = of(taken, "top_cap", wall)
        splices = [piece.outline[1][0] for piece in caps][:-1]
        assert splices
        assert min(abs(joint - splice) for joint in joints for splice in splices) >= plant.stagger_nm
        covered = [(piece.outline[0][0], piece.outline[1][0]) for piece in caps]
        assert [end for _, end in covered][:-1] == [start for start, _ in covered][1:]


def test_corner_angles_inside_and_outside_stop_at_a_corner_window() -> None:
    """Two a corner, cut to the wall height (common practice, no source); a corner opening interrupts them."""
    corner = {
        0: [opening("a", 5000, 6000, 900, 2100, corner_with="b")],
        1: [opening("b", 0, 1000, 900, 2100, corner_with="a")],
    }
    taken = take_off(building_of(walls_of(box(6000, 5000), openings=corner)), metric_plant())
    angles = of(taken, "corner_angle", "L1.1")
    assert sorted(piece.length_nm // MM for piece in angles) == [600, 600, 900, 900]
    assert [piece.length_nm // MM for piece in of(taken, "corner_angle", "L1.0")] == [2700, 2700]
    assert len(of(taken, "opening_channel", "L1.1")) == 3  # no jamb at the corner
