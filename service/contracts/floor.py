"""The floor as the web tells it: bars and cuts, bundles, loads, and what happened."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

from solver.domain.book import PieceNow, QuestionKind
from solver.domain.cut_plan import Turn
from solver.domain.document import SecondCut
from solver.domain.event import AnyEvent, EventId, ThingKind
from solver.domain.lay import Lies
from solver.domain.lift import Lift
from solver.units import Grams, MicroDeg, Nm, Unit

CutState = Literal["waiting", "cut", "scrapped"]
BundleState = Literal["waiting", "loaded", "shipped"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SawStroke:
    """One pass of the blade: where it crosses either edge of the bar from zero, and how it leans.

    `fence_nm` is on the edge at the fence, `far_nm` on the other; `from_last_nm` counts along the fence from the stroke
    before; `swing_udeg` is the angle from square, positive where the far edge is farther from zero. `tilt_udeg`: the blade
    leans through the thickness, and of the piece's two faces the longer one lies up or down. Figures are on the face that lies
    up (`on_upper`) or down; `upper_nm` is the one at the fence on the upper face then.
    """

    fence_nm: Nm
    far_nm: Nm
    from_last_nm: Nm
    swing_udeg: MicroDeg
    tilt_udeg: MicroDeg = MicroDeg(0)
    long_up: bool = False
    on_upper: bool = True
    upper_nm: Nm | None = None
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
class PlannedCut:
    """A piece in its slot on a bar: what to cut, which label it gets, and where it goes next.

    `edge_a_nm` is at the fence, as the bar lies; `lies`: how the piece lies in it, where its foot and its faces are.
    """

    n: int
    piece: str
    mark: str
    order: str
    making: int = 1  # which time it is cut: the one that the label says
    turn: Turn
    edge_a_nm: tuple[Nm, Nm]
    edge_b_nm: tuple[Nm, Nm]
    length_nm: Nm
    width_nm: Nm
    weight_g: Grams
    stands: int
    closing: bool = False
    crew: int = 1  # how many may lift it together by the guideline; 0: it is over that for any team
    lift: Lift | None = None
    lies: Lies | None = None
    seconds: tuple[SecondCut, ...] = ()
    strokes: tuple[SawStroke, ...] = ()
    bundle: str | None = None
    bundle_place: int | None = None  # from the bottom, from 1
    bundle_of: int | None = None
    next_work: tuple[NextWork, ...] = ()
    notes: tuple[str, ...] = ()
    state: CutState = field(default="waiting", metadata={"always": True})
    event: str | None = None  # the event that made the state

    @property
    def lifted(self) -> Lift:
        """How it is lifted; a row stored before that was told has the number of people alone."""
        return self.lift or Lift(by="hands" if self.crew else "over", people=self.crew or 3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A bar in cut order: what to pull, how to lay it, and its cuts."""

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
    lies: Lies | None = None
    cuts: tuple[PlannedCut, ...]
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
    """A bar by itself, and the plan that it is of."""

    unit: Unit = field(metadata={"always": True})
    plan: str
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
    """Loads of the released plan, then those of orders that it has not and that have not left."""

    unit: Unit = field(metadata={"always": True})
    loads: tuple[Load, ...]
    more: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class OneLoad:
    """A load by itself, and the plan that it is of: the floor's, or an earlier one whose truck has not left."""

    unit: Unit = field(metadata={"always": True})
    plan: str
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
class EventBefore:
    """What had been told of the same piece already, when and from which station."""

    kind: str
    at: str
    station: str


@dataclass(frozen=True, slots=True, kw_only=True)
class QuestionRead:
    """What only a person can say: which thing it is about, the events that raised it, and the answer where it was given."""

    id: str
    kind: QuestionKind
    thing: ThingKind
    about: str
    says: str
    events: tuple[str, ...]
    at: str
    open: bool = field(metadata={"always": True})
    answer: str | None = None
    answered_by: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class QuestionList:
    """Questions that wait for a person, the oldest first; or those that were answered or fell away."""

    questions: tuple[QuestionRead, ...]
    more: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class AnswerGiven:
    """A person's answer to a question; `id` is the event's, chosen by the sender."""

    id: EventId
    answer: str
    at: str | None = None
    actor: str | None = None
    device: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class EventKept:
    """An event in the book: `new` is false where it had been sent before; `known` whether a plan names its subject.

    `before`: what another told already and this contradicts (a piece is cut once): a question for a person. `body`: the
    event in the form of its kind; `questions`: what it raised.
    """

    id: str
    seq: int
    kind: str
    at: str
    received_at: str
    station: str = ""  # what the service itself told has none
    subject: str
    about: str | None = None
    reason: str | None = None
    actor: str | None = None
    counter: int | None = None
    release: str | None = None
    stands: bool = True  # false: it was undone
    new: bool = field(default=True, metadata={"always": True})
    known: bool = field(default=True, metadata={"always": True})
    before: EventBefore | None = None
    body: AnyEvent | None = None
    questions: tuple[QuestionRead, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class EventList:
    """Events in the order in which they were received; `cursor` names the last: ask for what comes after it."""

    events: tuple[EventKept, ...]
    cursor: int = field(default=0, metadata={"always": True})
    more: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelRead:
    """A label of a piece: the making that it bears, and whether it holds."""

    making: int
    valid: bool = field(metadata={"always": True})
    printed: bool = False  # the book heard of it


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceRead:
    """Where a piece is: which making counts, and its bar, bundle and load."""

    order: str
    mark: str
    making: int = field(metadata={"always": True})
    state: PieceNow
    bar: str | None
    bundle: str | None
    load: str | None
    labels: tuple[LabelRead, ...]
    questions: tuple[QuestionRead, ...] = ()
