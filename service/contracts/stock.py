"""The stock as the web tells it: what is there, where it lies, who holds it, and where it came from."""

from __future__ import annotations

from dataclasses import dataclass, field

from service.contracts.floor import EventKept, QuestionRead
from solver.domain.cut_plan import Joints
from solver.domain.stock import StockKind
from solver.units import Grams, Nm, Unit


@dataclass(frozen=True, slots=True, kw_only=True)
class Held:
    """So many that a release holds."""

    count: int
    holder: str = field(metadata={"json": "for"})


@dataclass(frozen=True, slots=True, kw_only=True)
class StockLine:
    """A stock item: one thing, or a lot of equal things. `count`: how many are there; `reserved`: how many are held.

    `ageing`: it is older than the catalog keeps such a thing: a person is to write it off, or not.
    """

    item: int
    kind: StockKind
    material: str
    name: str | None
    length_nm: Nm | None
    width_nm: Nm | None = None
    thickness_nm: Nm | None = None
    joints: Joints = "both"
    weight_g: Grams | None = None
    litres: int | None = None
    count: int = field(metadata={"always": True})
    reserved: int = field(default=0, metadata={"always": True})
    place: str | None
    source: str | None = field(metadata={"json": "from"})
    since: str | None = None
    ready: str | None = None
    heat: str | None = None
    batch: str | None = None
    holders: tuple[Held, ...] = ()
    to_count: bool = field(default=False, metadata={"always": True})
    ageing: bool = field(default=False, metadata={"always": True})


@dataclass(frozen=True, slots=True, kw_only=True)
class StockList:
    """Stock items by number; those that are gone are left out where not asked for."""

    unit: Unit = field(metadata={"always": True})
    stock: tuple[StockLine, ...]
    more: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class StockRead(StockLine):
    """A stock item with all that happened to it, in the order in which it happened; and what is asked of it."""

    unit: Unit = field(metadata={"always": True})
    received: int = 0
    found: int = 0
    drawn: int = 0
    returned: int = 0
    scrapped: int = 0
    movements: tuple[EventKept, ...] = ()
    questions: tuple[QuestionRead, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class MovementKept:
    """A movement in the book, and the item as it is after it."""

    unit: Unit = field(metadata={"always": True})
    event: EventKept
    item: StockLine
