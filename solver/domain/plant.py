"""The plant catalog: what can be made, from what, on which machines, within which limits. Data, never constants in code."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Annotated, Literal

from solver.domain.bundle import BundleLimits
from solver.domain.cut_plan import Remnant, Turn
from solver.domain.lay import ChannelUp, Face, Lay, channel_lay, is_panel
from solver.domain.lift import Lift
from solver.domain.load import Deck, LoadRules
from solver.domain.piece import Role
from solver.domain.replan import Calm
from solver.domain.stock import Coil, CoreStock, StockOnHand, StockSnapshot
from solver.domain.timetable import Goals
from solver.field_limits import Description, ExclusiveMinimum, ItemCount, Maximum, Minimum, TextPattern
from solver.units import Cents, Grams, Nm, Unit

EdgeKind = Literal["tongue_groove", "half_lap", "spline", "plain"]
Clock = Annotated[str, TextPattern(r"([01]\d|2[0-3]):[0-5]\d|24:00", "a time of day such as 06:00")]


@dataclass(frozen=True, slots=True, kw_only=True)
class StockPrice:
    """A stock length and its price."""

    length_nm: Annotated[Nm, ExclusiveMinimum(0)]
    price_cents: Annotated[Cents, Minimum(0)]


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelFamily:
    """A kind of panel: cover, core, skins, joints, and how far it may be cut."""

    id: str
    name: Annotated[str, Description('what people call it; absent: by its thickness and use, "6 in wall"')] | None = None
    use: Literal["wall", "roof"]
    cover_nm: Annotated[Nm, ExclusiveMinimum(0)]
    thickness_nm: Annotated[Nm, ExclusiveMinimum(0)]
    edges: EdgeKind
    joint_centred: Annotated[bool, Description("joint in the middle of the thickness")] = True
    faces_alike: Annotated[bool, Description("same skin and colour on both faces, when the order's colours are equal too")] = (
        False
    )
    directional: Annotated[bool, Description("finish has an up and a down")] = False
    tongue_nm: Annotated[Nm, Minimum(0)] = Nm(0)
    skin_gauge: int = 26
    skin_mg_per_m2: Annotated[int, ExclusiveMinimum(0)]
    core: str = "EPS Type I"
    core_g_per_m3: Annotated[int, ExclusiveMinimum(0)]
    core_stress_pa: Annotated[int, ExclusiveMinimum(0)]
    extra_permille: Annotated[int, Minimum(0), Description("glue and edges, in thousandths of skins and core")] = 0
    developed_nm: Annotated[Nm, ExclusiveMinimum(0), Description("skin width off the coil")]
    stock: Annotated[tuple[StockPrice, ...], ItemCount(1, 100)]
    made_cents_per_m: Annotated[Cents, Minimum(0), Description("price of bars laminated to length beyond the listed ones")] = (
        Cents(0)
    )
    made_step_nm: Annotated[Nm, ExclusiveMinimum(0)] = Nm(304_800_000)
    longest_nm: Annotated[Nm, ExclusiveMinimum(0)]
    handled_nm: Annotated[Nm, ExclusiveMinimum(0), Description("longest that two forks handle without a spreader")]
    narrowest_rip_nm: Annotated[Nm, Minimum(0)]
    min_leg_nm: Annotated[Nm, Minimum(0)]
    joint_clear_nm: Annotated[Nm, Minimum(0)]
    joint_growth_nm: Annotated[Nm, Minimum(0)] = Nm(0)
    closing_nm: Annotated[Nm, Minimum(0)] = Nm(0)
    ridge_gap_nm: Annotated[Nm, Minimum(0)] = Nm(0)
    end_lap_nm: Annotated[Nm, Minimum(0)] = Nm(0)
    bevel_top: Annotated[bool, Description("whether the plant bevels the top of eave walls")] = False

    def turns(self, *, faces_alike: bool) -> tuple[Turn, ...]:
        """Return the turns that a full-width piece may take in its blank: case G4, from half turns of the edge profile.

        `faces_alike`: whether the two faces carry the same skin and colour on this order.
        """
        alike = faces_alike and self.faces_alike
        centred = self.joint_centred
        allowed: list[Turn] = ["as_is"]
        if self.edges in ("spline", "plain") and not self.directional:
            allowed.append("end_for_end")
        if alike and (self.edges == "half_lap" or (self.edges == "spline" and centred) or self.edges == "plain"):
            allowed.append("over")
        over_end = self.edges == "plain" or (centred and self.edges in ("tongue_groove", "spline"))
        if alike and over_end and not self.directional:
            allowed.append("over_end")
        return tuple(allowed)


@dataclass(frozen=True, slots=True, kw_only=True)
class Profile:
    """A linear part: what it is for, its blank off the coil, and the lengths it comes in."""

    id: str
    name: Annotated[str, Description("what people call it; absent: by its use and the panel it fits")] | None = None
    use: Literal[
        "base_channel",
        "top_cap",
        "corner_angle",
        "opening_channel",
        "eave_trim",
        "rake_trim",
        "ridge_trim",
        "hip_trim",
        "valley_trim",
        "furring",
        "stud",
        "track",
        "header",
    ]
    blank_nm: Annotated[Nm, ExclusiveMinimum(0), Description("developed width of the blank")]
    gauge: int
    mg_per_m2: Annotated[int, ExclusiveMinimum(0)]
    stock: Annotated[tuple[StockPrice, ...], ItemCount(1, 100)]
    for_thickness_nm: Annotated[Nm, ExclusiveMinimum(0), Description("thickness of the panel it fits; absent: any")] | None = (
        None
    )
    width_nm: Annotated[Nm, ExclusiveMinimum(0), Description("width seen in plan, across the run, for mitres")] | None = None
    flange_nm: Annotated[Nm, Minimum(0)] = Nm(0)
    lap_nm: Annotated[Nm, Minimum(0)] = Nm(0)
    bends: Annotated[int, Minimum(0)] = 2
    coloured: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class People:
    """People who share some workplaces on every shift: each workplace takes its crew of them while it works."""

    id: str
    count: Annotated[int, Minimum(1)]
    at: Annotated[tuple[str, ...], ItemCount(1, 100), Description("ids of workplaces")]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """Working hours on some days of the week; breaks are closed."""

    days: Annotated[tuple[Literal["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"], ...], ItemCount(1, 7)]
    start: Clock
    end: Clock
    breaks: tuple[tuple[Clock, Clock], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Workplace:
    """A machine or station: what it does, when, and what it takes; times in seconds."""

    id: str
    does: Annotated[tuple[str, ...], ItemCount(1, 20)]
    shifts: Annotated[tuple[Shift, ...], ItemCount(1, 10)]
    per_run_s: Annotated[int, Minimum(0), Description("fixed time of a whole bundle, load or lot")] = 0
    per_item_s: Annotated[int, Minimum(0), Description("fixed time of each thing handled: a bar, a piece, a bundle")] = 0
    per_cut_s: Annotated[int, Minimum(0)] = 0
    per_angled_cut_s: Annotated[int, Minimum(0)] = 0
    per_metre_s: Annotated[int, Minimum(0)] = 0
    per_opening_s: Annotated[int, Minimum(0)] = 0
    per_pocket_s: Annotated[int, Minimum(0)] = 0
    per_bend_s: Annotated[int, Minimum(0)] = 0
    per_hole_s: Annotated[int, Minimum(0)] = 0
    lot: Annotated[int, Minimum(1), Description("bars one run takes")] = 1
    setup_thickness_s: Annotated[int, Minimum(0)] = 0
    setup_colour_s: Annotated[int, Minimum(0)] = 0
    setup_angle_s: Annotated[int, Minimum(0)] = 0
    setup_profile_s: Annotated[int, Minimum(0)] = 0
    setup_gauge_s: Annotated[int, Minimum(0)] = 0
    setup_coil_s: Annotated[int, Minimum(0)] = 0
    crew: Annotated[int, Minimum(0)] = 1
    closed: tuple[tuple[str, str], ...] = ()  # planned maintenance: ISO 8601 with offset, from and to


@dataclass(frozen=True, slots=True, kw_only=True)
class Saw:
    """What the panel saw reaches and takes away."""

    kerf_nm: Annotated[Nm, Minimum(0)]
    swing_udeg: Annotated[
        int, Minimum(0), Maximum(90_000_000), Description("largest swing from square, millionths of a degree")
    ]
    tilt_udeg: Annotated[int, Minimum(0), Maximum(90_000_000), Description("largest tilt of the blade")]
    depth_nm: Annotated[Nm, ExclusiveMinimum(0)]
    end_trim_nm: Annotated[Nm, Minimum(0)] = Nm(0)
    clamp_nm: Annotated[Nm, Minimum(0)] = Nm(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lays:
    """What the plant wants up, by machine; zero is at the operator's left, the fence on his side (common practice, no source).

    A panel lies with its inside face up where the plant does not say otherwise: the label of that face goes on as it lies.
    """

    panel_saw: Annotated[Face, Description("the face of a panel that lies up")] = "inside"
    bevel_saw: Annotated[Face, Description("the face of a panel that lies up")] = "inside"
    router: Annotated[Face, Description("the face of a panel that lies up")] = "inside"
    trim_saw: Annotated[ChannelUp, Description("the side of base channels and caps that lies up")] = "open"
    drill: Annotated[ChannelUp, Description("the side of base channels and caps that lies up")] = "open"
    brake: Annotated[Literal["paint_up", "paint_down"], Description("how a flat blank lies at brake and slitter")] = "paint_up"

    def panel(self, at: Literal["panel_saw", "bevel_saw", "router"]) -> Lay:
        """Return how a panel lies at a machine, foot end at zero."""
        return Lay.of({"panel_saw": self.panel_saw, "bevel_saw": self.bevel_saw, "router": self.router}[at])

    def linear(self, role: Role, at: Literal["trim_saw", "drill"] = "trim_saw") -> Lay:
        """Return how a linear part lies at a machine, zero end at zero."""
        return channel_lay(role, self.trim_saw if at == "trim_saw" else self.drill)

    def on_saw(self, role: Role) -> Lay:
        """Return how a bar of such pieces lies on the saw that cuts it; its pieces lie so where they are not turned in it."""
        return self.panel("panel_saw") if is_panel(role) else self.linear(role)


@dataclass(frozen=True, slots=True, kw_only=True)
class AnchorRules:
    """Anchors: common practice, never looser than IRC R403.1.6 (written for wood plates; steel track: R603.3.1)."""

    diameter_nm: Annotated[Nm, ExclusiveMinimum(0)]
    spacing_nm: Annotated[Nm, ExclusiveMinimum(0)]
    end_nm: Annotated[Nm, ExclusiveMinimum(0)]
    code_spacing_nm: Annotated[Nm, ExclusiveMinimum(0)]
    code_diameters: Annotated[int, Minimum(0)] = 7
    least_per_section: Annotated[int, Minimum(1)] = 2
    hole_over_nm: Annotated[Nm, Minimum(0)]
    projection_nm: Annotated[Nm, Minimum(0)]
    pocket_nm: Annotated[Nm, Minimum(0), Description("pocket in a panel's foot: room for nut, washer and a hand")] = Nm(
        76_200_000
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class FurringRules:
    """Furring on inside faces: the spacings that boards come to, and the shortest strip that is worth screwing on."""

    spacings_nm: Annotated[tuple[Nm, ...], ItemCount(1, 10)] = (Nm(406_400_000), Nm(609_600_000))  # common practice, no source
    least_nm: Annotated[Nm, ExclusiveMinimum(0)] = Nm(152_400_000)


@dataclass(frozen=True, slots=True, kw_only=True)
class HardwareRule:
    """What a length, a piece or an opening takes of some hardware."""

    item: str
    per: Literal[
        "panel_joint_m",
        "base_channel_m",
        "trim_m",
        "corner_m",
        "opening",
        "roof_panel_end",
        "anchor",
        "ridge_m",
        "panel",
        "furring_m",
        "wall_edge_m",
        "eave_wall_m",
        "eave_wedge_m",
        "base_line",
        "cap_line",
        "corner_line",
        "opening_line",
        "trim_line",
        "gable_line",
        "eave_line",
        "wall_edge_line",
    ]
    rate: Annotated[
        float, ExclusiveMinimum(0), Description("how many of the item for one of `per`; of a line: at each place on it")
    ] = 1.0
    spacing_nm: (
        Annotated[Nm, ExclusiveMinimum(0), Description("of a line: its places on centre, one at either end of each part")]
        | None
    ) = None
    pack: Annotated[int, Minimum(1)]
    why: str
    pack_g: Annotated[Grams, Minimum(0), Description("what a pack weighs")] = Grams(0)

    def __post_init__(self) -> None:
        if self.per.endswith("_line") != (self.spacing_nm is not None):
            raise ValueError(f"a rule per {self.per} has {'a' if self.per.endswith('_line') else 'no'} spacing")


@dataclass(frozen=True, slots=True, kw_only=True)
class LayoutRules:
    """What a wall layout is judged by: weights of broken soft rules, pieces and waste."""

    narrowest_rip: Annotated[int, Minimum(0)] = 100
    leg: Annotated[int, Minimum(0)] = 100
    joint_clearance: Annotated[int, Minimum(0)] = 60
    piece: Annotated[int, Minimum(0)] = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Keeping:
    """Which remnants are worth keeping, and for how long."""

    panel_from_nm: Annotated[Nm, ExclusiveMinimum(0)]
    trim_from_nm: Annotated[Nm, ExclusiveMinimum(0)]
    value: Annotated[float, Minimum(0), Maximum(1)]
    days: Annotated[int, Minimum(0)]
    slots: Annotated[int, Minimum(0)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plant:
    """The whole catalog of a plant: what can be made and bought, on which machines.

    Its file may state stock too; that is read by `stated_stock` alone, and passed on beside the catalog.
    """

    format: Literal[1] = 1
    id: str
    name: str
    unit: Unit = field(default="in", metadata={"always": True})
    time_zone: str
    families: Annotated[tuple[PanelFamily, ...], ItemCount(1, 200)]
    profiles: Annotated[tuple[Profile, ...], ItemCount(1, 500)]
    colours: tuple[str, ...] = ()
    default_families: Mapping[str, str]  # wall, roof, bearing
    default_colours: Mapping[str, str]  # wall_outside, wall_inside, roof_outside, roof_inside, trim
    stock_on_hand: tuple[StockOnHand, ...] = ()
    remnants: tuple[Remnant, ...] = ()
    coils: tuple[Coil, ...] = ()
    coil_lead_s: Annotated[int, Minimum(0), Description("until coil that is not on hand arrives")] = 0
    cores: tuple[CoreStock, ...] = ()
    saw: Saw
    trim_saw: Saw
    lays: Annotated[Lays, Description("how things lie at the machines")] = Lays()
    stagger_nm: Annotated[Nm, Minimum(0)]
    anchors: AnchorRules
    hardware: tuple[HardwareRule, ...] = ()
    layout: LayoutRules = LayoutRules()
    furring: FurringRules = FurringRules()
    eave_fill: Annotated[
        Literal["filler", "closure"],
        Description("what closes the wedge over a square wall top under a slope; bevelled tops have none"),
    ] = "filler"
    stud_spacing_nm: Annotated[Nm, ExclusiveMinimum(0), Description("of interior bearing walls, on centre")] = Nm(406_400_000)
    keeping: Keeping
    router_bit_nm: Annotated[Nm, Minimum(0), Description("what the router takes along each side of an opening")] = Nm(0)
    slitter_knives: Annotated[int, Minimum(1)] = 12
    slit_edge_trim_nm: Annotated[Nm, Minimum(0)] = Nm(0)
    reserve_permille: Annotated[int, Minimum(0), Description("remake reserve of coil, in thousandths")] = 20
    seasoning_s: Annotated[int, Minimum(0)] = 0
    glue_hold_s: Annotated[int, Minimum(0)] = 0
    workplaces: tuple[Workplace, ...]
    people: tuple[People, ...] = ()
    before_saw: (
        Annotated[int, Minimum(1), Description("laminated bars that find room before the saw, glue setting or set")] | None
    ) = None
    before_bundling: Annotated[int, Minimum(1), Description("pieces that find room before the bundle bay")] | None = None
    holidays: tuple[str, ...] = ()
    open_bundles: Annotated[int, Minimum(1)] = 6
    rack_slots: (
        Annotated[int, Minimum(0), Description("slots of the rack beside the saw; absent: as many as the cheapest plan needs")]
        | None
    ) = None
    nest_window_s: (
        Annotated[
            int,
            ExclusiveMinimum(0),
            Description("deliveries due within so long of the first are nested together; absent: all are"),
        ]
        | None
    ) = None
    window_pays_permille: Annotated[
        int, Minimum(0), Description("neighbouring windows share a material's bars where that saves so much of their cost")
    ] = 10
    goals: Goals = Goals()
    calm: Calm = Calm()
    firm_s: Annotated[int, Minimum(0), Description("work that starts sooner than this from now stays where it is released")] = (
        28_800
    )
    bundle: BundleLimits
    decks: Annotated[tuple[Deck, ...], ItemCount(1, 50)]
    load_rules: LoadRules = LoadRules()
    company_prefix: Annotated[str, TextPattern(r"\d{3,12}", "digits of a GS1 company prefix")]
    film_days: Annotated[int, Minimum(0)] = 30
    two_lift_g: Annotated[Grams, Minimum(0), Description("what one person may lift; over it two lift")] = Grams(23_000)
    team_lift_g: Annotated[
        tuple[Grams, ...],
        ItemCount(0, 6),
        Description(
            "what two, three, ... may lift together; absent: 2/3 and 1/2 of the sum of what each may (HSE L23, paragraph 120)"
        ),
    ] = ()
    hoist_from_g: (
        Annotated[
            Grams,
            ExclusiveMinimum(0),
            Description("from this weight on a machine lifts; absent: as the site's assessment says"),
        ]
        | None
    ) = None

    @property
    def stated_stock(self) -> StockSnapshot:
        """The stock that the catalog's file states: undated, and of use where no floor tells what is there."""
        return StockSnapshot(bars=self.stock_on_hand, remnants=self.remnants, coils=self.coils, cores=self.cores)

    def stating(self, stock: StockSnapshot) -> Plant:
        """Return the catalog as a plan keeps it that was made from some stock: with that stock stated."""
        return replace(self, stock_on_hand=stock.bars, remnants=stock.remnants, coils=stock.coils, cores=stock.cores)

    @property
    def lift_limits_g(self) -> tuple[Grams, ...]:
        """What one, two, ... people may lift together, in grams: the catalog's figures, else the published shares.

        A team of two lifts 2/3, of three 1/2 of the sum of what each could, and more than three do not help (HSE L23, Manual
        handling, paragraph 120). That guideline is a filter: over it the work is assessed, it is not forbidden.
        """
        one = self.two_lift_g
        return one, *(self.team_lift_g or (Grams(4 * one // 3), Grams(3 * one // 2)))

    def __post_init__(self) -> None:
        limits = self.lift_limits_g
        if any(more < fewer for fewer, more in pairwise(limits)):
            raise ValueError(f"team_lift_g is {list(self.team_lift_g)}: a larger team lifts no less, nor less than one alone")
        if self.hoist_from_g is not None and self.hoist_from_g <= self.two_lift_g:
            raise ValueError(f"hoist_from_g is {self.hoist_from_g}: more than the {self.two_lift_g} that one person may lift")

    def lift(self, weight_g: int) -> Lift:
        """Return who lifts a weight: the smallest team that may, more than the largest may, or the catalog's machine."""
        limits = self.lift_limits_g
        if self.hoist_from_g is not None and weight_g >= self.hoist_from_g:
            return Lift(by="machine", people=0)
        fits = (n for n, limit in enumerate(limits, 1) if weight_g <= limit)
        people = next(fits, None)
        return Lift(by="over", people=len(limits)) if people is None else Lift(by="hands", people=people)

    def family(self, family_id: str) -> PanelFamily:
        """Return the panel family of an id. Raises KeyError."""
        for item in self.families:
            if item.id == family_id:
                return item
        raise KeyError(family_id)

    def profile(self, profile_id: str) -> Profile:
        """Return the profile of an id. Raises KeyError."""
        for item in self.profiles:
            if item.id == profile_id:
                return item
        raise KeyError(profile_id)
