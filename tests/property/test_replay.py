"""The sheets of random buildings, replayed on marked blanks: each piece comes out as it must stand, on the right hand.

`tests.bench replay` does the same for 2,000 buildings. What is broken on purpose here must be noticed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache

import pytest

from service.catalog import read_plant
from solver.documents.index import PlanIndex
from solver.domain.document import RipRow, SawBar, ShapeRow
from solver.domain.lay import OTHER_FACE, Lay, Lies
from solver.domain.piece import Piece
from solver.domain.plant import Plant
from solver.errors import InputError, NoPlan
from solver.units import MicroDeg
from tests.replay.compare import Paper, differences
from tests.replay.plans import random_plan, random_plant, turned
from tests.replay.table import Body, Lying, Mirror

SEEDS = (0, 1, 3, 4, 5, 8, 13, 20, 22, 23, 48, 174, 318)


@dataclass(frozen=True)
class Case:
    paper: Paper
    pieces: tuple[Piece, ...]
    plant: Plant
    index: PlanIndex


@cache
def case(seed: int) -> Case | None:
    plant = random_plant(read_plant(), seed)
    try:
        index = random_plan(seed, plant)
    except (InputError, NoPlan):
        return None
    index = turned(index, seed) if seed % 2 else index
    return Case(Paper.of(index), tuple(index.pieces.values()), plant, index)


def cases() -> list[Case]:
    return [found for seed in SEEDS if (found := case(seed)) is not None]


@pytest.mark.parametrize("seed", SEEDS)
def test_the_paper_of_a_random_building_makes_its_pieces_in_space(seed: int) -> None:
    found = case(seed)
    if found is not None:
        assert list(differences(found.paper, found.pieces, found.plant)) == []


def test_the_sample_has_what_is_to_be_proved() -> None:
    turns, ways, lays, edges = set(), set(), set(), set()
    tilts = peaks = 0
    for one in cases():
        edges |= {family.edges for family in one.plant.families}
        slots = [slot for cut in one.index.plan.cuts for bar in cut.bars for slot in bar.pieces]
        turns |= {slot.turn for slot in slots}
        ways |= {slot.way for slot in slots}
        lays |= {(bar.lies.lay, bar.panel) for bar in one.paper.bars}
        tilts += sum(1 for bar in one.paper.bars for cut in bar.cuts if cut.tilt_udeg)
        peaks += sum(1 for bar in one.paper.bars for piece in bar.pieces if piece.seconds)
    assert turns == {"as_is", "end_for_end", "over", "over_end"}
    assert {"whole", "left_rip", "right_rip"} <= ways
    assert len(lays) == 4  # both faces up at the panel saw, both edges at the fence of the trim saw
    assert edges == {"tongue_groove", "half_lap", "spline", "plain"}
    assert tilts > 20
    assert peaks > 20


def test_the_blank_of_a_foot_with_knees_reaches_from_its_lowest_knee() -> None:
    """A roof panel in a valley and a hip: its foot's middle lies lower than both its edges; the blank was 12 in too short."""
    found = case(174)
    assert found is not None
    knees = [piece for piece in found.pieces if piece.is_panel and len(piece.foot_cuts) > 2]
    assert knees
    for piece in knees:
        assert piece.length_nm == max(piece.edge_a[1], piece.edge_b[1], piece.peak_nm or 0)
        assert min(piece.edge_a[0], piece.edge_b[0]) > 0


def test_a_body_cannot_be_laid_as_its_mirror_image() -> None:
    with pytest.raises(Mirror):
        Lying(Body(1.0, 1.0), near_is_left=True, outside_up=True, foot_at_zero=True)


def flipped(lies: Lies) -> Lies:
    """Another face up, so another edge at the fence: what can be laid, and is wrong."""
    return replace(lies, lay=Lay.of(OTHER_FACE[lies.lay.up], zero=lies.lay.zero))


def other_end(lies: Lies) -> Lies:
    return replace(lies, lay=Lay.of(lies.lay.up, zero="head" if lies.lay.zero == "foot" else "foot"))


