"""Bundles: the order of standing, reversed, cut into stacks; the first piece to stand lies on top."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated, Literal

from solver.domain.certificate import Certificate
from solver.domain.ids import BundleId, GroupId, OrderId, PieceId
from solver.field_limits import Description, ExclusiveMinimum, ItemCount, Minimum, TextPattern
from solver.units import Grams, Nm, Unit

INCH = 25_400_000


@dataclass(frozen=True, slots=True, kw_only=True)
class StackPiece:
    """A piece as bundling sees it: a box that stands `stands`-th, with what it bears."""

    id: PieceId
    stands: Annotated[int, Minimum(1)]
    length_nm: Annotated[Nm, ExclusiveMinimum(0)]
    width_nm: Annotated[Nm, ExclusiveMinimum(0)]
    thickness_nm: Annotated[Nm, ExclusiveMinimum(0)]
    weight_g: Annotated[Grams, Minimum(0)]
    order: OrderId | None = None
    group: GroupId | None = None
    kind: Literal["panel", "trim", "small"] = "panel"
    carries: bool = True  # a piece with openings, narrow, or with mitred points may not lie under others
    delivery: Annotated[str, Description("pieces of different deliveries never share a bundle")] | None = None
    lot: Annotated[str, Description("trims of different lots never share a bundle: base channel is one by itself")] | None = (
        None
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class LooseItem:
    """Hardware for a start box, the box that comes off first: how many, in whole packs, and what the packs weigh."""

    item: Annotated[str, TextPattern(r"\S.*", "what it is")]
    quantity: Annotated[int, Minimum(1)]
    packs: Annotated[int, Minimum(1)] = 1
    pack: Annotated[int, Minimum(1), Description("how many are in a pack")] = 1
    weight_g: Annotated[Grams, Minimum(0), Description("of all its packs")] = Grams(0)
    order: OrderId | None = None
    delivery: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BundleLimits:
    """What a bundle may be; height counts the dunnage under it."""

    weight_g: Annotated[Grams, ExclusiveMinimum(0)]
    height_nm: Annotated[Nm, ExclusiveMinimum(0)]
    length_nm: Annotated[Nm, ExclusiveMinimum(0)]
    overhang_nm: Annotated[Nm, Minimum(0)]  # past the piece below, each end
    dunnage_nm: Annotated[Nm, Minimum(0)]  # height of the dunnage
    dunnage_width_nm: Annotated[Nm, ExclusiveMinimum(0)]
    dunnage_every_nm: Annotated[Nm, ExclusiveMinimum(0)]
    dunnage_from_end_nm: Annotated[Nm, Minimum(0)]
    core_stress_pa: Annotated[int, ExclusiveMinimum(0)] = 24_821  # 3.6 psi at 1 %, EPS15: ASTM D6817 (case S1)
    overhang_across_nm: (
        Annotated[Nm, Minimum(0), Description("past the piece below, each side; absent: as overhang")] | None
    ) = None
    width_nm: Annotated[Nm, ExclusiveMinimum(0), Description("widest bundle; absent: any")] | None = None
    tiers: Annotated[int, Minimum(1), Description("dunnage is counted for this many bundles on each other")] = 1
    spreader_length_nm: (
        Annotated[Nm, ExclusiveMinimum(0), Description("longest with a spreader; absent: none is lifted so")] | None
    ) = None
    forklift_g: Annotated[Grams, ExclusiveMinimum(0), Description("rated load of the forklift; absent: not judged")] | None = (
        None
    )
    forklift_centre_nm: Annotated[Nm, ExclusiveMinimum(0), Description("load centre of the rating")] = Nm(24 * INCH)
    trim_width_nm: Annotated[Nm, ExclusiveMinimum(0), Description("width that trims are laid across")] = Nm(48 * INCH)
    box_length_nm: Annotated[Nm, ExclusiveMinimum(0), Description("inside of a box for small parts")] = Nm(48 * INCH)
    box_width_nm: Annotated[Nm, ExclusiveMinimum(0)] = Nm(40 * INCH)
    box_height_nm: Annotated[Nm, ExclusiveMinimum(0)] = Nm(24 * INCH)
    box_tare_g: Annotated[Grams, Minimum(0), Description("what an empty box weighs")] = Grams(0)
    box_fill_permille: Annotated[int, ExclusiveMinimum(0), Description("share of a box that parts may fill")] = 600
    fork_spread_nm: Annotated[Nm, ExclusiveMinimum(0), Description("forks apart under a long bundle; half of a short one")] = (
        Nm(60 * INCH)
    )
    small_nm: Annotated[Nm, Minimum(0), Description("linear parts up to this go into a box")] = Nm(12 * INCH)
    solid_permille: Annotated[int, Minimum(0), Description("a panel that keeps less of its face than this carries nothing")] = (
        500
    )
    set_aside: Annotated[
        int, Minimum(0), Description("pieces of a bundle that may be taken off before one that stands earlier")
    ] = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class StackJob:
    """Pieces in order of standing and the limits to stack them within."""

    unit: Unit = field(default="mm", metadata={"always": True})
    limits: BundleLimits
    pieces: Annotated[tuple[StackPiece, ...], ItemCount(0, 100_000)]
    time_limit_s: Annotated[float, Minimum(0)] = 10.0
    seed: int = 1
    company_prefix: Annotated[str, TextPattern(r"\d{3,12}", "digits of a GS1 company prefix")] | None = None
    loose: Annotated[
        tuple[LooseItem, ...], ItemCount(0, 10_000), Description("hardware, for a start box of each order's delivery")
    ] = ()
    notes: Annotated[tuple[str, ...], Description("what the planner is told beside")] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Lay:
    """A piece in its bundle: distance of its foot end from the bundle's foot end, and of its left edge from the left."""

    piece: PieceId
    at_nm: Nm = Nm(0)
    across_nm: Nm = Nm(0)
    up_nm: Nm = Nm(0)  # height of its underside above the dunnage's top


