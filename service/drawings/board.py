"""The board a drawing is made on: it keeps the scale, finds room for lettering, and draws the scale along the edge."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from service.drawings.expand_shapes import (
    Box,
    Way,
    bounding_box,
    boxes_meet,
    expand_shapes,
    line_crosses_box,
    meets_any,
    tag_size,
    text_bounding_box,
)
from service.drawings.figures import length_figure
from service.drawings.lettering import text_width
from service.drawings.shapes import Anchor, At, Circle, Dimension, Drawing, Group, Ink, Line, Shape, Tag, Text
from solver.units import FOOT, INCH, MM, Unit

RINGS_CLEAR = 24  # how far round a leader with a clear way is looked for, in rings of 9 points
PAPER_NM = 352_777.7778  # nanometres in a point of paper: 25.4 mm / 72


class DrawingBoard:
    """A drawing in the making, laid out for a size in points."""

    def __init__(self, title: str, *, room_pt: tuple[float, float], size_nm: tuple[float, float], unit: Unit) -> None:
        """Start a drawing of something `size_nm` wide and high that is to fit into `room_pt`."""
        self.title = title
        self.unit = unit
        self.scale = min(room_pt[0] / max(size_nm[0], 1), room_pt[1] / max(size_nm[1], 1))
        self.shapes: list[Shape] = []
        self.taken: list[Box] = []
        self.ways: list[Way] = []  # leaders, in points
        self.body: Box | None = None  # the thing itself: what is led out of it is set beside it
        self.sides: tuple[float, float] | None = None  # nanometres; what is led is kept between them, and the view ends there
        self.leads: Sequence[tuple[int, int]] = ((0, 1), (0, -1), (1, 1), (-1, 1), (1, -1), (-1, -1), (1, 0), (-1, 0))

    def nm(self, points: float) -> float:
        """Return how many real nanometres that many points are at this scale."""
        return points / self.scale

    def add(self, *shapes: Shape) -> None:
        """Add shapes as they are, and keep other lettering off theirs."""
        self.shapes.extend(shapes)
        self.taken += [
            text_bounding_box(text, self.scale) for text in expand_shapes(shapes, self.scale) if isinstance(text, Text)
        ]
        for shape in shapes:
            if isinstance(shape, Dimension):
                self.taken += _line_boxes(shape, self.scale)

    def group(self, name: str, shapes: Iterable[Shape], title: str = "") -> None:
        """Add shapes as one named thing."""
        self.add(Group(name=name, shapes=tuple(shapes), title=title))

    def set_body(self, thing: tuple[float, float, float, float]) -> None:
        """Take the thing itself (left, bottom, right, top) and all that is drawn so far as the body to lead out of."""
        scale = self.scale
        drawn = bounding_box(self.shapes, scale)
        own = tuple(side * scale for side in thing)
        self.body = (min(drawn[0], own[0]), min(drawn[1], own[1]), max(drawn[2], own[2]), max(drawn[3], own[3]))

    def keep_off(self, a: At, b: At) -> None:
        """Keep lettering that comes later off a straight line."""
        self.ways.append(self._way(a, b))

    def free(self, box: Box) -> bool:
        """Return whether no lettering is there yet, and no leader."""
        return not meets_any(box, self.taken) and not any(line_crosses_box(way, box) for way in self.ways)

    def tag(
        self,
        at: At,
        mark: str,
        *,
        size: float = 11.0,
        within: tuple[float, float],
        second: str = "",
        ink: Ink = "ink",
        rings: int = 79,
    ) -> bool:
        """Set a tag at a place if it fits `within` (points), upright or turned; else beside it, on a leader.

        Return whether it was set: not where the nearest free place is over so many rings of 9 points away.
        """
        for angle in (0, 90):
            shape = Tag(at=at, mark=mark, size=size, second=second, ink=ink, angle=angle)
            wide, high = tag_size(shape)[:: 1 if angle == 0 else -1]
            box = _around(at, self.scale, wide, high)
            if wide <= within[0] and high <= within[1] and self.free(box):
                self._take(shape, box)
                return True
        shape = Tag(at=at, mark=mark, size=size, second=second, ink=ink)
        return self._lead(at, tag_size(shape), lambda to: Tag(at=to, mark=mark, size=size, second=second, ink=ink), rings)

    def tag_at(self, at: At, mark: str, *, second: str, size: float, angle: int, ink: Ink) -> bool:
        """Set a tag at a place if nothing is lettered there yet, and return whether it was."""
        shape = Tag(at=at, mark=mark, size=size, second=second, ink=ink, angle=angle)
        wide, high = tag_size(shape)[:: 1 if angle == 0 else -1]
        box = _around(at, self.scale, wide, high)
        if not self.free(box):
            return False
        self._take(shape, box)
        return True

    def letter_centred(
        self,
        at: At,
        text: str,
        *,
        size: float = 11.0,
        within: tuple[float, float] | None = None,
        bold: bool = False,
        ink: Ink = "ink",
    ) -> None:
        """Set a text centred on a place if it fits `within` (points), upright or turned; else beside it, on a leader."""
        wide, high = text_width(text, bold=bold) * size, size

        def made(to: At, angle: int = 0) -> Text:
            down = 0.36 * size / self.scale
            moved = (to[0], to[1] - down) if angle == 0 else (to[0] + down, to[1])
            return Text(at=moved, text=text, size=size, bold=bold, ink=ink, angle=angle)

        for angle in (0, 90):
            w, h = (wide, high) if angle == 0 else (high, wide)
            box = _around(at, self.scale, w, h)
            if (within is None or (w <= within[0] and h <= within[1])) and self.free(box):
                self._take(made(at, angle), box)
                return
        if not self._lead(at, (wide, high), made, 79):
            raise AssertionError("a drawing is never that full")

    def add_text_row(self, items: Sequence[tuple[At, str]], *, size: float, below: bool, anchor: Anchor = "middle") -> None:
        """Set texts in a row, moving each down (or up) a line until it is clear of the others."""
        step = -1.25 * size if below else 1.25 * size
        for at, text in items:
            for level in range(60):
                shape = Text(at=(at[0], at[1] + self.nm(step * level)), text=text, size=size, anchor=anchor)
                box = text_bounding_box(shape, self.scale)
                if self.free((box[0] - 2, box[1], box[2] + 2, box[3])):
                    if level:
                        edge = box[3] if below else box[1]
                        self.shapes.append(Line(a=at, b=(at[0], edge / self.scale)))
                    self._take(shape, box)
                    break

    def fits(self, text: Text, within: tuple[float, float]) -> bool:
        """Return whether a text is no larger than `within` (points) and its place is free."""
        box = text_bounding_box(text, self.scale)
        return box[2] - box[0] <= within[0] and text.size <= within[1] and self.free(box)

    def add_clear(self, text: Text, *, along: At) -> None:
        """Add a text, moved along a direction to the nearest place where no other lettering is, on a leader if moved."""
        for step in range(200):
            move = self.nm(1.5) * ((step + 1) // 2) * (1 if step % 2 else -1)
            shape = replace(text, at=(text.at[0] + along[0] * move, text.at[1] + along[1] * move))
            box = text_bounding_box(shape, self.scale)
            if self.free(box):
                if step > 1:
                    self.shapes.append(Line(a=text.at, b=shape.at))
                self._take(shape, box)
                return

    def draw_ruler(self, length_nm: float, y_nm: float, *, size: float = 9.0, up: bool = False, start_nm: float = 0.0) -> None:
        """Draw a scale along the edge, from zero to a length, as far apart as its figures allow."""
        step = self._step(length_nm)
        direction = 1 if up else -1
        tick = self.nm(5) * direction
        self.shapes.append(Line(a=(start_nm, y_nm), b=(start_nm + length_nm, y_nm)))
        count = int(length_nm / step)
        figures = [n * step for n in range(count + 1)]
        if length_nm - figures[-1] > 0:
            if (length_nm - figures[-1]) * self.scale < self._figure_pt(length_nm, size):
                figures.pop()
            figures.append(length_nm)
        for x in figures:
            self.shapes.append(Line(a=(start_nm + x, y_nm), b=(start_nm + x, y_nm + tick)))
            place = y_nm + tick + (self.nm(2) if up else -self.nm(size))
            self.add(Text(at=(start_nm + x, place), text=length_figure(x, self.unit) if x else "0", size=size))
        half = [start_nm + x + step / 2 for x in figures[:-1] if x + step / 2 < length_nm]
        self.shapes.extend(Line(a=(x, y_nm), b=(x, y_nm + tick * 0.6)) for x in half)

    def done(self, margin_pt: float = 4.0) -> Drawing:
        """Return the finished drawing, its view drawn around all that is in it."""
        left, bottom, right, top = bounding_box(self.shapes, self.scale)
        scale = self.scale
        if self.sides is not None:
            left, right = (side * scale for side in self.sides)
        return Drawing(
            title=self.title,
            left=(left - margin_pt) / scale,
            bottom=(bottom - margin_pt) / scale,
            right=(right + margin_pt) / scale,
            top=(top + margin_pt) / scale,
            scale=scale,
            shapes=tuple(self.shapes),
        )

    def _figure_pt(self, length_nm: float, size: float) -> float:
        return text_width(length_figure(length_nm, self.unit)) * size + 6

    def _step(self, length_nm: float) -> float:
        steps = (
            (INCH, 6 * INCH, FOOT, 2 * FOOT, 5 * FOOT, 10 * FOOT, 20 * FOOT, 50 * FOOT)
            if self.unit == "in"
            else (10 * MM, 50 * MM, 100 * MM, 500 * MM, 1000 * MM, 2000 * MM, 5000 * MM, 10_000 * MM)
        )
        room = self._figure_pt(length_nm, 9) * 1.5
        return next((step for step in steps if step * self.scale >= room), steps[-1])

    def _way(self, a: At, b: At) -> Way:
        """Return a straight line in points."""
        return (a[0] * self.scale, a[1] * self.scale), (b[0] * self.scale, b[1] * self.scale)

    def _take(self, shape: Shape, box: Box) -> None:
        self.shapes.append(shape)
        self.taken.append(box)

    def _lead(self, at: At, size: tuple[float, float], made: object, rings: int) -> bool:
        """Set something at the nearest free place around `at` and draw a leader to it; return whether there was one."""
        assert callable(made)
        wide, high = size
        for ring in range(1, rings + 1):
            reach = 9.0 * ring
            for dx, dy in self.leads:
                to = (
                    at[0] + dx * self.nm(reach + (wide / 2 if dx else 0)),
                    at[1] + dy * self.nm(reach + high / 2),
                )
                box = _around(to, self.scale, wide + 3, high + 3)
                if not self.free(box) or (self.body is not None and boxes_meet(box, self.body)):
                    continue
                if self.sides is not None and not self.sides[0] * self.scale <= box[0] < box[2] <= self.sides[1] * self.scale:
                    continue
                end = (to[0], to[1] - dy * self.nm(high / 2)) if dy else (to[0] - dx * self.nm(wide / 2), to[1])
                way = self._way(at, end)
                if ring < RINGS_CLEAR and any(line_crosses_box(way, taken) for taken in self.taken):
                    continue  # a leader over other lettering: look further for a clear way first
                self.shapes += [Line(a=at, b=end), Circle(at=at, radius_pt=1.6, style="solid")]
                self.ways.append(way)
                self._take(made(to), box)
                return True
        return False


def _line_boxes(shape: Dimension, scale: float) -> list[Box]:
    """Return the box of a level or upright dimension line, so that nothing is lettered across it."""
    line = next(item for n, item in enumerate(expand_shapes((shape,), scale)) if n == 2 and isinstance(item, Line))
    (ax, ay), (bx, by) = line.a, line.b
    if abs(ax - bx) * scale > 1 and abs(ay - by) * scale > 1:
        return []
    left, right = sorted((ax * scale, bx * scale))
    low, high = sorted((ay * scale, by * scale))
    return [(left - 0.5, low - 0.5, right + 0.5, high + 0.5)]


def _around(at: At, scale: float, wide: float, high: float) -> Box:
    x, y = at[0] * scale, at[1] * scale
    return x - wide / 2, y - high / 2, x + wide / 2, y + high / 2
