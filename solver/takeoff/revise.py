"""What a revision of an order does to pieces that may be cut already: what is made alike keeps its mark."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any

from solver.domain.ids import PieceId
from solver.domain.piece import Piece
from solver.domain.takeoff import Revision, Takeoff


def revise(before: Takeoff, after: Takeoff) -> tuple[Takeoff, Revision]:
    """Return the newer takeoff with the marks of the older one where a piece is made alike, and what became of each piece.

    Within a group, pieces of one shape as cut are matched by mark, then by place, then in order. All other pieces get numbers
    never used before in their group: a mark that fell away is retired for good.
    """
    matched = _matches(before.pieces, after.pieces)
    used = [*(piece.mark for piece in before.pieces), *before.retired]
    highest = _highest(used)
    order = after.building.order
    marks: dict[str, str] = {}
    for piece in after.pieces:
        old = matched.get(piece.id)
        if old is None:
            highest[piece.group] = highest.get(piece.group, 0) + 1
        marks[piece.mark] = old.mark if old else f"{piece.group}-{highest[piece.group]:02}"
    pieces = tuple(replace(p, mark=marks[p.mark], id=PieceId(f"{order}/{marks[p.mark]}")) for p in after.pieces)
    kept = {old.id for old in matched.values()}
    gone = [piece for piece in before.pieces if piece.id not in kept]
    fresh = [piece for piece in pieces if piece.id not in kept]
    changed = [piece.id for piece in fresh if any(_same_place(piece, old) for old in gone)]
    revised = replace(
        after,
        pieces=pieces,
        broken=tuple(replace(item, where=marks.get(item.where, item.where)) for item in after.broken),
        retired=tuple(sorted({*before.retired, *(piece.mark for piece in gone)})),
    )
    return revised, Revision(
        kept=tuple(piece.id for piece in pieces if piece.id in kept),
        changed=tuple(changed),
        new=tuple(piece.id for piece in fresh if piece.id not in changed),
        obsolete=tuple(piece.id for piece in gone),
    )


def _matches(before: Sequence[Piece], after: Sequence[Piece]) -> dict[PieceId, Piece]:
    """The older piece that each newer one is made like, by the newer one's id."""
    free: dict[Any, list[Piece]] = defaultdict(list)
    for piece in before:
        free[_shape(piece)].append(piece)
    found: dict[PieceId, Piece] = {}
    for alike in (_same_mark_and_place, _same_outline, _same_mark, lambda *_: True):
        for piece in after:
            if piece.id in found:
                continue
            candidates = free[_shape(piece)]
            old = next((item for item in candidates if alike(piece, item)), None)
            if old is not None:
                found[piece.id] = old
                candidates.remove(old)
    return found


def _shape(piece: Piece) -> tuple[Any, ...]:
    """All that the plant makes of a piece, wherever in its group it stands."""
    u0, z0 = min(point[0] for point in piece.outline), min(point[1] for point in piece.outline)

    def moved(points: Iterable[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
        return tuple((u - u0, z - z0) for u, z in points)

    return (
        piece.group,
        piece.role,
        piece.material,
        moved(piece.outline),
        (piece.edge_a, piece.edge_b, piece.peak_nm),
        (piece.left, piece.right, piece.foot, piece.head),
        tuple((moved(item.outline), item.field_head) for item in piece.cutouts),
        tuple((item.kind, item.along_nm, item.across_nm, item.across_size_nm) for item in piece.holes),
        tuple((item.name, item.edge, item.amount_nm) for item in piece.allowances),
        (piece.closing, piece.hand),
    )


def _same_mark(piece: Piece, old: Piece) -> bool:
    return piece.mark == old.mark


def _same_outline(piece: Piece, old: Piece) -> bool:
    return piece.outline == old.outline


def _same_mark_and_place(piece: Piece, old: Piece) -> bool:
    return piece.mark == old.mark and piece.outline == old.outline


def _same_place(piece: Piece, old: Piece) -> bool:
    """Whether two pieces of one role overlap where they stand."""
    if piece.group != old.group or piece.role != old.role:
        return False
    return all(
        min(point[k] for point in piece.outline) <= max(point[k] for point in old.outline)
        and min(point[k] for point in old.outline) <= max(point[k] for point in piece.outline)
        for k in (0, 1)
    )


def _highest(marks: Iterable[str]) -> dict[str, int]:
    """The highest number used in each group."""
    found: dict[str, int] = {}
    for mark in marks:
        group, _, number = mark.rpartition("-")
        found[group] = max(found.get(group, 0), int(number))
    return found
