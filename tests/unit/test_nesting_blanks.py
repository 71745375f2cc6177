"""Rips that share a blank and pieces out of drops, in whole cut plans; then spoiled on purpose and caught."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from itertools import combinations, permutations

import pytest

from solver.domain.cut_plan import Bar, BarPiece, CutPlan, Remnant
from solver.domain.ids import GroupId, MaterialId, OrderId, PieceId, StockId
from solver.domain.piece import Allowance, Cutout, EdgeCut, Piece
from solver.domain.plant import Plant
from solver.errors import FaultCollector
from solver.nesting.assign import assign_blanks, nesting_job, relaxed_job, remnant_bars
from solver.nesting.blanks import Blanks, kept_joints, share_blanks
from solver.nesting.check import check
from solver.nesting.check_blanks import check_bars
from solver.nesting.nest import nest
from solver.search import Search
from solver.units import INCH, Grams, MicroDeg, Nm
from tests.plans import demo_plant

MATERIAL = MaterialId("W6|birch|white")
JOINT = EdgeCut(kind="joint")


def inch(value: float) -> Nm:
    return Nm(round(value * INCH))


def cut(outside: float, inside: float | None = None) -> EdgeCut:
    """A rip so far inside the blank's edge on either face: bevelled where they differ."""
    bevelled = inside is not None and inside != outside
    return EdgeCut(
        kind="mitre" if bevelled else "rip",
        bevel_udeg=MicroDeg(45_000_000 if bevelled else 0),
        outside_nm=inch(outside),
        inside_nm=inch(outside if inside is None else inside),
    )


def panel(
    n: int, a: float, b: float, *, left: EdgeCut = JOINT, right: EdgeCut = JOINT, cutouts: tuple[Cutout, ...] = ()
) -> Piece:
    """A wall panel of the demo plant's six inch family, its corners at 0 and 48 in."""
    corners = ((0.0, 0.0), (48.0, 0.0), (48.0, b), (0.0, a))
    return Piece(
        id=PieceId(f"o/W-{n:02d}"),
        order=OrderId("o"),
        revision=1,
        mark=f"W-{n:02d}",
        part="L1",
        group=GroupId("W"),
        role="wall_panel",
        stands=n,
        material=MATERIAL,
        width_nm=inch(48),
        thickness_nm=inch(6),
        edge_a=(Nm(0), inch(a)),
        edge_b=(Nm(0), inch(b)),
        turns=("as_is",),
        outline=tuple((inch(u), inch(z)) for u, z in corners),
        weight_g=Grams(1),
        left=left,
        right=right,
        cutouts=cutouts,
    )


def window(u0: float, u1: float, joints: str, *, high: float = 48) -> Cutout:
    corners = ((u0, 36.0), (u1, 36.0), (u1, 36.0 + high), (u0, 36.0 + high))
    outline = tuple((inch(u), inch(z)) for u, z in corners)
    return Cutout(opening="win", outline=outline, drop_joints=joints)  # type: ignore[arg-type]


def made(pieces: list[Piece], plant: Plant) -> tuple[CutPlan, Blanks]:
    blanks = share_blanks(pieces, plant, plant.stated_stock)
    job = nesting_job(blanks, plant, plant.stated_stock)
    result = nest(job, Search())
    assert check(job, result).faults == ()
    bars = assign_blanks(MATERIAL, job, result, blanks)
    bars += remnant_bars(MATERIAL, blanks, plant, plant.stated_stock, after=len(bars))
    return CutPlan(material=MATERIAL, job=job, result=result, bars=bars), blanks


def faults_of(plan: CutPlan, pieces: list[Piece], plant: Plant) -> list[str]:
    faults = FaultCollector()
    check_bars(plan, {piece.id: piece for piece in pieces}, plant, plant.stated_stock.remnants, faults)
    return [str(fault) for fault in faults.found]


def ways(plan: CutPlan) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for bar in plan.bars:
        for item in bar.pieces:
            found.setdefault(item.way, []).append(item.piece)
    return found


