"""The anchor plan: walls from above, each bolt as a cross with its running figure from the wall's left corner."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from service.drawings.board import Board
from service.drawings.figures import figure
from service.drawings.outlines import bounds
from service.drawings.shapes import Anchor, At, Circle, Drawing, Line, Text
from solver.documents.texts import Language, say
from solver.domain.building import Building, Wall
from solver.domain.takeoff import Anchor as Bolt
from solver.units import Nm, Unit


def anchor_plan(
    building: Building,
    anchors: Sequence[Bolt],
    *,
    thickness_nm: Mapping[str, Nm],
    unit: Unit,
    room_pt: tuple[float, float] = (520.0, 430.0),
    language: Language = "en",
    size: float = 11.0,
) -> Drawing:
    """Return walls on the slab from above with their anchors; `thickness_nm` by family id."""
    walls = [wall for wall in building.walls if wall.on_slab]
    corners = [point for wall in walls for point in (wall.a, wall.b)] or [(Nm(0), Nm(0)), (Nm(1), Nm(1))]
    left, bottom, right, top = bounds(corners)
    board = Board(
        f"{say(language, 'anchor_plan')} {building.order}",
        room_pt=(room_pt[0] - 15 * size, room_pt[1] - 15 * size),
        size_nm=(right - left, top - bottom),
        unit=unit,
    )
    for wall in walls:
        if wall.left.id == building.start_corner:
            board.add(Circle(at=wall.a, radius_pt=4, style="solid"))
            _start(board, wall, say(language, "start_here", id=wall.left.id), size)
    for wall in walls:
        _wall(board, wall, [one for one in anchors if one.wall == wall.id], thickness_nm.get(wall.family, Nm(0)), size)
    return board.done()


def _start(board: Board, wall: Wall, words: str, size: float) -> None:
    """Set the words inside the corner where the crew starts, on a leader."""
    (ax, ay), (bx, by) = wall.a, wall.b
    ux, uy = (bx - ax) / wall.length_nm, (by - ay) / wall.length_nm
    reach = board.nm(2.6 * size)
    to = (ax + (ux - uy) * reach, ay + (uy + ux) * reach)
    side: Anchor = "start" if ux - uy > 0 else "end"
    board.add(
        Line(a=wall.a, b=to), Text(at=(to[0], to[1] - board.nm(0.36 * size)), text=words, size=size, bold=True, anchor=side)
    )


def _wall(board: Board, wall: Wall, anchors: Sequence[Bolt], thick: Nm, size: float) -> None:
    (ax, ay), (bx, by) = wall.a, wall.b
    ux, uy = (bx - ax) / wall.length_nm, (by - ay) / wall.length_nm
    inx, iny = -uy, ux  # inward: the outline runs counter-clockwise

    def at(along: float, across: float) -> At:
        return ax + ux * along + inx * across, ay + uy * along + iny * across

    board.add(Line(a=wall.a, b=wall.b, style="edge"), Line(a=at(0, thick), b=at(wall.length_nm, thick)))
    angle = round(math.degrees(math.atan2(iny, inx)))
    flip = angle > 90 or angle <= -90
    angle = angle - 180 if angle > 90 else angle + 180 if angle <= -90 else angle
    reach = board.nm(4)
    side = board.nm(0.36 * size)
    for one in sorted(anchors, key=lambda anchor: anchor.along_nm):
        x, y = at(one.along_nm, one.across_nm)
        board.add(
            Line(a=(x - reach, y), b=(x + reach, y), style="edge"), Line(a=(x, y - reach), b=(x, y + reach), style="edge")
        )
        turn = math.radians(angle)
        foot = at(one.along_nm, -board.nm(7))
        text = Text(
            at=(foot[0] + math.sin(turn) * side, foot[1] - math.cos(turn) * side),
            text=figure(one.along_nm, board.unit),
            size=size,
            angle=angle,
            anchor="start" if flip else "end",
        )
        board.add_clear(text, along=(ux, uy))
    lie = round(math.degrees(math.atan2(uy, ux)))
    lie = lie - 180 if lie > 90 else lie + 180 if lie <= -90 else lie
    turn = math.radians(lie)
    foot = at(wall.length_nm / 2, thick + board.nm(1.1 * size))
    name = (foot[0] + math.sin(turn) * side, foot[1] - math.cos(turn) * side)
    words = f"{wall.id}  {figure(wall.length_nm, board.unit)}"
    board.add_clear(Text(at=name, text=words, size=size, bold=True, angle=lie), along=(ux, uy))
