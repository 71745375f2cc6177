"""Dimensions, tags and hatches as lines, polygons and texts, and the boxes that lettering takes: common to both renderers."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

from service.drawings.lettering import text_width
from service.drawings.shapes import At, Circle, Dimension, Drawing, Group, Hatch, Line, Polygon, Polyline, Shape, Tag, Text

Plain = Line | Polyline | Polygon | Circle | Text
Box = tuple[float, float, float, float]  # left, bottom, right, top in points

Way = tuple[tuple[float, float], tuple[float, float]]  # a straight line in points

ASCENT, DESCENT = 0.76, 0.24
TICK_PT = 3.0


def expand_shapes(shapes: Iterable[Shape], scale: float) -> Iterator[Plain]:
    """Yield the shapes as plain lines, polygons, circles and texts, groups opened."""
    for shape in shapes:
        if isinstance(shape, Group):
            yield from expand_shapes(shape.shapes, scale)
        elif isinstance(shape, Dimension):
            yield from expand_dimension(shape, scale)
        elif isinstance(shape, Tag):
            yield from expand_tag(shape, scale)
        elif isinstance(shape, Hatch):
            yield from expand_hatch(shape, scale)
        else:
            yield shape


def expand_dimension(shape: Dimension, scale: float) -> Iterator[Plain]:
    """Yield a dimension's extension lines, line, ticks and figure; the figure reads from below or from the right."""
    (ax, ay), (bx, by) = shape.a, shape.b
    size = math.hypot(bx - ax, by - ay) or 1.0
    ux, uy = (bx - ax) / size, (by - ay) / size
    nx, ny = -uy, ux
    away = shape.offset_pt / scale
    a, b = (ax + nx * away, ay + ny * away), (bx + nx * away, by + ny * away)
    sign = math.copysign(1.0, away)
    for start, end in ((shape.a, a), (shape.b, b)):
        gap, past = sign * 2 / scale, sign * 3 / scale
        if shape.stubs:
            gap = away - sign * 4 / scale
        yield Line(a=(start[0] + nx * gap, start[1] + ny * gap), b=(end[0] + nx * past, end[1] + ny * past))
    yield Line(a=a, b=b)
    reach = TICK_PT / scale
    for x, y in (a, b):
        yield Line(
            a=(x - (ux + nx) * reach, y - (uy + ny) * reach), b=(x + (ux + nx) * reach, y + (uy + ny) * reach), style="edge"
        )
    yield from _figure(shape, a, b, scale)


def _figure(shape: Dimension, a: At, b: At, scale: float) -> Iterator[Plain]:
    """Yield the figure over its line, or beside the line where it is too long for it."""
    angle = round(math.degrees(math.atan2(b[1] - a[1], b[0] - a[0])))
    angle = angle - 180 if angle > 90 else angle + 180 if angle <= -90 else angle
    turn = math.radians(angle)
    up = (-math.sin(turn), math.cos(turn))
    middle = ((a[0] + b[0]) / 2, (a[1] + b[1]) / 2)
    at = (middle[0] + up[0] * 2.5 / scale, middle[1] + up[1] * 2.5 / scale)
    yield Text(at=at, text=shape.text, size=shape.size, bold=shape.bold, angle=angle)


def tag_size(shape: Tag) -> tuple[float, float]:
    """Return width and height of a tag in points."""
    wide = max(text_width(shape.mark, bold=True) * shape.size, text_width(shape.second) * shape.size * 0.8)
    return wide + shape.size * 1.15, shape.size * (2.5 if shape.second else 1.6)


def expand_tag(shape: Tag, scale: float) -> Iterator[Plain]:
    """Yield a tag's frame, its heavy left edge and its lettering."""
    wide, high = tag_size(shape)
    corner, heavy, left, bottom = shape.size * 0.45, shape.size * 0.3, -wide / 2, -high / 2
    turn = math.radians(shape.angle)

    def at(x: float, y: float) -> At:
        rx, ry = x * math.cos(turn) - y * math.sin(turn), x * math.sin(turn) + y * math.cos(turn)
        return (shape.at[0] + rx / scale, shape.at[1] + ry / scale)

    frame = ((left, bottom), (-left, bottom), (-left, -bottom - corner), (-left - corner, -bottom), (left, -bottom))
    yield Polygon(points=tuple(at(x, y) for x, y in frame), style="tag")
    edge = ((left, bottom), (left + heavy, bottom), (left + heavy, -bottom), (left, -bottom))
    yield Polygon(points=tuple(at(x, y) for x, y in edge), style="solid")
    middle = heavy / 2 - shape.size * 0.05
    if shape.second:
        yield Text(at=at(middle, -0.95 * shape.size), text=shape.second, size=shape.size * 0.8, angle=shape.angle)
    base = at(middle, (0.1 if shape.second else -0.36) * shape.size)
    yield Text(at=base, text=shape.mark, size=shape.size, bold=True, ink=shape.ink, angle=shape.angle)