@pytest.fixture
def plant() -> Plant:
    return demo_plant()


RIPS = [
    panel(1, 108, 108, right=cut(24.5, 30.5)),  # keeps the left joint
    panel(2, 96, 96, left=cut(24.25, 30.25)),  # keeps the right one
    panel(3, 100, 100),
]


def test_two_mitred_rips_come_out_of_one_blank_as_long_as_the_longer(plant: Plant) -> None:
    plan, _ = made(RIPS, plant)
    assert ways(plan) == {"left_rip": ["o/W-01"], "right_rip": ["o/W-02"], "whole": ["o/W-03"]}
    assert faults_of(plan, RIPS, plant) == []
    assert sorted(kind.edge_a[1] for kind in plan.job.pieces if kind.edge_a) == [inch(100), inch(108)]
    assert sum(len(bar.blanks) for bar in plan.bars) == 2


def test_a_kerf_decides_whether_two_rips_share(plant: Plant) -> None:
    """Case G7: the kerf at 45 degrees is 1.414 times itself; a hair less room, and each takes its own blank."""
    kerf = plant.saw.kerf_nm
    needs = next(n for n in range(kerf, 2 * kerf) if n * n >= 2 * kerf * kerf)
    for spare, shares in ((needs, True), (needs - 1, False)):
        left = cut(24, 30)
        right = replace(cut(24, 30), outside_nm=Nm(inch(24) + spare), inside_nm=Nm(inch(30) + spare))
        pieces = [panel(1, 96, 96, right=right), panel(2, 96, 96, left=left)]
        plan, _ = made(pieces, plant)
        assert ("left_rip" in ways(plan)) == shares
        assert faults_of(plan, pieces, plant) == []


def test_a_rip_too_sloped_to_gain_keeps_a_blank_of_its_own(plant: Plant) -> None:
    pieces = [panel(1, 20, 200, right=cut(25)), panel(2, 60, 60, left=cut(25))]
    plan, _ = made(pieces, plant)
    assert set(ways(plan)) == {"whole"}


HOST = panel(5, 108, 108, cutouts=(window(20, 48, "right"),))
SILL = panel(6, 40, 40, left=cut(24))  # keeps the right joint, 24 in wide


def test_a_small_piece_comes_out_of_the_drop_that_has_its_joint(plant: Plant) -> None:
    plan, blanks = made([HOST, SILL], plant)
    assert ways(plan) == {"whole": ["o/W-05"], "drop": ["o/W-06"]}
    (bar,) = plan.bars
    assert bar.pieces[-1].host == HOST.id and bar.pieces[-1].opening == "win"
    assert faults_of(plan, [HOST, SILL], plant) == []
    assert relaxed_job(plan.job, blanks) is None  # no way can do without the host: the bound is the nesting's own


@pytest.mark.parametrize(
    "pieces",
    [
        [HOST, panel(6, 40, 40, right=cut(24))],  # needs the left joint
        [HOST, panel(6, 40, 40, left=cut(20.4))],  # wider than the drop less the router's cut
        [HOST, panel(6, 47.1, 47.1, left=cut(24))],  # longer than that
        [HOST, panel(6, 40, 40)],  # needs both
        [panel(5, 108, 108, right=cut(1, 7), cutouts=(window(20, 48, "right"),)), SILL],  # no joint at a mitre
        [replace(HOST, allowances=(Allowance(name="joint_growth", edge="right", amount_nm=inch(4)),)), SILL],
        [HOST, replace(SILL, cutouts=(window(30, 40, "none", high=3),))],  # with an opening of its own
    ],
)
def test_a_drop_without_the_joint_or_room_gives_nothing(plant: Plant, pieces: list[Piece]) -> None:
    plan, _ = made(pieces, plant)
    assert "drop" not in ways(plan)
    assert faults_of(plan, pieces, plant) == []


