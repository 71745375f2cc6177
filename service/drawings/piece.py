"""A piece on its own: as a sketch for its label, and as a piece drawing with dimensions."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from service.drawings.board import DrawingBoard
from service.drawings.cut_shape import cut_polygon, draw_set_shape, shape_words
from service.drawings.figures import length_figure
from service.drawings.lettering import text_width, wrap_text
from service.drawings.outlines import bounding_box, box_corners, vertical_span_at
from service.drawings.shapes import At, Circle, Dimension, Drawing, Line, Polygon, Text
from solver.documents.texts import say
from solver.domain.piece import Piece
from solver.language import ENGLISH, Language
from solver.units import Unit, show_angle


def piece_outline(piece: Piece) -> tuple[tuple[At, ...], tuple[tuple[At, ...], ...]]:
    """Return a piece's outline and its cutouts, foot down, lower left at zero; a linear part lies, zero end at the left."""
    if not piece.is_panel:
        low = min(piece.edge_a[0], piece.edge_b[0])
        a0, a1, b0, b1 = (value - low for value in (*piece.edge_a, *piece.edge_b))
        return ((a0, 0), (a1, 0), (b1, piece.width_nm), (b0, piece.width_nm)), ()
    left, bottom, _, _ = bounding_box(piece.outline)

    def moved(points: Sequence[At]) -> tuple[At, ...]:
        return tuple((x - left, y - bottom) for x, y in points)

    return moved(piece.outline), tuple(moved(cutout.outline) for cutout in piece.cutouts)


def piece_sketch(piece: Piece, *, room_pt: tuple[float, float], unit: Unit) -> Drawing:
    """Return a small true-scale drawing for a label: outline, openings, mitres, pockets; it lies down where it is long."""
    outline, cutouts = piece_outline(piece)
    _, _, wide, high = bounding_box(outline)
    lies = piece.is_panel and (high / max(wide, 1)) > 1.6 * room_pt[1] / room_pt[0]
    if lies:  # foot to the left
        outline = tuple((y, wide - x) for x, y in outline)
        cutouts = tuple(tuple((y, wide - x) for x, y in points) for points in cutouts)
        wide, high = high, wide
    board = DrawingBoard(piece.mark, room_pt=(room_pt[0] - 10, room_pt[1] - 10), size_nm=(wide, high), unit=unit)
    board.add(Polygon(points=outline, style="outline"))
    board.add(*(Polygon(points=points, style="void") for points in cutouts))
    if piece.is_panel:
        _mitres(board, piece, outline, lies=lies)
        _up_arrow(board, outline, lies=lies, cutouts=cutouts)
    return board.done(margin_pt=3)


def piece_drawing(
    piece: Piece, *, unit: Unit, room_pt: tuple[float, float] = (480.0, 400.0), language: Language = ENGLISH, size: float = 11.0
) -> Drawing:
    """Return a piece with dimensions that read like a shop drawing: outline, openings, edges, end cuts, pockets, holes."""
    outline, cutouts = piece_outline(piece)
    set_shape = outline
    if piece.role == "wall_panel":
        outline = cut_polygon(piece)
    left, bottom, right, top = bounding_box(outline)
    wide, high = right - left, top - bottom
    board = DrawingBoard(
        f"{piece.mark}, {say(language, piece.role)}",
        room_pt=(max(120.0, room_pt[0] - 12 * size), max(60.0, room_pt[1] - 9.5 * size)),
        size_nm=(wide, high),
        unit=unit,
    )
    board.add(Polygon(points=outline, style="outline"))
    if piece.role == "wall_panel":
        draw_set_shape(board, piece, set_shape)
    for points in cutouts:
        board.add(Polygon(points=points, style="void"))
    if piece.is_panel:
        _mitres(board, piece, outline, lies=False)
        _panel_dimensions(board, piece, outline, cutouts, size)
        _edge_words(board, piece, left + wide / 2, top, language, size, room_pt[0] - 8)
    else:
        _linear_dimensions(board, piece, outline, language, size)
    _holes(board, piece, size)
    return board.done()


def _mitres(board: DrawingBoard, piece: Piece, outline: Sequence[At], *, lies: bool) -> None:
    """Draw the hidden arris of a mitred edge, within the outline: how far the inside face ends from the outside one."""
    low, bottom, right, top = bounding_box(outline)
    wide, high = right - low, top - bottom
    across = high if lies else wide
    for edge, at_left in ((piece.left, True), (piece.right, False)):
        inset = edge.inside_nm - edge.outside_nm
        if edge.kind != "mitre" or not 0 < inset < across:
            continue
        x = inset if at_left else across - inset
        x += 0 if lies else low
        if lies:
            span = vertical_span_at([(b, a) for a, b in outline], high - x)
            ends = [(along, high - x) for along in span or ()]
        else:
            ends = [(x, along) for along in vertical_span_at(outline, x) or ()]
        if len(ends) == 2:
            board.add(Line(a=ends[0], b=ends[1], style="hidden"))


