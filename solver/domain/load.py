"""Loads: bundles on decks, in reverse order of need, with weights by axle and tie-downs."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated, Literal

from solver.domain.ids import BundleId, LoadId
from solver.hints import Above, Low
from solver.units import Grams, Nm, Unit


@dataclass(frozen=True, slots=True, kw_only=True)
class Tractor:
    """The vehicle that draws or carries the deck, as in case S9."""

    tare_g: Annotated[Grams, Above(0)]
    steer_to_drive_nm: Annotated[Nm, Above(0)]  # wheelbase
    mass_to_drive_nm: Nm  # centre of mass ahead of the drive axle
    kingpin_to_drive_nm: Nm  # kingpin ahead of the drive axle
    drive_axles: Annotated[int, Low(1)] = 2
    drive_spread_nm: Annotated[Nm, Low(0)] = Nm(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Deck:
    """A deck to load; positions count from its front edge. Without a tractor it is a rigid truck or a hauled trailer."""

    id: str
    length_nm: Annotated[Nm, Above(0)]
    width_nm: Annotated[Nm, Above(0)]
    height_nm: Annotated[Nm, Above(0)]  # of the deck above the road
    payload_g: Annotated[Grams, Above(0)]
    tare_g: Annotated[Grams, Above(0)]
    cost: Annotated[float, Low(0)] = 1.0
    count: Annotated[int, Low(0)] | None = None
    kingpin_nm: Nm | None = None
    axle_group_nm: Nm | None = None  # centre of the trailer's axle group
    mass_nm: Nm | None = None  # centre of the trailer's own mass
    axles: Annotated[int, Low(1)] = 2
    axle_spread_nm: Annotated[Nm, Low(0)] = Nm(0)
    tractor: Tractor | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadBundle:
    """A bundle as loading sees it: wanted `rank`-th at stop `stop` (0 is the first stop)."""

    id: BundleId
    length_nm: Annotated[Nm, Above(0)]
    width_nm: Annotated[Nm, Above(0)]
    height_nm: Annotated[Nm, Above(0)]
    weight_g: Annotated[Grams, Above(0)]
    rank: Annotated[int, Low(0)]
    stop: Annotated[int, Low(0)] = 0
    may_carry_g: Annotated[Grams, Low(0)] | None = None  # what may stand on it; absent: as the core bears
    dunnage_nm: tuple[Nm, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadRules:
    """Legal and plant limits of a load; defaults are US federal where one exists, else common practice."""

    rule_set: Literal["US", "EU"] = "US"
    height_limit_nm: Annotated[Nm, Above(0)] = Nm(162 * 25_400_000)
    width_limit_nm: Annotated[Nm, Above(0)] = Nm(102 * 25_400_000)
    tiedown_wll_g: Annotated[Grams, Above(0)] = Grams(1_814_369)  # 4,000 lb: unmarked 4 in webbing, 49 CFR 393.108
    strap_tension_g: Annotated[Grams, Above(0)] = Grams(362_874)  # 800 lb: case S2
    blocked_forward: bool = False
    unload_from: tuple[Literal["left", "right", "rear"], ...] = ("left",)
    lane_gap_nm: Annotated[Nm, Low(0)] = Nm(0)
    permit: str | None = None  # number and route, for overweight or overwidth


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadJob:
    """Bundles to put on decks."""

    unit: Unit = field(default="mm", metadata={"always": True})
    decks: tuple[Deck, ...]
    bundles: tuple[LoadBundle, ...]
    rules: LoadRules = LoadRules()
    time_limit_s: Annotated[float, Low(0)] = 10.0
    seed: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedBundle:
    """Where a bundle stands on the deck: from the front, from the left, and its underside above the deck."""

    bundle: BundleId
    x_nm: Nm
    y_nm: Nm
    z_nm: Nm


@dataclass(frozen=True, slots=True, kw_only=True)
class AxleWeight:
    """What an axle group carries and may carry, after the given number of bundles has been taken off."""

    group: Literal["steer", "drive", "trailer", "front", "rear"]
    weight_g: Grams
    limit_g: Grams
    after: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Tiedowns:
    """How many tie-downs go over what, by count and by working load, and where they lie (from the deck's front)."""

    by_length: int
    by_load: int
    required: int
    positions_nm: tuple[Nm, ...] = ()
    rule: str = "49 CFR 393.106, 393.110"


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


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadResult:
    """Loads with their proof: fewest trucks (by cost), and the bound nothing can beat."""

    status: Literal["optimal", "feasible", "unknown"]
    loads: tuple[Load, ...]
    cost: float | None
    lower_bound: float
    seconds: float
    notes: tuple[str, ...] = ()
