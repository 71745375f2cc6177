"""Loads: bundles on decks, in reverse order of need, with weights by axle and tie-downs."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated, Literal

from solver.domain.certificate import Certificate
from solver.domain.ids import BundleId, LoadId
from solver.field_limits import Description, ExclusiveMinimum, ItemCount, Minimum, TextPattern
from solver.units import Grams, Nm, Unit

INCH = 25_400_000
AxleGroup = Literal["steer", "drive", "trailer", "front", "rear", "coupling"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tractor:
    """The vehicle that draws or carries the deck, as in case S9."""

    tare_g: Annotated[Grams, ExclusiveMinimum(0)]
    steer_to_drive_nm: Annotated[Nm, ExclusiveMinimum(0)]  # wheelbase
    mass_to_drive_nm: Nm  # centre of mass ahead of the drive axle
    kingpin_to_drive_nm: Nm  # kingpin ahead of the drive axle
    drive_axles: Annotated[int, Minimum(1)] = 2
    drive_spread_nm: Annotated[Nm, Minimum(0)] = Nm(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Deck:
    """A deck to load; positions count from its front edge. Without a tractor it is a rigid truck or a hauled trailer.

    With `tractor`, `kingpin`, `axle_group` and `mass`: a semi-trailer (case S9). Without a tractor: with `front_axle` a
    rigid truck whose rear axles are the `axle_group`; with `kingpin` a trailer whose coupling it is. Otherwise axle
    weights are not worked out, and the load says so.
    """

    id: str
    length_nm: Annotated[Nm, ExclusiveMinimum(0)]
    width_nm: Annotated[Nm, ExclusiveMinimum(0)]
    height_nm: Annotated[Nm, ExclusiveMinimum(0)]  # of the deck above the road
    payload_g: Annotated[Grams, ExclusiveMinimum(0)]
    tare_g: Annotated[Grams, ExclusiveMinimum(0)]
    cost: Annotated[float, Minimum(0)] = 1.0
    count: Annotated[int, Minimum(0)] | None = None
    kingpin_nm: Nm | None = None
    axle_group_nm: Nm | None = None  # centre of the trailer's axle group
    mass_nm: Nm | None = None  # centre of the trailer's own mass
    axles: Annotated[int, Minimum(1)] = 2
    axle_spread_nm: Annotated[Nm, Minimum(0)] = Nm(0)
    tractor: Tractor | None = None
    front_axle_nm: Annotated[Nm, Description("front axle of a rigid truck; negative ahead of the deck")] | None = None
    front_axles: Annotated[int, Minimum(1)] = 1
    coupling_limit_g: (
        Annotated[Grams, ExclusiveMinimum(0), Description("what a hauled trailer may press on its coupling")] | None
    ) = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadBundle:
    """A bundle as loading sees it: wanted `rank`-th at stop `stop` (0 is the first stop)."""

    id: BundleId
    length_nm: Annotated[Nm, ExclusiveMinimum(0)]
    width_nm: Annotated[Nm, ExclusiveMinimum(0)]
    height_nm: Annotated[Nm, ExclusiveMinimum(0)]
    weight_g: Annotated[Grams, ExclusiveMinimum(0)]
    rank: Annotated[int, Minimum(0)]
    stop: Annotated[int, Minimum(0)] = 0
    may_carry_g: Annotated[Grams, Minimum(0)] | None = None  # what may stand on it; absent: as the core bears
    dunnage_nm: tuple[Nm, ...] = ()
    centre_nm: Annotated[Nm, Minimum(0), Description("centre of mass from the foot end; absent: the middle")] | None = None
    centre_across_nm: Annotated[Nm, Minimum(0), Description("centre of mass from the left; absent: the middle")] | None = None
    trip: Annotated[str, Description("bundles of different trips never share a truck: deliveries days apart")] | None = None
    centre_up_nm: Annotated[Nm, Minimum(0), Description("centre of mass above its underside; absent: the middle")] | None = None
    kind: Annotated[Literal["panels", "trim", "box"], Description("what it is, for who looks at drawings")] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadRules:
    """Legal and plant limits of a load; defaults are US federal where one exists, else common practice."""

    rule_set: Literal["US", "EU"] = "US"
    height_limit_nm: Annotated[Nm, ExclusiveMinimum(0)] = Nm(162 * INCH)
    width_limit_nm: Annotated[Nm, ExclusiveMinimum(0)] = Nm(102 * INCH)
    tiedown_wll_g: Annotated[Grams, ExclusiveMinimum(0)] = Grams(1_814_369)  # 4,000 lb: unmarked 4 in webbing, 49 CFR 393.108
    strap_tension_g: Annotated[Grams, ExclusiveMinimum(0)] = Grams(362_874)  # 800 lb: case S2
    blocked_forward: bool = False
    unload_from: Annotated[tuple[Literal["left", "right", "rear"], ...], ItemCount(1, 3)] = ("left",)
    lane_gap_nm: Annotated[Nm, Minimum(0)] = Nm(0)
    permit: (
        Annotated[str, TextPattern(r"[^,]*\d[^,]*, *\S.*", 'a permit\'s number, then its route: "P-77, route 40"')] | None
    ) = None
    permit_width_nm: Annotated[Nm, ExclusiveMinimum(0), Description("widest load the permit allows")] | None = None
    permit_gross_g: Annotated[Grams, ExclusiveMinimum(0), Description("heaviest vehicle the permit allows")] | None = None
    permit_axles_permille: Annotated[int, Minimum(1000), Description("axle limits under the permit, in thousandths")] = 1000
    gross_limit_g: (
        Annotated[Grams, ExclusiveMinimum(0), Description("a local limit of the whole vehicle; absent: the rule set's")] | None
    ) = None
    balance_permille: Annotated[
        int, Minimum(0), Description("centre of mass off the middle, thousandths of the deck's width")
    ] = 100
    support_every_nm: Annotated[Nm, ExclusiveMinimum(0)] = Nm(60 * INCH)  # timbers of a bundle that brings none of its own
    support_from_end_nm: Annotated[Nm, Minimum(0)] = Nm(24 * INCH)
    timber_width_nm: Annotated[Nm, ExclusiveMinimum(0), Description("timbers less than this apart are in line")] = Nm(
        88_900_000
    )
    strap_edge_nm: Annotated[Nm, Minimum(0), Description("a strap keeps this far inside a bundle's ends, where it can")] = Nm(
        6 * INCH
    )
    side_overhang_nm: Annotated[Nm, Minimum(0), Description("past the bundle below, each side; borne by the timbers")] = Nm(
        6 * INCH
    )
    core_stress_pa: Annotated[int, ExclusiveMinimum(0)] = 24_821  # 3.6 psi at 1 %, EPS15: ASTM D6817 (case S1)
    local_rules: Annotated[str, Description("local rules named by the planner; printed on the load sheet")] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadJob:
    """Bundles to put on decks."""

    unit: Unit = field(default="mm", metadata={"always": True})
    decks: Annotated[tuple[Deck, ...], ItemCount(0, 50)]
    bundles: Annotated[tuple[LoadBundle, ...], ItemCount(0, 2_000)]
    rules: LoadRules = LoadRules()
    time_limit_s: Annotated[float, Minimum(0)] = 10.0
    seed: int = 1
    name: Annotated[str, Description("begins the ids of the loads")] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedBundle:
    """Where a bundle stands on the deck: from the front, from the left, and its underside above the deck."""

    bundle: BundleId
    x_nm: Nm
    y_nm: Nm
    z_nm: Nm
    supports_nm: tuple[Nm, ...] = ()  # middles of the timbers under it, from the deck's front


@dataclass(frozen=True, slots=True, kw_only=True)
class AxleWeight:
    """What an axle group carries and may carry, after the given number of bundles has been taken off."""

    group: AxleGroup
    weight_g: Grams
    limit_g: Grams | None
    after: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class BridgeWeight:
    """Consecutive axles (1 is the foremost), how far apart the outer ones are, what they carry and may carry."""

    first: int
    last: int
    feet: int
    weight_g: Grams
    limit_g: Grams


@dataclass(frozen=True, slots=True, kw_only=True)
class Tiedowns:
    """How many tie-downs go over what, by count and by working load, and where they lie (from the deck's front)."""

    by_length: int
    by_load: int
    required: int
    positions_nm: tuple[Nm, ...] = ()
    rule: str = "49 CFR 393.106, 393.110"
    edge_protectors: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """One truck: bundles where they stand, in the order in which they come off."""

    id: LoadId
    deck: str
    placed: tuple[PlacedBundle, ...]  # in order of loading; unloading is the reverse
    weight_g: Grams
    axles: tuple[AxleWeight, ...] = ()
    tiedowns: Tiedowns | None = None
    notes: tuple[str, ...] = ()
    bridge: tuple[BridgeWeight, ...] = ()  # at departure, where the bridge formula applies
    centre_nm: Nm = Nm(0)  # centre of mass of the cargo from the deck's front
    centre_across_nm: Nm = Nm(0)  # and from the deck's left
    height_nm: Nm = Nm(0)  # top of the cargo above the road
    centre_up_nm: Nm = Nm(0)  # centre of mass of the cargo above the road
    tiers: int = 0  # the most bundles on each other
    out_of_order: tuple[BundleId, ...] = ()  # wanted before a bundle that rides on an earlier truck of the same trip


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadResult:
    """Loads in order of need: fewest trucks; of these in order of need, then lowest, fewest tie-downs, least deck.

    `optimal` when the trucks are proved fewest; how they stand is as good as was found. `lower_bound` is of the cost of
    decks, among plans of fewest trucks.
    """

    status: Literal["optimal", "feasible", "unknown"]
    loads: tuple[Load, ...]
    cost: float | None
    lower_bound: float
    seconds: float
    notes: tuple[str, ...] = ()
    trucks: int = field(default=0, metadata={"always": True})
    trucks_lower_bound: int = field(default=0, metadata={"always": True})
    certificate: Annotated[Certificate, Description("what the bound of trucks rests on")] | None = None
