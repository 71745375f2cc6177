"""What paper says, as rows: labels, tags, saw sheets, load sheets, lists. No page, font or barcode here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from solver.domain.building import Building, Delivery, Head, JointKind, RoofPlane, Wall
from solver.domain.bundle import Bundle, LooseItem, StackPiece
from solver.domain.cut_plan import Bar, Turn
from solver.domain.ids import BarId, BundleId, GroupId, OrderId, PieceId
from solver.domain.lay import Lies
from solver.domain.lift import Lift
from solver.domain.load import AxleWeight, Deck, Load, LoadBundle
from solver.domain.piece import Piece, Role
from solver.domain.slit_plan import SlitJob, SlitResult
from solver.domain.takeoff import Anchor, BrokenRule, Drop, HardwareLine
from solver.units import Cents, Grams, MicroDeg, Nm, Unit

LabelPlace = Literal["foot_end", "inside_face"]
LABEL_PLACES: tuple[LabelPlace, ...] = ("foot_end", "inside_face")  # never on film or the outside face


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceLabel:
    """One label of a piece: the same facts twice, once readable in the stack, once on the standing wall."""

    piece: Piece
    place: LabelPlace
    code: str  # what its QR code says: the piece's id, and from the second making on its number
    short_code: str  # twelve digits that stand for it: to type, and for a bar code where the id is too long for one
    lift: Lift
    making: int = 1  # which time the piece is made: labels of makings before are void
    unit: Unit = "in"  # of its order: what the crew reads
    bar: BarId | None = None
    bar_name: str = ""  # the machine that cuts it, and which of its bars it is
    bar_at: int = 0  # n-th piece of bar_of, from the zero end
    bar_of: int = 0
    bundle: BundleId | None = None
    bundle_name: str = ""
    bundle_at: int = 0  # n-th from the top of bundle_of
    bundle_of: int = 0
    film_by: str | None = None  # ISO date: film comes off within so many days outdoors


@dataclass(frozen=True, slots=True, kw_only=True)
class BundleRow:
    """One piece of a bundle, counted from the top."""

    at: int
    piece: PieceId
    mark: str
    role: Role
    stands: int
    length_nm: Nm
    width_nm: Nm
    weight_g: Grams
    set_aside: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class TagPlace:
    """Where a bundle rides: its truck, named with the order; as which of how many it goes on; its place on the deck."""

    load: str
    at: int
    of: int
    x_nm: Nm  # from the front
    y_nm: Nm  # from the left
    z_nm: Nm  # above the deck


@dataclass(frozen=True, slots=True, kw_only=True)
class BundleTag:
    """A bundle's tag and sheet: its serial shipping container code, contents top to bottom, weight, where forks go."""

    bundle: Bundle
    name: str  # short: its number within the order
    count: int  # bundles of the order
    serial: str  # SSCC, 18 digits
    link: str  # the same as a GS1 Digital Link
    rows: tuple[BundleRow, ...]
    forks_nm: tuple[Nm, Nm] | None
    stack: tuple[StackPiece, ...]
    dunnage_nm: tuple[Nm, Nm]  # height, width
    unit: Unit = "in"  # of its order: what the crew reads
    deliveries: tuple[str, ...] = ()
    spreader: bool = False  # longer than two forks handle
    place: TagPlace | None = None  # where it rides; nowhere before its order is loaded


@dataclass(frozen=True, slots=True, kw_only=True)
class SawCut:
    """One cut of a bar as it lies: where on the edge at the fence and on the far edge, from zero, and what it frees or starts.

    The figures of a tilted cut are on the face that lies up (`on_upper`) or down: a panel's longer face, a channel's web.
    """

    kind: Literal["trim", "part", "start"]
    near_nm: Nm
    far_nm: Nm
    lean_udeg: MicroDeg  # from square; positive: longer on the far edge
    piece: PieceId | None
    mark: str
    tilt_udeg: MicroDeg = MicroDeg(0)  # of the blade, through the thickness
    long_up: bool = False  # the longer face of the piece that the cut frees or starts lies up
    on_upper: bool = True
    arris_nm: Nm = Nm(0)  # where the other face ends, along the bar from the cut; negative towards zero


