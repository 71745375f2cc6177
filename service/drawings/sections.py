"""Sections at the foot, the corner and the ridge, to scale; each part has a number, which words beside the drawing explain."""

from __future__ import annotations

import math
from collections.abc import Iterable

from service.drawings.board import DrawingBoard
from service.drawings.figures import length_figure
from service.drawings.outlines import bounding_box, box_corners
from service.drawings.shapes import At, Circle, Dimension, Drawing, Line, Polygon, Polyline
from solver.documents.texts import say
from solver.domain.document import BaseSection, CornerSection, RidgeSection, RidgeSide, SectionPart
from solver.language import ENGLISH, Language
from solver.units import MM, Unit

STEEL_NM = 1.2 * MM  # between a panel and the steel drawn on it: lines that lie on one another cannot be told apart
BEAD_NM = 6 * MM  # radius of a bead of sealant
ROOM_PT = (250.0, 190.0)


def base_section_drawing(
    section: BaseSection, *, unit: Unit, room_pt: At = ROOM_PT, language: Language = ENGLISH, size: float = 10.0
) -> Drawing:
    """Return the foot of a wall, outside to the left: x from the outside face, y from the slab."""
    wide, flange = float(section.wall_nm), float(section.flange_nm)
    deep, high, beyond = 0.55 * wide, max(2.2 * flange, section.pocket_nm + flange), 0.5 * wide
    board = _board(say(language, "base_section"), (wide + 2 * beyond, deep + high), room_pt, unit, size)
    slab = box_corners(-beyond, -deep, wide + beyond, 0)
    panel = ((0.0, STEEL_NM), (wide, STEEL_NM), (wide, high), (0.0, high))
    half = section.bolt_nm / 2
    at = float(section.across_nm)
    pocket = box_corners(at - section.pocket_nm / 2, STEEL_NM, at + section.pocket_nm / 2, section.pocket_nm)
    channel = ((-STEEL_NM, flange), (-STEEL_NM, 0.0), (wide + STEEL_NM, 0.0), (wide + STEEL_NM, flange))
    screw = 0.7 * flange
    board.add(
        Polygon(points=slab, style="shade"),
        Line(a=slab[3], b=slab[2], style="edge"),
        Polygon(points=panel, style="outline"),
        Polygon(points=pocket, style="void"),
        Polyline(points=channel, style="bold"),
        Polygon(points=box_corners(at - half, -deep * 0.9, at + half, section.projection_nm), style="solid"),
        Polygon(points=box_corners(at - 2.2 * half, 2 * STEEL_NM, at + 2.2 * half, 2 * STEEL_NM + 1.6 * half), style="solid"),
        *(Circle(at=(x, -BEAD_NM * 0.6), radius_nm=BEAD_NM, style="solid") for x in (0.2 * wide, 0.8 * wide)),
        *(Line(a=(x - 6 * STEEL_NM, screw), b=(x + 6 * STEEL_NM, screw), style="bold") for x in (0.0, wide)),
    )
    board.add(
        Dimension(a=(0, high), b=(wide, high), text=length_figure(wide, unit), offset_pt=1.4 * size, size=size),
        Dimension(a=(0, -deep), b=(at, -deep), text=length_figure(at, unit), offset_pt=-1.6 * size, size=size),
        Dimension(a=(-beyond, 0), b=(-beyond, flange), text=length_figure(flange, unit), offset_pt=1.2 * size, size=size),
    )
    places = {
        "channel": (wide + STEEL_NM, 0.4 * flange),
        "sealant": (0.8 * wide, -BEAD_NM * 0.6),
        "bolt": (at, -0.5 * deep),
        "panel": (0.85 * wide, 0.9 * high),
        "screws": (0.0, screw),
    }
    return _numbered(board, section.parts, places, size)


