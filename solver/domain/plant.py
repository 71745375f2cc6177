"""The plant catalog: what can be made, from what, on which machines, within which limits. Data, never constants in code."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Literal

from solver.domain.bundle import BundleLimits
from solver.domain.cut_plan import Remnant, Turn
from solver.domain.ids import CoilId, MaterialId
from solver.domain.load import Deck, LoadRules
from solver.domain.replan import Calm
from solver.domain.timetable import Goals
from solver.hints import Above, High, Items, Low, Matches, Says
from solver.units import Cents, Grams, Nm, Unit

EdgeKind = Literal["tongue_groove", "half_lap", "spline", "plain"]
Clock = Annotated[str, Matches(r"([01]\d|2[0-3]):[0-5]\d|24:00", "a time of day such as 06:00")]


@dataclass(frozen=True, slots=True, kw_only=True)
class StockPrice:
    """A stock length and its price."""

    length_nm: Annotated[Nm, Above(0)]
    price_cents: Annotated[Cents, Low(0)]


@dataclass(frozen=True, slots=True, kw_only=True)
class PanelFamily:
    """A kind of panel: cover, core, skins, joints, and how far it may be cut."""

    id: str
    use: Literal["wall", "roof"]
    cover_nm: Annotated[Nm, Above(0)]
    thickness_nm: Annotated[Nm, Above(0)]
    edges: EdgeKind
    joint_centred: Annotated[bool, Says("joint in the middle of the thickness")] = True
    faces_alike: Annotated[bool, Says("same skin and colour on both faces, when the order's colours are equal too")] = False
    directional: Annotated[bool, Says("finish has an up and a down")] = False
    tongue_nm: Annotated[Nm, Low(0)] = Nm(0)
    skin_gauge: int = 26
    skin_mg_per_m2: Annotated[int, Above(0)]
    core: str = "EPS Type I"
    core_g_per_m3: Annotated[int, Above(0)]
    core_stress_pa: Annotated[int, Above(0)]
    extra_permille: Annotated[int, Low(0), Says("glue and edges, in thousandths of skins and core")] = 0
    developed_nm: Annotated[Nm, Above(0), Says("skin width off the coil")]
    stock: Annotated[tuple[StockPrice, ...], Items(1, 100)]
    made_cents_per_m: Annotated[Cents, Low(0), Says("price of bars laminated to length beyond the listed ones")] = Cents(0)
    made_step_nm: Annotated[Nm, Above(0)] = Nm(304_800_000)
    longest_nm: Annotated[Nm, Above(0)]
    handled_nm: Annotated[Nm, Above(0), Says("longest that two forks handle without a spreader")]
    narrowest_rip_nm: Annotated[Nm, Low(0)]
    min_leg_nm: Annotated[Nm, Low(0)]
    joint_clear_nm: Annotated[Nm, Low(0)]
    joint_growth_nm: Annotated[Nm, Low(0)] = Nm(0)
    closing_nm: Annotated[Nm, Low(0)] = Nm(0)
    ridge_gap_nm: Annotated[Nm, Low(0)] = Nm(0)
    end_lap_nm: Annotated[Nm, Low(0)] = Nm(0)
    bevel_top: Annotated[bool, Says("whether the plant bevels the top of eave walls")] = False

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
    blank_nm: Annotated[Nm, Above(0), Says("developed width of the blank")]
    gauge: int
    mg_per_m2: Annotated[int, Above(0)]
    stock: Annotated[tuple[StockPrice, ...], Items(1, 100)]
    for_thickness_nm: Annotated[Nm, Above(0), Says("thickness of the panel it fits; absent: any")] | None = None
    width_nm: Annotated[Nm, Above(0), Says("width seen in plan, across the run, for mitres")] | None = None
    flange_nm: Annotated[Nm, Low(0)] = Nm(0)
    lap_nm: Annotated[Nm, Low(0)] = Nm(0)
    bends: Annotated[int, Low(0)] = 2
    coloured: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class StockOnHand:
    """Full bars on the rack: material (family or profile, colours), length and how many."""

    material: MaterialId
    length_nm: Annotated[Nm, Above(0)]
    count: Annotated[int, Low(0)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Coil:
    """A coil on hand, traceable by its heat."""

    id: CoilId
    heat: str
    width_nm: Annotated[Nm, Above(0)]
    thickness_nm: Annotated[Nm, Above(0)]
    colour: str
    batch: str
    weight_g: Annotated[Grams, Low(0)]
    arrives: Annotated[str, Says("ISO 8601 with offset; absent: on hand")] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CoreStock:
    """Core of one grade that is seasoned, or will be."""

    core: Annotated[str, Says("grade, as panel families name it")]
    litres: Annotated[int, Low(0)]
    ready: Annotated[str, Says("when it is seasoned, ISO 8601 with offset; absent: now")] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class People:
    """People who share some workplaces on every shift: each workplace takes its crew of them while it works."""

    id: str
    count: Annotated[int, Low(1)]
    at: Annotated[tuple[str, ...], Items(1, 100), Says("ids of workplaces")]


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """Working hours on some days of the week; breaks are closed."""

    days: Annotated[tuple[Literal["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"], ...], Items(1, 7)]
    start: Clock
    end: Clock
    breaks: tuple[tuple[Clock, Clock], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Workplace:
    """A machine or station: what it does, when, and what it takes; times in seconds."""

    id: str
    does: Annotated[tuple[str, ...], Items(1, 20)]
    shifts: Annotated[tuple[Shift, ...], Items(1, 10)]
    per_run_s: Annotated[int, Low(0), Says("fixed time of a whole bundle, load or lot")] = 0
    per_item_s: Annotated[int, Low(0), Says("fixed time of each thing handled: a bar, a piece, a bundle")] = 0
    per_cut_s: Annotated[int, Low(0)] = 0
    per_angled_cut_s: Annotated[int, Low(0)] = 0
    per_metre_s: Annotated[int, Low(0)] = 0
    per_opening_s: Annotated[int, Low(0)] = 0
    per_pocket_s: Annotated[int, Low(0)] = 0
    per_bend_s: Annotated[int, Low(0)] = 0
    per_hole_s: Annotated[int, Low(0)] = 0
    lot: Annotated[int, Low(1), Says("bars one run takes")] = 1
    setup_thickness_s: Annotated[int, Low(0)] = 0
    setup_colour_s: Annotated[int, Low(0)] = 0
    setup_angle_s: Annotated[int, Low(0)] = 0
    setup_profile_s: Annotated[int, Low(0)] = 0
    setup_gauge_s: Annotated[int, Low(0)] = 0
    setup_coil_s: Annotated[int, Low(0)] = 0
    crew: Annotated[int, Low(0)] = 1
    closed: tuple[tuple[str, str], ...] = ()  # planned maintenance: ISO 8601 with offset, from and to


@dataclass(frozen=True, slots=True, kw_only=True)
class Saw:
    """What the panel saw reaches and takes away."""

    kerf_nm: Annotated[Nm, Low(0)]
    swing_udeg: Annotated[int, Low(0), High(90_000_000), Says("largest swing from square, millionths of a degree")]
    tilt_udeg: Annotated[int, Low(0), High(90_000_000), Says("largest tilt of the blade")]
    depth_nm: Annotated[Nm, Above(0)]
    end_trim_nm: Annotated[Nm, Low(0)] = Nm(0)
    clamp_nm: Annotated[Nm, Low(0)] = Nm(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class AnchorRules:
    """Anchors: common practice, never looser than IRC R403.1.6 (written for wood plates; steel track: R603.3.1)."""

    diameter_nm: Annotated[Nm, Above(0)]
    spacing_nm: Annotated[Nm, Above(0)]
    end_nm: Annotated[Nm, Above(0)]
    code_spacing_nm: Annotated[Nm, Above(0)]
    code_diameters: Annotated[int, Low(0)] = 7
    least_per_section: Annotated[int, Low(1)] = 2
    hole_over_nm: Annotated[Nm, Low(0)]
    projection_nm: Annotated[Nm, Low(0)]
    pocket_nm: Annotated[Nm, Low(0), Says("pocket in a panel's foot: room for nut, washer and a hand")] = Nm(76_200_000)


@dataclass(frozen=True, slots=True, kw_only=True)
class FurringRules:
    """Furring on inside faces: the spacings that boards come to, and the shortest strip that is worth screwing on."""

    spacings_nm: Annotated[tuple[Nm, ...], Items(1, 10)] = (Nm(406_400_000), Nm(609_600_000))  # common practice, no source
    least_nm: Annotated[Nm, Above(0)] = Nm(152_400_000)


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
    ]
    rate: Annotated[float, Above(0), Says("how many of the item for one of `per`")]
    pack: Annotated[int, Low(1)]
    why: str
    pack_g: Annotated[Grams, Low(0), Says("what a pack weighs")] = Grams(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class LayoutRules:
    """What a wall layout is judged by: weights of broken soft rules, pieces and waste."""

    narrowest_rip: Annotated[int, Low(0)] = 100
    leg: Annotated[int, Low(0)] = 100
    joint_clearance: Annotated[int, Low(0)] = 60
    piece: Annotated[int, Low(0)] = 10


@dataclass(frozen=True, slots=True, kw_only=True)
class Keeping:
    """Which remnants are worth keeping, and for how long."""

    panel_from_nm: Annotated[Nm, Above(0)]
    trim_from_nm: Annotated[Nm, Above(0)]
    value: Annotated[float, Low(0), High(1)]
    days: Annotated[int, Low(0)]
    slots: Annotated[int, Low(0)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Plant:
    """The whole catalog of a plant."""

    format: Literal[1] = 1
    id: str
    name: str
    unit: Unit = field(default="in", metadata={"always": True})
    time_zone: str
    families: Annotated[tuple[PanelFamily, ...], Items(1, 200)]
    profiles: Annotated[tuple[Profile, ...], Items(1, 500)]
    colours: tuple[str, ...] = ()
    default_families: Mapping[str, str]  # wall, roof, bearing
    default_colours: Mapping[str, str]  # wall_outside, wall_inside, roof_outside, roof_inside, trim
    stock_on_hand: tuple[StockOnHand, ...] = ()
    remnants: tuple[Remnant, ...] = ()
    coils: tuple[Coil, ...] = ()
    coil_lead_s: Annotated[int, Low(0), Says("until coil that is not on hand arrives")] = 0
    cores: tuple[CoreStock, ...] = ()
    saw: Saw
    trim_saw: Saw
    stagger_nm: Annotated[Nm, Low(0)]
    anchors: AnchorRules
    hardware: tuple[HardwareRule, ...] = ()
    layout: LayoutRules = LayoutRules()
    furring: FurringRules = FurringRules()
    stud_spacing_nm: Annotated[Nm, Above(0), Says("of interior bearing walls, on centre")] = Nm(406_400_000)
    keeping: Keeping
    router_bit_nm: Annotated[Nm, Low(0), Says("what the router takes along each side of an opening")] = Nm(0)
    slitter_knives: Annotated[int, Low(1)] = 12
    slit_edge_trim_nm: Annotated[Nm, Low(0)] = Nm(0)
    reserve_permille: Annotated[int, Low(0), Says("remake reserve of coil, in thousandths")] = 20
    seasoning_s: Annotated[int, Low(0)] = 0
    glue_hold_s: Annotated[int, Low(0)] = 0
    workplaces: tuple[Workplace, ...]
    people: tuple[People, ...] = ()
    before_saw: Annotated[int, Low(1), Says("laminated bars that find room before the saw, glue setting or set")] | None = None
    before_bundling: Annotated[int, Low(1), Says("pieces that find room before the bundle bay")] | None = None
    holidays: tuple[str, ...] = ()
    open_bundles: Annotated[int, Low(1)] = 6
    rack_slots: (
        Annotated[int, Low(0), Says("slots of the rack beside the saw; absent: as many as the cheapest plan needs")] | None
    ) = None
    goals: Goals = Goals()
    calm: Calm = Calm()
    firm_s: Annotated[int, Low(0), Says("work that starts sooner than this from now stays where it is released")] = 28_800
    bundle: BundleLimits
    decks: Annotated[tuple[Deck, ...], Items(1, 50)]
    load_rules: LoadRules = LoadRules()
    company_prefix: Annotated[str, Matches(r"\d{3,12}", "digits of a GS1 company prefix")]
    film_days: Annotated[int, Low(0)] = 30
    two_lift_g: Annotated[Grams, Low(0)] = Grams(23_000)

    def crew(self, weight_g: int) -> int:
        """Return how many people may lift a weight together; 0: a machine.

        One up to the plant's limit; a team of two lifts 2/3, of three 1/2 of the sum of what each could, and more than
        three do not help (HSE L23, Manual handling, paragraph 120).
        """
        if weight_g <= self.two_lift_g:
            return 1
        if 3 * weight_g <= 4 * self.two_lift_g:
            return 2
        return 3 if 2 * weight_g <= 3 * self.two_lift_g else 0

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
