"""What happened on the floor: one shape a kind, never edited, kept once however often it is sent.

A thing that happened is a fact, so nothing here is refused for being unlikely. `FloorEvent` is the plain form in which the
stations tell the commonest kinds: a subject and what it is about. `KINDS` names the class of each kind.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated, Any, Literal

from solver.domain.cut_plan import Joints
from solver.domain.stock import StockKind
from solver.field_limits import Description, ExclusiveMinimum, ItemCount, Maximum, Minimum, TextPattern
from solver.units import Grams, Nm, Unit

EventId = Annotated[str, TextPattern(r"[A-Za-z0-9_.:-]{1,80}", "an id of letters, digits and _ . : -")]
ThingKind = Literal["piece", "bar", "bundle", "load", "label", "item"]
Making = Annotated[
    int, Minimum(1), Maximum(10_000), Description("which time the piece is made; absent: the one that is wanted then")
]
Count = Annotated[int, ExclusiveMinimum(0), Maximum(1_000_000)]
ItemNumber = Annotated[int, Minimum(1), Maximum(2**53 - 1), Description("number of a stock item")]
COUNTER_MOST = 2**53 - 1  # the largest whole number that every JSON reader keeps exact


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """What every event says: who told it, on which device, that device's own counter, when it happened, and of which release.

    `id` is chosen by the sender, so that sending twice keeps it once.
    """

    id: EventId
    kind: str
    unit: Unit = "mm"
    at: str  # when it happened: ISO 8601 with offset
    device: Annotated[str, Description("the tablet or station that told it")] = ""
    actor: Annotated[str, Description("who told it")] | None = None
    counter: Annotated[int, Minimum(0), Maximum(COUNTER_MOST), Description("the device's own count of what it told")] | None = (
        None
    )
    release: Annotated[str, Description("the release that it was told against")] | None = None
    reason: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut(Event):
    """A piece is cut, or made again."""

    kind: Literal["cut", "remade"] = field(metadata={"always": True})
    piece: str
    making: Making | None = None
    bar: str | None = None
    bar_digest: str | None = None  # which bar of that name, as long as two plans may share one


@dataclass(frozen=True, slots=True, kw_only=True)
class Scrapped(Event):
    """A piece is lost: its next making is wanted."""

    kind: Literal["scrapped"] = field(metadata={"always": True})
    piece: str
    making: Making | None = None
    bar: str | None = None
    bar_digest: str | None = None
    photo: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BarBegun(Event):
    """A bar lies on the saw: its stock item is in work."""

    kind: Literal["bar_begun"] = field(metadata={"always": True})
    bar: str
    bar_digest: str | None = None
    item: ItemNumber | None = None
    material: str | None = None  # what the plan cuts it from
    length_nm: Annotated[Nm, ExclusiveMinimum(0)] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BarSetAside(Event):
    """A bar is set aside; nothing was cut from it where its stock item goes back to the rack."""

    kind: Literal["bar_set_aside"] = field(metadata={"always": True})
    bar: str
    bar_digest: str | None = None
    item: ItemNumber | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BarNotInRack(Event):
    """What a bar is to be cut from was not where it should lie: somebody is to count it."""

    kind: Literal["bar_not_in_rack"] = field(metadata={"always": True})
    bar: str
    bar_digest: str | None = None
    item: ItemNumber | None = None
    material: str | None = None
    length_nm: Annotated[Nm, ExclusiveMinimum(0)] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Flaw(Event):
    """A stretch of a bar is no stock any more."""

    kind: Literal["flaw"] = field(metadata={"always": True})
    bar: str
    bar_digest: str | None = None
    from_nm: Annotated[Nm, Minimum(0)]
    to_nm: Annotated[Nm, ExclusiveMinimum(0)]

    def __post_init__(self) -> None:
        if self.to_nm <= self.from_nm:
            raise ValueError("the flaw ends where it begins, or before")


@dataclass(frozen=True, slots=True, kw_only=True)
class DropPutAway(Event):
    """The rest of a bar lies in the rack: a stock item from now on."""

    kind: Literal["drop_put_away"] = field(metadata={"always": True})
    bar: str
    bar_digest: str | None = None
    item: ItemNumber | None = None
    material: str | None = None
    length_nm: Annotated[Nm, ExclusiveMinimum(0)] | None = None
    width_nm: Annotated[Nm, ExclusiveMinimum(0)] | None = None
    place: str | None = None
    joints: Joints = "both"


@dataclass(frozen=True, slots=True, kw_only=True)
class DropBinned(Event):
    """The rest of a bar is scrap."""

    kind: Literal["drop_binned", "scrapped"] = field(metadata={"always": True})
    bar: str
    bar_digest: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid(Event):
    """A piece lies on a bundle."""

    kind: Literal["laid"] = field(metadata={"always": True})
    piece: str
    bundle: str
    making: Making | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BundleClosed(Event):
    """A bundle is banded."""

    kind: Literal["bundle_closed", "bundled"] = field(metadata={"always": True})
    bundle: str
    pieces: tuple[str, ...] = ()  # what it was to hold then


@dataclass(frozen=True, slots=True, kw_only=True)
class BundleOpened(Event):
    """The bands of a bundle are off again."""

    kind: Literal["bundle_opened"] = field(metadata={"always": True})
    bundle: str


@dataclass(frozen=True, slots=True, kw_only=True)
class On(Event):
    """A bundle is on a truck."""

    kind: Literal["on", "loaded"] = field(metadata={"always": True})
    bundle: str
    load: str | None = None
    pieces: tuple[str, ...] = ()  # what it was to hold then


@dataclass(frozen=True, slots=True, kw_only=True)
class Off(Event):
    """A bundle is off a truck again."""

    kind: Literal["off"] = field(metadata={"always": True})
    bundle: str
    load: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Damaged(Event):
    """A bundle, or a piece in it, is damaged: a piece is wanted anew; of a whole bundle a person says which."""

    kind: Literal["damaged"] = field(metadata={"always": True})
    bundle: str
    piece: str | None = None
    load: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NotHere(Event):
    """A bundle, or a piece in it, is not where it should be."""

    kind: Literal["not_here"] = field(metadata={"always": True})
    bundle: str
    piece: str | None = None
    load: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Left(Event):
    """A truck has left, without some bundles where that was so."""

    kind: Literal["left", "shipped"] = field(metadata={"always": True})
    load: str
    without: Annotated[tuple[str, ...], ItemCount(0, 1_000)] = ()
    seal: str | None = None
    signature: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Printed(Event):
    """A label, tag or sheet was printed."""

    kind: Literal["printed"] = field(metadata={"always": True})
    label: Annotated[str, Description("what it is of: a piece, bundle, load or stock item")]
    making: Making | None = None
    printer: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Voided(Event):
    """A label, tag or sheet holds no more."""

    kind: Literal["voided"] = field(metadata={"always": True})
    label: Annotated[str, Description("what it is of: a piece, bundle, load or stock item")]
    making: Making | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Undone(Event):
    """An event is to count as if it had not been."""

    kind: Literal["undone"] = field(metadata={"always": True})
    event: EventId
    subject: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Answered(Event):
    """A person answered a question that two accounts, or the book and the rack, had raised."""

    kind: Literal["answered"] = field(metadata={"always": True})
    question: str
    answer: str
    thing: ThingKind | None = None  # what it was asked of
    name: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BookOpened(Event):
    """The book of a plant begins, with so many stock items taken over from its catalog."""

    kind: Literal["book_opened"] = field(metadata={"always": True})
    plant: str
    items: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Received(Event):
    """Stock has come: a new item, or more of one that is there."""

    kind: Literal["received"] = field(metadata={"always": True})
    item: ItemNumber | None = None
    stock: StockKind = "lot"
    material: str | None = None
    length_nm: Annotated[Nm, ExclusiveMinimum(0)] | None = None
    width_nm: Annotated[Nm, ExclusiveMinimum(0)] | None = None
    thickness_nm: Annotated[Nm, ExclusiveMinimum(0)] | None = None
    joints: Joints = "both"
    weight_g: Annotated[Grams, Minimum(0)] | None = None
    litres: Annotated[int, Minimum(0)] | None = None
    count: Count = 1
    place: str | None = None
    name: Annotated[str, Description("what it was called before it had a number: a coil's or remnant's id")] | None = None
    heat: str | None = None
    batch: str | None = None
    ready: Annotated[str, Description("when it may be used, ISO 8601 with offset; absent: at once")] | None = None
    put_away: Annotated[str, TextPattern(r"\d{4}-\d\d-\d\d", "a date such as 2031-04-28")] | None = None
    source: Annotated[str, Description("where it came from: a delivery, a bar")] | None = field(
        default=None, metadata={"json": "from"}
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Movement(Event):
    """Something happened to a stock item."""

    item: ItemNumber


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted(Movement):
    """So many are there, whatever the book said."""

    kind: Literal["counted"] = field(metadata={"always": True})
    count: Annotated[int, Minimum(0), Maximum(1_000_000)]
    place: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn(Movement):
    """So many were taken from the rack, for a release where that is known."""

    kind: Literal["drawn"] = field(metadata={"always": True})
    count: Count = 1
    bar: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Returned(Movement):
    """So many that were drawn are back, whole."""

    kind: Literal["returned"] = field(metadata={"always": True})
    count: Count = 1
    place: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class StockScrapped(Movement):
    """So many are thrown away, or written off."""

    kind: Literal["stock_scrapped"] = field(metadata={"always": True})
    count: Count = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved(Movement):
    """The item lies at another place."""

    kind: Literal["moved"] = field(metadata={"always": True})
    place: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Reserved(Movement):
    """So many are kept for a release: a promise, not a fact, and so never more than are there and free."""

    kind: Literal["reserved"] = field(metadata={"always": True})
    count: Count = 1
    holder: Annotated[str, Description("the release that holds them")] = field(metadata={"json": "for"})


@dataclass(frozen=True, slots=True, kw_only=True)
class Freed(Movement):
    """A release holds so many fewer; none are named: none any more."""

    kind: Literal["freed"] = field(metadata={"always": True})
    count: Count | None = None
    holder: Annotated[str, Description("the release that held them")] = field(metadata={"json": "for"})


AnyEvent = (
    Cut | Scrapped | BarBegun | BarSetAside | BarNotInRack | Flaw | DropPutAway | DropBinned | Laid | BundleClosed
    | BundleOpened | On | Off | Damaged | NotHere | Left | Printed | Voided | Undone | Answered | BookOpened | Received
    | Counted | Drawn | Returned | StockScrapped | Moved | Reserved | Freed
)  # fmt: skip

KINDS: dict[str, type[Any]] = {
    "cut": Cut,
    "remade": Cut,
    "scrapped": Scrapped,
    "bar_begun": BarBegun,
    "bar_set_aside": BarSetAside,
    "bar_not_in_rack": BarNotInRack,
    "flaw": Flaw,
    "drop_put_away": DropPutAway,
    "drop_binned": DropBinned,
    "laid": Laid,
    "bundle_closed": BundleClosed,
    "bundled": BundleClosed,
    "bundle_opened": BundleOpened,
    "on": On,
    "loaded": On,
    "off": Off,
    "damaged": Damaged,
    "not_here": NotHere,
    "left": Left,
    "shipped": Left,
    "printed": Printed,
    "voided": Voided,
    "undone": Undone,
    "answered": Answered,
    "book_opened": BookOpened,
    "received": Received,
    "counted": Counted,
    "drawn": Drawn,
    "returned": Returned,
    "stock_scrapped": StockScrapped,
    "moved": Moved,
    "reserved": Reserved,
    "freed": Freed,
}

# the fields of a kind that the plain form calls subject and about
PLAIN: dict[type[Any], tuple[str, str | None]] = {
    Cut: ("piece", "bar"),
    Scrapped: ("piece", "bar"),
    BarBegun: ("bar", None),
    BarSetAside: ("bar", None),
    BarNotInRack: ("bar", None),
    Flaw: ("bar", None),
    DropPutAway: ("bar", None),
    DropBinned: ("bar", None),
    Laid: ("piece", "bundle"),
    BundleClosed: ("bundle", None),
    BundleOpened: ("bundle", None),
    On: ("bundle", "load"),
    Off: ("bundle", "load"),
    Damaged: ("bundle", "load"),
    NotHere: ("bundle", "load"),
    Left: ("load", None),
    Printed: ("label", None),
    Voided: ("label", None),
    Undone: ("subject", "event"),
}

PlainKind = Literal["cut", "scrapped", "remade", "drop_put_away", "bundled", "loaded", "shipped", "undone"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorEvent:
    """One thing that happened in its plain form, as a station tells it: what it happened to, and what it is about."""

    id: EventId
    kind: PlainKind
    at: str  # ISO 8601 with offset
    station: str
    subject: str  # the piece, bar, bundle or load it happened to
    about: str | None = None  # the bar it was cut from, the load it went on, the event undone
    reason: str | None = None
    actor: str | None = None
    counter: Annotated[int, Minimum(0), Maximum(COUNTER_MOST)] | None = None
    release: str | None = None


def event_from_plain(plain: FloorEvent) -> AnyEvent:
    """Return an event in the form of its kind; what it was told to be about is left out where its kind is about nothing."""
    kind = KINDS[plain.kind]
    subject, about = PLAIN[kind]
    said: dict[str, Any] = {subject: plain.subject}
    if about is not None:
        said[about] = plain.about
    made: AnyEvent = kind(
        id=plain.id,
        kind=plain.kind,
        at=plain.at,
        device=plain.station,
        actor=plain.actor,
        counter=plain.counter,
        release=plain.release,
        reason=plain.reason,
        **said,
    )
    return made


def event_subject(event: AnyEvent) -> str:
    """Return what an event happened to, as a text: the subject of its plain form."""
    if isinstance(event, Undone):
        return event.subject or event.event
    if isinstance(event, Answered):
        return event.question
    if isinstance(event, BookOpened):
        return event.plant
    named = PLAIN.get(type(event))
    return str(getattr(event, named[0])) if named is not None else str(event.item)  # type: ignore[union-attr]


def event_about(event: AnyEvent) -> str | None:
    """Return what an event is about in its plain form, or None."""
    if isinstance(event, Reserved | Freed):
        return event.holder
    named = PLAIN.get(type(event), ("", None))[1]
    return None if named is None else getattr(event, named)
