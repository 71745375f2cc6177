"""A building order as its document says it (format 1): read by the codec, resolved into a Building by the reading stage.

Lengths are numbers in the document's `unit` or texts with their own. A level's `top`, wall outlines and opening heights
count from the level's base, which is the panel's foot; a wall with a `base` of its own counts its own outline and openings
from there. `base` and `eave_z` are absolute heights.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Literal

from solver.field_limits import Description, ExclusiveMinimum, ItemCount, Maximum, Minimum, TextPattern
from solver.units import Nm, Unit

Id = Annotated[str, TextPattern(r"[A-Za-z0-9][A-Za-z0-9_-]{0,39}", "an id of up to 40 letters, digits, _ and -")]
Name = Annotated[str, TextPattern(r"\S(.{0,78}\S)?", "a name of up to 80 characters")]
GroupName = Annotated[str, TextPattern(r"[A-Za-z0-9_-]{1,40}\.[A-Za-z0-9_-]{1,40}", "a wall or roof plane such as L1.S or R.S")]
LevelOrWall = Annotated[
    str, TextPattern(r"[A-Za-z0-9_-]{1,40}(\.[A-Za-z0-9_-]{1,40})?", "a level such as L1 or a wall such as L1.S")
]
Pitch = Annotated[str, TextPattern(r"\d{1,3}(\.\d{1,9})?\s*/\s*12|\d{1,2}(\.\d{1,9})?\s*deg", "a pitch such as 8/12 or 30 deg")]
Size = Annotated[Nm, ExclusiveMinimum(0)]
At = tuple[Nm, Nm]


@dataclass(frozen=True, slots=True, kw_only=True)
class CornerJoint:
    """How two walls meet; a lapped corner names the wall that runs through."""

    kind: Literal["mitred", "lapped"]
    through: Id | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OutlineCorner:
    """A corner of an outline, on the outside face."""

    id: Id
    at: At
    joint: CornerJoint | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """Outside faces of a storey, counter-clockwise; wall n runs from corner n to corner n + 1."""

    corners: Annotated[tuple[OutlineCorner, ...], ItemCount(3, 200)]
    walls: Annotated[tuple[Id, ...], ItemCount(3, 200)]


@dataclass(frozen=True, slots=True, kw_only=True)
class TopOutline:
    """A wall's top as points from its left end seen from outside: along, up."""

    outline: Annotated[tuple[At, ...], ItemCount(2, 200)]


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelWall:
    """What one wall of a level has of its own."""

    base_nm: Nm | None = None
    top: Nm | Literal["roof"] | TopOutline | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """A storey: the outline it stands on, its base, and the top of its walls."""

    id: Id
    outline: Id
    base_nm: Nm
    top: Nm | Literal["roof"]
    walls: Mapping[str, LevelWall] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderHead:
    """The head of an opening that is not square; its heights are included in the opening's height."""

    kind: Literal["arch", "trapezoid", "round"]
    rise_nm: Size | None = None
    left_nm: Size | None = None
    right_nm: Size | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderOpening:
    """A clear size between channel webs, from the left end of its wall seen from outside."""

    id: Id
    on: GroupName
    kind: Literal["window", "door", "skylight", "vent"]
    from_left_nm: Nm
    sill_nm: Annotated[Nm, Description("from the wall's base; a door has none")] | None = None
    up_nm: Annotated[Nm, Description("skylight, vent: along the slope from the wall line")] | None = None
    width_nm: Size
    height_nm: Size
    head: OrderHead | None = None
    corner_with: Id | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderBearingOpening:
    """A gap in an interior bearing wall, from the line's first point."""

    id: Id
    from_nm: Annotated[Nm, Minimum(0)]
    width_nm: Size
    height_nm: Size


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderBearingWall:
    """An interior bearing wall by its centreline; `top` counts from the level's base."""

    id: Id
    level: Id
    line: tuple[At, At]
    top_nm: Size
    openings: Annotated[tuple[OrderBearingOpening, ...], ItemCount(0, 100)] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderFurring:
    """Furring on the inside faces of walls, for boards: strips upright or level, a spacing of the plant's apart."""

    spacing_nm: Annotated[Nm, ExclusiveMinimum(0), Description("on centre: one of the plant's, such as 16 or 24 in")]
    runs: Literal["upright", "level"] = "upright"
    on: (
        Annotated[tuple[LevelOrWall, ...], ItemCount(1, 400), Description("levels, or walls such as L1.S; absent: all walls")]
        | None
    ) = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Overhang:
    """How far a gable roof reaches past its walls, level; both rakes alike, or by wall."""

    eave_nm: Annotated[Nm, Minimum(0)] = Nm(0)
    rake: Annotated[Nm, Minimum(0)] | Mapping[str, Nm] = Nm(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShedOverhang:
    """How far a shed roof reaches past its walls, level."""

    low_nm: Annotated[Nm, Minimum(0)] = Nm(0)
    high_nm: Annotated[Nm, Minimum(0)] = Nm(0)
    rake: Annotated[Nm, Minimum(0)] | Mapping[str, Nm] = Nm(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class EaveOverhang:
    """How far a hip or skeleton roof reaches past its walls, level."""

    eave_nm: Annotated[Nm, Minimum(0)] = Nm(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class RoofCut:
    """Whether ridge and eave ends are cut square or plumb."""

    ridge: Literal["square", "plumb"] = "square"
    eave: Literal["square", "plumb"] = "square"


Over = Annotated[Id | Annotated[tuple[GroupName, ...], ItemCount(1, 400)], Description("a level, or a list of walls")]


@dataclass(frozen=True, slots=True, kw_only=True)
class GableRoof:
    """Two planes on a rectangle, with a ridge along x or y."""

    id: Id
    kind: Literal["gable"]
    over: Over
    ridge: Literal["x", "y"]
    pitch: Pitch
    eave_z_nm: Nm
    overhang: Overhang = Overhang()
    cut: RoofCut = RoofCut()


@dataclass(frozen=True, slots=True, kw_only=True)
class ShedRoof:
    """One plane on a rectangle that rises from the wall at its low side."""

    id: Id
    kind: Literal["shed"]
    over: Over
    low: Id
    pitch: Pitch
    eave_z_nm: Nm
    overhang: ShedOverhang = ShedOverhang()
    cut: RoofCut = RoofCut()


@dataclass(frozen=True, slots=True, kw_only=True)
class HipRoof:
    """Four planes of equal pitch on a rectangle."""

    id: Id
    kind: Literal["hip"]
    over: Over
    pitch: Pitch
    eave_z_nm: Nm
    overhang: EaveOverhang = EaveOverhang()
    cut: RoofCut = RoofCut()


@dataclass(frozen=True, slots=True, kw_only=True)
class SkeletonRoof:
    """A plane of equal pitch over each wall of any outline, meeting at ridges, hips and valleys."""

    id: Id
    kind: Literal["skeleton"]
    over: Over
    pitch: Pitch
    eave_z_nm: Nm
    overhang: EaveOverhang = EaveOverhang()
    cut: RoofCut = RoofCut()


@dataclass(frozen=True, slots=True, kw_only=True)
class ExplicitPlane:
    """A plane that rises to the left of its line; `z` is its lower face on the line, `plan` its outline seen from above."""

    id: Id
    line: tuple[At, At]
    z_nm: Nm
    pitch: Pitch
    plan: Annotated[tuple[At, ...], ItemCount(3, 100)]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanesRoof:
    """A roof given plane by plane."""

    id: Id
    kind: Literal["planes"]
    planes: Annotated[tuple[ExplicitPlane, ...], ItemCount(1, 100)]
    over: Over | None = None
    cut: RoofCut = RoofCut()


Roof = GableRoof | ShedRoof | HipRoof | SkeletonRoof | PlanesRoof


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """The corner where the crew starts, and the way it goes round, seen from above."""

    corner: Id
    direction: Literal["ccw", "cw"] = "ccw"


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderMeasured:
    """A poured bolt as measured: along its wall from the corner measured from (else its left end), across from outside."""

    id: Id
    on: GroupName
    along_nm: Annotated[Nm, Minimum(0)]
    across_nm: Annotated[Nm, Minimum(0)]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderAnchors:
    """Whether holes are drilled to the bolts as measured, or the channel goes ahead as the pour's template."""

    holes: Literal["as_measured", "template"] = "template"
    measured_from: Id | None = None
    measured: Annotated[tuple[OrderMeasured, ...], ItemCount(0, 2000)] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderShipTo:
    """Where a kit goes."""

    name: Name
    lines: Annotated[tuple[Name, ...], ItemCount(0, 8)] = ()
    country: Annotated[str, TextPattern(r"[A-Z]{2}", "a country code of two capitals such as US")] = "US"


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """The building site: where, in which time zone, how far from the dock, and how it unloads."""

    ship_to: OrderShipTo
    time_zone: Annotated[str, Description("a zone such as America/Denver; absent: the plant's")] | None = None
    transit_minutes: Annotated[int, Minimum(0), Maximum(20_160)] = 0
    unload_from: Annotated[tuple[Literal["left", "right", "rear"], ...], ItemCount(1, 3)] = ("left", "right", "rear")


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderDelivery:
    """What must be on site when (local time there), and how much its lateness weighs."""

    id: Id
    need_by: Annotated[str, TextPattern(r"\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d)?", "a local time such as 2031-05-12T07:00")]
    priority: Annotated[int, Minimum(1), Maximum(1000)] = 1
    parts: Annotated[tuple[Id, ...], ItemCount(1, 200), Description("levels and roofs; `base`: the base channel of all levels")]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderFamilies:
    """Panel families and the bearing walls' stud profile; absent: the plant's defaults."""

    wall: Name | None = None
    roof: Name | None = None
    bearing: Name | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderFinish:
    """Colours of a panel's two faces; absent: the plant's defaults."""

    outside: Name | None = None
    inside: Name | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderColours:
    """Colours of walls, roofs and trim; absent: the plant's defaults."""

    wall: OrderFinish = OrderFinish()
    roof: OrderFinish = OrderFinish()
    trim: Name | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """One building order: format 1. Ids name elements across revisions; what is left out is the plant catalog's default."""

    format: Literal[1]
    id: Id
    revision: Annotated[int, Minimum(1), Maximum(100_000)] = 1
    replaces: Annotated[int, Minimum(1)] | None = None
    unit: Unit = field(metadata={"always": True})
    families: OrderFamilies = OrderFamilies()
    colours: OrderColours = OrderColours()
    outlines: Mapping[str, Outline]
    levels: Annotated[tuple[Level, ...], ItemCount(1, 20)]
    openings: Annotated[tuple[OrderOpening, ...], ItemCount(0, 2000)] = ()
    bearing_walls: Annotated[tuple[OrderBearingWall, ...], ItemCount(0, 200)] = ()
    furring: Annotated[tuple[OrderFurring, ...], ItemCount(0, 100)] = ()
    roofs: Annotated[tuple[Roof, ...], ItemCount(0, 50)] = ()
    start: Start | None = None
    anchors: OrderAnchors = OrderAnchors()
    site: Site
    deliveries: Annotated[tuple[OrderDelivery, ...], ItemCount(1, 100)]
