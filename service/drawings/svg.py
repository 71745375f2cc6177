"""A drawing as SVG: real scale, themed by classes and variables, so that a page's tokens colour it and night shift works."""

from __future__ import annotations

import math
from collections.abc import Iterable
from html import escape

from service.drawings.expand_shapes import Plain, expand_shapes
from service.drawings.lettering import FRACTION, RAISE, THIN, split_text_runs
from service.drawings.shapes import At, Circle, Drawing, Group, Line, Polygon, Shape, Text

_INK, _SOFT, _LINE, _FAINT = "var(--ink,#1b1b19)", "var(--soft,#6d695f)", "var(--line,#cfcabd)", "var(--faint,#ebe7dc)"
_CARD, _PAPER, _CHALK, _STOP = "var(--card,#fffefb)", "var(--paper,#faf8f3)", "var(--chalk,#1c5fa6)", "var(--stop,#b3261e)"
STYLE = (
    f".d text{{font-family:inherit;fill:{_INK};font-variant-numeric:tabular-nums}}"
    f".d .d-t-soft{{fill:{_SOFT}}}.d .d-t-chalk{{fill:{_CHALK}}}.d .d-t-stop{{fill:{_STOP}}}"
    f".d .d-outline{{fill:{_CARD};stroke:{_INK};stroke-width:1.6}}.d .d-edge{{fill:none;stroke:{_INK};stroke-width:1.6}}"
    f".d .d-thin,.d .thin{{fill:none;stroke:{_SOFT};stroke-width:.7}}"
    f".d .d-cut,.d .cut{{fill:none;stroke:{_CHALK};stroke-width:2.6;stroke-dasharray:9 4.5}}"
    f".d .d-hidden,.d .hidden{{fill:none;stroke:{_SOFT};stroke-width:.7;stroke-dasharray:2.5 2.5}}"
    f".d .d-gone{{fill:{_FAINT};stroke:{_LINE};stroke-width:1}}.d .d-void{{fill:{_PAPER};stroke:{_INK};stroke-width:1}}"
    f".d .d-quiet{{fill:{_LINE};stroke:{_SOFT};stroke-width:.5}}"
    f".d .d-shade{{fill:{_FAINT};stroke:none}}.d .d-bold{{fill:none;stroke:{_INK};stroke-width:3}}"
    f".d .d-solid{{fill:{_INK};stroke:none}}.d .d-stop{{fill:none;stroke:{_STOP};stroke-width:2.6}}"
    f".d .d-tag{{fill:{_CARD};stroke:{_INK};stroke-width:1}}"
)
NIGHT = (
    "@media (prefers-color-scheme:dark){.d{--paper:#171714;--card:#1f1f1b;--ink:#f1eee5;--soft:#a9a498;--line:#48463f;"
    "--faint:#2b2a26;--chalk:#7db4ee;--stop:#ff8a80}}"
)


def to_svg(drawing: Drawing, *, standalone: bool = False, width: str = "100%") -> str:
    """Return the drawing as one SVG element: to be laid in a page whose tokens colour it, or as a file of its own.

    `standalone` adds what a file needs: namespace, ground, own day and night colours. Numbers are rounded to 1/100 pt.
    """
    view = _View(drawing)
    wide, high = drawing.width_pt, drawing.height_pt
    own = f"<style>{STYLE}{NIGHT}svg{{background:{_PAPER};font-family:system-ui,sans-serif}}</style>" if standalone else ""
    name = ' xmlns="http://www.w3.org/2000/svg"' if standalone else ""
    return (
        f'<svg class="d"{name} viewBox="0 0 {_n(wide)} {_n(high)}" width="{width}" style="max-width:{_n(wide * 1.6)}px" '
        f'role="img" aria-label="{escape(drawing.title)}">{own}{"".join(view.markup(drawing.shapes))}</svg>'
    )


def _n(value: float) -> str:
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("", "-0") else text


class _View:
    def __init__(self, drawing: Drawing) -> None:
        self.drawing = drawing

    def xy(self, at: At) -> tuple[float, float]:
        scale = self.drawing.scale
        return (at[0] - self.drawing.left) * scale, (self.drawing.top - at[1]) * scale

    def markup(self, shapes: Iterable[Shape]) -> Iterable[str]:
        for shape in shapes:
            if isinstance(shape, Group):
                title = f"<title>{escape(shape.title)}</title>" if shape.title else ""
                yield f'<g data-id="{escape(shape.name)}">{title}{"".join(self.markup(shape.shapes))}</g>'
            else:
                for plain in expand_shapes((shape,), self.drawing.scale):
                    yield self.one(plain)

    def one(self, shape: Plain) -> str:
        if isinstance(shape, Text):
            return self.text(shape)
        if isinstance(shape, Circle):
            x, y = self.xy(shape.at)
            radius = shape.radius_nm * self.drawing.scale + shape.radius_pt
            return f'<circle class="d-{shape.style}" cx="{_n(x)}" cy="{_n(y)}" r="{_n(radius)}"/>'
        points = (shape.a, shape.b) if isinstance(shape, Line) else shape.points
        path = "L".join(f"{_n(x)} {_n(y)}" for x, y in map(self.xy, points))
        return f'<path class="d-{shape.style}" d="M{path}{"Z" if isinstance(shape, Polygon) else ""}"/>'

    def text(self, shape: Text) -> str:
        x, y = self.xy(shape.at)
        turn = f' transform="rotate({-shape.angle} {_n(x)} {_n(y)})"' if shape.angle else ""
        x, y = x + shape.dx_pt, y - shape.dy_pt
        ink = f' class="d-t-{shape.ink}"' if shape.ink != "ink" else ""
        weight = ' font-weight="700"' if shape.bold else ""
        anchor = f' text-anchor="{shape.anchor}"' if shape.anchor != "start" else ""
        return (
            f'<text x="{_n(x)}" y="{_n(y)}" font-size="{_n(shape.size)}"{ink}{weight}{anchor}{turn}>'
            f"{_spans(shape.text, shape.size)}</text>"
        )


def _spans(text: str, size: float) -> str:
    """Return the text's runs as spans; a fraction's figures are small, raised and on the line."""
    made: list[str] = []
    small, lift = _n(size * FRACTION), size * RAISE
    down = 0.0  # how far below the baseline the next span would start
    for run in split_text_runs(text):
        want = -lift if run.kind == "top" else 0.0
        shift = f' dy="{_n(want - down)}"' if not math.isclose(want, down) else ""
        gap = f' dx="{_n(THIN * size)}"' if run.gap else ""
        font = f' font-size="{small}"' if run.kind in ("top", "bottom") else ""
        down = want
        made.append(f"<tspan{shift}{gap}{font}>{escape(run.text)}</tspan>" if shift or gap or font else escape(run.text))
    return "".join(made)
