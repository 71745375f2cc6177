"""The anchor plan: walls from above, each bolt as a cross with its running figure from the corner come to first."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from service.drawings.board import DrawingBoard
from service.drawings.figures import length_figure
from service.drawings.lettering import text_width
from service.drawings.outlines import bounding_box
from service.drawings.shapes import Anchor, At, Circle, Drawing, Line, Polygon, Text
from solver.documents.texts import say
from solver.domain.building import Building, RoofPlane, Wall, point_in_space
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
        sheet.building,
        sheet.runs,
        sheet.thickness_nm,
        start=sheet.building.start_corner,
        title=title,
        unit=unit,
        room_pt=room_pt,
        language=language,
        size=size,
    )


def walls_plan_drawing(
    building: Building,
    runs: Sequence[WallRun],
    thickness_nm: Sequence[tuple[str, Nm]],
    *,
    start: str,
    title: str,
    unit: Unit,
    room_pt: tuple[float, float],
    language: Language,
    size: float = 11.0,
) -> Drawing:
    """Return the walls of some runs from above by name, corners, where the crew starts and which way it goes; bolts."""
    named = {run.wall for run in runs}
    walls = {wall.id: wall for wall in building.walls if wall.id in named}
    corners = [point for wall in walls.values() for point in (wall.a, wall.b)] or [(Nm(0), Nm(0)), (Nm(1), Nm(1))]
    left, bottom, right, top = bounding_box(corners)
    beside = (15 if any(run.rows for run in runs) else 8) * size  # what figures of bolts, or corners and names, take
    board = DrawingBoard(
        title,
        room_pt=(room_pt[0] - beside, room_pt[1] - beside),
        size_nm=(right - left, top - bottom),
        unit=unit,
    )
    ccw = building.direction == "ccw"
    thick = dict(thickness_nm)
    for run in runs:
        wall = walls[run.wall]
        if run.first == start:
            _start(board, wall, say(language, "start_here", id=run.first), size, ccw=ccw)
    for run in sorted(runs, key=lambda run: -run.length_nm):  # what has least room is lettered last, clear of the others
        _wall(board, walls[run.wall], run, thick.get(walls[run.wall].family, Nm(0)), size)
    for run in runs:
        if run.first != start:
            _corner(board, walls[run.wall], run.first, size, ccw=ccw)
    return board.done()


def roof_plan(building: Building, *, title: str, unit: Unit, room_pt: tuple[float, float], size: float = 11.0) -> Drawing:
    """Return the roof planes from above, by name and pitch, an arrow downhill on each; walls under them dashed."""
    planes = [(plane, [point_in_space(plane, x, y)[:2] for x, y in plane.outline]) for plane in building.roof]
    left, bottom, right, top = bounding_box([at for _, points in planes for at in points])
    board = DrawingBoard(
        title, room_pt=(room_pt[0] - 4 * size, room_pt[1] - 4 * size), size_nm=(right - left, top - bottom), unit=unit
    )
    board.add(*(Polygon(points=tuple(points), style="outline") for _, points in planes))
    board.add(*(Line(a=wall.a, b=wall.b, style="hidden") for wall in building.walls if wall.under_roof))
    board.set_body((left, bottom, right, top))
    for plane, points in planes:
        _plane(board, plane, points, size)
    return board.done()


def _plane(board: DrawingBoard, plane: RoofPlane, points: Sequence[At], size: float) -> None:
    """Letter a plane's name and pitch where it is widest, led out of it where it is too small, and an arrow downhill."""
    at, clear = _widest(points)
    words = "  ".join(filter(None, (plane.id, plane.pitch_shown.replace(" deg", "°"))))
    half = board.nm(text_width(words, bold=True) * size / 2 + 2)
    fits = all(_inside(points, (at[0] + dx * half, at[1] + dy * board.nm(0.6 * size))) for dx in (-1, 1) for dy in (-1, 1))
    high = board.nm(0.8 * size)
    (ax, ay), (bx, by) = plane.a, plane.b
    long = math.hypot(bx - ax, by - ay)
    down = ((by - ay) / long, (ax - bx) / long)
    off = (abs(down[0]) * half + abs(down[1]) * high) * fits + board.nm(2)
    tail = (at[0] + down[0] * off, at[1] + down[1] * off)
    reach = min(board.nm(22), max(clear - off, board.nm(10)))
    tip = (tail[0] + down[0] * reach, tail[1] + down[1] * reach)
    wing = board.nm(3)
    back = (tip[0] - down[0] * 2 * wing, tip[1] - down[1] * 2 * wing)
    wings = ((back[0] - down[1] * wing, back[1] + down[0] * wing), (back[0] + down[1] * wing, back[1] - down[0] * wing))
    board.add(Line(a=tail, b=tip), Polygon(points=(tip, *wings), style="solid"))
    board.letter_centred(at, words, size=size, within=(2 * half * board.scale, 2 * size) if fits else (0, 0), bold=True)


def _widest(points: Sequence[At], steps: int = 24) -> tuple[At, float]:
    """Return the place of a grid inside an outline that is farthest from its edges, and how far; a corner where none is."""
    left, bottom, right, top = bounding_box(points)
    best, most = points[0], 0.0
    for n in range(1, steps):
        for m in range(1, steps):
            at = (left + (right - left) * n / steps, bottom + (top - bottom) * m / steps)
            if _inside(points, at):
                clear = min(_apart(at, a, b) for a, b in pairwise([*points, points[0]]))
                middle = math.dist(at, ((left + right) / 2, (bottom + top) / 2))
                if clear - 0.01 * middle > most:
                    best, most = at, clear - 0.01 * middle
    return best, most


def _inside(points: Sequence[At], at: At) -> bool:
    """Return whether a place is within an outline, by how often a ray to the right crosses it."""
    crossed = False
    for (ax, ay), (bx, by) in pairwise([*points, points[0]]):
        if (ay > at[1]) != (by > at[1]) and at[0] < ax + (at[1] - ay) / (by - ay) * (bx - ax):
            crossed = not crossed
    return crossed


def _apart(at: At, a: At, b: At) -> float:
    """Return how far a place is from a straight line between two others."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    share = ((at[0] - a[0]) * dx + (at[1] - a[1]) * dy) / ((dx * dx + dy * dy) or 1.0)
    share = min(1.0, max(0.0, share))
    return math.dist(at, (a[0] + share * dx, a[1] + share * dy))


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
    words = f"{wall.id}  {length_figure(wall.length_nm, board.unit)}"
    if not run.rows:  # a key plan: a short wall's name alone, or led out of it
        room = wall.length_nm - 2 * board.nm(1.4 * size)
        words = words if board.nm(text_width(words, bold=True) * size) <= room else wall.id
        if board.nm(text_width(words, bold=True) * size) > room:
            board.letter_centred(at(wall.length_nm / 2, thick / 2), words, size=size, within=(0, 0), bold=True)
            return
    foot = at(wall.length_nm / 2, thick + board.nm(1.1 * size))
    name = (foot[0] + math.sin(turn) * side, foot[1] - math.cos(turn) * side)
    board.add_clear(Text(at=name, text=words, size=size, bold=True, angle=lie), along=(ux, uy))
