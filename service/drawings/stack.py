"""A bundle from the side and from its foot end: pieces true to scale, dunnage, bands, forks, centre of mass."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

from service.drawings.board import DrawingBoard
from service.drawings.outlines import box_corners
from service.drawings.shapes import At, Circle, Drawing, Line, Polygon, Polyline, Text
from solver.documents.texts import say
from solver.domain.bundle import Bundle, Lay, StackPiece
from solver.language import ENGLISH, Language
from solver.units import Nm, Unit


def stack_side_drawing(
    bundle: Bundle,
    pieces: Mapping[str, StackPiece],
    *,
    marks: Mapping[str, str],
    dunnage: tuple[Nm, Nm],
    unit: Unit,
    room_pt: tuple[float, float] = (520.0, 200.0),
    language: Language = ENGLISH,
    size: float = 11.0,
) -> Drawing:
    """Return a bundle seen from its side, feet to the left; `dunnage` is its height and width."""
    high = bundle.height_nm
    board = DrawingBoard(
        f"{say(language, 'bundle')} {bundle.id}: {say(language, 'side_view')}",
        room_pt=(room_pt[0] - 12, room_pt[1] - 4 * size),
        size_nm=(bundle.length_nm, high),
        unit=unit,
    )
    lift, wide = dunnage
    for x in bundle.dunnage_nm:
        board.add(Polygon(points=box_corners(x - wide / 2, 0, x + wide / 2, lift), style="solid"))
    for lay in bundle.pieces:
        _layer(board, bundle, lay, pieces, marks, lift)
    top = max((lay.up_nm + _thick(pieces, lay) for lay in bundle.pieces), default=0) + lift
    for x in bundle.dunnage_nm:
        board.add(Line(a=(x, lift * 0.4), b=(x, top + board.nm(2)), style="edge"))
    for lay in bundle.pieces:
        _letter(board, bundle, lay, pieces, marks, lift, size)
    if bundle.centre_nm:
        _centre(board, bundle.centre_nm, top, size)
    board.draw_ruler(bundle.length_nm, -board.nm(4), size=size * 0.85)
    return board.done()


def stack_end_drawing(
    bundle: Bundle,
    pieces: Mapping[str, StackPiece],
    *,
    dunnage: tuple[Nm, Nm],
    unit: Unit,
    room_pt: tuple[float, float] = (160.0, 200.0),
    language: Language = ENGLISH,
    size: float = 11.0,
) -> Drawing:
    """Return a bundle seen from its foot end."""
    board = DrawingBoard(
        f"{say(language, 'bundle')} {bundle.id}: {say(language, 'end_view')}",
        room_pt=(room_pt[0] - 12, room_pt[1] - 3 * size),
        size_nm=(bundle.width_nm, bundle.height_nm),
        unit=unit,
    )
    lift = dunnage[0]
    board.add(Polygon(points=box_corners(0, 0, bundle.width_nm, lift), style="solid"))
    for lay in bundle.pieces:
        piece = pieces[lay.piece]
        bottom = lift + lay.up_nm
        board.add(
            Polygon(
                points=box_corners(lay.across_nm, bottom, lay.across_nm + piece.width_nm, bottom + piece.thickness_nm),
                style="outline",
            )
        )
    board.draw_ruler(bundle.width_nm, -board.nm(4), size=size * 0.85)
    return board.done()


def _thick(pieces: Mapping[str, StackPiece], lay: Lay) -> int:
    return pieces[lay.piece].thickness_nm


def _layer(
    board: DrawingBoard,
    bundle: Bundle,
    lay: Lay,
    pieces: Mapping[str, StackPiece],
    marks: Mapping[str, str],
    lift: int,
) -> None:
    piece = pieces[lay.piece]
    bottom = lift + lay.up_nm
    board.group(
        lay.piece,
        [
            Polygon(
                points=box_corners(lay.at_nm, bottom, lay.at_nm + piece.length_nm, bottom + piece.thickness_nm),
                style="bold" if lay.piece in bundle.set_aside else "outline",
            )
        ],
        title=marks.get(lay.piece, ""),
    )


def _letter(
    board: DrawingBoard,
    bundle: Bundle,
    lay: Lay,
    pieces: Mapping[str, StackPiece],
    marks: Mapping[str, str],
    lift: int,
    size: float,
) -> None:
    """Letter a piece between two bands; of pieces side by side in one layer one is lettered, the sheet's list names all."""
    piece = pieces[lay.piece]
    left, right = lay.at_nm, lay.at_nm + piece.length_nm
    stops = [left, *(x for x in (*bundle.dunnage_nm, bundle.centre_nm) if left < x < right), right]
    gaps = list(pairwise(sorted(stops)))
    middle = (left + right) / 2
    a, b = max(gaps, key=lambda gap: (round((gap[1] - gap[0]) * board.scale / 4), -abs(sum(gap) / 2 - middle)))
    at: At = ((a + b) / 2, lift + lay.up_nm + piece.thickness_nm / 2)
    if lay.piece not in marks:
        return
    fits = min(size, piece.thickness_nm * board.scale * 0.95)
    if fits >= 6:
        text = Text(at=(at[0], at[1] - board.nm(0.36 * fits)), text=marks.get(lay.piece, lay.piece), size=fits, bold=True)
        room = ((b - a) * board.scale - 4, piece.thickness_nm * board.scale)
        if board.fits(text, room):
            board.add(text)


def _centre(board: DrawingBoard, at_nm: int, top: float, size: float) -> None:
    """Draw the mark of the centre of mass over the bundle: a ring with a cross."""
    y = top + board.nm(9)
    reach = board.nm(6)
    board.add(
        Circle(at=(at_nm, y), radius_pt=4, style="edge"),
        Polyline(points=((at_nm - reach, y), (at_nm + reach, y))),
        Polyline(points=((at_nm, y - reach), (at_nm, y + reach))),
    )