@dataclass(frozen=True, slots=True, kw_only=True)
class SecondCut:
    """An end cut after the bar's own cuts, the panel laid as `SawBar.lies` with its foot at zero.

    A straight cut through two places, the nearer to the fence first: from zero, and in from the fence; on the longer face.
    """

    end: Literal["foot", "head"]
    near_nm: Nm
    near_in_nm: Nm
    far_nm: Nm
    far_in_nm: Nm
    swing_udeg: MicroDeg  # from square; positive: longer away from the fence
    tilt_udeg: MicroDeg = MicroDeg(0)
    long_up: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class SawPiece:
    """One piece of a bar as the operator handles it: turn, and where it goes after the saw."""

    at: int
    piece: PieceId
    mark: str
    name: str  # with its order, where the sheet has several
    turn: Turn
    long_nm: Nm
    weight_g: Grams
    lift: Lift
    bundle: BundleId | None
    bundle_name: str
    lies: Lies  # in its bar: turned in it, it lies otherwise than the bar
    seconds: tuple[SecondCut, ...] = ()
    tilt_udeg: MicroDeg = MicroDeg(0)
    rips: tuple[Literal["left", "right"], ...] = ()
    bevels: tuple[tuple[Literal["left", "right"], MicroDeg], ...] = ()
    openings: int = 0
    pockets: int = 0
    holes: int = 0
    way: str = ""  # a note: how it comes out of its bar, where not by cuts of its own


