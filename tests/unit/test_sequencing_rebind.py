"""Alike pieces change places so that they can be stacked as they are cut; slots, rips and drops stay."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from solver.domain.cut_plan import Bar, BarPiece
from solver.domain.ids import BarId, MaterialId, PieceId, StockId
from solver.domain.piece import Piece
from solver.domain.sequence import BarBundles
from solver.sequencing.rack import rack_slots_needed
from solver.sequencing.rebind import rebind_like_pieces
from solver.units import INCH, Nm
from tests.samples import panel

LONG, SHORT = 120 * INCH, 90 * INCH


def piece(name: str, height_nm: int) -> Piece:
    return replace(panel(heights_nm=(height_nm, height_nm)), id=PieceId(name), mark=name)


def bar(n: int, *items: tuple[str, int]) -> Bar:
    at, made = 0, []
    for name, size in items:
        span = (Nm(at), Nm(at + size))
        made.append(BarPiece(piece=PieceId(name), turn="as_is", edge_a=span, edge_b=span))
        at += size + INCH
    return Bar(
        id=BarId(f"b{n}"),
        material=MaterialId("W6"),
        stock=StockId("new 24 ft"),
        length_nm=Nm(288 * INCH),
        drop_nm=Nm(0),
        pieces=tuple(made),
    )


def slots(bars: tuple[Bar, ...], stacks: Sequence[tuple[PieceId, ...]]) -> int:
    return rack_slots_needed(
        [BarBundles(id=one.id, bundles=(), pieces=tuple(p.piece for p in one.pieces)) for one in bars], stacks
    )


def names(bars: tuple[Bar, ...]) -> list[list[str]]:
    return [[item.piece for item in one.pieces] for one in bars]


STACKS = [(PieceId("A"), PieceId("B"), PieceId("C"), PieceId("D"))]
PIECES = {PieceId(name): piece(name, size) for name, size in (("A", LONG), ("B", LONG), ("C", SHORT), ("D", LONG))}
BARS = (bar(1, ("D", LONG), ("B", LONG)), bar(2, ("C", SHORT), ("A", LONG)))


def test_pieces_of_one_shape_are_bound_to_the_slots_where_they_can_be_stacked() -> None:
    made = rebind_like_pieces(BARS, STACKS, PIECES)
    assert names(made) == [["A", "B"], ["C", "D"]]
    assert (slots(BARS, STACKS), slots(made, STACKS)) == (3, 0)


def test_slots_stay_where_they_are() -> None:
    made = rebind_like_pieces(BARS, STACKS, PIECES)
    assert [[(item.turn, item.edge_a, item.edge_b) for item in one.pieces] for one in made] == [
        [(item.turn, item.edge_a, item.edge_b) for item in one.pieces] for one in BARS
    ]


def test_rips_of_a_blank_and_panels_that_give_drops_keep_their_places() -> None:
    first, second = BARS
    rips = replace(first, pieces=(replace(first.pieces[0], way="left_rip"), first.pieces[1]))
    assert names(rebind_like_pieces((rips, second), STACKS, PIECES)) == [["D", "A"], ["C", "B"]]
    fallen = replace(second.pieces[0], way="drop", host=PieceId("D"), opening="win1")
    hosting = (first, replace(second, pieces=(fallen, second.pieces[1])))
    assert names(rebind_like_pieces(hosting, STACKS, PIECES)) == [["D", "A"], ["C", "B"]]


def test_another_material_or_other_turns_are_not_alike() -> None:
    first, second = BARS
    other = replace(second, material=MaterialId("W4"))
    assert names(rebind_like_pieces((first, other), STACKS, PIECES)) == [["B", "D"], ["C", "A"]]
    turning = {**PIECES, PieceId("A"): replace(PIECES[PieceId("A")], turns=("as_is", "over_end"))}
    assert names(rebind_like_pieces(BARS, STACKS, turning)) == [["B", "D"], ["C", "A"]]
