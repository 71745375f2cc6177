"""The anchor plan: walls from above, each bolt as a cross with its running figure from the corner come to first."""

from __future__ import annotations

import math
from collections.abc import Sequence

from service.drawings.board import DrawingBoard
from service.drawings.figures import length_figure
from service.drawings.outlines import bounding_box
from service.drawings.shapes import Anchor, At, Circle, Drawing, Line, Polygon, Text
from solver.documents.texts import say
from solver.domain.building import Building, Wall
from solver.domain.document import AnchorSheet, WallRun
from solver.language import ENGLISH, Language
from solver.units import Nm, Unit


def anchor_plan_drawing(
    sheet: AnchorSheet,
    *,
    unit: Unit,
    room_pt: tuple[float, float] = (520.0, 430.0),
    language: Language = ENGLISH,
    size: float = 11.0,
) -> Drawing:
    """Return walls on the slab from above with their anchors, figures from the corner that the crew comes to first."""
    title = f"{say(language, 'anchor_plan')} {sheet.building.order}"
    return walls_plan_drawing(
        sheet.building, sheet.runs, sheet.thickness_nm, title=title, unit=unit, room_pt=room_pt, language=language, size=size
    )


def walls_plan_drawing(
    building: Building,
    runs: Sequence[WallRun],
    thickness_nm: Sequence[tuple[str, Nm]],
    *,
    title: str,
    unit: Unit,
    room_pt: tuple[float, float],
    language: Language,
    size: float = 11.0,
) -> Drawing:
    """Return walls on the slab from above by name, corners, where the crew starts and which way it goes; bolts of the runs."""
    walls = {wall.id: wall for wall in building.walls if wall.on_slab}
    corners = [point for wall in walls.values() for point in (wall.a, wall.b)] or [(Nm(0), Nm(0)), (Nm(1), Nm(1))]
    left, bottom, right, top = bounding_box(corners)
    board = DrawingBoard(
        title,
        room_pt=(room_pt[0] - 15 * size, room_pt[1] - 15 * size),
        size_nm=(right - left, top - bottom),
        unit=unit,
    )
    ccw = building.direction == "ccw"
    thick = dict(thickness_nm)
    for run in runs:
        wall = walls[run.wall]
        if run.first == building.start_corner:
            _start(board, wall, say(language, "start_here", id=run.first), size, ccw=ccw)
    for run in runs:
        _wall(board, walls[run.wall], run, thick.get(walls[run.wall].family, Nm(0)), size)
    for run in runs:
        if run.first != building.start_corner:
            _corner(board, walls[run.wall], run.first, size, ccw=ccw)
    return board.done()


def _corner(board: DrawingBoard, wall: Wall, name: str, size: float, *, ccw: bool) -> None:
    """Name a corner, outside it where nothing else is lettered."""
    (ax, ay), (bx, by) = (wall.a, wall.b) if ccw else (wall.b, wall.a)
    ux, uy = (bx - ax) / wall.length_nm, (by - ay) / wall.length_nm
    out = board.nm(1.4 * size)
    side = 1 if ccw else -1
    at = (ax - ux * out + side * uy * out, ay - uy * out - side * ux * out - board.nm(0.36 * size))
    board.add_clear(Text(at=at, text=name, size=size, bold=True, ink="soft"), along=(-ux + side * uy, -uy - side * ux))


def _start(board: DrawingBoard, wall: Wall, words: str, size: float, *, ccw: bool) -> None:
    """Mark the corner where the crew starts, with an arrow the way it goes, and its words inside on a leader."""
    (ax, ay), (bx, by) = (wall.a, wall.b) if ccw else (wall.b, wall.a)
    ux, uy = (bx - ax) / wall.length_nm, (by - ay) / wall.length_nm
    inx, iny = (-uy, ux) if ccw else (uy, -ux)
    reach = board.nm(2.6 * size)
    to = (ax + (ux + inx) * reach, ay + (uy + iny) * reach)
    side: Anchor = "start" if ux + inx > 0 else "end"
    board.add(
        Circle(at=(ax, ay), radius_pt=4, style="solid"),
        Line(a=(ax, ay), b=to),
        Text(at=(to[0], to[1] - board.nm(0.36 * size)), text=words, size=size, bold=True, anchor=side),
    )
    off, long, wing = board.nm(1.4 * size), board.nm(34), board.nm(4)
    tail = (ax + inx * off + ux * 2.2 * off, ay + iny * off + uy * 2.2 * off)
    tip = (tail[0] + ux * long, tail[1] + uy * long)
    back = (tip[0] - ux * 2 * wing, tip[1] - uy * 2 * wing)
    wings = ((back[0] + inx * wing, back[1] + iny * wing), (back[0] - inx * wing, back[1] - iny * wing))
    board.add(Line(a=tail, b=tip, style="edge"), Polygon(points=(tip, *wings), style="solid"))
    board.keep_off(tail, tip)


def _wall(board: DrawingBoard, wall: Wall, run: WallRun, thick: Nm, size: float) -> None:
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
    for row in run.rows:
        one = row.anchor
        x, y = at(one.along_nm, one.across_nm)
        board.add(
            Line(a=(x - reach, y), b=(x + reach, y), style="edge"), Line(a=(x, y - reach), b=(x, y + reach), style="edge")
        )
        turn = math.radians(angle)
        foot = at(one.along_nm, -board.nm(7))
        text = Text(
            at=(foot[0] + math.sin(turn) * side, foot[1] - math.cos(turn) * side),
            text=length_figure(row.along_nm, board.unit),
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
    words = f"{wall.id}  {length_figure(wall.length_nm, board.unit)}"
    board.add_clear(Text(at=name, text=words, size=size, bold=True, angle=lie), along=(ux, uy))
