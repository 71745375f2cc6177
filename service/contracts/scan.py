"""What a code on paper stands for, and its printing again."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from service.contracts.floor import BundleState, CutState
from solver.field_limits import Maximum, Minimum

LabelSizeName = Literal["4x6", "A6", "roll-4x3"]
DpiNumber = Literal[203, 300]


@dataclass(frozen=True, slots=True, kw_only=True)
class Scanned:
    """What a scanned or typed text means in the plan on the floor: a piece, a bundle or a load, and where it belongs."""

    kind: Literal["piece", "bundle", "load"]
    id: str
    plan: str
    order: str
    mark: str = ""  # a piece's mark
    code: str = ""  # what its label says now: a piece that was scrapped gets labels of its next making
    making: int = 1
    machine: str | None = None
    bar: str | None = None
    bundle: str | None = None
    bundle_place: int | None = None  # from the bottom, from 1
    bundle_of: int | None = None
    load: str | None = None
    state: CutState | BundleState | None = None


ThingCalled = Literal["piece", "bundle", "load"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SoCalled:
    """A thing on the floor that may be meant by a mark without its order."""

    kind: ThingCalled
    id: str
    order: str
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PrintAsked:
    """Labels to print again: what is scanned or typed, how often, on which queue (absent: as the service is set)."""

    code: str
    copies: Annotated[int, Minimum(1), Maximum(20)] = 1
    queue: str | None = None
    size: LabelSizeName | None = None
    dpi: DpiNumber | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SentToPrinter:
    """What the spooler took: its own number for it, and what is printed."""

    request: str
    kind: Literal["piece", "bundle"]
    id: str
    copies: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Printers:
    """The print queues that this machine's spooler takes work for; none where there is no spooler."""

    queues: tuple[str, ...]
    usual: str | None = None
