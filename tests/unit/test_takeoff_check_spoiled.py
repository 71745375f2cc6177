"""Takeoffs spoiled on purpose: the proof names each fault, in words that a planner can act on."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

import pytest

from solver.domain.ids import GroupId, MaterialId, PieceId
from solver.domain.piece import Allowance, Cutout, EdgeCut, EndCut, Piece
from solver.domain.report import Report
from solver.domain.takeoff import BrokenRule, Takeoff
from solver.takeoff.check import check
from solver.takeoff.take_off import take_off
from solver.units import INCH, MM, MicroDeg, Nm
from tests.orders import DEMOS, demo_building, plant

Change = Callable[[Takeoff], Takeoff]


@cache
def sound(name: str = "cottage-7") -> Takeoff:
    return take_off(demo_building(name), plant())


def judge(takeoff: Takeoff) -> Report:
    return check(takeoff.building, plant(), takeoff)


@pytest.mark.parametrize("name", DEMOS)
def test_the_demo_takeoffs_are_sound(name: str) -> None:
    report = judge(sound(name))
    assert [str(fault) for fault in report.faults] == []
    assert len(report.checked) == (14 if name == "ell-12" else 13)  # hips and valleys where there are some


def piece(takeoff: Takeoff, role: str, group: str, where: Callable[[Piece], bool] = lambda _: True) -> Piece:
    return next(one for one in takeoff.pieces if one.role == role and one.group == group and where(one))


def swap(takeoff: Takeoff, old: Piece, **changes: Any) -> Takeoff:
    return replace(takeoff, pieces=tuple(replace(one, **changes) if one is old else one for one in takeoff.pieces))


def without(takeoff: Takeoff, old: Piece) -> Takeoff:
    left = [one for one in takeoff.pieces if one is not old]
    return replace(takeoff, pieces=tuple(replace(one, stands=n) for n, one in enumerate(left, start=1)))


def moved(outline: tuple[tuple[Nm, Nm], ...], index: int, du: int, dz: int) -> tuple[tuple[Nm, Nm], ...]:
    return tuple((Nm(u + du), Nm(z + dz)) if n == index else (u, z) for n, (u, z) in enumerate(outline))


def plain(one: Piece) -> bool:
    """A panel in the run of its wall: joints on both sides, no openings."""
    return one.left.kind == one.right.kind == "joint" and not one.cutouts and len(one.outline) == 4


def at_left(one: Piece) -> bool:
    return one.outline[0][0] == 0


def panel_missing(takeoff: Takeoff) -> Takeoff:
    return without(takeoff, piece(takeoff, "wall_panel", "L1.W", plain))


def corner_off(du: int, dz: int, group: str = "L1.W", role: str = "wall_panel") -> Change:
    def change(takeoff: Takeoff) -> Takeoff:
        old = piece(takeoff, role, group, plain)
        return swap(takeoff, old, outline=moved(old.outline, 2, du, dz))

    return change


def shifted(takeoff: Takeoff) -> Takeoff:
    old = piece(takeoff, "wall_panel", "L1.S", plain)
    return swap(takeoff, old, outline=tuple((Nm(u + 1000), z) for u, z in old.outline))


def no_cutouts(takeoff: Takeoff) -> Takeoff:
    return swap(takeoff, piece(takeoff, "wall_panel", "L1.N", lambda one: bool(one.cutouts)), cutouts=())


def cutout_too_wide(takeoff: Takeoff) -> Takeoff:
    old = piece(takeoff, "wall_panel", "L1.N", lambda one: bool(one.cutouts))
    hole = old.cutouts[0]
    return swap(
        takeoff, old, cutouts=(replace(hole, outline=tuple((u, Nm(z + INCH)) for u, z in hole.outline)), *old.cutouts[1:])
    )


def cutout_nowhere(takeoff: Takeoff) -> Takeoff:
    old = piece(takeoff, "wall_panel", "L1.S", plain)
    low, high = old.outline[0][0] - 5 * INCH, old.outline[0][0] + 5 * INCH
    ring = tuple((Nm(u), Nm(z)) for u, z in ((low, INCH), (high, INCH), (high, 9 * INCH), (low, 9 * INCH)))
    return swap(takeoff, old, cutouts=(Cutout(opening="x", outline=ring),))


def flipped(takeoff: Takeoff) -> Takeoff:
    old = piece(takeoff, "wall_panel", "L1.S", plain)
    return swap(takeoff, old, outline=tuple(reversed(old.outline)))


def edge(side: str, where: Callable[[Piece], bool], **changes: Any) -> Change:
    def change(takeoff: Takeoff) -> Takeoff:
        old = piece(takeoff, "wall_panel", "L1.S", where)
        cut: EdgeCut = getattr(old, side)
        return swap(takeoff, old, **{side: replace(cut, **changes)})

    return change


def other_way_mitre(takeoff: Takeoff) -> Takeoff:
    old = piece(takeoff, "wall_panel", "L1.S", at_left)
    cut = replace(old.left, outside_nm=old.left.inside_nm, inside_nm=old.left.outside_nm)
    return swap(takeoff, old, left=cut)


def allowances(group: str, where: Callable[[Piece], bool], *items: Allowance) -> Change:
    def change(takeoff: Takeoff) -> Takeoff:
        return swap(takeoff, piece(takeoff, "wall_panel", group, where), allowances=items)

    return change


def longer(takeoff: Takeoff) -> Takeoff:
    old = piece(takeoff, "wall_panel", "L1.S", plain)
    return swap(takeoff, old, edge_a=(Nm(0), Nm(old.edge_a[1] + INCH)), edge_b=(Nm(0), Nm(old.edge_b[1] + INCH)))


def too_long(takeoff: Takeoff) -> Takeoff:
    old = piece(takeoff, "roof_panel", "R.S")
    return swap(takeoff, old, edge_a=(Nm(0), Nm(500 * INCH)))


def wrong_peak(takeoff: Takeoff) -> Takeoff:
    old = piece(takeoff, "wall_panel", "L1.E", lambda one: one.peak_nm is not None)
    return swap(takeoff, old, peak_nm=Nm((old.peak_nm or 0) - INCH))


def put(role: str, place: str, **changes: Any) -> Change:
    return lambda takeoff: swap(takeoff, piece(takeoff, role, place), **changes)


def missing(role: str, group: str) -> Change:
    return lambda takeoff: without(takeoff, piece(takeoff, role, group))


def twice(role: str, group: str) -> Change:
    def change(takeoff: Takeoff) -> Takeoff:
        old = piece(takeoff, role, group)
        again = replace(old, mark=f"{group}-99", id=PieceId(f"{old.order}/{group}-99"), stands=len(takeoff.pieces) + 1)
        return replace(takeoff, pieces=(*takeoff.pieces, again))

    return change


def same_mark(takeoff: Takeoff) -> Takeoff:
    first, second = takeoff.pieces[:2]
    return swap(takeoff, second, mark=first.mark)


def stand_swapped(takeoff: Takeoff) -> Takeoff:
    first, second = takeoff.pieces[:2]
    return replace(takeoff, pieces=(second, first, *takeoff.pieces[2:]))


def corner_last(takeoff: Takeoff) -> Takeoff:
    """The first panel to stand changes places with the last of its wall."""
    panels = [one for one in takeoff.pieces if one.role == "wall_panel"]
    first, last = panels[0], panels[-1]
    order = {id(first): replace(last, stands=first.stands), id(last): replace(first, stands=last.stands)}
    return replace(takeoff, pieces=tuple(order.get(id(one), one) for one in takeoff.pieces))


def anchor(change: Callable[[int, Any], Any]) -> Change:
    def apply(takeoff: Takeoff) -> Takeoff:
        made = tuple(one for n, old in enumerate(takeoff.anchors) if (one := change(n, old)) is not None)
        return replace(takeoff, anchors=made)

    return apply


def no_pocket(takeoff: Takeoff) -> Takeoff:
    return swap(takeoff, piece(takeoff, "wall_panel", "L1.S", lambda one: bool(one.holes)), holes=())


def hole_off(takeoff: Takeoff) -> Takeoff:
    old = piece(takeoff, "base_channel", "L1.S")
    holes = (replace(old.holes[0], along_nm=Nm(old.holes[0].along_nm + INCH)), *old.holes[1:])
    return swap(takeoff, old, holes=holes)


def hole_small(takeoff: Takeoff) -> Takeoff:
    old = piece(takeoff, "base_channel", "L1.S")
    return swap(takeoff, old, holes=(replace(old.holes[0], across_size_nm=Nm(INCH // 2)), *old.holes[1:]))


def told_falsely(takeoff: Takeoff) -> Takeoff:
    item = BrokenRule(rule="narrowest_rip", where="L1.S-01", wanted_nm=Nm(12 * INCH), got_nm=Nm(3 * INCH))
    return replace(takeoff, broken=(item,))


def not_closing(takeoff: Takeoff) -> Takeoff:
    old = next(one for one in takeoff.pieces if one.closing)
    return swap(takeoff, old, closing=False)


def silent_closing(takeoff: Takeoff) -> Takeoff:
    return swap(takeoff, next(one for one in takeoff.pieces if one.closing), notes=())


def growth(*amounts: int) -> tuple[Allowance, ...]:
    return tuple(Allowance(name="joint_growth", edge="right", amount_nm=Nm(amount)) for amount in amounts)


SPOILED: list[tuple[str, Change, str, str]] = [
    ("a panel is missing", panel_missing, "L1.W", "a gap of"),
    ("a panel is doubled", twice("wall_panel", "L1.W"), "L1.W", "overlap by"),
    ("a corner of a set shape is 2 nm high", corner_off(0, 2), "L1.W", "outside the face"),
    ("a corner of a set shape is low", corner_off(0, -100_000), "L1.W", "a gap of"),
    ("a corner of a set shape is beside its joint", corner_off(5, 0, "L1.S"), "L1.S", "overlap by"),
    ("a panel is shifted by a micrometre", shifted, "L1.S", "a gap of"),
    ("an opening is not cut", no_cutouts, "L1.N", "an opening is not free"),
    ("an opening is cut an inch too high", cutout_too_wide, "L1.N", "an opening is not free"),
    ("a cutout leaves its panel", cutout_nowhere, "L1.S", "leaves the panel"),
    ("a set shape runs clockwise", flipped, "L1.S-", "no counter-clockwise polygon"),
    ("a roof panel is short", corner_off(0, -MM, "R.S", "roof_panel"), "R.S", "a gap of"),
    ("a mitre has its long face inside", other_way_mitre, "L1.S-01", "the mitre does not meet"),
    ("a mitre is bevelled wrongly", edge("left", at_left, bevel_udeg=MicroDeg(40_000_000)), "L1.S-01", "its bevel is 40.00"),
    ("a mitred edge is left a joint", edge("left", at_left, kind="joint"), "L1.S-01", "keeps a joint"),
    ("a joint is ripped", edge("left", plain, kind="rip", outside_nm=Nm(INCH)), "L1.S-", "in the run of its wall is cut"),
    ("a rip is not named", edge("left", at_left, outside_nm=Nm(2 * INCH)), "L1.S-01", "wider than it stands"),
    ("mitred panels collide", edge("left", at_left, inside_nm=Nm(0), outside_nm=Nm(0)), "L1.W-", "collide by"),
    ("joint growth is forgotten", allowances("L1.S", plain), "L1.S-", "growth of its joint"),
    ("joint growth is doubled", allowances("L1.S", plain, *growth(-793_750, -793_750)), "L1.S-", "growth of its joint"),
    (
        "an allowance is not the catalog's",
        allowances("L1.S", plain, *growth(-793_750), Allowance(name="closing", edge="right", amount_nm=Nm(INCH // 2))),
        "L1.S-",
        "an allowance closing of",
    ),
    ("a panel is cut long", longer, "L1.S-", "on its long edges"),
    ("a panel is longer than any bar", too_long, "R.S-", "longer than panels are made"),
    ("a peak is cut low", wrong_peak, "L1.E-", "its peak is"),
    ("a roof panel ignores the ridge gap", put("roof_panel", "R.S", allowances=growth(-793_750)), "R.S-", "at the head"),
    ("a roof panel's head is swung", put("roof_panel", "R.S", head=EndCut(swing_udeg=MicroDeg(5_000_000))), "R.S-",
     "its head is cut at 5.00"),
    ("a swing is beyond the saw", put("wall_panel", "L1.S", head=EndCut(swing_udeg=MicroDeg(61_000_000))), "L1.S-",
     "beyond the saw"),
    ("a panel of the wrong colour", put("wall_panel", "L1.S", material=MaterialId("W6|moss|white")), "L1.S-", "its material"),
    ("a channel is missing", missing("base_channel", "L1.S"), "L1.S", "base channel leaves a gap"),
    ("a channel is doubled", twice("base_channel", "L1.S"), "L1.S", "or twice"),
    ("a channel is not mitred", put("base_channel", "L1.S", edge_b=(Nm(0), Nm(100 * INCH))), "L1.S-", "mitred in plan"),
    ("a cap is missing", missing("top_cap", "L1.E"), "L1.E", "top cap leaves a gap"),
    ("a corner angle is missing", missing("corner_angle", "L1.N"), "L1.N", "corner c has angles on 1 faces"),
    ("an opening's sill has no channel", missing("opening_channel", "L1.W"), "L1.W", "opening channel is missing"),
    ("an opening's channel is short", put("opening_channel", "L1.W", edge_a=(Nm(0), Nm(40 * INCH))), "L1.W-", "long points"),
    ("an eave has no trim", missing("eave_trim", "R.S"), "R.S eave", "in its trim"),
    ("a ridge has its trim twice", twice("ridge_trim", "R.S"), "R.S ridge", "an overlap of"),
    ("a rake's lap is not made", put("ridge_trim", "R.S", allowances=()), "R.S-", "it laps 0 nm"),
    ("two pieces have one mark", same_mark, "L1.", "pieces have this mark"),
    ("the order of standing jumps", stand_swapped, "pieces", "is not 1, 2, 3"),
    ("the corner panels do not stand first", corner_last, "L1", "the first panels to stand"),
    ("a piece of another building", put("top_cap", "L1.S", group=GroupId("L9.X")), "L1.S-", "no wall or roof plane"),
    ("an anchor is in the mitre", anchor(lambda n, one: replace(one, along_nm=Nm(4 * INCH)) if n == 0 else one), "L1.S-",
     "from the section's end"),
    ("an anchor is left out", anchor(lambda n, one: None if n == 1 else one), "L1.S-", "holes and its anchors differ"),
    ("anchors are far apart", anchor(lambda _, one: None if one.id == "L1.E-A03" else one), "L1.", "at most 4' 0\""),
    ("an anchor is off the middle", anchor(lambda n, one: replace(one, across_nm=Nm(INCH))), "L1.S-A01", "middle line"),
    ("a hole misses its bolt", hole_off, "L1.S-", "holes and its anchors differ"),
    ("a hole has no room for its bolt", hole_small, "L1.S-", "a hole of 1/2\""),
    ("a panel has no pocket over its bolt", no_pocket, "L1.S-", "no pocket over anchor"),
    ("a rule is told as broken that is not", told_falsely, "L1.S-01", "is told as broken, and is not"),
    ("no panel closes the loop", not_closing, "L1", "its loop has 0 closing panels"),
    ("the closing panel does not say so", silent_closing, "L1.", "does not say so"),
]  # fmt: skip


@pytest.mark.parametrize(("change", "where", "words"), [row[1:] for row in SPOILED], ids=[row[0] for row in SPOILED])
def test_a_spoiled_takeoff_is_caught_in_the_right_words(change: Change, where: str, words: str) -> None:
    spoiled = change(sound())
    assert spoiled != sound()
    faults = judge(spoiled).faults
    hits = [fault for fault in faults if fault.path.startswith(where) and words in f"{fault.problem}; {fault.fix}"]
    assert hits, "\n".join(map(str, faults)) or "nothing was found"


def test_a_broken_soft_rule_that_is_not_told_is_found() -> None:
    told = sound("ell-12")
    assert told.broken
    faults = judge(replace(told, broken=())).faults
    assert any("joint clearance is broken and not told" in fault.problem for fault in faults)


def test_a_takeoff_of_another_building_is_refused() -> None:
    other = demo_building("workshop-3")
    faults = check(other, plant(), sound()).faults
    assert any("of another building" in fault.problem for fault in faults)
    assert any(fault.problem == "has no panels" or "a gap" in fault.problem for fault in faults)


def test_a_valley_panel_turned_by_a_degree_no_longer_meets_its_neighbour() -> None:
    takeoff = sound("ell-12")
    old = next(one for one in takeoff.pieces if one.role == "roof_panel" and one.foot.tilt_udeg > 0)
    cut = replace(old.foot, tilt_udeg=MicroDeg(old.foot.tilt_udeg + 1_000_000))
    faults = judge(swap(takeoff, old, foot=cut)).faults
    assert faults[0].path == old.mark
    assert all(old.mark in fault.path for fault in faults)
    assert "so that it meets its neighbour" in faults[0].fix


def test_a_square_top_at_the_high_side_of_a_shed_would_stand_in_the_roof() -> None:
    """4 in of wall under 3/12: 1 in too high on the inside, so the head is tilted 14.04 degrees, atan(3/12)."""
    takeoff = sound("workshop-3")
    high = piece(takeoff, "wall_panel", "L1.N", lambda one: one.head.tilt_udeg > 0)
    assert round(high.head.tilt_udeg / 1e6, 2) == 14.04
    faults = judge(swap(takeoff, high, head=EndCut())).faults
    assert [(fault.path, "1\" above the roof's lower face" in fault.problem) for fault in faults] == [(high.mark, True)]
    low = piece(takeoff, "wall_panel", "L1.S", plain)
    faults = judge(swap(takeoff, low, head=high.head)).faults
    assert [(fault.path, "tilted down inward" in fault.problem) for fault in faults] == [(low.mark, True)]