@dataclass(frozen=True, slots=True, kw_only=True)
class Bundle:
    """A stack of pieces, bottom to top, on dunnage, banded; feet all at one end."""

    id: BundleId
    kind: Literal["panels", "trim", "box"]
    pieces: tuple[Lay, ...]  # bottom first
    first_stands: int  # the lowest standing number in it: how soon it is wanted; 0: a start box, before all
    length_nm: Nm
    width_nm: Nm
    height_nm: Nm  # with dunnage
    weight_g: Grams
    order: OrderId | None = None
    groups: tuple[GroupId, ...] = ()
    dunnage_nm: tuple[Nm, ...] = ()  # positions from the foot end; a band over each
    centre_nm: Nm = Nm(0)  # centre of mass from the foot end
    set_aside: tuple[PieceId, ...] = ()  # taken off before one that stands earlier
    serial: str = ""  # serial shipping container code, 18 digits
    notes: tuple[str, ...] = ()
    centre_across_nm: Nm = Nm(0)  # centre of mass from the left
    centre_up_nm: Nm = Nm(0)  # centre of mass above the floor, dunnage included
    lift_nm: tuple[Nm, ...] = ()  # where the forks (or the spreader's slings) go, from the foot end
    may_carry_g: Grams = Grams(0)  # what may stand on it: as the foam over its dunnage bears, and its top allows
    delivery: str | None = None
    items: Annotated[tuple[LooseItem, ...], Description("hardware in a start box, which holds no pieces")] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class StackResult:
    """Bundles in order of need (the first is wanted first), proved fewest when `optimal`."""

    status: Literal["optimal", "feasible", "unknown"]
    bundles: tuple[Bundle, ...]
    lower_bound: int
    seconds: float
    notes: tuple[str, ...] = ()
    certificate: Annotated[Certificate, Description("what the bound of bundles rests on")] | None = None