def expand_hatch(shape: Hatch, scale: float) -> Iterator[Plain]:
    """Yield slanted lines inside a polygon, and its thin outline: even-odd by where each slanted line crosses the edges."""
    points = shape.points
    step = shape.gap_pt / scale * math.sqrt(2)
    keys = [y - x for x, y in points]
    level = math.floor(min(keys) / step) * step + step / 2
    while level < max(keys):
        crossings: list[At] = []
        for (ax, ay), (bx, by) in zip(points, points[1:] + points[:1], strict=True):
            ka, kb = ay - ax - level, by - bx - level
            if (ka > 0) != (kb > 0):
                part = ka / (ka - kb)
                crossings.append((ax + (bx - ax) * part, ay + (by - ay) * part))
        crossings.sort()
        for a, b in zip(crossings[::2], crossings[1::2], strict=False):
            yield Line(a=a, b=b)
        level += step
    yield Polyline(points=(*points, points[0]), style="thin")


def text_bounding_box(shape: Text, scale: float) -> Box:
    """Return the box that a text takes, in points; of a text at an angle, the box around it."""
    wide = text_width(shape.text, bold=shape.bold) * shape.size
    left = {"start": 0.0, "middle": -wide / 2, "end": -wide}[shape.anchor] + shape.dx_pt
    low, high = -DESCENT * shape.size + shape.dy_pt, ASCENT * shape.size + shape.dy_pt
    turn = math.radians(shape.angle)
    x0, y0 = shape.at[0] * scale, shape.at[1] * scale
    corners = [(left, low), (left + wide, low), (left, high), (left + wide, high)]
    xs = [x0 + x * math.cos(turn) - y * math.sin(turn) for x, y in corners]
    ys = [y0 + x * math.sin(turn) + y * math.cos(turn) for x, y in corners]
    return min(xs), min(ys), max(xs), max(ys)


def boxes_meet(one: Box, two: Box, slack: float = 0.3) -> bool:
    """Return whether two boxes share more than `slack` points both ways."""
    return min(one[2], two[2]) - max(one[0], two[0]) > slack and min(one[3], two[3]) - max(one[1], two[1]) > slack


def meets_any(box: Box, others: Iterable[Box], slack: float = 0.3) -> bool:
    """Return whether a box meets any of the others: asked so often for a drawing that it is said without a call a box."""
    left, low, right, high = box[0] + slack, box[1] + slack, box[2] - slack, box[3] - slack
    return any(other[0] < right and other[2] > left and other[1] < high and other[3] > low for other in others)


def line_crosses_box(way: Way, box: Box, slack: float = 0.8) -> bool:
    """Return whether a straight line passes through a box made smaller by `slack` points all round."""
    (ax, ay), (bx, by) = way
    left, low, right, high = box[0] + slack, box[1] + slack, box[2] - slack, box[3] - slack
    if max(ax, bx) <= left or min(ax, bx) >= right or max(ay, by) <= low or min(ay, by) >= high:
        return False
    first, last = 0.0, 1.0
    for step, room in ((ax - bx, ax - left), (bx - ax, right - ax), (ay - by, ay - low), (by - ay, high - ay)):
        if step == 0:
            continue
        part = room / step
        first, last = (max(first, part), last) if step < 0 else (first, min(last, part))
    return first < last


def bounding_box(shapes: Iterable[Shape], scale: float) -> Box:
    """Return the box around all shapes, in points from the world's zero."""
    xs: list[float] = []
    ys: list[float] = []
    for shape in expand_shapes(shapes, scale):
        if isinstance(shape, Text):
            left, low, right, high = text_bounding_box(shape, scale)
            xs += [left, right]
            ys += [low, high]
        elif isinstance(shape, Circle):
            radius = shape.radius_nm * scale + shape.radius_pt
            xs += [shape.at[0] * scale - radius, shape.at[0] * scale + radius]
            ys += [shape.at[1] * scale - radius, shape.at[1] * scale + radius]
        else:
            points = (shape.a, shape.b) if isinstance(shape, Line) else shape.points
            xs += [x * scale for x, _ in points]
            ys += [y * scale for _, y in points]
    return (min(xs), min(ys), max(xs), max(ys)) if xs else (0.0, 0.0, 1.0, 1.0)


def overlapping_texts(drawing: Drawing) -> list[tuple[str, str]]:
    """Return the pairs of texts in a drawing whose boxes meet: none, where it is fit to be seen."""
    texts = [shape for shape in expand_shapes(drawing.shapes, drawing.scale) if isinstance(shape, Text)]
    boxes = [text_bounding_box(shape, drawing.scale) for shape in texts]
    return [
        (texts[i].text, texts[j].text)
        for i in range(len(texts))
        for j in range(i + 1, len(texts))
        if boxes_meet(boxes[i], boxes[j])
    ]
