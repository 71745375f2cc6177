"""Elevation of a wall and a roof plane square to itself: panels, marks in tags, openings, dimensions, a scale."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise

from service.drawings.board import DrawingBoard
from service.drawings.expand_shapes import tag_size
from service.drawings.figures import length_figure
from service.drawings.lettering import shorten_text
from service.drawings.lettering import text_width as lettering_width
from service.drawings.outlines import bounding_box, opening_outline, vertical_span_at
from service.drawings.shapes import Anchor, At, Dimension, Drawing, Line, Polygon, Polyline, Style, Tag, Text
from solver.documents.texts import say
from solver.domain.building import Opening, RoofPlane, Wall
from solver.domain.piece import Piece
from solver.language import ENGLISH, Language
from solver.units import Unit

SHEET_PT = (700.0, 330.0)
MOST_PANELS, STRIP_PANELS = 16, 12  # side by side in one drawing; in each strip of a longer wall
MOST_LETTERS = 12.0  # width of a name in a drawing, in sizes; the tables say it in full


def elevation_drawing(
    wall: Wall,
    pieces: Sequence[Piece],
    *,
    unit: Unit,
    room_pt: tuple[float, float] = SHEET_PT,
    language: Language = ENGLISH,
    size: float = 11.0,
    gone: frozenset[str] = frozenset(),
    between: tuple[float, float] | None = None,
) -> Drawing:
    """Return a wall seen from outside, panels left to right; `gone` names pieces that stand already.

    `between` are two places along the wall: only what lies between them is drawn, as a strip of a long wall.
    """
    start, end = between or (0.0, float(wall.length_nm))
    outline: tuple[At, ...] = ((0, 0), (wall.length_nm, 0), *reversed(wall.top))
    left, right = (max(vertical_span_at(outline, u) or (0.0, 0.0)) for u in (start, end))
    high = max([left, right, *(z for u, z in wall.top if start <= u <= end)])
    title = say(language, "elevation", group=wall.id)
    if between:
        title += f", {say(language, 'strip', start=length_figure(start, unit) if start else '0', end=length_figure(end, unit))}"
    board = DrawingBoard(title, room_pt=_less(room_pt, size), size_nm=(end - start, high), unit=unit)
    panels = [piece for piece in pieces if piece.group == wall.id and piece.role == "wall_panel"]
    panels = [piece for piece in panels if start <= sum(bounding_box(piece.outline)[::2]) / 2 <= end]
    _widths(board, panels, size=size, wall_nm=None, span=(start, end))
    board.add(Dimension(a=(start, 0), b=(start, left), text=length_figure(left, unit), offset_pt=14 + size, size=size))
    board.add(Dimension(a=(end, 0), b=(end, right), text=length_figure(right, unit), offset_pt=-14 - size, size=size))
    peak_u, peak_z = max(wall.top, key=lambda point: point[1])
    if peak_z > max(left, right) and start < peak_u < end:
        _peak(board, peak_u, peak_z, size)
    for x, corner, side in ((0, wall.left, -1), (wall.length_nm, wall.right, 1)):
        if start <= x <= end:
            at = (x + side * board.nm(4), -board.nm(size * 1.1))
            anchor: Anchor = "end" if side < 0 else "start"
            name = shorten_text(say(language, "corner", id=corner.id), MOST_LETTERS * size, size)
            board.add(Text(at=at, text=name, size=size, ink="soft", anchor=anchor))
    board.set_body((start, 0.0, end, high))
    openings = [opening for opening in wall.openings if start <= (opening.u0_nm + opening.u1_nm) / 2 <= end]
    _face(board, outline, panels, openings, size=size, gone=gone)
    return board.done()


def elevation_strips(wall: Wall, pieces: Sequence[Piece]) -> list[tuple[float, float]]:
    """Return where a long wall is parted so that its marks can be read: at joints, none where it fits one drawing."""
    panels = [piece for piece in pieces if piece.group == wall.id and piece.role == "wall_panel"]
    joints = sorted({bounding_box(piece.outline)[0] for piece in panels})
    if len(joints) <= MOST_PANELS:
        return []
    count = -(-len(joints) // STRIP_PANELS)
    cuts = [0.0, *(joints[len(joints) * n // count] for n in range(1, count)), float(wall.length_nm)]
    return list(pairwise(cuts))


def roof_plane_drawing(
    plane: RoofPlane,
    pieces: Sequence[Piece],
    *,
    unit: Unit,
    room_pt: tuple[float, float] = SHEET_PT,
    language: Language = ENGLISH,
    size: float = 11.0,
    gone: frozenset[str] = frozenset(),
) -> Drawing:
    """Return a roof plane square to its plane, eave down, seen from outside."""
    left, bottom, right, top = bounding_box(plane.outline)
    board = DrawingBoard(
        say(language, "plane_view", group=plane.id, pitch=plane.pitch_shown),
        room_pt=_less(room_pt, size),
        size_nm=(right - left, top - bottom),
        unit=unit,
    )
    panels = [piece for piece in pieces if piece.group == plane.id and piece.role == "roof_panel"]
    board.add(
        Dimension(
            a=(left, bottom),
            b=(left, top),
            text=length_figure(top - bottom, unit),
            offset_pt=14 + size,
            size=size,
        )
    )
    _widths(board, panels, size=size, wall_nm=None, base=bottom, span=(left, right))
    _edge_names(board, plane, language, size)
    board.set_body((left, bottom, right, top))
    _face(board, plane.outline, panels, plane.openings, size=size, gone=gone)
    if bottom < 0 < top:
        at = (right + board.nm(5), -board.nm(0.36 * size))
        board.add(
            Line(a=(left, 0), b=(right, 0), style="hidden"),
            Text(at=at, text=say(language, "wall_line"), size=size, ink="soft", anchor="start"),
        )
    return board.done()


def _less(room_pt: tuple[float, float], size: float) -> tuple[float, float]:
    """Return the room left for the thing itself beside dimensions, scale and corner names."""
    return room_pt[0] - 9 * size, room_pt[1] - 9 * size


def _face(
    board: DrawingBoard,
    outline: Sequence[At],
    panels: Sequence[Piece],
    openings: Sequence[Opening],
    *,
    size: float,
    gone: frozenset[str],
) -> None:
    for piece in panels:
        style: Style = "gone" if piece.id in gone else "outline"
        board.group(piece.id, [Polygon(points=piece.outline, style=style)], title=piece.mark)
    if not panels:
        board.add(Polygon(points=tuple(outline), style="outline"))
    for opening in openings:
        points = opening_outline(opening)
        board.group(opening.id, [Polygon(points=points, style="void"), *_cross(opening, board, size)], title=opening.id)
    for piece in panels:
        _mark(board, piece, openings, size, soft=piece.id in gone)
    for opening in openings:
        _opening_words(board, opening, size)


def _cross(opening: Opening, board: DrawingBoard, size: float) -> list[Line]:
    """Return the thin cross that says: nothing here; broken where its name and size are lettered."""
    if opening.kind == "door" or opening.head is not None:
        return []
    left, bottom, right, top = opening.u0_nm, opening.z0_nm, opening.u1_nm, opening.z1_nm
    lines = _words_inside(opening, board, size) or []
    wide = max((lettering_width(line, bold=n == 0) * size + 6 for n, line in enumerate(lines)), default=0.0) / board.scale
    high = (len(lines) * 1.25 * size + 4) / board.scale if lines else 0.0
    part = 0.5 - 0.5 * min(1.0, wide / (right - left), high / (top - bottom))  # of a diagonal, from its corner
    ends = (((left, bottom), (right, top)), ((right, top), (left, bottom)), ((left, top), (right, bottom)))
    return [
        Line(a=a, b=(a[0] + (b[0] - a[0]) * part, a[1] + (b[1] - a[1]) * part), style="hidden")
        for a, b in (*ends, (ends[2][1], ends[2][0]))
    ]


def _words_inside(opening: Opening, board: DrawingBoard, size: float) -> list[str] | None:
    """Return the lines that are lettered in an opening: its name and size; nothing where they don't fit."""
    width, height = opening.u1_nm - opening.u0_nm, opening.z1_nm - opening.z0_nm
    room = width * board.scale - 4
    wide, high = length_figure(width, board.unit), length_figure(height, board.unit)
    name = shorten_text(opening.id, MOST_LETTERS * size, size)
    lines = [name, f"{wide} × {high}"]
    if lettering_width(lines[1]) * size > room:
        lines = [name, f"{wide} ×", high]
    if max(lettering_width(line) * size for line in lines) > room or len(lines) * 1.25 * size > height * board.scale:
        return None
    return lines


