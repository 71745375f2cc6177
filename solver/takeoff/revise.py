"""What a revision of an order does to pieces that may be cut already: what is made alike keeps its mark."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from solver.domain.building import Building
from solver.domain.ids import PieceId, piece_id
from solver.domain.piece import Piece
from solver.domain.takeoff import BrokenRule, Revision, Takeoff
from solver.errors import FieldFault, InputError


@dataclass(frozen=True, slots=True, kw_only=True)
class RevisedMarks:
    """Pieces and broken rules under the marks that stay, the marks retired so far, and what became of each piece."""

    pieces: tuple[Piece, ...]
    broken: tuple[BrokenRule, ...]
    retired: tuple[str, ...]
    told: Revision


def keep_earlier_marks(
    before: Takeoff, building: Building, marked: Sequence[Piece], broken: Sequence[BrokenRule]
) -> RevisedMarks:
    """Return newly marked pieces under the marks of an earlier takeoff where they are made alike, and what became of each.

    Within a group, pieces of one shape as cut are matched by mark, then by place, then in order. All other pieces get numbers
    never used before in their group: a mark that fell away is retired for good. A takeoff of the same revision that changes
    nothing tells what the one before it told. Raises InputError when the earlier takeoff is of another order or a later
    revision.
    """
    _same_order(before, building)
    matched = _matches(before.pieces, marked)
    highest = _highest([*(piece.mark for piece in before.pieces), *before.retired])
    marks: dict[str, str] = {}
    for piece in marked:
        old = matched.get(piece.id)
        if old is None:
            highest[piece.group] = highest.get(piece.group, 0) + 1
        marks[piece.mark] = old.mark if old else f"{piece.group}-{highest[piece.group]:02}"
    pieces = tuple(replace(p, mark=marks[p.mark], id=piece_id(building.order, marks[p.mark])) for p in marked)
    gone = _gone(before.pieces, matched)
    told = _told(before, pieces, gone)
    if before.revised is not None and told.since == building.revision and told.changes_nothing:
        told = before.revised
    return RevisedMarks(
        pieces=pieces,
        broken=tuple(replace(item, where=marks.get(item.where, item.where)) for item in broken),
        retired=tuple(sorted({*before.retired, *(piece.mark for piece in gone)})),
        told=told,
    )


def _same_order(before: Takeoff, building: Building) -> None:
    earlier = before.building
    if earlier.order != building.order:
        raise InputError(FieldFault("previous", f"is of order {earlier.order!r}", f"an earlier takeoff of {building.order!r}"))
    if earlier.revision > building.revision:
        problem = f"{building.revision} is older than revision {earlier.revision}, which was taken off"
        raise InputError(FieldFault("revision", problem, f"revision {earlier.revision + 1}"))


def _gone(before: Sequence[Piece], matched: dict[PieceId, Piece]) -> list[Piece]:
    kept = {old.id for old in matched.values()}
    return [piece for piece in before if piece.id not in kept]


def _told(before: Takeoff, pieces: Sequence[Piece], gone: Sequence[Piece]) -> Revision:
    there = {piece.id for piece in before.pieces}
    fresh = [piece for piece in pieces if piece.id not in there]
    changed = {piece.id for piece in fresh if any(_same_place(piece, old) for old in gone)}
    return Revision(
        since=before.building.revision,
        kept=tuple(piece.id for piece in pieces if piece.id in there),
        changed=tuple(piece.id for piece in fresh if piece.id in changed),
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
        (piece.left, piece.right, piece.foot, piece.head, piece.foot_cuts, piece.head_cuts),
        tuple((moved(item.outline), item.field_head) for item in piece.cutouts),
        tuple((item.kind, item.along_nm, item.across_nm, item.across_size_nm) for item in piece.holes),
        tuple((item.name, item.edge, item.amount_nm) for item in piece.allowances),
        (piece.closing, piece.lip_nm, piece.hand),
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
