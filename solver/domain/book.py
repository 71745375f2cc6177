"""Where each thing on the floor is, as the book of what happened tells: pieces, bars, bundles, loads, labels, stock."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Literal, NamedTuple

from solver.domain.cut_plan import Joints
from solver.domain.event import ThingKind
from solver.domain.ids import MaterialId
from solver.domain.stock import StockItem, StockKind
from solver.units import Grams, Nm

QuestionKind = Literal[
    "cut_twice",  # two told of the same making: one cut, or two?
    "cut_void",  # a making was cut that had been scrapped
    "cut_unasked",  # a making was cut whose scrap nobody told
    "scrapped_twice",
    "laid_void",  # a void making lies on a bundle
    "not_here",
    "damaged",  # a whole bundle: which of its pieces?
    "on_twice",  # a bundle on two trucks
    "left_twice",
    "to_count",  # the book and the rack differ
    "reserved_short",  # more was promised to releases than is left
]
PieceNow = Literal["wanted", "on_bar", "cut", "laid", "on", "left"]
BundleNow = Literal["open", "closed", "on", "left"]


class Thing(NamedTuple):
    """What an event tells of: its kind and its name."""

    kind: ThingKind
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """What only a person can say, the events that raised it, and the answer where it was given."""

    id: str
    kind: QuestionKind
    about: str  # the thing
    events: tuple[str, ...]
    at: str  # when the last of them happened
    answer: str | None = None
    answered_by: str | None = None  # the event
    closed: bool = False  # what happened since made an answer needless


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceState:
    """A piece by itself: which making counts, whether it is made, and the bundle that it lies on or is to."""

    name: str
    making: int = 1
    highest: int = 1  # of all makings ever asked for: a number is never given again
    state: Literal["wanted", "cut", "laid"] = "wanted"
    bar: str | None = None
    bundle: str | None = None
    event: str | None = None  # the last that changed the state
    at: str | None = None
    scrap: str | None = None  # the event that asked for this making
    scrap_bar: str | None = None
    questions: tuple[Question, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BarState:
    """A bar: whether it is begun, what was cut from it, its flaws and what became of its rest."""

    name: str
    state: Literal["to_come", "begun", "set_aside", "done"] = "to_come"
    item: int | None = None
    pieces: tuple[str, ...] = ()
    flaws: tuple[tuple[Nm, Nm], ...] = ()
    rest: Literal["put_away", "binned"] | None = None
    drop_item: int | None = None
    drop_nm: Nm | None = None
    event: str | None = None
    questions: tuple[Question, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BundleState:
    """A bundle by itself: open, banded, or on a load; what it waits for."""

    name: str
    state: Literal["open", "closed", "on"] = "open"
    load: str | None = None
    waits: tuple[str, ...] = ()  # pieces that were damaged or are not here
    event: str | None = None
    at: str | None = None
    questions: tuple[Question, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadState:
    """A load: waiting, or left without some bundles."""

    name: str
    state: Literal["waiting", "left"] = "waiting"
    without: tuple[str, ...] = ()
    why: str | None = None
    seal: str | None = None
    signature: str | None = None
    event: str | None = None
    at: str | None = None
    questions: tuple[Question, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelState:
    """A label, tag or sheet: printed, or void."""

    name: str
    state: Literal["printed", "void"] = "printed"
    of: str = ""
    making: int | None = None
    printer: str | None = None
    event: str | None = None
    questions: tuple[Question, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Reservation:
    """So many of an item that a release holds."""

    holder: str
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemState:
    """A stock item: one thing, or a lot of equal things. Counts: what came, was found, and went; the rest is there.

    `count` may be below zero where more was drawn than the book had: then somebody is to count it. `found` is what counting
    added to the book, or took from it.
    """

    name: str  # its running number, as text
    stock: StockKind = "lot"
    material: str = ""
    length_nm: Nm | None = None
    width_nm: Nm | None = None
    thickness_nm: Nm | None = None
    joints: Joints = "both"
    weight_g: Grams | None = None
    litres: int | None = None
    called: str | None = None
    heat: str | None = None
    batch: str | None = None
    ready: str | None = None
    place: str | None = None
    source: str | None = None
    since: str | None = None  # when it came or was put away: ISO 8601, or a date alone
    received: int = 0
    found: int = 0
    drawn: int = 0
    returned: int = 0
    scrapped: int = 0
    reservations: tuple[Reservation, ...] = ()
    event: str | None = None
    questions: tuple[Question, ...] = ()

    @property
    def item(self) -> int:
        """Its number."""
        return int(self.name)

    @property
    def count(self) -> int:
        """How many are there by the book; below zero where more was drawn than it had."""
        return self.received + self.found - self.drawn + self.returned - self.scrapped

    @property
    def reserved(self) -> int:
        """How many are held by releases."""
        return sum(one.count for one in self.reservations)

    @property
    def free(self) -> int:
        """How many are there that no release holds."""
        return max(0, self.count) - self.reserved

    def to_stock_item(self) -> StockItem:
        """Return the item as plans draw on it."""
        return StockItem(
            item=self.item,
            kind=self.stock,
            material=MaterialId(self.material),
            length_nm=self.length_nm,
            count=self.count,
            reserved=self.reserved,
            place=self.place,
            source=self.source,
            width_nm=self.width_nm,
            joints=self.joints,
            put_away=self.since[:10] if self.since is not None and self.stock in ("remnant", "drop") else None,
            ready=self.ready,
            thickness_nm=self.thickness_nm,
            weight_g=self.weight_g,
            litres=self.litres,
            batch=self.batch,
            heat=self.heat,
        )

    def held_by(self, holder: str) -> int:
        """Return how many a release holds."""
        return sum(one.count for one in self.reservations if one.holder == holder)


AnyState = PieceState | BarState | BundleState | LoadState | LabelState | ItemState
BLANK: dict[str, type[Any]] = {
    "piece": PieceState,
    "bar": BarState,
    "bundle": BundleState,
    "load": LoadState,
    "label": LabelState,
    "item": ItemState,
}


def bundle_now(bundle: BundleState, load: LoadState | None) -> BundleNow:
    """Return where a bundle is, seen with its load: gone where that has left and not without it."""
    if bundle.state != "on" or load is None or load.state != "left":
        return bundle.state
    return "closed" if bundle.name in load.without else "left"


def piece_now(piece: PieceState, bundle: BundleNow | None) -> PieceNow:
    """Return where a piece is, seen with its bundle: on a truck or gone where that is and the piece is made."""
    if piece.state == "wanted":
        return "on_bar" if piece.bar is not None else "wanted"
    return bundle if bundle in ("on", "left") else piece.state


def is_unanswered(question: Question) -> bool:
    """Return whether a question still waits for a person."""
    return question.answer is None and not question.closed


def with_answer(questions: tuple[Question, ...], name: str, answer: str, event: str) -> tuple[Question, ...]:
    """Return questions with an answer to one of them."""
    return tuple(replace(one, answer=answer, answered_by=event) if one.id == name else one for one in questions)