def _opening_words(board: DrawingBoard, opening: Opening, size: float) -> None:
    width, height = opening.u1_nm - opening.u0_nm, opening.z1_nm - opening.z0_nm
    middle, up = (opening.u0_nm + opening.u1_nm) / 2, (opening.z0_nm + opening.z1_nm) / 2
    within = (width * board.scale - 4, height * board.scale)
    lines = _words_inside(opening, board, size)
    if lines is None:
        name = shorten_text(opening.id, MOST_LETTERS * size, size)
        words = f"{name}: {length_figure(width, board.unit)} × {length_figure(height, board.unit)}"
        board.letter_centred((middle, up), words, size=size, within=within)
        return
    for n, line in enumerate(lines):
        at = (middle, up + board.nm(size * 1.25 * ((len(lines) - 1) / 2 - n)))
        board.letter_centred(at, line, size=size, within=within, bold=n == 0)


def _mark(board: DrawingBoard, piece: Piece, openings: Sequence[Opening], size: float, *, soft: bool) -> None:
    """Set a panel's tag where its own material is, upright, else turned; where it fits nowhere, outside on a leader."""
    mark = shorten_text(piece.mark, MOST_LETTERS * size, size, bold=True)
    tag = Tag(at=(0, 0), mark=mark, second=str(piece.stands), size=size)
    for angle in (0, 90):
        wide, high = (board.nm(side + 4) for side in tag_size(tag)[:: 1 if angle == 0 else -1])
        for place in _places(piece, wide, high):
            if _on_material(piece, openings, place, wide, high) and board.tag_at(
                place, mark, second=str(piece.stands), size=size, angle=angle, ink="soft" if soft else "ink"
            ):
                return
    at = next((place for place in _places(piece, 0, 0) if _on_material(piece, openings, place, 1, 1)), None)
    left, bottom, right, top = bounding_box(piece.outline)
    start = at or ((left + right) / 2, (bottom + top) / 2)
    board.tag(start, mark, size=size, within=(0, 0), second=str(piece.stands), ink="soft" if soft else "ink")


