"""A bar with its cuts: true to scale, an angled cut leaning as the blade leans, the drop hatched, a scale along the edge."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from service.drawings.board import DrawingBoard
from service.drawings.figures import length_figure
from service.drawings.lettering import shorten_text
from service.drawings.outlines import box_corners
from service.drawings.shapes import At, Drawing, Hatch, Line, Polygon, Shape, Style, Text
from solver.documents.texts import say
from solver.domain.cut_plan import Bar, BarPiece
from solver.language import ENGLISH, Language
from solver.units import Nm, Unit


def bar_drawing(
    bar: Bar,
    *,
    width_nm: Nm,
    marks: Mapping[str, str],
    unit: Unit,
    room_pt: tuple[float, float] = (700.0, 120.0),
    language: Language = ENGLISH,
    title: str | None = None,
    size: float = 11.0,
    done: frozenset[str] = frozenset(),
    next_cut: At | None = None,
    keep_from_nm: Nm | None = None,
    cuts: Sequence[At] | None = None,
    hidden: Sequence[At] = (),
) -> Drawing:
    """Return a bar from its zero end: the edge at the fence below, the far edge above; `title`: what people call it.

    `marks` gives the mark of each piece id; `done` are pieces cut already; `next_cut` is where the next cut meets the
    near and far edge, drawn as the chalk line; without it every cut is one (`cuts`, else as found from the pieces).
    A drop from `keep_from_nm` on is kept. `hidden` is where the other face of a tilted cut meets the two edges.
    """
    name = title or say(language, "bar")
    board = DrawingBoard(name, room_pt=(room_pt[0] - 12, room_pt[1]), size_nm=(bar.length_nm, 1), unit=unit)
    high = max(min(width_nm, board.nm(room_pt[1] - 5 * size)), board.nm(2.6 * size))
    board.group(
        bar.id, [Polygon(points=box_corners(0, 0, bar.length_nm, high), style="outline"), *_waste(bar, high, keep_from_nm)]
    )
    for placed in bar.blanks:
        style: Style = "gone" if placed.piece in done else "outline"
        board.group(placed.piece, [Polygon(points=_outline(placed, high), style=style)], title=marks.get(placed.piece, ""))
    lines = [next_cut] if next_cut is not None else cuts if cuts is not None else cut_lines(bar)
    reach = board.nm(7)
    for near, far in lines:
        lean = (far - near) / high
        board.add(Line(a=(near - lean * reach, -reach), b=(far + lean * reach, high + reach), style="cut"))
    for near, far in hidden:
        board.add(Line(a=(near, 0), b=(far, high), style="hidden"))
    board.body = (0.0, -reach * board.scale, bar.length_nm * board.scale, (high + reach) * board.scale)
    _drop_words(board, bar, high + reach, language, size, keep_from_nm)
    for placed in bar.blanks:
        middle = (sum(placed.edge_a) + sum(placed.edge_b)) / 4
        room = min(placed.edge_a[1], placed.edge_b[1]) - max(placed.edge_a[0], placed.edge_b[0])
        named = [marks.get(item.piece, item.piece) for item in bar.pieces if item in (placed, *_second(bar, placed))]
        mark = " + ".join(shorten_text(name, 14 * size, size, bold=True) for name in named)
        soft = placed.piece in done
        board.tag(
            (middle, high / 2), mark, size=size, within=(room * board.scale, high * board.scale), ink="soft" if soft else "ink"
        )
    board.draw_ruler(bar.length_nm, min(-reach * 1.6, _low(board)), size=size * 0.85)
    return board.done()


def _second(bar: Bar, placed: BarPiece) -> tuple[BarPiece, ...]:
    """Return the other rip of a blank."""
    if placed.way != "left_rip":
        return ()
    return tuple(item for item in bar.pieces if item.way == "right_rip" and item.edge_a == placed.edge_a)


def cut_lines(bar: Bar) -> list[At]:
    """Return where cuts meet the near and far edge: at each piece's ends, one where a kerf parts two pieces in parallel."""
    made: list[At] = []
    last: At | None = None
    for placed in bar.blanks:
        start, end = (placed.edge_a[0], placed.edge_b[0]), (placed.edge_a[1], placed.edge_b[1])
        flush = start[0] <= 0 and start[1] <= 0
        shared = last is not None and start[0] - last[0] == start[1] - last[1] and start[0] - last[0] < 25_400_000
        if not flush and not shared:
            made.append((float(start[0]), float(start[1])))
        if min(end) < bar.length_nm:
            made.append((float(end[0]), float(end[1])))
        last = end
    return made


def _outline(placed: BarPiece, high: float) -> tuple[At, ...]:
    return (placed.edge_a[0], 0), (placed.edge_a[1], 0), (placed.edge_b[1], high), (placed.edge_b[0], high)


def _end(bar: Bar) -> At:
    if not bar.blanks:
        return 0.0, 0.0
    return float(bar.blanks[-1].edge_a[1]), float(bar.blanks[-1].edge_b[1])


def _kept(bar: Bar, keep_from_nm: Nm | None) -> bool:
    return keep_from_nm is not None and bar.drop_nm >= keep_from_nm


def _waste(bar: Bar, high: float, keep_from_nm: Nm | None) -> list[Shape]:
    """Return what is left of the bar: hatched where it is waste, plain where it is kept."""
    made: list[Shape] = []
    at = (0.0, 0.0)
    for placed in bar.blanks:
        start = (float(placed.edge_a[0]), float(placed.edge_b[0]))
        if start[0] - at[0] > 12_700_000 or start[1] - at[1] > 12_700_000:
            made.append(Hatch(points=((at[0], 0), (start[0], 0), (start[1], high), (at[1], high))))
        at = (float(placed.edge_a[1]), float(placed.edge_b[1]))
    rest = ((at[0], 0.0), (bar.length_nm, 0.0), (bar.length_nm, high), (at[1], high))
    if min(at) >= bar.length_nm:
        return made
    if _kept(bar, keep_from_nm):
        edge = bar.length_nm - bar.drop_nm
        made.append(Polygon(points=box_corners(edge, 0, bar.length_nm, high), style="gone"))
        made.append(Hatch(points=((at[0], 0.0), (edge, 0.0), (edge, high), (at[1], high))))
    else:
        made.append(Hatch(points=rest))
    return made


def _drop_words(board: DrawingBoard, bar: Bar, high: float, language: Language, size: float, keep_from_nm: Nm | None) -> None:
    if bar.drop_nm <= 0:
        return
    key = "keep_drop" if _kept(bar, keep_from_nm) else "waste_drop"
    text = say(language, key, length=length_figure(bar.drop_nm, board.unit))
    shape = Text(at=(bar.length_nm, high + board.nm(3)), text=text, size=size, anchor="end", ink="soft")
    board.add_text_row([(shape.at, text)], size=size, below=False, anchor="end")


def _low(board: DrawingBoard) -> float:
    return min((box[1] for box in board.taken), default=0.0) / board.scale - board.nm(4)
