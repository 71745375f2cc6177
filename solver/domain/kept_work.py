"""What a plan that goes on from the floor leaves as it is: pieces made, bars begun or firm, bundles built, loads that left."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from solver.domain.cut_plan import Bar
from solver.domain.happening import Instant
from solver.domain.ids import BundleId, LoadId, PieceId
from solver.hints import Low, Says


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptBar:
    """A bar that stays: its running number, its stock item, and the bar with what is still to be cut of it, where it lies.

    `ready`: it is laminated already, or in the press, and may be cut from then on.
    """

    number: Annotated[int, Low(1)]
    item: Annotated[int, Low(1)] | None = None
    state: Literal["firm", "begun"]
    bar: Bar
    ready: Instant | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Surplus:
    """A piece that is made and that no order wants any more: a person says whether it becomes stock or scrap."""

    piece: PieceId
    why: Literal["revised", "withdrawn"]
    bundle: BundleId | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptWork:
    """What is done or stays, as the floor told it up to an event and an instant; everything else of the plan is new."""

    seen: Annotated[int, Low(0), Says("number of the last event that the plan knows of")]
    at: Instant
    made: tuple[PieceId, ...] = ()  # pieces of the plan's orders that are cut, wherever they are since
    laid: tuple[PieceId, ...] = ()  # those of them that lie on their bundles, or went with them
    bars: tuple[KeptBar, ...] = ()
    built: tuple[BundleId, ...] = ()  # bundles that need no more work
    aboard: tuple[BundleId, ...] = ()  # bundles that are on their truck
    left: tuple[LoadId, ...] = ()
    surplus: tuple[Surplus, ...] = ()