def _places(piece: Piece, wide: float, high: float) -> Iterator[At]:
    """Yield places for a tag of that size on a panel, the middle first; near the edges it just fits."""
    left, _, right, _ = bounding_box(piece.outline)
    span_x = max(right - left - wide, 0)
    for across in (0.5, 0.0, 1.0, 0.25, 0.75):
        x = left + wide / 2 + span_x * across
        span = vertical_span_at(piece.outline, x)
        if span is None:
            continue
        room = max(span[1] - span[0] - high, 0)
        for up in (0.5, 0.62, 0.38, 0.8, 0.2, 1.0, 0.0):
            yield x, span[0] + high / 2 + room * up


def _on_material(piece: Piece, openings: Sequence[Opening], at: At, wide: float, high: float) -> bool:
    left, low, right, top = at[0] - wide / 2, at[1] - high / 2, at[0] + wide / 2, at[1] + high / 2
    edges = bounding_box(piece.outline)
    if left < edges[0] - 1 or right > edges[2] + 1:
        return False
    for x in (left, at[0], right):
        span = vertical_span_at(piece.outline, min(max(x, edges[0]), edges[2]))
        if span is None or low < span[0] - 1 or top > span[1] + 1:
            return False
    return not any(o.u0_nm < right and o.u1_nm > left and o.z0_nm < top and o.z1_nm > low for o in openings)


def _widths(
    board: DrawingBoard,
    panels: Sequence[Piece],
    *,
    size: float,
    wall_nm: float | None,
    base: float = 0.0,
    span: tuple[float, float] | None = None,
) -> None:
    """Set each panel's width in a chain under the foot, the whole under it, and the scale under that."""
    left, right = span or (0.0, wall_nm or 0.0)
    chain = base - board.nm(2.2 * size)
    edges = sorted({x for piece in panels for x in bounding_box(piece.outline)[::2]})
    if len(edges) > 1:
        board.add(Line(a=(edges[0], chain), b=(edges[-1], chain)))
        tick = board.nm(3)
        for x in edges:
            board.add(Line(a=(x - tick, chain - tick), b=(x + tick, chain + tick), style="edge"))
        pairs = list(pairwise(edges))
        pairs = [(a, b) for a, b in pairs if (b - a) * board.scale > 0.5]
        figures = [(((a + b) / 2, chain - board.nm(1.15 * size)), length_figure(round(b - a), board.unit)) for a, b in pairs]
        board.add_text_row(figures, size=size, below=True)
    low = min([chain * board.scale, *(box[1] for box in board.taken)])
    whole = low / board.scale - board.nm(1.6 * size)
    board.add(
        Dimension(
            a=(left, whole), b=(right, whole), text=length_figure(round(right - left), board.unit), offset_pt=0, size=size
        )
    )
    board.draw_ruler(right - left, whole - board.nm(0.9 * size), size=size * 0.85, start_nm=left)


def _peak(board: DrawingBoard, u: float, z: float, size: float) -> None:
    text = length_figure(round(z), board.unit)
    board.add(
        Polyline(points=((u - board.nm(3), z + board.nm(9)), (u, z + board.nm(2)), (u + board.nm(3), z + board.nm(9)))),
        Text(at=(u, z + board.nm(11)), text=text, size=size),
    )


def _edge_names(board: DrawingBoard, plane: RoofPlane, language: Language, size: float) -> None:
    """Name each edge outside it, along it; the outline runs counter-clockwise."""
    for n, kind in enumerate(plane.edges):
        (ax, ay), (bx, by) = plane.outline[n], plane.outline[(n + 1) % len(plane.outline)]
        long = math.hypot(bx - ax, by - ay)
        name = say(language, "edge_wall" if kind == "wall" else kind)
        if lettering_width(name) * size > long * board.scale:
            continue
        angle = round(math.degrees(math.atan2(by - ay, bx - ax)))
        upside = angle > 90 or angle <= -90
        angle = angle + (180 if angle <= -90 else -180) if upside else angle
        away = board.nm(size * (0.4 if upside else 1.15))
        at = ((ax + bx) / 2 + (by - ay) / long * away, (ay + by) / 2 - (bx - ax) / long * away)
        board.add_clear(Text(at=at, text=name, size=size, ink="soft", angle=angle), along=((bx - ax) / long, (by - ay) / long))
