"""A piece as it lies on a machine: zero at the left, the fence below; running figures from both."""

from __future__ import annotations

from service.drawings.board import DrawingBoard
from service.drawings.figures import length_figure
from service.drawings.outlines import bounding_box, box_corners
from service.drawings.piece import draw_running_figures
from service.drawings.shapes import At, Circle, Drawing, Hatch, Line, Polygon
from solver.documents.texts import say
from solver.domain.document import LyingShape
from solver.domain.lay import Lies
from solver.language import ENGLISH, Language
from solver.units import Unit


def lying_drawing(
    shape: LyingShape,
    lies: Lies,
    *,
    title: str,
    unit: Unit,
    room_pt: tuple[float, float] = (500.0, 200.0),
    language: Language = ENGLISH,
    size: float = 11.0,
) -> Drawing:
    """Return a piece as it lies, with its openings, pockets and holes at their places from zero and from the fence."""
    left, low, right, high = bounding_box(shape.outline)
    start = min(0.0, left)
    board = DrawingBoard(
        f"{title}, {say(language, 'lay_so').lower()}",
        room_pt=(max(120.0, room_pt[0] - 9 * size), max(40.0, room_pt[1] - 6 * size)),
        size_nm=(right - start, high),
        unit=unit,
    )
    reach = board.nm(6)
    board.add(Hatch(points=box_corners(start, -reach, right, 0), gap_pt=4.0), Line(a=(start, 0), b=(right, 0), style="edge"))
    board.add(Line(a=(0, -reach), b=(0, high + board.nm(8)), style="bold"))
    board.add(Polygon(points=shape.outline, style="outline"))
    for _, points in shape.cutouts:
        board.add(Polygon(points=points, style="void"))
    along = {0.0, right, *(x for _, points in shape.cutouts for x in bounding_box(points)[::2])}
    across = {0.0, high, *(y for _, points in shape.cutouts for y in bounding_box(points)[1::2])}
    for hole in shape.holes:
        if hole.kind == "pocket":
            _pocket(board, hole.x_nm, hole.y_nm, hole.size_nm / 2, inward=1 if hole.x_nm < (left + right) / 2 else -1)
            across.add(min(max(hole.y_nm, low), high))
        else:
            board.add(Circle(at=(hole.x_nm, hole.y_nm), radius_nm=max(hole.size_nm / 2, board.nm(1.5)), style="void"))
            along.add(hole.x_nm)
    heads = [x for x, _ in shape.outline]
    along |= {min(x for x in heads if x > (left + right) / 2)}
    step = 1.6 * size
    draw_running_figures(board, sorted(along), -reach, -step, size, level=True)
    if len(across) > 2 or shape.cutouts:
        draw_running_figures(board, sorted(across), start, -step, size, level=False)
    else:
        board.letter_centred((right, high / 2), length_figure(high, unit), size=size, within=(0, 0))
    return board.done()


def _pocket(board: DrawingBoard, x: float, y: float, half: float, *, inward: int) -> None:
    deep: At = (x, x + inward * board.nm(4))
    board.add(Polygon(points=box_corners(min(deep), y - half, max(deep), y + half), style="solid"))