Bars = Callable[[SawBar], SawBar]
IN_BARS: dict[str, Bars] = {
    "face": lambda bar: replace(
        bar, lies=flipped(bar.lies), pieces=tuple(replace(p, lies=flipped(p.lies)) for p in bar.pieces)
    ),
    "face of pieces": lambda bar: replace(bar, pieces=tuple(replace(p, lies=flipped(p.lies)) for p in bar.pieces)),
    "end of pieces": lambda bar: replace(bar, pieces=tuple(replace(p, lies=other_end(p.lies)) for p in bar.pieces)),
    "edge": lambda bar: replace(
        bar,
        cuts=tuple(replace(c, near_nm=c.far_nm, far_nm=c.near_nm, lean_udeg=MicroDeg(-c.lean_udeg)) for c in bar.cuts),
    ),
    "swing": lambda bar: replace(bar, cuts=tuple(replace(c, lean_udeg=MicroDeg(-c.lean_udeg)) for c in bar.cuts)),
    "tilt": lambda bar: replace(bar, cuts=tuple(replace(c, long_up=not c.long_up) for c in bar.cuts)),
    "face of figures": lambda bar: replace(bar, cuts=tuple(replace(c, on_upper=not c.on_upper) for c in bar.cuts)),
    "one cut for two": lambda bar: replace(bar, cuts=tuple(c for c in bar.cuts if c.kind != "start")),
    "second cuts": lambda bar: replace(
        bar,
        pieces=tuple(
            replace(p, seconds=tuple(replace(c, near_nm=c.far_nm, far_nm=c.near_nm) for c in p.seconds)) for p in bar.pieces
        ),
    ),
    "tilt of second cuts": lambda bar: replace(
        bar, pieces=tuple(replace(p, seconds=tuple(replace(c, long_up=not c.long_up) for c in p.seconds)) for p in bar.pieces)
    ),
    "no second cuts": lambda bar: replace(bar, pieces=tuple(replace(p, seconds=()) for p in bar.pieces)),
}
IN_RIPS: dict[str, Callable[[RipRow], RipRow]] = {
    "tilt of a bevel": lambda row: replace(row, upper_nm=row.lower_nm, lower_nm=row.upper_nm),
    "face of a bevel": lambda row: replace(
        row, lies=replace(row.lies, lay=Lay.along(OTHER_FACE[row.lies.lay.up], fence=row.lies.lay.fence))
    ),
    "edge of a bevel": lambda row: replace(row, lies=flipped(row.lies)),
}


def other_lies(row: ShapeRow) -> ShapeRow:
    assert row.lies is not None
    return replace(row, lies=flipped(row.lies))


def mirrored(row: ShapeRow) -> ShapeRow:
    assert row.shape is not None
    high = max(y for _, y in row.shape.outline)
    cutouts = tuple((name, tuple((x, type(y)(high - y)) for x, y in points)) for name, points in row.shape.cutouts)
    return replace(row, shape=replace(row.shape, cutouts=cutouts))


def upside_down(row: ShapeRow) -> ShapeRow:
    assert row.shape is not None
    deep = row.pieces[0].thickness_nm
    holes = tuple(
        replace(hole, down_nm=type(hole.down_nm)(deep - hole.down_nm - 25_400_000), y_nm=type(hole.y_nm)(hole.y_nm + 1_000_000))
        for hole in row.shape.holes
    )
    return replace(row, shape=replace(row.shape, holes=holes))


IN_SHAPES: dict[str, Callable[[ShapeRow], ShapeRow]] = {
    "face at the router": other_lies,
    "openings mirrored": mirrored,
    "pockets and holes": upside_down,
}


def noticed(spoil: Callable[[Paper], Paper]) -> bool:
    return any(next(differences(spoil(one.paper), one.pieces, one.plant), None) is not None for one in cases())


@pytest.mark.parametrize("what", IN_BARS)
def test_a_saw_sheet_broken_on_purpose_is_noticed(what: str) -> None:
    spoil = IN_BARS[what]
    assert noticed(lambda paper: replace(paper, bars=tuple(map(spoil, paper.bars))))


@pytest.mark.parametrize("what", IN_RIPS)
def test_a_bevel_sheet_broken_on_purpose_is_noticed(what: str) -> None:
    spoil = IN_RIPS[what]
    assert noticed(lambda paper: replace(paper, rips=tuple(map(spoil, paper.rips))))


@pytest.mark.parametrize("what", IN_SHAPES)
def test_a_router_or_drill_sheet_broken_on_purpose_is_noticed(what: str) -> None:
    spoil = IN_SHAPES[what]
    assert noticed(lambda paper: replace(paper, shapes=tuple(map(spoil, paper.shapes))))


def test_a_piece_that_no_sheet_makes_is_noticed() -> None:
    assert noticed(lambda paper: replace(paper, bars=paper.bars[1:]))