def test_a_narrow_remnant_becomes_a_bar_of_its_own(plant: Plant) -> None:
    left = panel(6, 40, 40, right=cut(24))
    odd = Remnant(id=StockId("N7"), material=MATERIAL, length_nm=inch(81), width_nm=inch(25), joints="left")
    rack = replace(plant, remnants=(odd,))
    pieces = [panel(1, 100, 100), left, replace(left, id=PieceId("o/W-07"), mark="W-07", stands=7)]
    plan, _ = made(pieces, rack)
    assert [(bar.stock, len(bar.pieces)) for bar in plan.bars][-1] == ("N7", 2)
    assert faults_of(plan, pieces, rack) == []
    assert faults_of(plan, pieces, plant) != []  # a plant without that remnant


def test_what_no_blank_can_be_for_two_of_bounds_every_way_to_pair(plant: Plant) -> None:
    """Against all pairings of a few random rips: the bound over all ways is never above the least cost of any."""
    dice = random.Random(4)
    for _ in range(6):
        pieces = []
        for n in range(5):
            a = dice.choice((60, 84, 108))
            b = a + dice.choice((0, 0, 24))
            edge = cut(dice.choice((12, 20, 26, 32)))
            pieces.append(panel(n, a, b, **{"left" if dice.random() < 0.5 else "right": edge}))  # type: ignore[arg-type]
        plan, blanks = made(pieces, plant)
        assert plan.result.cost is not None
        least = relaxed_job(plan.job, blanks)
        floor = plan.result.lower_bound if least is None else min(plan.result.lower_bound, nest(least, Search()).lower_bound)
        for chosen in pairings(pieces):
            cost = nest(nesting_job(chosen, plant, plant.stated_stock), Search()).cost
            assert cost is not None and floor <= cost * (1 + 1e-9)


def pairings(pieces: list[Piece]) -> list[Blanks]:
    """All ways to pair those that keep the left joint with those that keep the right, where the widths allow it."""
    from solver.nesting.blanks import Blank

    lefts = [piece for piece in pieces if kept_joints(piece) == "left"]
    rights = [piece for piece in pieces if kept_joints(piece) == "right"]
    found = []
    for count in range(min(len(lefts), len(rights)) + 1):
        for some in combinations(lefts, count):
            for others in permutations(rights, count):
                pairs = list(zip(some, others, strict=True))
                if any(a.right.outside_nm + b.left.outside_nm < inch(48) + inch(0.125) for a, b in pairs):
                    continue
                paired = {piece.id for pair in pairs for piece in pair}
                blanks = [Blank(pair) for pair in pairs] + [Blank((piece,)) for piece in pieces if piece.id not in paired]
                found.append(Blanks(pieces=tuple(pieces), blanks=tuple(blanks), fallen_drops={}, needed=()))
    return found


# Spoiled on purpose: what was changed, and words that its fault must say.


def swap(plan: CutPlan, change: Callable[[tuple[BarPiece, ...]], tuple[BarPiece, ...]]) -> CutPlan:
    return replace(plan, bars=tuple(replace(bar, pieces=change(bar.pieces)) for bar in plan.bars))


def with_way(n: str, **changes: object) -> Callable[[CutPlan], CutPlan]:
    return lambda plan: swap(
        plan,
        lambda items: tuple(replace(item, **changes) if item.piece == n else item for item in items),  # type: ignore[arg-type]
    )


def no_partner(plan: CutPlan) -> CutPlan:
    return swap(plan, lambda items: tuple(item for item in items if item.way != "right_rip"))


def moved(plan: CutPlan) -> CutPlan:
    at = (inch(1), inch(109))
    return with_way("o/W-02", edge_a=at, edge_b=at)(plan)


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        pytest.param(no_partner, "no partner", id="gone"),
        pytest.param(with_way("o/W-02", way="whole"), "no partner", id="whole"),
        pytest.param(with_way("o/W-03", way="left_rip"), "no partner", id="third"),
        pytest.param(moved, "do not lie in one square blank", id="moved"),
        pytest.param(lambda plan: replace(plan, floor=1e12), "above", id="floor"),
        pytest.param(lambda plan: replace(plan, bars=()), "not the bars that nesting gave", id="no bars"),
    ],
)
def test_a_spoiled_pair_of_rips_is_caught(plant: Plant, spoil: Callable[[CutPlan], CutPlan], says: str) -> None:
    plan, _ = made(RIPS, plant)
    assert any(says in fault for fault in faults_of(spoil(plan), RIPS, plant))


