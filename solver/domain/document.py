"""What paper says, as rows: labels, tags, saw sheets, load sheets, lists. No page, font or barcode here."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from solver.domain.building import Building, Delivery, Head, RoofPlane, Wall
from solver.domain.bundle import Bundle, StackPiece
from solver.domain.cut_plan import Bar, Turn
from solver.domain.ids import BarId, BundleId, GroupId, MaterialId, OrderId, PieceId
from solver.domain.load import AxleWeight, Deck, Load, LoadBundle
from solver.domain.piece import Piece, Role
from solver.domain.slit_plan import SlitJob, SlitResult
from solver.domain.takeoff import Anchor, BrokenRule, Drop, HardwareLine
from solver.units import Cents, Grams, MicroDeg, Nm

LabelPlace = Literal["foot_end", "inside_face"]
LABEL_PLACES: tuple[LabelPlace, ...] = ("foot_end", "inside_face")  # never on film or the outside face


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceLabel:
    """One label of a piece: the same facts twice, once readable in the stack, once on the standing wall."""

    piece: Piece
    place: LabelPlace
    code: str  # what its QR code says: the piece's id
    short_code: str  # ten digits from the id, for a bar code where the id is too long for one
    crew: int  # how many lift it; 0: by machine
    bar: BarId | None = None
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
    deliveries: tuple[str, ...] = ()
    spreader: bool = False  # longer than two forks handle


@dataclass(frozen=True, slots=True, kw_only=True)
class SawCut:
    """One cut of a bar: where on the near (fence) and the far edge, from zero, and what it frees or starts."""

    kind: Literal["trim", "part", "start"]
    near_nm: Nm
    far_nm: Nm
    lean_udeg: MicroDeg  # from square; positive: longer on the far edge
    piece: PieceId | None
    mark: str
    tilt_udeg: MicroDeg = MicroDeg(0)  # of the blade, through the thickness
    long_face: Literal["outside", "inside", "both"] = "both"  # of the piece that the cut frees or starts
    arris_nm: Nm = Nm(0)  # where the other face ends, along the bar from the cut; negative towards zero


@dataclass(frozen=True, slots=True, kw_only=True)
class SawPiece:
    """One piece of a bar as the operator handles it: turn, and where it goes after the saw."""

    at: int
    piece: PieceId
    mark: str
    turn: Turn
    long_nm: Nm
    weight_g: Grams
    crew: int
    bundle: BundleId | None
    bundle_name: str
    slopes: bool = False  # a peaked piece: second cuts
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

    at: int  # n-th bar of its sheet
    bar: Bar
    width_nm: Nm
    panel: bool
    keep_from_nm: Nm | None
    cuts: tuple[SawCut, ...]
    pieces: tuple[SawPiece, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SawSheet:
    """All bars of one material in cut order."""

    material: MaterialId
    what: str  # the material in words
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


@dataclass(frozen=True, slots=True, kw_only=True)
class PackingList:
    """All that is shipped for an order: bundles with their contents, and the hardware."""

    order: OrderId
    ship_to: tuple[str, ...]
    deliveries: tuple[Delivery, ...]
    rows: tuple[PackingRow, ...]
    hardware: tuple[HardwareLine, ...]
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
    crew: int
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
class InstallationSheet:
    """One elevation or roof plane: its drawing's data, pieces in order of standing, hardware, what to mind."""

    order: OrderId
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
    """One long edge to rip or bevel: how far the cut lies inside the blank's edge on either face."""

    piece: PieceId
    mark: str
    what: str
    length_nm: Nm
    side: Literal["left", "right"]
    bevel_udeg: MicroDeg
    outside_nm: Nm
    inside_nm: Nm
    crew: int
    bundle_name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ShapeRow:
    """Pieces of one shape, drawn once: outline, openings, pockets, holes, edges and ends alike."""

    pieces: tuple[Piece, ...]
    bundle_names: tuple[str, ...]
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


@dataclass(frozen=True, slots=True, kw_only=True)
class SlitSheet:
    """How to slit one coil material: each pattern across the coil and its run."""

    what: str
    job: SlitJob
    result: SlitResult


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
    """An odd head to finish in the field: its shape, where it is wanted, and the figures that check the paper."""

    order: OrderId
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
    """How many single pieces a crew of so many lifts (0: a machine), and the heaviest of them."""

    crew: int
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
    crew: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RigSheet:
    """Lifting for one order: bundles, then single pieces in order of standing."""

    order: OrderId
    handled_nm: Nm
    forklift_centre_nm: Nm
    one_lift_g: Grams
    rows: tuple[RigRow, ...]
    crews: tuple[CrewRow, ...]
    hands: tuple[HandRow, ...]