def _up_arrow(board: DrawingBoard, outline: Sequence[At], *, lies: bool, cutouts: Sequence[Sequence[At]]) -> None:
    """Draw the arrow from foot to head where nothing is cut out."""
    _, _, wide, high = bounding_box(outline)
    length = min(board.nm(26), (wide if lies else high) * 0.4)
    head = board.nm(4)

    def blocked(x: float, y: float) -> bool:
        reach = length / 2
        dx, dy = (reach, head) if lies else (head, reach)
        return any(
            b[0] < x + dx and b[2] > x - dx and b[1] < y + dy and b[3] > y - dy for b in (bounding_box(c) for c in cutouts)
        )

    places = [(wide * a, high * b) for b in (0.5, 0.3, 0.2, 0.7) for a in (0.5, 0.25, 0.75, 0.12, 0.88)]
    x, y = next((place for place in places if not blocked(*place)), places[0])
    if lies:
        tip, tail = (x + length / 2, y), (x - length / 2, y)
        wings = ((tip[0] - head, y - head), (tip[0] - head, y + head))
    else:
        tip, tail = (x, y + length / 2), (x, y - length / 2)
        wings = ((x - head, tip[1] - head), (x + head, tip[1] - head))
    board.add(Line(a=tail, b=tip, style="edge"), Polygon(points=(tip, *wings), style="solid"))


def _panel_dimensions(
    board: DrawingBoard, piece: Piece, outline: Sequence[At], cutouts: Sequence[Sequence[At]], size: float
) -> None:
    left, bottom, right, _ = bounding_box(outline)
    unit = board.unit

    def say_nm(value: float) -> str:
        return length_figure(value, unit)

    foot = [y for x, y in outline if x == left]
    head = [y for x, y in outline if x == right]
    step = 1.7 * size
    pockets = [hole.along_nm for hole in piece.holes if left < hole.along_nm < right]
    rows = sorted({left, right, *pockets, *(x for points in cutouts for x in bounding_box(points)[::2])})
    if len(rows) > 2:
        draw_running_figures(board, rows, bottom, -step, size, level=True)
    under = min((box[1] for box in board.taken), default=bottom * board.scale) - bottom * board.scale
    whole = Dimension(a=(left, bottom), b=(right, bottom), text=say_nm(right - left), offset_pt=under - step, size=size)
    board.add(replace(whole, stubs=len(rows) > 2))
    columns = sorted({bottom, max(foot), *(y for points in cutouts for y in bounding_box(points)[1::2])})
    if len(columns) > 2:
        draw_running_figures(board, columns, left, -step, size, level=False)
    beside = left * board.scale - min((box[0] for box in board.taken), default=left * board.scale)
    far = max(step, beside + 0.6 * size) if len(columns) > 2 else step
    tall = Dimension(a=(left, bottom), b=(left, max(foot)), text=say_nm(max(foot) - bottom), offset_pt=far, size=size)
    board.add(replace(tall, stubs=len(columns) > 2))
    board.add(Dimension(a=(right, bottom), b=(right, max(head)), text=say_nm(max(head) - bottom), offset_pt=-step, size=size))
    peak = max(outline, key=lambda point: point[1])
    if peak[1] > max(*foot, *head):
        level, out = (right, peak[1]), -2.9 * step
        board.add(
            Line(a=(peak[0] + board.nm(3), peak[1]), b=level),
            Dimension(a=(right, bottom), b=level, text=say_nm(peak[1] - bottom), offset_pt=out, size=size),
            Text(at=(peak[0], peak[1] + board.nm(6)), text=say_nm(peak[0] - left), size=size),
        )