def corner_section_drawing(
    section: CornerSection, *, unit: Unit, room_pt: At = ROOM_PT, language: Language = ENGLISH, size: float = 10.0
) -> Drawing:
    """Return a corner from above: the wall that ends there comes from the left, its outside face below; the other goes on."""
    (one, other), turn = section.walls_nm, math.pi - math.radians(section.interior_udeg / 1_000_000)
    long = 2.6 * max(one, other) + section.leg_nm
    ahead = (math.cos(turn), math.sin(turn))
    inward = (-ahead[1], ahead[0])
    # where the two inside faces meet: y = one, and `other` inward from the second wall's outside face
    inside = ((one * ahead[0] - other) / ahead[1], float(one))
    before, after = inside[0], inside[0] * ahead[0] + inside[1] * ahead[1]

    def on(along: float, across: float) -> At:
        return along * ahead[0] + across * inward[0], along * ahead[1] + across * inward[1]

    first: tuple[At, ...] = ((-long, 0.0), (0.0, 0.0), inside, (-long, one))
    second: tuple[At, ...] = (on(0, 0), on(long, 0), on(long, other), inside)
    if section.joint == "lapped_through":
        end, start = max(0.0, before), max(0.0, after)
        first, second = ((-long, 0.0), (end, 0.0), (end, one), (-long, one)), _lap(on, start, long, other)
    elif section.joint == "lapped_between":
        end, start = min(0.0, before), min(0.0, after)
        first, second = ((-long, 0.0), (end, 0.0), (end, one), (-long, one)), _lap(on, start, long, other)
    left, low, right, high = bounding_box((*first, *second))
    board = _board(say(language, "corner_section"), (right - left, high - low), room_pt, unit, size)
    outer = -1.0 if turn > 0 else 1.0  # which side of the steel the room is on
    leg, thin = float(section.leg_nm), STEEL_NM * 1.5
    far, near = _leaning((0.0, 0.0), inside, -thin), _leaning(inside, (0.0, 0.0), -thin)
    angles = (
        ((far[0] - leg, far[1]), far, (far[0] + leg * ahead[0], far[1] + leg * ahead[1])),
        ((near[0] - leg, near[1]), near, (near[0] + leg * ahead[0], near[1] + leg * ahead[1])),
    )
    board.add(Polygon(points=first), Polygon(points=second))
    if leg:
        board.add(*(Polyline(points=points, style="bold") for points in angles))
    board.add(Dimension(a=(-long, 0), b=(-long, one), text=length_figure(one, unit), offset_pt=1.2 * size, size=size))
    board.add(
        Dimension(a=on(long, 0), b=on(long, other), text=length_figure(other, unit), offset_pt=-1.2 * size, size=size)
        if outer < 0
        else Dimension(a=on(long, other), b=on(long, 0), text=length_figure(other, unit), offset_pt=1.2 * size, size=size)
    )
    places = {
        "joint": (inside[0] * 0.5, inside[1] * 0.5),
        "angle_out": ((far[0] - 0.6 * leg), far[1]),
        "angle_in": ((near[0] - 0.6 * leg), near[1]),
        "screws": (far[0] + 0.6 * leg * ahead[0], far[1] + 0.6 * leg * ahead[1]),
    }
    return _numbered(board, section.parts, places, size)


def _lap(on: object, start: float, long: float, thick: float) -> tuple[At, ...]:
    assert callable(on)
    return on(start, 0), on(long, 0), on(long, thick), on(start, thick)


def _leaning(a: At, b: At, by: float) -> At:
    """Return a point moved along the way to another."""
    long = math.dist(a, b) or 1.0
    return a[0] + (b[0] - a[0]) / long * by, a[1] + (b[1] - a[1]) / long * by


