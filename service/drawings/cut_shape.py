"""What a panel's piece drawing shows of its two shapes: as it is cut, and as it stands, with what is trimmed between them."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from service.drawings.board import DrawingBoard
from service.drawings.figures import length_figure
from service.drawings.outlines import bounding_box, vertical_span_at
from service.drawings.shapes import At, Line, Polygon
from solver.documents.texts import say
from solver.domain.cut_shape import cut_outline, side_growths_nm
from solver.domain.piece import Piece
from solver.language import Language
from solver.units import INCH, Unit


def cut_polygon(piece: Piece) -> tuple[At, ...]:
    """Return a wall panel's outline as cut, in the frame of its set shape: lower left of that at zero."""
    left, bottom, _, _ = bounding_box(piece.outline)
    return tuple((x - left, y - bottom) for x, y in cut_outline(piece))


def draw_set_shape(board: DrawingBoard, piece: Piece, set_shape: Sequence[At]) -> None:
    """Draw within the cut shape how the panel stands: the strip to trim, its edge, and where the inside lip is relieved."""
    low, _, high, _ = bounding_box(set_shape)
    left, right = side_growths_nm(piece)
    for edge, more, inward in ((low, left, 1), (high, right, -1)):
        if not piece.closing or more <= 0:
            continue
        outer, at = edge - inward * more, edge + inward * piece.lip_nm
        near, far, lip = (
            vertical_span_at(set_shape, edge),
            vertical_span_at(cut_polygon(piece), outer),
            vertical_span_at(set_shape, at),
        )
        if near and far:
            strip = ((edge, near[0]), (outer, far[0]), (outer, far[1]), (edge, near[1]))
            board.add(Polygon(points=strip, style="shade"), Line(a=strip[0], b=strip[3], style="edge"))
        if lip and piece.lip_nm:
            board.add(Line(a=(at, lip[0]), b=(at, lip[1]), style="hidden"))
    apart = max((abs(item.amount_nm) for item in piece.allowances), default=0)
    if not piece.closing and apart > board.nm(1.5):  # a joint's growth is thinner than the line: the words name it
        board.add(Polygon(points=tuple(set_shape), style="hidden"))


def shape_words(piece: Piece, unit: Unit, language: Language) -> list[str]:
    """Return both shapes by name with their widths, each allowance between them, and what the crew does to a closing panel."""
    low, _, high, _ = bounding_box(piece.outline)
    cut = high - low + sum(side_growths_nm(piece))
    named = [
        say(language, "allowance", name=say(language, f"allowance_{item.name}"), amount=_signed(item.amount_nm, unit))
        for item in piece.allowances
    ]
    words = [say(language, "both_shapes", cut=length_figure(cut, unit), set=length_figure(high - low, unit))]
    words += [", ".join(named)] if named else []
    if piece.closing:
        closing = next(item for item in piece.allowances if item.name == "closing")
        side, more = say(language, closing.edge), length_figure(closing.amount_nm, unit)
        words.append(say(language, "closing_trim", side=side, more=more))
        if piece.lip_nm:
            words.append(say(language, "closing_lip", side=side, lip=length_figure(piece.lip_nm, unit)))
    return words


def _signed(amount_nm: int, unit: Unit) -> str:
    small = Fraction(abs(amount_nm), INCH)
    if unit == "in" and small < 1 and small.denominator in (32, 64):  # finer than the shop's 1/16: exact, not rounded
        return ("+" if amount_nm > 0 else "\u2212") + f'{small}"'
    return ("+" if amount_nm > 0 else "\u2212") + length_figure(abs(amount_nm), unit)
