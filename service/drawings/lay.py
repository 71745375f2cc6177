"""Lay it so: a small drawing of how a thing lies before the operator, seen from above, and its section from the zero end."""

from __future__ import annotations

from service.drawings.board import DrawingBoard
from service.drawings.lettering import fit_size, shorten_text, text_width
from service.drawings.outlines import box_corners
from service.drawings.shapes import At, Drawing, Hatch, Line, Polygon, Polyline, Text
from solver.documents.lay_words import edge_words, end_words, up_words
from solver.documents.texts import say
from solver.domain.lay import Lies, is_panel
from solver.language import ENGLISH, Language

DEEP = 13.0  # of its section, points


def lay_drawing(lies: Lies, *, language: Language = ENGLISH, room_pt: float = 420.0, size: float = 9.0) -> Drawing:
    """Return how a thing lies: fence below, zero at the left, up in its middle; in points, true to no scale."""
    board = DrawingBoard(say(language, "lay_so"), room_pt=(room_pt, 90.0), size_nm=(room_pt, 90.0), unit="mm")
    board.scale = 1.0
    high = 4.4 * size  # room for three lines
    end = _section(board, lies, language, size)
    left, right = end + 34.0, room_pt - 6.0
    board.add(Polygon(points=box_corners(left, 0, right, high), style="outline"))
    board.add(
        Hatch(points=box_corners(left - 8, -7, right, -1.5), gap_pt=4.0),
        Line(a=(left - 8, -1.5), b=(right, -1.5), style="edge"),
    )
    board.add(Line(a=(left, -12), b=(left, high + 8), style="bold"))
    board.add(Text(at=(left, high + 11), text="0", size=size + 2, bold=True))
    middle = (left + right) / 2
    board.add(Text(at=(right, -9 - size), text=say(language, "fence_word"), size=size, anchor="end", ink="soft"))
    if lies.square:
        _letter(board, (middle, high / 2), "90°", size, right - left)
        return board.done(margin_pt=2)
    room = (right - left) * 0.94
    ends = [shorten_text(end_words(lies, language, far=far).partition(" (")[0], 8.5 * size, size) for far in (False, True)]
    taken = sum(text_width(words) for words in ends) * size + 4 * size
    up = up_words(lies, language).partition(",")[0].upper()
    _letter(
        board, (middle, high / 2), up, fit_size(up, right - left - taken, most=size + 1, least=6.5, bold=True), room, bold=True
    )
    _letter(board, (middle, 0.75 * size), edge_words(lies, language), size, room)
    _letter(board, (middle, high - 0.75 * size), edge_words(lies, language, far=True), size, room)
    down = high / 2 - 0.36 * size
    board.add(Text(at=(left + 5, down), text=ends[0], size=size, anchor="start"))
    board.add(Text(at=(right - 4, down), text=ends[1], size=size, anchor="end"))
    return board.done(margin_pt=2)


def flat_drawing(*, paint_up: bool, language: Language = ENGLISH, room_pt: float = 420.0, size: float = 9.0) -> Drawing:
    """Return how a flat strip lies: its section, the paint as a heavy line above or below it."""
    board = DrawingBoard(say(language, "lay_so"), room_pt=(room_pt, 40.0), size_nm=(room_pt, 40.0), unit="mm")
    board.scale = 1.0
    left, right, low, high = 20.0, 220.0, 4.0, 9.0
    board.add(Line(a=(left - 14, low - 3), b=(right + 14, low - 3), style="edge"))
    board.add(Polygon(points=box_corners(left, low, right, high), style="outline"))
    paint = high + 2.5 if paint_up else low - 1
    board.add(Line(a=(left, paint), b=(right, paint), style="bold"))
    word = say(language, "painted")
    board.add(Text(at=(right + 22, paint - 0.36 * size), text=word, size=size, anchor="start"))
    return board.done(margin_pt=2)


def _letter(board: DrawingBoard, at: At, text: str, size: float, room: float, *, bold: bool = False) -> None:
    kept = shorten_text(text, max(room, 40.0), size, bold=bold)
    board.add(Text(at=(at[0], at[1] - 0.36 * size), text=kept, size=size, bold=bold))


def _section(board: DrawingBoard, lies: Lies, language: Language, size: float) -> float:
    """Draw the section seen from the zero end, the fence at the right, and return where it ends."""
    wide, low = 50.0, 4.0
    high = low + DEEP
    left, right = 12.0, 12.0 + wide
    board.add(Line(a=(left - 10, low - 1.2), b=(right + 12, low - 1.2), style="edge"))
    board.add(Line(a=(right + 8.5, low - 1.2), b=(right + 8.5, high + 6), style="edge"))
    if is_panel(lies.role):
        board.add(Polygon(points=_panel(lies, left, right, low, high), style="outline"))
    elif lies.web_up is None and lies.role != "opening_channel":
        board.add(Polygon(points=box_corners(left, low, right, low + 3), style="solid"))
    else:
        board.add(Polyline(points=_channel(lies, left, right, low, high), style="bold"))
    top = high if lies.square else high + 5
    if is_panel(lies.role):
        words = say(language, lies.lay.up)
        board.add(Text(at=((left + right) / 2, top), text=shorten_text(words, wide + 30, size - 1), size=size - 1))
    return right + 12.0


def _panel(lies: Lies, left: float, right: float, low: float, high: float) -> tuple[At, ...]:
    """The section with its joints: the edge at the fence lies right, as the operator's zero end shows it."""
    third, deep = (high - low) / 3, 5.0

    def side(name: str, x: float, out: float) -> list[At]:
        if name == "tongue":
            return [(x, low), (x, low + third), (x + out, low + third), (x + out, high - third), (x, high - third), (x, high)]
        if name == "groove":
            return [(x, low), (x, low + third), (x - out, low + third), (x - out, high - third), (x, high - third), (x, high)]
        return [(x, low), (x, high)]

    return (*side(lies.at_fence, right, deep), *reversed(side(lies.far_edge, left, -deep)))


def _channel(lies: Lies, left: float, right: float, low: float, high: float) -> tuple[At, ...]:
    if lies.web_up is None:  # on a flange: web and tips at the two edges
        at_web = right if lies.at_fence == "right" else left
        tips = left if at_web == right else right
        return (tips, low), (at_web, low), (at_web, high), (tips, high)
    web, tips = (high, low) if lies.web_up else (low, high)
    return (left, tips), (left, web), (right, web), (right, tips)
