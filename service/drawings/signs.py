"""What the signs of a timetable mean, in a line below it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from service.drawings.lettering import width
from service.drawings.outlines import box
from service.drawings.shapes import Hatch, Line, Polygon, Shape, Text
from solver.documents.texts import Language
from solver.documents.why import word

WIDE_PT = 18.0


def signs(keys: Iterable[str], left: float, room: float, size: float, language: Language) -> Iterator[Shape]:
    """Give the signs with their words, from `left` on below the drawing, in as many lines as the room (points) asks for."""
    x, y = left, -2.1 * size - 4
    for key in keys:
        text = word(key, language)
        wide = WIDE_PT + 5 + width(text) * size + 16
        if x > left and x + wide > left + room:
            x, y = left, y - 1.8 * size
        yield from _sign(key, x, y)
        yield Text(at=(x + WIDE_PT + 5, y), text=text, size=size, anchor="start")
        x += wide


def _sign(key: str, x: float, y: float) -> Iterator[Shape]:
    corners = box(x, y - 1, x + WIDE_PT, y + 9)
    if key == "closed":
        yield Polygon(points=corners, style="gone")
    elif key == "set_up":
        yield Hatch(points=corners, gap_pt=4.0)
    elif key == "sets":
        yield Line(a=(x, y + 4), b=(x + WIDE_PT, y + 4), style="hidden")
    elif key == "makes_late":
        yield Polygon(points=corners, style="outline")
        yield Polygon(points=corners, style="bold")
    else:
        yield Polygon(points=((x + 4, y - 1), (x + 14, y - 1), (x + 9, y + 9)), style="solid")
