"""A bundle as a rigger sees it: from its side, feet to the left, with its centre of mass and where forks or slings go."""

from __future__ import annotations

from service.drawings.board import DrawingBoard
from service.drawings.figures import length_figure
from service.drawings.outlines import box_corners
from service.drawings.shapes import At, Circle, Drawing, Line, Polygon
from solver.documents.texts import say
from solver.domain.bundle import Bundle
from solver.language import ENGLISH, Language
from solver.units import Nm, Unit


def bundle_lift_drawing(
    bundle: Bundle,
    *,
    gap_nm: Nm,
    unit: Unit,
    room_pt: tuple[float, float] = (520.0, 120.0),
    language: Language = ENGLISH,
    size: float = 11.0,
) -> Drawing:
    """Return a bundle's side with its lift points as arrows and running figures from the foot end."""
    board = DrawingBoard(
        f"{say(language, 'bundle')} {bundle.id}: {say(language, 'side_view')}",
        room_pt=(room_pt[0] - 6 * size, room_pt[1] - 6 * size),
        size_nm=(bundle.length_nm, bundle.height_nm),
        unit=unit,
    )
    low, high = float(gap_nm), float(max(bundle.height_nm, gap_nm + 1))
    half = min(gap_nm, bundle.length_nm // 8) / 2
    for x in bundle.dunnage_nm:
        board.add(Polygon(points=box_corners(x - half, 0, x + half, low), style="solid"))
    board.add(Polygon(points=box_corners(0, low, bundle.length_nm, high), style="outline"))
    for x in bundle.dunnage_nm:
        board.add(Line(a=(x, low), b=(x, high), style="hidden"))
    for x in bundle.lift_nm:
        _arrow(board, (float(x), low))
    if bundle.centre_nm:
        _centre(board, (float(bundle.centre_nm), float(bundle.centre_up_nm or (low + high) / 2)))
    _figures(board, bundle, size)
    return board.done()


def _arrow(board: DrawingBoard, tip: At) -> None:
    """Draw a heavy arrow from below to where the bundle is taken."""
    reach, wing = board.nm(16), board.nm(4)
    tail = (tip[0], tip[1] - reach)
    head = (tip, (tip[0] - wing, tip[1] - 1.6 * wing), (tip[0] + wing, tip[1] - 1.6 * wing))
    board.add(Line(a=tail, b=tip, style="bold"), Polygon(points=head, style="solid"))


def _centre(board: DrawingBoard, at: At) -> None:
    reach = board.nm(7)
    board.add(
        Circle(at=at, radius_pt=5, style="edge"),
        Line(a=(at[0] - reach, at[1]), b=(at[0] + reach, at[1])),
        Line(a=(at[0], at[1] - reach), b=(at[0], at[1] + reach)),
    )


def _figures(board: DrawingBoard, bundle: Bundle, size: float) -> None:
    """Set running figures from the foot end: lift points and whole length below, the centre of mass above."""
    line = -board.nm(max(24.0, 0.0))
    stops = sorted({0.0, *(float(x) for x in bundle.lift_nm), float(bundle.length_nm)})
    board.add(Line(a=(0.0, line), b=(float(bundle.length_nm), line)))
    tick = board.nm(3)
    for x in stops:
        board.add(Line(a=(x - tick, line - tick), b=(x + tick, line + tick), style="edge"))
    below = line - board.nm(1.3 * size)
    board.add_text_row([((x, below), length_figure(x, board.unit) if x else "0") for x in stops], size=size, below=True)
    if bundle.centre_nm:
        x, top = float(bundle.centre_nm), float(bundle.height_nm)
        board.add(Line(a=(x, top), b=(x, top + board.nm(6))))
        board.add_text_row([((x, top + board.nm(8)), length_figure(x, board.unit))], size=size, below=False)
