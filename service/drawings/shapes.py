"""What a drawing is made of: frozen shapes in real-world coordinates (nanometres, up is up), lettering in points.

A drawing knows the scale it was laid out for (points per nanometre), so that lettering keeps clear at that size; a
renderer may enlarge or reduce it as a whole. The same drawing goes on screen (svg.py) and on paper (paper.py).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

At = tuple[float, float]  # nanometres in the drawing's own plane

Style = Literal[
    "outline",  # what is there: heavy line, filled
    "edge",  # heavy line, no filling
    "thin",  # dimension lines, leaders, scale
    "cut",  # the chalk line: here, next
    "hidden",  # hidden parts, dashed thin
    "gone",  # done, or not yet
    "quiet",  # what stays as it was beside what changes
    "void",  # an opening
    "shade",  # closed hours, backgrounds
    "bold",  # something that must be seen: late, closing
    "solid",  # filled with ink
    "stop",  # stop only
    "tag",  # the tag's frame
]
Ink = Literal["ink", "soft", "chalk", "stop"]
Anchor = Literal["start", "middle", "end"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A straight line."""

    a: At
    b: At
    style: Style = "thin"


@dataclass(frozen=True, slots=True, kw_only=True)
class Polyline:
    """Straight lines from point to point, open."""

    points: tuple[At, ...]
    style: Style = "thin"


@dataclass(frozen=True, slots=True, kw_only=True)
class Polygon:
    """A closed outline, filled as its style says."""

    points: tuple[At, ...]
    style: Style = "outline"


@dataclass(frozen=True, slots=True, kw_only=True)
class Hatch:
    """A closed outline filled with slanted lines: waste, or what is cut away."""

    points: tuple[At, ...]
    gap_pt: float = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Circle:
    """A circle of a real radius, or of a radius in points where it is a symbol."""

    at: At
    radius_nm: float = 0.0
    radius_pt: float = 0.0
    style: Style = "outline"


@dataclass(frozen=True, slots=True, kw_only=True)
class Text:
    """Lettering: baseline at `at`, moved by points; `angle` in degrees, counter-clockwise about `at`."""

    at: At
    text: str
    size: float = 11.0  # points
    bold: bool = False
    ink: Ink = "ink"
    anchor: Anchor = "middle"
    angle: int = 0
    dx_pt: float = 0.0
    dy_pt: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Dimension:
    """A dimension line from a to b, moved square to it by points (left of a to b), with ticks and its figure."""

    a: At
    b: At
    text: str
    offset_pt: float
    size: float = 10.0
    bold: bool = False
    stubs: bool = False  # extension lines only beside the dimension line: where they would cross figures on their way


@dataclass(frozen=True, slots=True, kw_only=True)
class Tag:
    """The tag: a mark in a frame with a heavy left edge and one corner off, centred on `at`."""

    at: At
    mark: str
    size: float = 11.0
    second: str = ""
    ink: Ink = "ink"
    angle: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Shapes that belong to one thing, named so that a page can point at it."""

    name: str
    shapes: tuple[Shape, ...]
    title: str = ""


Shape = Line | Polyline | Polygon | Hatch | Circle | Text | Dimension | Tag | Group


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawing:
    """A finished drawing: what it shows, in words; the view in nanometres; the scale; the shapes."""

    title: str
    left: float
    bottom: float
    right: float
    top: float
    scale: float  # points per nanometre
    shapes: tuple[Shape, ...]

    @property
    def width_pt(self) -> float:
        """Width at the size the drawing was laid out for."""
        return (self.right - self.left) * self.scale

    @property
    def height_pt(self) -> float:
        """Height at the size the drawing was laid out for."""
        return (self.top - self.bottom) * self.scale
