"""A drawing on paper: the same shapes on a reportlab canvas, black on white, in an embedded font."""

from __future__ import annotations

from typing import Any

from service.drawings.expand_shapes import expand_shapes
from service.drawings.font_files import BOLD, REGULAR, register_fonts, wide_font
from service.drawings.lettering import FRACTION, RAISE, run_width, split_text_runs, text_width
from service.drawings.scripts import usual_font_suffices, visual_order
from service.drawings.shapes import Anchor, At, Circle, Drawing, Ink, Line, Polygon, Polyline, Style, Text

# line width in points, dash, stroke grey or None, fill grey or None; black and white safe: shape tells, grey only helps
_PENS: dict[Style, tuple[float, tuple[float, ...], float | None, float | None]] = {
    "outline": (1.4, (), 0.0, 1.0),
    "edge": (1.4, (), 0.0, None),
    "thin": (0.5, (), 0.25, None),
    "cut": (2.0, (7, 3.5), 0.0, None),
    "hidden": (0.5, (2.5, 2.5), 0.25, None),
    "gone": (0.7, (), 0.45, 0.9),
    "quiet": (0.4, (), 0.45, 0.8),
    "void": (0.9, (), 0.0, 1.0),
    "shade": (0.0, (), None, 0.9),
    "bold": (2.6, (), 0.0, None),
    "solid": (0.0, (), None, 0.0),
    "stop": (2.4, (), 0.0, None),
    "tag": (0.9, (), 0.0, 1.0),
}
_INKS: dict[Ink, float] = {"ink": 0.0, "soft": 0.3, "chalk": 0.0, "stop": 0.0}


def _set_plain(canvas: Any, x: float, y: float, text: str, size: float, *, bold: bool) -> None:
    """Set a text without marks in the font that has its letters."""
    if usual_font_suffices(text):
        canvas.setFont(BOLD if bold else REGULAR, size)
        canvas.drawString(x, y, text)
    else:
        canvas.setFont(wide_font(bold).fontName, size)
        canvas.drawString(x, y, visual_order(text))


def draw_text_on_canvas(
    canvas: Any,
    x: float,
    y: float,
    text: str,
    size: float,
    *,
    bold: bool = False,
    anchor: Anchor = "start",
    grey: float = 0.0,
    angle: int = 0,
) -> None:
    """Set a text with its baseline at x, y (points, from below), fractions and foot and inch marks drawn as such."""
    register_fonts()
    if angle:
        canvas.saveState()
        canvas.translate(x, y)
        canvas.rotate(angle)
        draw_text_on_canvas(canvas, 0, 0, text, size, bold=bold, anchor=anchor, grey=grey)
        canvas.restoreState()
        return
    x -= {"start": 0.0, "middle": 0.5, "end": 1.0}[anchor] * text_width(text, bold=bold) * size
    canvas.setFillGray(grey)
    font = BOLD if bold else REGULAR
    for run in split_text_runs(text):
        left, wide = x + run.gap * size, (run_width(run, bold) - run.gap) * size
        if run.kind == "plain":
            _set_plain(canvas, left, y, run.text, size, bold=bold)
        elif run.kind in ("top", "bottom"):
            canvas.setFont(font, size * FRACTION)
            canvas.drawString(left, y + (size * RAISE if run.kind == "top" else 0), run.text)
        else:
            _mark(canvas, run.kind, left, y, wide, size, bold=bold, grey=grey)
        x = left + wide


def _mark(canvas: Any, kind: str, x: float, y: float, wide: float, size: float, *, bold: bool, grey: float) -> None:
    canvas.setStrokeGray(grey)
    canvas.setDash()
    canvas.setLineWidth(size * (0.095 if bold else 0.07))
    if kind == "slash":
        canvas.line(x - 0.02 * size, y - 0.02 * size, x + wide + 0.02 * size, y + 0.74 * size)
        return
    for n in range(2 if kind == "inch" else 1):
        foot = x + (0.05 + 0.16 * n) * size
        canvas.line(foot, y + 0.47 * size, foot + 0.09 * size, y + 0.75 * size)


def draw_on_canvas(canvas: Any, drawing: Drawing, x: float, y: float, *, factor: float = 1.0) -> None:
    """Draw with the drawing's lower left corner at x, y (points), enlarged or reduced by `factor`."""
    scale = drawing.scale * factor

    def place(at: At) -> tuple[float, float]:
        return x + (at[0] - drawing.left) * scale, y + (at[1] - drawing.bottom) * scale

    for shape in expand_shapes(drawing.shapes, drawing.scale):
        if isinstance(shape, Text):
            _text(canvas, shape, place(shape.at), factor)
        elif isinstance(shape, Circle):
            stroke, fill = _pen(canvas, shape.style)
            canvas.circle(*place(shape.at), shape.radius_nm * scale + shape.radius_pt * factor, stroke=stroke, fill=fill)
        else:
            _path(canvas, shape, [place(at) for at in ((shape.a, shape.b) if isinstance(shape, Line) else shape.points)])


def _text(canvas: Any, shape: Text, at: tuple[float, float], factor: float) -> None:
    canvas.saveState()
    canvas.translate(*at)
    canvas.rotate(shape.angle)
    draw_text_on_canvas(
        canvas,
        shape.dx_pt * factor,
        shape.dy_pt * factor,
        shape.text,
        shape.size * factor,
        bold=shape.bold,
        anchor=shape.anchor,
        grey=_INKS[shape.ink],
    )
    canvas.restoreState()


def _path(canvas: Any, shape: Line | Polyline | Polygon, points: list[tuple[float, float]]) -> None:
    stroke, fill = _pen(canvas, shape.style)
    path = canvas.beginPath()
    path.moveTo(*points[0])
    for point in points[1:]:
        path.lineTo(*point)
    if isinstance(shape, Polygon):
        path.close()
    canvas.drawPath(path, stroke=stroke, fill=fill if isinstance(shape, Polygon) else 0)


def _pen(canvas: Any, style: Style) -> tuple[int, int]:
    line, dash, stroke, fill = _PENS[style]
    canvas.setLineWidth(line)
    canvas.setLineCap(0)
    canvas.setLineJoin(0)
    canvas.setDash(*((list(dash), 0) if dash else ([], 0)))
    if stroke is not None:
        canvas.setStrokeGray(stroke)
    if fill is not None:
        canvas.setFillGray(fill)
    return int(stroke is not None), int(fill is not None)
