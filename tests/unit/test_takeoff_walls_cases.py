"""Worked cases of wall takeoff: G1 to G4, G8, G18, S4, S5, S8, arithmetic that the cases state."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from solver.domain.plant import LayoutRules, PanelFamily
from solver.errors import NoPlan
from solver.takeoff.openings import net_area
from solver.takeoff.order_of_walls import leading_joint
from solver.takeoff.take_off import take_off
from solver.takeoff.wall_ends import mitre_nm, reach_fault
from solver.takeoff.wall_layout import OpeningGap, WallRun, lay_out_wall
from solver.units import INCH, MM
from tests.generators.walls import box, building_of, demo_plant, interior_udeg, metric_plant, mm, opening, walls_of
from tests.shared import case


def panels(taken: Any, wall: str) -> list[Any]:
    found = [piece for piece in taken.pieces if piece.group == wall and piece.role == "wall_panel"]
    return sorted(found, key=lambda piece: piece.outline[0])


@pytest.mark.parametrize("angle", [60, 90, 120, 135, 225, 240, 270, 300])
def test_mitre_bevel_long_face_and_depth_of_blade(angle: int) -> None:
    """Case G1."""
    import math

    told = next(item for item in case("G1")["expected"] if item["interior"] == angle)
    turn = math.radians(angle)
    second = (round(10**12 * math.cos(turn)), round(10**12 * math.sin(turn)))
    differ = mitre_nm(mm(150), (10**12, 0), second)
    assert differ == pytest.approx(abs(told["inside_minus_outside"]) * MM, abs=0.006 * MM)
    plant = metric_plant()
    family = replace(plant.family("M"), thickness_nm=mm(150))
    bevel = abs(180_000_000 - angle * 1_000_000) // 2
    assert bevel == told["bevel_deg"] * 1e6
    deep = replace(plant, saw=replace(plant.saw, tilt_udeg=90_000_000, depth_nm=mm(told["blade_depth"] + 0.01)))
    shallow = replace(plant, saw=replace(plant.saw, tilt_udeg=90_000_000, depth_nm=mm(told["blade_depth"] - 0.01)))
    assert reach_fault("corner", bevel, family, deep, "a mitre", "a lap") is None
    assert reach_fault("corner", bevel, family, shallow, "a mitre", "a lap") is not None
    flat = replace(plant, saw=replace(plant.saw, tilt_udeg=45_000_000, depth_nm=mm(1000)))
    assert (reach_fault("corner", bevel, family, flat, "a mitre", "a lap") is not None) == told["needs_tilt_over_45"]


def run_of(told: dict[str, Any], **changes: Any) -> WallRun:
    inner = {"outside": -mm(150), "inside": mm(150)}
    return WallRun(
        length_nm=mm(told["run_outside"]), first_inner_nm=inner[told["start"]], last_inner_nm=inner[told["end"]], **changes
    )


@pytest.mark.parametrize("number", range(4))
def test_layout_between_mitred_corners(number: int) -> None:
    """Case G2: fewest panels, the first as wide as the last's narrowest rip leaves it."""
    told = case("G2")["expected"][number]
    family = metric_plant().family("M")
    layout = lay_out_wall(run_of(told), family, LayoutRules())
    assert layout is not None and not layout.broken
    assert len(layout.bays) == told["panels"]
    first = layout.bays[0].end_nm
    assert first == mm(told["first_outside"][1])
    if told["full_first_ok"]:
        assert layout.bays[-1].end_nm - layout.bays[-1].start_nm == mm(told["last_outside_if_full_first"])
    # the stated interval of first widths is exact: a nanometre below its lower end makes a rip too narrow or a panel more
    least = mm(told["first_outside"][0])
    assert holds(told, family, least) and not holds(told, family, least - 1)


def holds(told: dict[str, Any], family: PanelFamily, first: int) -> bool:
    """Whether a first width gives as many panels as the case says, within cover and narrowest rip (by hand)."""
    start, end = (mm(150) * (1 if told[side] == "inside" else -1) for side in ("start", "end"))
    last = mm(told["run_outside"]) - first - (told["panels"] - 2) * family.cover_nm
    widths = ((first, first + start), (last, last + end))
    return all(max(pair) <= family.cover_nm and min(pair) >= family.narrowest_rip_nm for pair in widths)