def ridge_section_drawing(
    section: RidgeSection, *, unit: Unit, room_pt: At = ROOM_PT, language: Language = ENGLISH, size: float = 10.0
) -> Drawing:
    """Return the ridge: x from its middle, y from where the lower faces would meet."""
    gap = section.gap_nm / 2
    long = 1.3 * section.leg_nm + max(side.roof_nm for side in section.sides)
    panels = [_slope(side, gap, long, way) for side, way in zip(section.sides, (-1, 1), strict=True)]
    left, low, right, high = bounding_box([point for panel in panels for point in panel])
    board = _board(say(language, "ridge_section"), (right - left, high - low), room_pt, unit, size)
    tops = [_top(side) for side in section.sides]
    slopes = [side.rise / side.run for side in section.sides]
    # the upper faces' planes meet here
    meet = (tops[1] - tops[0]) / (slopes[0] + slopes[1])
    peak = (meet, tops[0] + slopes[0] * meet + 2 * STEEL_NM)
    ends = [_down(peak, slope, section.leg_nm, way) for slope, way in zip(slopes, (-1, 1), strict=True)]
    foam = (panels[0][1], panels[1][1], panels[1][2], panels[0][2])
    board.add(Polygon(points=foam, style="shade"), *(Polygon(points=points) for points in panels))
    board.add(Polyline(points=(ends[0], peak, ends[1]), style="bold"))
    for end, slope, way in zip(ends, slopes, (-1, 1), strict=True):
        place = _down(end, -slope, 0.2 * section.leg_nm, -way)
        board.add(Line(a=(place[0], place[1] + 8 * STEEL_NM), b=(place[0], place[1] - 16 * STEEL_NM), style="edge"))
    board.add(
        Dimension(a=panels[0][1], b=panels[1][1], text=length_figure(section.gap_nm, unit), offset_pt=-2.6 * size, size=size)
    )
    for points, side in zip(panels, section.sides, strict=True):
        text = length_figure(side.roof_nm, unit)
        a, b = (points[0], points[3]) if points is panels[0] else (points[3], points[0])
        board.add(Dimension(a=a, b=b, text=text, offset_pt=1.2 * size, size=size))
    middle = [sum(point[axis] for point in panels[0]) / 4 for axis in (0, 1)]
    screw = _down(ends[1], -slopes[1], 0.2 * section.leg_nm, -1)
    places = {
        "panel": (middle[0], middle[1]),
        "foam": (0.0, (panels[0][1][1] + panels[0][2][1]) / 2),
        "trim": peak,
        "screws": screw,
    }
    return _numbered(board, section.parts, places, size)


def _top(side: RidgeSide) -> float:
    """Return how high the upper face's plane is over the ridge's middle."""
    return side.roof_nm * math.hypot(side.rise, side.run) / side.run


def _slope(side: RidgeSide, gap: float, long: float, way: int) -> tuple[At, At, At, At]:
    """Return a panel below a ridge: low end, end at the gap, that on the upper face, low end's upper face; `way`: -1 left."""
    slope, full = side.rise / side.run, math.hypot(side.rise, side.run)
    run, rise = side.run / full, side.rise / full
    end = (way * gap, -slope * gap)
    foot = (way * (gap + long * run), -slope * (gap + long * run))
    up = (way * side.roof_nm * rise, side.roof_nm * run)
    over = (end[0] + up[0], end[1] + up[1]) if side.cut == "square" else (end[0], end[1] + _top(side))
    return foot, end, over, (foot[0] + up[0], foot[1] + up[1])


def _down(at: At, slope: float, by: float, way: int) -> At:
    long = math.hypot(1, slope)
    return at[0] + way * by / long, at[1] - slope * by / long


def _board(title: str, size_nm: At, room_pt: At, unit: Unit, size: float) -> DrawingBoard:
    return DrawingBoard(title, room_pt=(room_pt[0] - 9 * size, room_pt[1] - 7 * size), size_nm=size_nm, unit=unit)


def _numbered(board: DrawingBoard, parts: Iterable[SectionPart], places: dict[str, At], size: float) -> Drawing:
    """Return the drawing with each part's number, led out of it."""
    drawn = [point for shape in board.shapes if isinstance(shape, Polygon | Polyline) for point in shape.points]
    board.set_body(bounding_box(drawn))
    for n, part in enumerate(parts, 1):
        board.letter_centred(places[part.part], str(n), size=size, within=(0, 0), bold=True)
    return board.done()