@dataclass(frozen=True, slots=True, kw_only=True)
class SawBar:
    """One bar to pull and cut."""

    at: int  # n-th of the `of` bars that its machine cuts, as the tablet counts them
    of: int
    bar: Bar  # as it lies: `edge_a` at the fence
    what: str  # its material in words
    lies: Lies
    width_nm: Nm
    panel: bool
    keep_from_nm: Nm | None
    cuts: tuple[SawCut, ...]
    pieces: tuple[SawPiece, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SawSheet:
    """All bars of one machine in cut order."""

    machine: str
    bars: tuple[SawBar, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadRow:
    """One bundle of a load, in order of loading."""

    at: int  # goes on at-th
    off: int  # comes off off-th
    bundle: BundleId
    name: str
    x_nm: Nm
    y_nm: Nm
    z_nm: Nm
    length_nm: Nm
    weight_g: Grams
    stop: int


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadSheet:
    """One truck: where each bundle stands, in which order, weights by axle, tie-downs."""

    order: OrderId
    load: Load
    deck: Deck
    rows: tuple[LoadRow, ...]
    bundles: tuple[LoadBundle, ...]
    names: tuple[tuple[BundleId, str], ...]
    axles: tuple[AxleWeight, ...]  # as loaded, then after each bundle taken off
    strap_tension_g: Grams
    ship_to: tuple[str, ...]
    unload_from: tuple[str, ...]
    need_by: tuple[str, ...] = ()
    rule_set: str = "US"
    local_rules: str | None = None
    permit: str | None = None
    height_limit_nm: Nm | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PackingRow:
    """One bundle of the packing list."""

    bundle: BundleId
    name: str
    serial: str
    load: str
    count: int
    weight_g: Grams
    length_nm: Nm
    marks: tuple[str, ...]
    items: tuple[LooseItem, ...] = ()  # hardware in it


@dataclass(frozen=True, slots=True, kw_only=True)
class PackingList:
    """All that is shipped for an order, in its own unit: bundles with their contents, and the hardware."""

    order: OrderId
    unit: Unit
    ship_to: tuple[str, ...]
    deliveries: tuple[Delivery, ...]
    rows: tuple[PackingRow, ...]
    hardware: tuple[HardwareLine, ...]  # that is in none of the boxes
    weight_g: Grams


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingRow:
    """One piece in order of standing: where it is."""

    stands: int
    piece: PieceId
    mark: str
    role: Role
    length_nm: Nm
    weight_g: Grams
    lift: Lift
    bundle_name: str
    from_top: int
    closing: bool = False
    field_head: bool = False
    notes: tuple[str, ...] = ()  # what concerns this piece alone, in the stage's English


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """A note on several pieces, or on one that must not be missed; `marks` are empty where it concerns all of a role."""

    note: str  # in the stage's English
    role: Role
    marks: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class EaveSection:
    """What a section through an eave shows: thicknesses, the pitch square to the wall, the wedge's height and what closes it.

    `rise_nm` is how much higher the roof's lower face is over the wall's inside face than over its outside one.
    """

    wall_nm: Nm
    roof_nm: Nm
    rise: int
    run: int
    rise_nm: Nm
    closed_by: Literal["filler", "closure", "bevel"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionPart:
    """A part that a section shows: what it is, the catalog's item where it comes out of a box, how far apart its screws are."""

    part: Literal["channel", "sealant", "screws", "bolt", "panel", "trim", "foam", "angle_out", "angle_in", "joint"]
    item: str = ""
    spacing_nm: Nm | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BaseSection:
    """What a section through the foot of some walls shows: channel, bolt, and the panel that stands in it."""

    at: tuple[GroupId, ...]
    wall_nm: Nm
    flange_nm: Nm
    gauge: int
    bolt_nm: Nm  # diameter
    across_nm: Nm  # of the bolt, from the outside face
    projection_nm: Nm  # above the slab
    pocket_nm: Nm  # in the panel's foot, for nut and washer
    parts: tuple[SectionPart, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RidgeSide:
    """One of the two planes at a ridge: its pitch, how thick it is, and how its panels' upper ends are cut."""

    rise: int
    run: int
    roof_nm: Nm
    cut: Literal["square", "plumb"]


@dataclass(frozen=True, slots=True, kw_only=True)
class RidgeSection:
    """What a section through a ridge shows: two planes, the gap between their lower faces, and the trim over it."""

    at: tuple[GroupId, ...]
    sides: tuple[RidgeSide, RidgeSide]
    gap_nm: Nm  # level, between the lower faces
    leg_nm: Nm  # of the trim, on either slope
    parts: tuple[SectionPart, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CornerSection:
    """What a section through corners shows, from above: the wall that ends there, the one that begins, and the angles."""

    at: tuple[str, ...]  # corners
    interior_udeg: MicroDeg
    walls_nm: tuple[Nm, Nm]  # thickness of the wall that ends at the corner, seen from outside left to right; of the other
    joint: JointKind  # of the wall that ends there
    leg_nm: Nm  # of the angles
    parts: tuple[SectionPart, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class InstallationSheet:
    """One elevation or roof plane: its drawing's data, pieces in order of standing, hardware, what to mind; in `unit`."""

    order: OrderId
    unit: Unit
    group: GroupId
    wall: Wall | None
    plane: RoofPlane | None
    pieces: tuple[Piece, ...]
    rows: tuple[StandingRow, ...]
    hardware: tuple[HardwareLine, ...]
    film_days: int
    remarks: tuple[Remark, ...] = ()
    warnings: tuple[str, ...] = ()  # of the takeoff, in its English
    broken: tuple[BrokenRule, ...] = ()  # soft rules that had to give here
    eave: EaveSection | None = None  # of a level wall top under a roof that rises inward


@dataclass(frozen=True, slots=True, kw_only=True)
class StoreyPlan:
    """A storey's walls from above, in turn from the corner where the crew starts on it."""

    level: str
    start: str  # that corner
    runs: tuple[WallRun, ...]
    walls_in_order: tuple[GroupId, ...]  # its walls in the order in which the first panel of each stands


@dataclass(frozen=True, slots=True, kw_only=True)
class BeginSheet:
    """Where the crew begins a house: its walls from above, the start boxes, what stands first, what closes a loop."""

    building: Building
    ground_storey: StoreyPlan | None  # the walls on the slab
    thickness_nm: tuple[tuple[str, Nm], ...]  # by family
    boxes: tuple[tuple[str, str], ...]  # each start box and the truck that it comes on
    first: StandingRow
    first_panel: StandingRow | None
    closing: tuple[str, ...]  # marks
    bases: tuple[BaseSection, ...] = ()
    corners: tuple[CornerSection, ...] = ()
    ridges: tuple[RidgeSection, ...] = ()
    storeys: tuple[StoreyPlan, ...] = ()  # above the slab's, from below
    planes: tuple[GroupId, ...] = ()  # of the roof, in the order in which the first panel of each is laid


@dataclass(frozen=True, slots=True, kw_only=True)
class AnchorRow:
    """One bolt, as the crew finds it from the corner where it starts, and the rule that asked for it."""

    anchor: Anchor
    along_nm: Nm  # along its wall, from the corner that the crew comes to first
    from_start_nm: Nm  # along the outline from the start corner
    x_nm: Nm  # from the start corner along the first wall
    y_nm: Nm  # square to that wall, into the building


@dataclass(frozen=True, slots=True, kw_only=True)
class WallRun:
    """One wall on the slab, from the corner that the crew comes to first to the other one, with its bolts."""

    wall: GroupId
    first: str
    last: str
    length_nm: Nm
    from_start_nm: Nm
    rows: tuple[AnchorRow, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CornerCheck:
    """A corner of the outline: where it lies from the start corner, and how far straight across."""

    id: str
    x_nm: Nm
    y_nm: Nm
    straight_nm: Nm


@dataclass(frozen=True, slots=True, kw_only=True)
class AnchorSheet:
    """The anchor plan of an order, for the slab crew before the pour."""

    building: Building
    runs: tuple[WallRun, ...]
    corners: tuple[CornerCheck, ...]
    to_measure: bool  # holes are drilled to bolts as measured, and these are not measured yet
    thickness_nm: tuple[tuple[str, Nm], ...]  # by family
    diameter_nm: Nm
    projection_nm: Nm
    hole_nm: Nm
    broken: tuple[BrokenRule, ...] = ()
    warnings: tuple[str, ...] = ()  # of the takeoff, in its English

    @property
    def rows(self) -> tuple[AnchorRow, ...]:
        """All bolts in order from the start corner."""
        return tuple(row for run in self.runs for row in run.rows)


@dataclass(frozen=True, slots=True, kw_only=True)
class PurchaseRow:
    """Something to have: how much is needed, on hand, to buy, and at what price."""

    kind: Literal["bar", "hardware"]
    item: str
    length_nm: Nm | None
    needed: int
    on_hand: int
    to_buy: int
    cents: Cents | None
    note: str = ""
    to_make: int = 0  # laminated, or slit and formed, at the plant


@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialRow:
    """What bars and trims are made from: grams of skin or coil, litres of core; what is held, and in which coils."""

    kind: Literal["skin", "coil", "core"]
    item: str
    width_nm: Nm
    run_nm: Nm
    needed: int
    held: int
    thickness_nm: Nm | None = None
    sources: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RipRow:
    """One long edge to rip or bevel, the other edge at the fence: how far from the fence the cut is on either face.

    A panel that is cut on both edges is cut on the left one first: `at` of `of`. The second cut counts from the first's edge.
    """

    piece: PieceId
    mark: str
    name: str  # with its order, where the sheet has several
    what: str
    length_nm: Nm
    side: Literal["left", "right"]
    lies: Lies
    at: int
    of: int
    bevel_udeg: MicroDeg
    upper_nm: Nm  # kept of the face that lies up
    lower_nm: Nm
    bundle_name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LyingHole:
    """A hole or a pocket as it lies: from zero, in from the fence, how far down its middle is; its size across."""

    kind: Literal["hole", "pocket"]
    x_nm: Nm
    y_nm: Nm
    down_nm: Nm
    size_nm: Nm


@dataclass(frozen=True, slots=True, kw_only=True)
class LyingShape:
    """A piece as it lies: places are from zero and in from the fence."""

    outline: tuple[tuple[Nm, Nm], ...]
    cutouts: tuple[tuple[str, tuple[tuple[Nm, Nm], ...]], ...]
    holes: tuple[LyingHole, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ShapeRow:
    """Pieces of one shape, drawn once: outline, openings, pockets, holes, edges and ends alike.

    `lies` and `shape`: on the machine of this sheet; absent where the piece is shown as it stands.
    """

    pieces: tuple[Piece, ...]
    names: tuple[str, ...]  # of the pieces, with their order, where the sheet has several
    bundle_names: tuple[str, ...]
    lies: Lies | None = None
    shape: LyingShape | None = None
    drops: tuple[Drop, ...] = ()  # what falls out of each of them


@dataclass(frozen=True, slots=True, kw_only=True)
class DropRow:
    """Drops alike: material that may be used again, and the marks of the panels that each falls out of."""

    what: str
    width_nm: Nm
    length_nm: Nm
    joints: Literal["both", "left", "right", "none"]
    marks: tuple[str, ...]
    makes: tuple[str, ...] = ()  # marks of pieces that this plan cuts from them


@dataclass(frozen=True, slots=True, kw_only=True)
class BrakeRow:
    """Blanks of one material and length to form: how many, their width and gauge, how many bends."""

    what: str
    gauge: int
    blank_nm: Nm
    bends: int
    length_nm: Nm
    marks: tuple[str, ...]
    paint_up: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class SlitSheet:
    """How to slit one coil material: each pattern across the coil and its run."""

    what: str
    strips: Mapping[str, str]  # what people call each strip's profile, by its id
    job: SlitJob
    result: SlitResult
    paint_up: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class DayLine:
    """One line of a machine's day: work, or a break where `step` is empty; times are ISO 8601 in the plant's zone."""

    start: str
    end: str
    step: str
    about: str = ""
    order: str = ""
    bundles: tuple[str, ...] = ()  # into which its pieces go
    setup_s: int = 0  # the set-up before it
    hold_s: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class MachineDay:
    """What one machine does on one day (ISO 8601) of the plant, in order of time."""

    machine: str
    day: str
    lines: tuple[DayLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ordinate:
    """A point of a curved head: how far out from the centre line, how far up from the spring line (round: the centre)."""

    out_nm: Nm
    up_nm: Nm


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadTemplate:
    """An odd head to finish in the field: its shape, where it is wanted, and the figures that check the paper, in `unit`."""

    order: OrderId
    unit: Unit
    places: tuple[tuple[GroupId, str], ...]  # wall or roof plane, and opening
    head: Head
    width_nm: Nm
    height_nm: Nm  # over the spring line; of a round opening its whole height
    radius_nm: Nm | None
    ordinates: tuple[Ordinate, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RigRow:
    """How one bundle is lifted: by two forks or under a spreader, where, how heavy for truck and slings."""

    bundle: Bundle
    name: str
    load: str
    spreader: bool  # longer than two forks handle
    spread_nm: Nm | None  # between the two forks or slings
    gap_nm: Nm  # under the bundle, for the forks
    rating_g: Grams  # of a forklift that takes it from its side, at the catalog's load centre
    legs_g: tuple[Grams, ...]  # pull in each of two sling legs at 60, 45 and 30 degrees from level


@dataclass(frozen=True, slots=True, kw_only=True)
class CrewRow:
    """How many single pieces are lifted alike, and the heaviest of them."""

    lift: Lift
    count: int
    heaviest_g: Grams


@dataclass(frozen=True, slots=True, kw_only=True)
class HandRow:
    """A single piece that one person must not lift alone."""

    stands: int
    mark: str
    role: Role
    bundle_name: str
    length_nm: Nm
    weight_g: Grams
    lift: Lift


@dataclass(frozen=True, slots=True, kw_only=True)
class RigSheet:
    """Lifting for one order, in its own unit: bundles, then single pieces in order of standing."""

    order: OrderId
    unit: Unit
    handled_nm: Nm
    forklift_centre_nm: Nm
    limits_g: tuple[Grams, ...]  # what one, two, ... may lift together
    published: bool  # whether these are the published shares, not the catalog's own figures
    rows: tuple[RigRow, ...]
    crews: tuple[CrewRow, ...]
    hands: tuple[HandRow, ...]
