"""Plans as the web tells them, and what the jobs hold that make or ask something of them."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated, ClassVar, Literal

from service.contracts.faults import Fault
from service.contracts.making import Making
from solver.domain.disruptions import Disruptions
from solver.field_limits import Description, ItemCount, Maximum, Minimum, TextPattern
from solver.units import Nm

JobStatus = Literal["waiting", "working", "done", "failed", "cancelled"]
JobKind = Literal["plan", "promise", "replan"]
ENDED: tuple[JobStatus, ...] = ("done", "failed", "cancelled")
Instant = Annotated[
    str,
    TextPattern(
        r"\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d(\.\d{1,6})?)?(Z|[+-]\d\d:\d\d)", "an instant such as 2031-05-05T06:00:00-06:00"
    ),
]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanAsked:
    """Which orders to plan together, and how long to search; absent: all orders, the plant's usual time, from now on."""

    orders: Annotated[tuple[str, ...], ItemCount(1, 200)] | None = None
    seconds: Annotated[int, Minimum(1), Maximum(600)] | None = None
    seed: Annotated[int, Minimum(0), Maximum(2**31 - 1)] = 1
    epoch: Instant | None = None
    rack_slots: (
        Annotated[int, Minimum(0), Maximum(10_000), Description("slots of the rack beside the saw; absent: the catalog's")]
        | None
    ) = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderAt:
    """An order at one revision."""

    id: str
    revision: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanWanted:
    """What a plan's job holds: everything decided when it was asked for, so that a second run makes the same."""

    KIND: ClassVar[JobKind] = "plan"
    orders: tuple[OrderAt, ...]
    seconds: int
    seed: int
    epoch: str
    predecessor: str | None = None
    rack_slots: int | None = None
    catalog: str | None = None  # the digest of the stored catalog to plan by; absent in jobs of older versions


@dataclass(frozen=True, slots=True, kw_only=True)
class PromiseWanted:
    """What a promise's job holds: of which order, beside which plan; times in seconds from the plan's start."""

    KIND: ClassVar[JobKind] = "promise"
    plan: str
    order: OrderAt
    seconds: float
    seed: int
    now_s: int
    firm_until_s: int
    by_s: int | None = None
    by: str | None = None  # as it was asked for


@dataclass(frozen=True, slots=True, kw_only=True)
class ReplanWanted:
    """What a replanning's job holds: which plan goes on, after what happened; times in seconds from the plan's start."""

    KIND: ClassVar[JobKind] = "replan"
    plan: str
    orders: tuple[OrderAt, ...]
    happened: Disruptions
    seconds: int
    seed: int
    now_s: int
    firm_until_s: int


Wanted = PlanWanted | PromiseWanted | ReplanWanted


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A job as its row tells it."""

    id: str
    status: JobStatus
    wanted: Wanted
    doing: str  # what is happening, for people
    fraction: float
    asked_at: str
    started_at: str | None = None
    ended_at: str | None = None
    deaths: int = 0
    cancel_asked: bool = False
    keep_asked: bool = False
    making: Making | None = None
    plan: str | None = None
    answer: str | None = None  # as JSON, where what was asked for is told and not a plan
    faults: tuple[Fault, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanState:
    """A plan among others: of which orders, when and by which job it was made, and whether it is the floor's now."""

    id: str
    made_at: str
    job: str | None = None
    orders: tuple[OrderAt, ...]
    released: bool = field(default=False, metadata={"always": True})
    faults: tuple[Fault, ...] = ()  # of its sheets; a plan with others is none


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanList:
    """Plans, newest first."""

    plans: tuple[PlanState, ...]


PartStage = Literal["plant", "takeoff", "stack", "nest", "sequence", "slit", "schedule", "load", "dispatch", "rack", "floor"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PartLine:
    """One part of a plan: its stage, what it is about, and the SHA-256 by which it is fetched."""

    stage: PartStage
    about: str
    digest: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ProofLine:
    """What one part claims, and whether its check came out sound."""

    stage: str
    about: str
    status: str
    value: float | None
    lower_bound: float | None
    checked: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class LateLine:
    """A delivery: due at the dock, done, and late by so many seconds, with the reasons."""

    order: str
    delivery: str
    due_s: int | None
    done_s: int
    late_s: int
    why: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class YieldLine:
    """Where a material went, as shares of its bars: pieces, kept drops, lost."""

    material: str
    bars: int
    bar_nm: Nm  # length of all its bars
    width_nm: Nm
    pieces: float
    kept: float
    lost: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanCounts:
    """How much there is of everything."""

    pieces: int
    bars: int
    bundles: int
    loads: int


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeAgain:
    """A piece that a plan has made again, and which time that is."""

    piece: str
    making: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanManifest:
    """A plan without its parts' contents: status, proof, promises, and where each part is."""

    id: str
    status: str
    unit: Literal["mm", "in"]
    plant: str
    epoch: str
    cost: float
    lower_bound: float
    seconds: float
    counts: PlanCounts
    proofs: tuple[ProofLine, ...]
    deliveries: tuple[LateLine, ...]
    orders: tuple[OrderAt, ...]
    parts: tuple[PartLine, ...]
    yields: tuple[YieldLine, ...] = ()
    predecessor: str | None = None
    catalog: Annotated[str, Description("SHA-256 of the catalog that the plan was first made by")] | None = None
    makings: Annotated[tuple[MadeAgain, ...], Description("pieces that were scrapped before the plan was made")] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRead(PlanManifest):
    """A plan: status, proof, promises and where each part is; when and by which job it was made, whether it is the floor's."""

    made_at: str
    job: str | None = None
    released: bool = field(default=False, metadata={"always": True})
    faults: tuple[Fault, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanReleased:
    """A plan that is now the floor's: since when, and how much of it there is."""

    plan: str
    released_at: str
    bars: int
    bundles: int
    loads: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ReleaseTakenBack:
    """A plan that is the floor's no more, and the one that is again; none where none was before it."""

    plan: str
    floor: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ReleaseDrops:
    """What saw and dock would lose by a release, and what stays: `pieces` are not cut yet and on no bar of the new plan.

    `changed`: trucks with a bundle on that the new plan loads otherwise; `stays`: trucks of orders that it has not.
    """

    pieces: int = field(metadata={"always": True})
    bars: int = field(metadata={"always": True})
    orders: tuple[str, ...] = ()
    changed: tuple[str, ...] = ()
    stays: tuple[str, ...] = ()

    @property
    def any(self) -> bool:
        """Whether anything would be lost."""
        return bool(self.pieces or self.changed)


@dataclass(frozen=True, slots=True, kw_only=True)
class DocumentLine:
    """A sheet or label file that belongs to a plan."""

    name: str
    media_type: str
    bytes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class DocumentList:
    """The files of a plan."""

    documents: tuple[DocumentLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """A file's contents."""

    name: str
    media_type: str
    body: bytes