def test_lapped_walls_of_a_box_are_shorter_by_the_through_walls_thickness() -> None:
    """Case G3: the 12 m walls run through."""
    told = case("G3")["expected"]
    through, between = "lapped_through", "lapped_between"
    joints = {n: (through, between) if n % 2 else (between, through) for n in range(4)}
    walls = walls_of(box(12000, 10000), joints=joints)
    assert [wall.left.joint for wall in walls] == [through, between, through, between]
    taken = take_off(building_of(walls), metric_plant())
    for wall, length in (("L1.0", told["through"]), ("L1.1", told["between"])):
        row = panels(taken, wall)
        assert row[-1].outline[1][0] - row[0].outline[0][0] == mm(length)
        assert row[0].left.kind == row[-1].right.kind == "rip"
    assert not any(piece.closing for piece in taken.pieces)  # case S5: a lapped corner closes without it
    mitred = take_off(building_of(walls_of(box(12000, 10000))), metric_plant())
    for wall, outside, inside in zip(("L1.0", "L1.1"), told["mitred"], told["mitred_inside"], strict=True):
        row = panels(mitred, wall)
        assert row[-1].outline[1][0] - row[0].outline[0][0] == mm(outside)
        narrower = sum(cut.inside_nm - cut.outside_nm for cut in (row[0].left, row[-1].right))
        assert mm(outside) - narrower == mm(inside)


def test_lapped_inside_corner_runs_the_through_wall_on() -> None:
    """Case G3 at 270 degrees: the through wall goes on by the other's thickness, the other keeps its length."""
    corners = [(0, 0), (9000, 0), (9000, 4000), (5000, 4000), (5000, 8000), (0, 8000)]
    walls = walls_of(corners, joints={3: ("lapped_through", "lapped_between")})
    taken = take_off(building_of(walls), metric_plant())
    assert panels(taken, "L1.2")[-1].outline[1][0] == mm(4000 + 150)
    assert panels(taken, "L1.3")[0].outline[0][0] == 0


def test_turns_of_panels_follow_from_their_family() -> None:
    """Case G4: tongue and groove, joint centred; faces differ on the order, so a panel nests as it is only."""
    taken = take_off(building_of(walls_of(box(6000, 5000))), metric_plant())
    assert {piece.turns for piece in taken.pieces if piece.is_panel} == {("as_is",)}


GABLE = [(0, 3200), (5000, 3200 + 5000 * 0.5773502691896), (10000, 3200)]


def test_gable_wall_has_left_right_and_peak_heights() -> None:
    """Case G8, to its two decimals; the peaked panel is nested square at its peak, the face area is the gable's."""
    told = case("G8")["expected"]
    walls = walls_of(box(10000, 6000), tops={0: GABLE})
    row = panels(take_off(building_of(walls), metric_plant(narrowest_rip_nm=mm(250))), "L1.0")
    assert len(row) == len(told)
    for piece, expect in zip(row, told, strict=True):
        heights = {u: z for u, z in piece.outline if z > 0}
        assert [piece.outline[0][0], piece.outline[1][0]] == [mm(x) for x in expect["x"]]
        assert heights[piece.outline[0][0]] == pytest.approx(mm(expect["left"]), abs=0.006 * MM)
        assert heights[piece.outline[1][0]] == pytest.approx(mm(expect["right"]), abs=0.006 * MM)
        assert piece.length_nm == pytest.approx(mm(expect["blank"]), abs=0.006 * MM)
        assert (piece.peak_nm is not None) == ("peak" in expect)
    peak = next(piece for piece in row if piece.peak_nm is not None)
    assert peak.outline[3][0] - peak.outline[0][0] == mm(200)
    area = sum(net_area(piece.outline, piece.cutouts) for piece in row)
    assert float(area) / 1e18 == pytest.approx(46.4338, abs=0.0001)
    inside = walls[0].top[0][1] + 150 * MM * Fraction(5773502691896, 10**13)
    assert float(inside) / MM == pytest.approx(3286.60, abs=0.006)


def test_head_of_a_ripped_panel_is_cut_across_its_whole_blank() -> None:
    """The last panel of case G8 is 400 wide: the same slope carried to the blank's edge falls to 3430.94 - 1200 tan 30."""
    walls = walls_of(box(10000, 6000), tops={0: GABLE})
    last = panels(take_off(building_of(walls), metric_plant(narrowest_rip_nm=mm(250))), "L1.0")[-1]
    assert last.edge_a == (0, last.outline[2][1] if last.outline[2][0] == last.outline[0][0] else last.outline[3][1])
    assert last.edge_b[1] == pytest.approx(last.edge_a[1] - mm(1200 * 0.5773502691896), abs=2)


