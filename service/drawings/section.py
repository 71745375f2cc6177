"""A section through an eave: wall, cap, roof, and what closes the wedge between a square wall top and the slope, to scale."""

from __future__ import annotations

import math

from service.drawings.board import DrawingBoard
from service.drawings.figures import length_figure
from service.drawings.outlines import bounding_box
from service.drawings.shapes import At, Dimension, Drawing, Line, Polygon, Text
from solver.documents.texts import say
from solver.domain.document import EaveSection
from solver.language import ENGLISH, Language
from solver.units import Unit


def eave_section_drawing(
    eave: EaveSection,
    *,
    unit: Unit,
    room_pt: tuple[float, float] = (300.0, 190.0),
    language: Language = ENGLISH,
    size: float = 10.0,
) -> Drawing:
    """Return the section, outside to the left: x from the wall's outside face, y from its square top."""
    wide, slope = eave.wall_nm, eave.rise / eave.run
    down, out, over = 1.6 * wide, 1.1 * wide, 2.2 * wide
    angle = math.atan(slope)
    up = (-eave.roof_nm * math.sin(angle), eave.roof_nm * math.cos(angle))

    def on_roof(x: float) -> At:
        return x, x * slope

    low, high = on_roof(-out), on_roof(wide + over)
    roof = (low, high, (high[0] + up[0], high[1] + up[1]), (low[0] + up[0], low[1] + up[1]))
    top = (on_roof(wide), (0.0, 0.0)) if eave.closed_by == "bevel" else ((wide, 0.0), (0.0, 0.0))
    wall = ((0.0, -down), (wide, -down), *top)
    left, bottom, right, head = bounding_box((*roof, *wall))
    board = DrawingBoard(
        say(language, "eave_section"),
        room_pt=(room_pt[0], room_pt[1] - 3 * size),
        size_nm=(right - left, head - bottom),
        unit=unit,
    )
    board.add(Polygon(points=wall, style="outline"), Polygon(points=roof, style="outline"))
    if eave.closed_by != "bevel":
        wedge = ((0.0, 0.0), (wide, 0.0), on_roof(wide))
        board.add(Polygon(points=wedge, style="void" if eave.closed_by == "closure" else "shade"))
        board.add(Line(a=(0.0, 0.0), b=(wide, 0.0), style="bold"))
    else:
        board.add(Line(a=(0.0, 0.0), b=on_roof(wide), style="bold"))
    corner = on_roof(wide)
    reach = 0.3 * wide  # the inside angle: a leg on the wall, a leg under the roof
    board.add(Line(a=corner, b=(wide, corner[1] - reach), style="cut"), Line(a=corner, b=on_roof(wide + reach), style="cut"))
    board.add(
        Dimension(a=(0.0, -down), b=(wide, -down), text=length_figure(wide, unit), offset_pt=-1.6 * size, size=size),
    )
    if eave.rise_nm:
        text = length_figure(eave.rise_nm, unit)
        board.add(Dimension(a=(wide, 0.0), b=corner, text=text, offset_pt=-1.8 * size, size=size))
    words = [say(language, f"eave_{eave.closed_by}", height=length_figure(eave.rise_nm, unit)), say(language, "eave_angle")]
    for n, word in enumerate(words):
        board.add(Text(at=(left, head + board.nm(size * (1.5 * (len(words) - n) - 0.6))), text=word, size=size, anchor="start"))
    return board.done()
