"""Orders as the web tells them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

Decision = Literal["withdrawn", "held", "freed"]
OrderNow = Literal["received", "planned", "released", "in_work", "part_shipped", "shipped", "withdrawn"]
OPEN: tuple[OrderNow, ...] = ("received", "planned", "released", "in_work", "part_shipped")


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """How many pieces of an order came how far, each figure with those that are farther; `pieces` is null before a release."""

    pieces: int | None
    cut: int = field(default=0, metadata={"always": True})
    laid: int = field(default=0, metadata={"always": True})
    on: int = field(default=0, metadata={"always": True})
    left: int = field(default=0, metadata={"always": True})


@dataclass(frozen=True, slots=True, kw_only=True)
class Wait:
    """A piece or a bundle that waits, what for, until when by the released timetable: null, with why, where none is told."""

    reason: str = field(metadata={"json": "for"})
    piece: str | None = None
    bundle: str | None = None
    until: str | None = field(default=None, metadata={"always": True})
    why: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A piece that is made: which making, where it is, its bundle and truck."""

    piece: str
    making: int
    state: str
    bundle: str | None
    load: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Life:
    """How far an order is; `held`: a person keeps it back from plans of all open orders."""

    state: OrderNow
    held: bool = field(metadata={"always": True})
    progress: Progress
    plan: str | None = None  # the newest release that has it
    withdrawn_at: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderDecided:
    """An order after a person's decision, with what is made of it already."""

    id: str
    revision: int
    state: OrderNow
    held: bool = field(metadata={"always": True})
    progress: Progress
    made: tuple[Made, ...] = field(metadata={"always": True})


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLine:
    """One stored order, in a list: its newest revision, where it goes and when it is wanted."""

    id: str
    revision: int
    name: str
    need_by: str | None
    received_at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderRead:
    """One stored order with its document as it came in, and the revisions that are stored."""

    id: str
    revision: int
    name: str
    need_by: str | None
    received_at: str
    revisions: tuple[int, ...]
    document: Mapping[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLive(OrderRead):
    """One stored order with its document, how far it is, what of it waits, and what is made of it."""

    state: OrderNow
    held: bool = field(metadata={"always": True})
    progress: Progress
    waits: tuple[Wait, ...] = field(metadata={"always": True})
    made: tuple[Made, ...] = field(metadata={"always": True})
    withdrawn_at: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderList:
    """All orders, newest first."""

    orders: tuple[OrderLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderKept:
    """An order taken in: `new` is false where the same document was stored before."""

    id: str
    revision: int
    new: bool
