"""The floor as the web tells it: bars and cuts, bundles, loads, and what happened."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from solver.domain.cut_plan import Turn
from solver.units import Grams, MicroDeg, Nm, Unit

CutState = Literal["waiting", "cut", "scrapped"]
BundleState = Literal["waiting", "loaded", "shipped"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SawStroke:
    """One pass of the blade: where it crosses either edge of the bar from zero, and how it leans.

    `fence_nm` is on the edge at the fence, `far_nm` on the other; `from_last_nm` counts along the fence from the stroke
    before; `swing_udeg` is the angle from square, positive where the far edge is farther from zero. `tilt_udeg`: the blade
    leans through the thickness, and of the piece's two faces the longer one lies up or down.
    """

    fence_nm: Nm
    far_nm: Nm
    from_last_nm: Nm
    swing_udeg: MicroDeg
    tilt_udeg: MicroDeg = MicroDeg(0)
    long_up: bool = False
    frees: Literal["end", "piece", "waste"]  # what falls off on the zero side: the trimmed end, the piece, a wedge


@dataclass(frozen=True, slots=True, kw_only=True)
class NextWork:
    """What is left to do to a piece after this saw: where, what, on which edge, at which angle, how often."""

    at: Literal["bevel_saw", "panel_saw", "router", "drill"]
    what: Literal["mitre", "rip", "slopes", "opening", "pocket", "hole"]
    edge: Literal["left", "right"] | None = None
    bevel_udeg: MicroDeg | None = None
    count: int = 1
    names: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """A piece in its slot on a bar: what to cut, which label it gets, and where it goes next."""

    n: int
    piece: str
    mark: str
    order: str
    turn: Turn
    edge_a_nm: tuple[Nm, Nm]
    edge_b_nm: tuple[Nm, Nm]
    length_nm: Nm
    width_nm: Nm
    weight_g: Grams
    stands: int
    closing: bool = False
    crew: int = 1  # how many may lift it together; 0: a machine
    strokes: tuple[SawStroke, ...] = ()
    bundle: str | None = None
    bundle_place: int | None = None  # from the bottom, from 1
    bundle_of: int | None = None
    next_work: tuple[NextWork, ...] = ()
    notes: tuple[str, ...] = ()
    state: CutState = field(default="waiting", metadata={"always": True})
    event: str | None = None  # the event that made the state


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A bar in cut order: what to pull, and its cuts."""

    id: str
    machine: str
    position: int
    of: int
    material: str
    stock: str
    length_nm: Nm
    width_nm: Nm
    drop_nm: Nm
    keep_drop: bool
    cuts: tuple[Cut, ...]
    drop_event: str | None = None
    done: bool = field(default=False, metadata={"always": True})


@dataclass(frozen=True, slots=True, kw_only=True)
class CutQueue:
    """Bars of one machine, or of all, in cut order; `more` when there are further ones after the last shown."""

    unit: Unit = field(metadata={"always": True})
    plan: str | None
    machines: tuple[str, ...]
    bars: tuple[Bar, ...]
    more: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class OneBar:
    """A bar by itself."""

    unit: Unit = field(metadata={"always": True})
    bar: Bar


@dataclass(frozen=True, slots=True, kw_only=True)
class BundlePiece:
    """A piece in a bundle: its place from the bottom, and where it lies in the stack."""

    piece: str
    mark: str
    place: int
    at_nm: Nm
    across_nm: Nm
    up_nm: Nm
    length_nm: Nm
    width_nm: Nm
    thickness_nm: Nm
    weight_g: Grams
    stands: int
    state: CutState = field(default="waiting", metadata={"always": True})


@dataclass(frozen=True, slots=True, kw_only=True)
class Bundle:
    """A bundle: what is in it, bottom first, what it weighs, and the load that it goes on."""

    id: str
    order: str
    kind: str
    serial: str
    length_nm: Nm
    width_nm: Nm
    height_nm: Nm
    weight_g: Grams
    centre_nm: Nm
    first_stands: int
    load: str | None
    load_place: int | None
    pieces: tuple[BundlePiece, ...]
    dunnage_nm: tuple[Nm, ...] = ()
    notes: tuple[str, ...] = ()
    state: BundleState = field(default="waiting", metadata={"always": True})
    event: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BundleList:
    """Bundles in order of need."""

    unit: Unit = field(metadata={"always": True})
    bundles: tuple[Bundle, ...]
    more: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class OneBundle:
    """A bundle by itself."""

    unit: Unit = field(metadata={"always": True})
    bundle: Bundle


@dataclass(frozen=True, slots=True, kw_only=True)
class OnDeck:
    """A bundle on the deck: its place in order of loading, where it stands, and what it stands on."""

    bundle: str
    place: int
    x_nm: Nm
    y_nm: Nm
    z_nm: Nm
    length_nm: Nm
    width_nm: Nm
    height_nm: Nm
    weight_g: Grams
    serial: str
    pieces: int
    uncut: int
    scrapped: tuple[str, ...] = ()
    stands_on: tuple[str, ...] = ()
    state: BundleState = field(default="waiting", metadata={"always": True})
    event: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Axle:
    """What an axle group carries, and may carry, with the whole load on."""

    group: str
    weight_g: Grams
    limit_g: Grams | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Departs:
    """When a truck is loaded at which door, may and must leave, arrives and is wanted: instants by the plant's clock."""

    door: str
    ready_at: str  # its last bundle is built
    starts_at: str
    leaves_at: str  # loaded: it may leave
    arrives_at: str  # when it leaves at once
    leave_by: str | None = None  # to be on site in time
    need_by: str | None = None  # on site
    late_s: int | None = None  # below zero: early
    deliveries: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """A truck to load: the deck, and the bundles in order of loading."""

    id: str
    order: str
    name: str
    deck: str
    deck_length_nm: Nm
    deck_width_nm: Nm
    weight_g: Grams
    tiedowns: int
    tiedown_rule: str
    bundles: tuple[OnDeck, ...]
    axles: tuple[Axle, ...] = ()
    notes: tuple[str, ...] = ()
    tiedown_positions_nm: tuple[Nm, ...] = ()
    departs: Departs | None = None
    shipped_event: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadList:
    """Loads of the released plan."""

    unit: Unit = field(metadata={"always": True})
    loads: tuple[Load, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OneLoad:
    """A load by itself."""

    unit: Unit = field(metadata={"always": True})
    load: Load


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason:
    """Why something must not go on yet: what is wrong, why, and what to do instead."""

    code: Literal["unknown", "on_already", "other_load", "supports", "scrapped", "left"]
    bundle: str
    first: tuple[str, ...] = ()  # the bundles, or pieces, that must come first
    load: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class MayLoad:
    """Whether a bundle may go on the truck now, and every reason why not."""

    load: str
    bundle: str | None
    may: bool = field(metadata={"always": True})
    reasons: tuple[Reason, ...] = ()
    uncut: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class EventKept:
    """An event in the ledger: `new` is false where it had been sent before; `known` whether a plan names its subject."""

    id: str
    seq: int
    kind: str
    at: str
    received_at: str
    station: str
    subject: str
    about: str | None = None
    reason: str | None = None
    new: bool = field(default=True, metadata={"always": True})
    known: bool = field(default=True, metadata={"always": True})


@dataclass(frozen=True, slots=True, kw_only=True)
class EventList:
    """Events in the order in which they were received."""

    events: tuple[EventKept, ...]
    more: bool = False