def draw_running_figures(
    board: DrawingBoard, stops: Sequence[float], base: float, offset_pt: float, size: float, *, level: bool
) -> None:
    """Draw running figures from the first stop: each from zero, so that errors don't add up."""
    off = board.nm(offset_pt)
    ends = ((stops[0], base + off), (stops[-1], base + off)) if level else ((base + off, stops[0]), (base + off, stops[-1]))
    board.add(Line(a=ends[0], b=ends[1]))
    tick = board.nm(3)
    items: list[tuple[At, str]] = []
    for stop in stops:
        x, y = (stop, base + off) if level else (base + off, stop)
        board.add(Line(a=(x - tick, y - tick), b=(x + tick, y + tick), style="edge"))
        items.append(((x, y), length_figure(stop - stops[0], board.unit) if stop > stops[0] else "0"))
    if level and not _in_one_row(items, board.scale, size):
        for (x, y), text in items:  # too close to stand side by side: upright, under their ticks
            at = (x + board.nm(0.36 * size), y - board.nm(5))
            board.add_clear(Text(at=at, text=text, size=size, angle=90, anchor="end"), along=(1.0, 0.0))
    elif level:
        board.add_text_row([((x, y - board.nm(1.2 * size)), text) for (x, y), text in items], size=size, below=True)
    else:
        board.add_text_row(
            [((x - board.nm(5), y - board.nm(0.36 * size)), text) for (x, y), text in items],
            size=size,
            below=False,
            anchor="end",
        )


def _in_one_row(items: Sequence[tuple[At, str]], scale: float, size: float) -> bool:
    """Return whether figures stand side by side under their places."""
    return all((b[0][0] - a[0][0]) * scale > (text_width(a[1]) + text_width(b[1])) * size / 2 + 4 for a, b in pairwise(items))


def _edge_words(
    board: DrawingBoard, piece: Piece, middle: float, high: float, language: Language, size: float, room_pt: float
) -> None:
    words: list[str] = shape_words(piece, board.unit, language)
    for side, edge in (("left", piece.left), ("right", piece.right)):
        name = say(language, side)
        if edge.kind == "mitre":
            words.append(say(language, "mitred", side=name, angle=show_angle(edge.bevel_udeg)))
        elif edge.kind == "rip":
            words.append(say(language, "ripped", side=name))
    for end, cut in (("bottom", piece.foot), ("top", piece.head)):
        if cut.swing_udeg or cut.tilt_udeg:
            swing = f"{say(language, 'swing')} {show_angle(cut.swing_udeg)}"
            tilt = f", {say(language, 'tilt')} {show_angle(cut.tilt_udeg)}" if cut.tilt_udeg else ""
            words.append(f"{say(language, end)}: {swing}{tilt}")
    top = max([high, *(box[3] / board.scale for box in board.taken)])
    words = [line for text in words for line in wrap_text(text, room_pt, size)]  # a long one would shrink the whole drawing
    for n, word in enumerate(words):
        board.letter_centred((middle, top + board.nm(size * (1.4 * (len(words) - n) - 0.6))), word, size=size)


def _linear_dimensions(board: DrawingBoard, piece: Piece, outline: Sequence[At], language: Language, size: float) -> None:
    (a0, _), (a1, _), (b1, high), (b0, _) = outline
    low, far = min(a0, b0), max(a1, b1)

    def say_nm(value: float) -> str:
        return length_figure(value, board.unit)

    board.add(Dimension(a=(low, high), b=(far, high), text=say_nm(far - low), offset_pt=1.4 * size, size=size))
    if (a0, a1) != (b0, b1):
        board.add(Dimension(a=(a0, 0), b=(a1, 0), text=say_nm(a1 - a0), offset_pt=-1.7 * size, size=size))
    board.add(Dimension(a=(low, 0), b=(low, high), text=say_nm(high), offset_pt=1.4 * size, size=size))
    for a, b, side in ((a0, b0, -1), (a1, b1, 1)):
        if a != b:
            text = f"{abs(math.degrees(math.atan2(b - a, high))):.1f}°"
            beside = text_width(text) * size / 2 + (
                3.0 * size if side < 0 else 0.8 * size
            )  # on the left past the width's figure
            board.letter_centred(((low if side < 0 else far) + side * board.nm(beside), high / 2), text, size=size)


def _holes(board: DrawingBoard, piece: Piece, size: float) -> None:
    items: list[tuple[At, str]] = []
    for hole in piece.holes:
        if piece.is_panel:
            half = hole.across_size_nm / 2
            board.add(Polygon(points=box_corners(hole.along_nm - half, 0, hole.along_nm + half, board.nm(4)), style="solid"))
            continue
        at = (hole.along_nm, hole.across_nm)
        board.add(Circle(at=at, radius_nm=max(hole.across_size_nm / 2, board.nm(1.5)), style="void"))
        items.append(((hole.along_nm, -board.nm(3.4 * size)), length_figure(hole.along_nm, board.unit)))
    board.add_text_row(items, size=size, below=True)