@pytest.mark.parametrize(
    ("n", "changes", "says"),
    [
        (0, {"right": cut(20, 26)}, "too wide for one panel"),
        (0, {"right": cut(24.5, 17)}, "too wide for one panel"),
        (0, {"right": JOINT}, "do not keep one joint each"),
        (0, {"left": cut(1)}, "do not keep one joint each"),
        (0, {"edge_a": (Nm(0), inch(110)), "edge_b": (Nm(0), inch(110))}, "not as long as the longer"),
        (0, {"edge_a": (Nm(0), inch(97)), "edge_b": (Nm(0), inch(97))}, "not as long as the longer"),
        (1, {"width_nm": inch(42)}, "too wide for one panel"),
        (1, {"material": MaterialId("W6|moss|white")}, "another shape"),
    ],
)
def test_rips_that_do_not_fit_their_blank_are_caught(plant: Plant, n: int, changes: dict[str, object], says: str) -> None:
    plan, _ = made(RIPS, plant)
    pieces = [replace(piece, **changes) if k == n else piece for k, piece in enumerate(RIPS)]  # type: ignore[arg-type]
    assert any(says in fault for fault in faults_of(plan, pieces, plant))


@pytest.mark.parametrize(
    ("host", "small", "says"),
    [
        ({}, {"left": JOINT, "right": cut(24)}, "needs a joint"),
        ({}, {"left": cut(20)}, "does not come whole"),
        ({}, {"edge_a": (Nm(0), inch(47.5))}, "of pieces come from"),
        ({}, {"cutouts": (window(30, 40, "none", high=3),)}, "does not come whole"),
        ({"cutouts": ()}, {}, "has no one opening"),
        ({"cutouts": (window(10, 40, "right"),)}, {}, "needs a joint"),
        ({"right": cut(1, 7)}, {}, "needs a joint"),
        ({"allowances": (Allowance(name="joint_growth", edge="right", amount_nm=inch(4)),)}, {}, "does not come whole"),
    ],
)
def test_pieces_that_a_drop_can_not_give_are_caught(
    plant: Plant, host: dict[str, object], small: dict[str, object], says: str
) -> None:
    plan, _ = made([HOST, SILL], plant)
    pieces = [replace(HOST, **host), replace(SILL, **small)]  # type: ignore[arg-type]
    assert any(says in fault for fault in faults_of(plan, pieces, plant))


def test_a_drop_of_a_panel_on_another_bar_is_caught(plant: Plant) -> None:
    plan, _ = made([HOST, SILL], plant)
    spoiled = with_way("o/W-06", host=PieceId("o/W-99"))(plan)
    assert any("comes from a drop of" in fault for fault in faults_of(spoiled, [HOST, SILL], plant))


def test_a_remnant_used_twice_or_overfilled_is_caught(plant: Plant) -> None:
    left = panel(6, 40, 40, right=cut(24))
    odd = Remnant(id=StockId("N7"), material=MATERIAL, length_nm=inch(50), width_nm=inch(25), joints="left")
    rack = replace(plant, remnants=(odd,))
    pieces = [panel(1, 100, 100), left]
    plan, _ = made(pieces, rack)
    last: Bar = plan.bars[-1]
    assert last.stock == "N7"
    twice = replace(plan, bars=(*plan.bars, last))
    assert any("is used 2 times" in fault for fault in faults_of(twice, pieces, rack))
    shifted = replace(last, pieces=tuple(replace(i, edge_a=(inch(20), inch(60))) for i in last.pieces))
    assert any("leave the remnant" in fault for fault in faults_of(replace(plan, bars=(shifted,)), pieces, rack))
    short = replace(rack, remnants=(replace(odd, length_nm=inch(39)),))
    assert faults_of(plan, pieces, short) != []