def test_head_whose_longer_side_is_ripped_is_nested_square() -> None:
    """A shed top that rises to the end of its wall: the last panel is longest where no joint is kept."""
    walls = walls_of(box(10000, 6000), tops={0: [(0, 3000), (10000, 5000)]})
    last = panels(take_off(building_of(walls), metric_plant(narrowest_rip_nm=mm(250))), "L1.0")[-1]
    assert last.right.kind == "mitre"
    assert last.peak_nm == last.length_nm == mm(5000)


def test_opening_wider_than_a_panel_leaves_two_pieces_with_both_joints() -> None:
    """Case G18: window and door over panels 0-1200-2400-3600."""
    window = opening("w", 1000, 2600, 900, 2100)
    plant = metric_plant(min_leg_nm=mm(200), narrowest_rip_nm=mm(100))
    joints = {0: ("lapped_between", "lapped_through"), 1: ("lapped_through", "lapped_between")}
    walls = walls_of(box(6000, 5000), openings={0: [window]}, joints=joints)
    row = panels(take_off(building_of(walls), plant), "L1.0")[:4]
    assert [piece.outline[0][0] for piece in row] == [mm(x) for x in (0, 1200, 1200, 2400)]
    first, sill, head, third = row
    assert [first.length_nm, third.length_nm] == [mm(2700)] * 2
    notch = first.cutouts[0].outline
    assert (notch[0][0], notch[1][0], first.cutouts[0].drop_joints) == (mm(1000), mm(1200), "right")
    notch = third.cutouts[0].outline
    assert (notch[0][0], notch[1][0], third.cutouts[0].drop_joints) == (mm(2400), mm(2600), "left")
    assert [sill.length_nm, head.length_nm] == [mm(900), mm(600)]
    assert (sill.outline[0][1], head.outline[0][1]) == (0, mm(2100))
    for piece in (sill, head):
        assert piece.left.kind == piece.right.kind == "joint"
    assert any("engineer" in note for note in head.notes)
    door = walls_of(box(6000, 5000), openings={0: [opening("d", 1000, 2600, 0, 2100)]}, joints=joints)
    over = [piece for piece in panels(take_off(building_of(door), plant), "L1.0") if piece.outline[0][0] == mm(1200)]
    assert [(piece.outline[0][1], piece.length_nm) for piece in over] == [(mm(2100), mm(600))]


def test_direction_of_standing_and_the_joint_that_leads() -> None:
    """Case S4: seen from outside a ccw run goes left to right, a cw run right to left."""
    told = case("S4")["expected"]
    walls = walls_of(box(6000, 5000))
    for direction, leads in (("ccw", "tongue"), ("cw", "groove")):
        building = building_of(walls, direction=direction)
        taken = take_off(building, metric_plant())
        stood = [piece for piece in taken.pieces if piece.role == "wall_panel"]
        assert leading_joint(building) == leads
        assert f"{direction} run leads with the {leads}" in told["leading_joint"]
        first = "L1.0" if direction == "ccw" else "L1.3"
        along = [piece.outline[0][0] for piece in stood if piece.group == first]
        assert along == sorted(along, reverse=direction == "cw")
        assert stood[0].group == first and stood[1].group == ("L1.3" if direction == "ccw" else "L1.0")


@pytest.mark.parametrize("direction", ["ccw", "cw"])
def test_closing_panel_is_the_last_to_stand_and_never_at_the_start_corner(direction: str) -> None:
    """Case S5: one module wide, inside the last wall, between two panels that stand; it alone carries the allowance."""
    plant = metric_plant(closing_nm=mm(25), joint_growth_nm=mm(1))
    taken = take_off(building_of(walls_of(box(6100, 5000)), direction=direction), plant)
    stood = [piece for piece in taken.pieces if piece.role == "wall_panel"]
    closing = [piece for piece in stood if piece.closing]
    assert closing == [stood[-1]]
    assert closing[0].left.kind == closing[0].right.kind == "joint"
    assert closing[0].group == ("L1.3" if direction == "ccw" else "L1.0")
    allowances = {(item.name, item.amount_nm) for item in closing[0].allowances}
    assert allowances == {("closing", mm(25)), ("joint_growth", -mm(1))}
    set_width = closing[0].outline[1][0] - closing[0].outline[0][0]
    assert set_width + sum(item.amount_nm for item in closing[0].allowances) == mm(1200)
    assert not any(item.name == "closing" for piece in stood[:-1] for item in piece.allowances)
    assert not any(item.name == "closing" for item in stood[0].allowances + stood[1].allowances)


