"""A plan's paper replayed piece by piece, and every difference from what the pieces must be."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from solver.documents.index import PlanIndex
from solver.documents.machines import drill_shapes, rip_rows, router_shapes
from solver.documents.saw import saw_sheets
from solver.domain.document import RipRow, SawBar, ShapeRow
from solver.domain.piece import Piece
from solver.domain.plant import Plant
from tests.replay import wanted
from tests.replay.making import Made, Stock, make
from tests.replay.table import Mirror


@dataclass(frozen=True)
class Paper:
    """The rows that a plan's sheets are printed from."""

    bars: tuple[SawBar, ...]
    rips: tuple[RipRow, ...]
    shapes: tuple[ShapeRow, ...]

    @staticmethod
    def of(index: PlanIndex) -> Paper:
        bars = tuple(bar for sheet in saw_sheets(index) for bar in sheet.bars)
        return Paper(bars, rip_rows(index), (*router_shapes(index), *drill_shapes(index)))


@dataclass(frozen=True)
class Difference:
    """Where the replay and the piece differ."""

    piece: str
    what: str


def stock_of(material: str, plant: Plant, bar: SawBar, slack: float = 0.0) -> Stock:
    """What the catalog says of the bar that is pulled."""
    name, *colours = material.split("|")
    if bar.panel:
        family = plant.family(name)
        pair = (colours[0], colours[1]) if family.faces_alike else (f"{colours[0]} outside", f"{colours[1]} inside")
        return Stock(
            float(family.cover_nm),
            float(family.thickness_nm),
            family.edges,
            family.joint_centred,
            float(plant.saw.kerf_nm),
            pair,
            slack,
        )
    profile = plant.profile(name)
    deep = float(profile.flange_nm or 25_400_000)
    return Stock(float(bar.width_nm), deep, "plain", True, float(plant.trim_saw.kerf_nm), ("", ""))


def differences(paper: Paper, pieces: Sequence[Piece], plant: Plant, *, slack: float = 0.0) -> Iterator[Difference]:
    """Yield what comes out otherwise than it must, and pieces that the paper makes not at all, or twice.

    `slack`: how much further beside a face places are compared, where figures were rounded for paper.
    """
    rips: dict[str, list[RipRow]] = defaultdict(list)
    for row in paper.rips:
        rips[row.piece].append(row)
    shapes: dict[str, list[ShapeRow]] = defaultdict(list)
    for shape in paper.shapes:
        for piece in shape.pieces:
            shapes[piece.id].append(shape)
    left: dict[str, Piece] = {piece.id: piece for piece in pieces}
    wide = {str(piece.id): float(piece.width_nm) for piece in pieces if not piece.is_panel}
    for bar in paper.bars:
        stock = stock_of(bar.bar.material, plant, bar, slack)
        try:
            for made in make(bar, stock, rips, shapes, wide):
                if made.name not in left:
                    yield Difference(made.name, "made twice, or wanted by nobody")
                else:
                    yield from _differs(made, left.pop(made.name), stock)
        except AssertionError as error:
            kind = "mirror image" if isinstance(error, Mirror) else "says two things"
            yield Difference(str(bar.bar.id), f"{kind}: {error}")
            for item in bar.pieces:
                if item.piece in left:
                    del left[item.piece]
    for name in left:
        yield Difference(str(name), "not made")


def _differs(made: Made, piece: Piece, stock: Stock) -> Iterator[Difference]:
    places = wanted.places(piece, stock.thick, stock.slack)
    got, want = made.has(*places), wanted.has(piece, *places, stock.thick)
    wrong = (got != want).nonzero()[0]
    if len(wrong):
        u, z, d = (float(axis[wrong[0]]) / 1e6 for axis in places)
        which = "left" if got[wrong[0]] else "cut away"
        yield Difference(made.name, f"{len(wrong)} of {len(got)} places differ, {which} at u {u:.3f} z {z:.3f} d {d:.3f} mm")
    for side, edge in (("left", piece.left), ("right", piece.right)):
        if piece.is_panel and edge.kind == "joint" and side in made.joints:
            has, needs = made.joints[side]
            if has != needs:
                yield Difference(made.name, f"its {side} joint is another's")
    if piece.is_panel and made.skins != stock.colours:
        yield Difference(made.name, "its faces are the wrong way round")
    pockets, holes = wanted.wanted_holes(piece)
    for name, have, need in (("pockets", made.pockets, pockets), ("holes", made.holes, holes)):
        if len(have) != len(need) or any(
            abs(a[0] - b[0]) + abs(a[1] - b[1]) > 2_000 + stock.slack for a, b in zip(sorted(have), sorted(need), strict=True)
        ):
            yield Difference(made.name, f"{name} elsewhere")
