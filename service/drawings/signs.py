"""What the signs of a timetable mean, in a line below it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from service.drawings.lettering import text_width
from service.drawings.outlines import box_corners
from service.drawings.shapes import Hatch, Line, Polygon, Shape, Text

WIDE_PT = 18.0
SIGN_PT = 8.0  # how wide and high the sign of a move is


def sign_legend(named: Iterable[tuple[str, str]], left: float, room: float, size: float) -> Iterator[Shape]:
    """Give the signs (key and words), from `left` on below the drawing, in as many lines as the room (points) asks for."""
    x, y = left, -2.1 * size - 4
    for key, text in named:
        wide = WIDE_PT + 5 + text_width(text) * size + 16
        if x > left and x + wide > left + room:
            x, y = left, y - 1.8 * size
        yield from _sign(key, x, y)
        yield Text(at=(x + WIDE_PT + 5, y), text=text, size=size, anchor="start")
        x += wide


def _sign(key: str, x: float, y: float) -> Iterator[Shape]:
    corners = box_corners(x, y - 1, x + WIDE_PT, y + 9)
    if key == "closed":
        yield Polygon(points=corners, style="gone")
    elif key == "set_up":
        yield Hatch(points=corners, gap_pt=4.0)
    elif key == "sets":
        yield Line(a=(x, y + 4), b=(x + WIDE_PT, y + 4), style="hidden")
    elif key == "shut":
        yield Hatch(points=corners, gap_pt=7.0)
    elif key in ("quiet", "was"):
        yield Polygon(points=corners, style="quiet" if key == "quiet" else "hidden")
    elif key in ("earlier", "later", "elsewhere", "added", "gone"):
        yield from move_sign(key, x + WIDE_PT / 2, y + 4)
    elif key == "makes_late":
        yield Polygon(points=corners, style="outline")
        yield Polygon(points=corners, style="bold")
    else:
        yield Polygon(points=((x + 4, y - 1), (x + 14, y - 1), (x + 9, y + 9)), style="solid")


def move_sign(kind: str, x: float, y: float) -> Iterator[Shape]:
    """Give the sign of a move around a middle: a point to the left is earlier, to the right later, both ways up and down
    another machine, a plus new, a cross gone."""
    half = SIGN_PT / 2
    if kind in ("earlier", "later"):
        way = -half if kind == "earlier" else half
        yield Polygon(points=((x - way, y - half), (x + way, y), (x - way, y + half)), style="solid")
    elif kind == "elsewhere":
        yield Polygon(points=((x - half, y + 0.5), (x + half, y + 0.5), (x, y + half + 0.5)), style="solid")
        yield Polygon(points=((x - half, y - 0.5), (x + half, y - 0.5), (x, y - half - 0.5)), style="solid")
    else:
        turns = ((half, 0.0), (0.0, half)) if kind == "added" else ((half * 0.8, half * 0.8), (half * 0.8, -half * 0.8))
        for dx, dy in turns:
            yield Line(a=(x - dx, y - dy), b=(x + dx, y + dy), style="bold")
