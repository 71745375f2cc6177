"""A building as resolved from an order: every default filled in, geometry in whole nanometres.

Walls are seen from outside, left to right along a counter-clockwise outline: `u` runs along the wall from its left end,
`z` up from the wall's base. Roof planes are seen square to the plane from outside and below the eave: `x` runs level along
the eave from the left end of the wall below, `y` up the slope from the wall line, both on the plane's lower face.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from solver.domain.ids import GroupId, OrderId
from solver.units import MicroDeg, Nm, Unit

Point = tuple[Nm, Nm]
Point3 = tuple[Nm, Nm, Nm]

JointKind = Literal["mitred", "lapped_through", "lapped_between", "free"]
# eave: the low edge; rake: a sloped free edge; ridge, hip (they shed water apart) and valley (together): shared with another
# plane; seam: shared with one that lies in the same plane; wall: leans on a wall that rises beside it; open: a level free edge
# at the top, as of a shed roof.
RoofEdge = Literal["eave", "rake", "ridge", "hip", "valley", "seam", "wall", "open"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Corner:
    """How a wall ends: the corner's id, the wall it meets, and how the two are joined here."""

    id: str
    neighbour: GroupId | None
    interior_udeg: MicroDeg  # 90_000_000 at a square outside corner, 270_000_000 at a square inside corner
    joint: JointKind


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """The head of an opening that is not square; heights count within the opening's height."""

    kind: Literal["arch", "trapezoid", "round"]
    rise_nm: Nm | None = None
    left_nm: Nm | None = None
    right_nm: Nm | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Opening:
    """A clear opening between channel webs; on a roof plane `z` counts along `y`."""

    id: str
    kind: Literal["window", "door", "skylight", "vent"]
    u0_nm: Nm
    u1_nm: Nm
    z0_nm: Nm
    z1_nm: Nm
    head: Head | None = None
    corner_with: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Finish:
    """Colours of a panel's two faces."""

    outside: str
    inside: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Furring:
    """Strips on a wall's inside face: how far apart on centre, and which way they run."""

    spacing_nm: Nm
    runs: Literal["upright", "level"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Wall:
    """One panelled wall band: `a` is its left end seen from outside, on the outside face."""

    id: GroupId
    level: str
    a: Point
    b: Point
    length_nm: Nm
    base_z_nm: Nm
    top: tuple[Point, ...]  # (u, z), from u = 0 to u = length; equal u twice is a step
    left: Corner
    right: Corner
    family: str
    finish: Finish
    openings: tuple[Opening, ...] = ()
    on_slab: bool = True  # stands on the foundation: takes base channel and anchors
    under_roof: tuple[str, ...] = ()  # the roof planes whose lower face makes this wall's top
    furring: Furring | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RoofPlane:
    """One plane of a roof: its lower face as a polygon in (x, y), counter-clockwise, with the kind of each edge."""

    id: GroupId
    roof: str
    a: Point  # plan position of (0, 0): left end of the wall line
    b: Point  # plan position of a point on the wall line to the right of a; the plane rises to the left of a to b
    z_nm: Nm  # height of the lower face on the line
    rise: int  # pitch as rise over run, exact for r/12; for degrees the nearest fraction to 1e-12
    run: int
    outline: tuple[Point, ...]
    edges: tuple[RoofEdge, ...]  # edges[n] runs from outline[n] to outline[n + 1]
    family: str
    finish: Finish
    openings: tuple[Opening, ...] = ()
    ridge_cut: Literal["square", "plumb"] = "square"
    eave_cut: Literal["square", "plumb"] = "square"
    pitch_shown: str = ""


def point_in_space(plane: RoofPlane, x: float, y: float) -> tuple[float, float, float]:
    """Return a point of a plane's lower face in space: plan position and height, nanometres."""
    along_x, along_y = plane.b[0] - plane.a[0], plane.b[1] - plane.a[1]
    long, slope = math.hypot(along_x, along_y), math.hypot(plane.rise, plane.run)
    ux, uy, level = along_x / long, along_y / long, y * plane.run / slope
    return plane.a[0] + ux * x - uy * level, plane.a[1] + uy * x + ux * level, plane.z_nm + y * plane.rise / slope


@dataclass(frozen=True, slots=True, kw_only=True)
class BearingOpening:
    """A gap in an interior bearing wall, with a header over it."""

    id: str
    from_nm: Nm
    width_nm: Nm
    height_nm: Nm


@dataclass(frozen=True, slots=True, kw_only=True)
class BearingWall:
    """An interior bearing wall by its centreline."""

    id: GroupId
    level: str
    a: Point
    b: Point
    length_nm: Nm
    base_z_nm: Nm
    top_nm: Nm
    family: str
    openings: tuple[BearingOpening, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredAnchor:
    """A poured bolt as measured along a wall from its left end (seen from outside), and across from the outside face."""

    id: str
    on: GroupId
    along_nm: Nm
    across_nm: Nm


@dataclass(frozen=True, slots=True, kw_only=True)
class Delivery:
    """What must be on site when, and how much its lateness weighs."""

    id: str
    need_by: str  # ISO 8601 with offset, at the site
    dock_due: str  # ISO 8601 with offset: need-by less transit
    priority: int
    parts: tuple[str, ...]
    base: bool = False  # brings the base channel of all levels, ahead of their panels


BASE_ROLE = "base_channel"


def delivery_of_part(deliveries: Sequence[Delivery], part: str, role: str) -> Delivery | None:
    """Return the delivery that brings a piece of a level or roof; base channel comes with the one that names it, if any."""
    if role == BASE_ROLE and any(one.base for one in deliveries):
        return next(one for one in deliveries if one.base)
    return next((one for one in deliveries if part in one.parts), None)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShipTo:
    """Where a kit goes."""

    name: str
    lines: tuple[str, ...]
    country: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Building:
    """All that takeoff needs of an order, resolved against the plant catalog."""

    order: OrderId
    revision: int
    replaces: int | None
    unit: Unit
    walls: tuple[Wall, ...]
    roof: tuple[RoofPlane, ...]
    bearing: tuple[BearingWall, ...]
    start_corner: str
    direction: Literal["ccw", "cw"]
    trim_colour: str
    anchor_holes: Literal["as_measured", "template"]
    measured: tuple[MeasuredAnchor, ...]
    deliveries: tuple[Delivery, ...]
    ship_to: ShipTo
    unload_from: tuple[Literal["left", "right", "rear"], ...]
