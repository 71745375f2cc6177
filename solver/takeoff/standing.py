"""What carries what: panels over an opening that takes their whole width stand after both neighbours and the head channel.

Such a panel has nothing below it but the channel over the opening. It stands when the panels to its left and right that reach
down to the foot do, and the opening's frame between them; they may stand round a corner, where the opening turns it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Literal

from solver.domain.building import Building, Opening, Wall
from solver.domain.ids import GroupId
from solver.domain.piece import Piece
from solver.takeoff.opening_heads import plant_cut_box


def supports_first(building: Building, standing: Sequence[Piece]) -> list[Piece]:
    """Return pieces in order of standing with all that hangs over full-width openings moved after what carries it."""
    walls = {wall.id: wall for wall in building.walls}
    held: dict[GroupId, list[Piece]] = {}
    for piece in standing:
        if piece.group in walls:
            held.setdefault(piece.group, []).append(piece)
    panels = {wall: [piece for piece in pieces if piece.role == "wall_panel"] for wall, pieces in held.items()}
    place = {piece.mark: n for n, piece in enumerate(standing)}
    after: dict[int, list[tuple[int, list[Piece]]]] = {}
    for wall in building.walls:
        for opening, over in _hanging(wall, panels.get(wall.id, [])):
            bearers = _bearer(walls, panels, wall, over, "left"), _bearer(walls, panels, wall, over, "right")
            at = max(place[piece.mark] for piece in ([piece for piece in bearers if piece] or over))
            after.setdefault(at, []).append((wall.base_z_nm + opening.z1_nm, [*_frame(held[wall.id], opening), *over]))
    moved = {piece.mark for groups in after.values() for _, group in groups for piece in group}
    made: list[Piece] = []
    for n, piece in enumerate(standing):
        if piece.mark not in moved:
            made.append(piece)
        for _, group in sorted(after.get(n, []), key=lambda item: item[0]):
            made += group
    return made


def _hanging(wall: Wall, panels: Sequence[Piece]) -> list[tuple[Opening, list[Piece]]]:
    """The openings that take the whole width of panels, from below, each with the panels that stand on nothing but it."""
    upper = [piece for piece in panels if _foot(piece) > 0]
    if not upper:
        return []
    below: dict[str, Opening] = {}
    for opening in sorted(wall.openings, key=lambda item: item.z1_nm):
        box = plant_cut_box(opening)
        for piece in upper if box else ():
            u0, u1 = _span(piece)
            if box and box.u0 <= u0 and u1 <= box.u1 and box.z1 <= _foot(piece):
                below[piece.mark] = opening
    found: dict[str, list[Piece]] = {}
    for piece in upper:
        if piece.mark in below:
            found.setdefault(below[piece.mark].id, []).append(piece)
    return [(opening, found[opening.id]) for opening in wall.openings if opening.id in found]


def _frame(pieces: Sequence[Piece], opening: Opening) -> list[Piece]:
    """The channels round an opening, as they were made: sill, jambs, head."""
    u0, u1, z0, z1 = opening.u0_nm, opening.u1_nm, opening.z0_nm, opening.z1_nm
    channels = [piece for piece in pieces if piece.role == "opening_channel"]
    return [piece for piece in channels if all(u0 <= u <= u1 and z0 <= z <= z1 for u, z in piece.outline)]


def _bearer(
    walls: Mapping[GroupId, Wall],
    panels: Mapping[GroupId, Sequence[Piece]],
    wall: Wall,
    over: Sequence[Piece],
    side: Literal["left", "right"],
) -> Piece | None:
    """The panel nearest on one side of hanging ones that reaches from the wall's foot past theirs, round corners if need be."""
    level = wall.base_z_nm + min(_foot(piece) for piece in over)
    left, edge = side == "left", None
    place = min(_span(piece)[0] for piece in over) if left else max(_span(piece)[1] for piece in over)
    for _ in walls:
        reach = [
            piece
            for piece in panels.get(wall.id, ())
            if _foot(piece) == 0 and max(z for _, z in piece.outline) + wall.base_z_nm > level
        ]
        if edge is None:
            reach = [piece for piece in reach if (_span(piece)[1] <= place if left else _span(piece)[0] >= place)]
        if reach:
            return max(reach, key=lambda piece: _span(piece)[0] if left else -_span(piece)[0])
        edge = wall.left if left else wall.right
        if edge.neighbour is None or edge.neighbour not in walls:
            return None
        wall = walls[edge.neighbour]
    return None


def _span(piece: Piece) -> tuple[int, int]:
    return min(u for u, _ in piece.outline), max(u for u, _ in piece.outline)


def _foot(piece: Piece) -> int:
    return min(z for _, z in piece.outline)