def test_joint_growth_is_laid_into_the_run() -> None:
    """Case S8: 11 panels, 10 joints of 0.8 mm grow 8 mm, which the last panel of the run gives up."""
    told = case("S8")["expected"]
    length = 10 * 1200 + 900
    plant = metric_plant(joint_growth_nm=mm(0.8))
    joints = {n: ("lapped_through", "lapped_between") if n % 2 else ("lapped_between", "lapped_through") for n in range(4)}
    row = panels(take_off(building_of(walls_of(box(length, 5000), joints=joints)), plant), "L1.0")
    assert len(row) == 11
    grown = [item.amount_nm for piece in row for item in piece.allowances if item.name == "joint_growth"]
    assert -sum(grown) == mm(told["run_growth_mm"])
    assert row[-1].outline[1][0] - row[-1].outline[0][0] == mm(900 - told["run_growth_mm"])


def test_weight_of_a_panel_is_its_skins_and_core() -> None:
    """A 6 in wall panel 4 ft x 20 ft weighs 180.96 lb before glue and edges: checks.md, from ASTM A924/A653 and C578."""
    from solver.takeoff.piece_drafts import panel_weight

    family = replace(demo_plant().family("W6"), extra_permille=0)
    assert panel_weight(family, Fraction(48 * INCH * 240 * INCH)) / 453.59237 == pytest.approx(180.96, abs=0.02)


def test_a_mitred_panel_weighs_the_mean_of_its_faces() -> None:
    """Outside 1200 and inside 1050 of case G1 at 90 degrees: as heavy as a square panel of 1125."""
    taken = take_off(building_of(walls_of(box(6000, 5000))), metric_plant())
    first, second = panels(taken, "L1.0")[:2]
    assert first.weight_g / second.weight_g == pytest.approx(1125 / 1200, abs=0.0001)


def test_mitre_beyond_the_saw_is_refused_by_its_corner() -> None:
    """Case G1: a 60 degree corner needs a 60 degree tilt; the plan is refused, never lapped in silence."""
    triangle = [(0, 0), (6000, 0), (3000, 5196.152)]
    with pytest.raises(NoPlan) as refusal:
        take_off(building_of(walls_of(triangle)), metric_plant())
    assert {fault.path for fault in refusal.value.faults} == {f"corners[c{n}].joint" for n in range(3)}
    assert all("lapped" in fault.fix for fault in refusal.value.faults)
    joints = dict.fromkeys(range(3), ("lapped_through", "lapped_between"))
    taken = take_off(building_of(walls_of(triangle, joints=joints)), metric_plant())
    assert interior_udeg(triangle[2], triangle[0], triangle[1]) == pytest.approx(60_000_000, abs=2)
    row = panels(taken, "L1.0")
    assert row[0].outline[0][0] == pytest.approx(mm(150) / 0.8660254037844386, abs=2000)  # t / sin 60
    assert {row[0].left.bevel_udeg // 10**4, row[-1].right.bevel_udeg // 10**4} == {3000}


def test_rules_that_must_give_are_listed_where_they_give() -> None:
    """A window 100 mm from the end of a wall leaves a leg too narrow whatever the layout: the break names the window."""
    walls = walls_of(box(6000, 5000), openings={0: [opening("tight", 100, 900, 900, 2100)]})
    taken = take_off(building_of(walls), metric_plant())
    assert [(item.rule, item.where) for item in taken.broken] == [("leg", "tight")]
    run = WallRun(
        length_nm=mm(6200), first_inner_nm=0, last_inner_nm=0, gaps=(OpeningGap(id="g", start_nm=mm(1150), end_nm=mm(1900)),)
    )
    layout = lay_out_wall(run, metric_plant().family("M"), LayoutRules())
    assert layout is not None and not layout.broken
    assert layout.bays[0].end_nm == mm(1000)  # the widest first panel whose joint is 150 clear of the opening
