"""The shop floor at one instant: stock, and the state of every piece, bar, bundle and load of the open orders.

A plan goes on from it. An empty one, with the stock that the plant opens with, is where a first plan starts.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated, Literal

from solver.domain.cut_plan import Bar
from solver.domain.disruptions import Instant
from solver.domain.ids import BundleId, LoadId, MachineId, OrderId, PieceId, piece_id
from solver.domain.plan import LoadPart, StackPart
from solver.domain.stock import StockItem
from solver.domain.takeoff import Takeoff
from solver.field_limits import Description, Minimum
from solver.units import Unit

PieceState = Literal["wanted", "on_bar", "cut", "laid", "on", "left"]
MADE: tuple[PieceState, ...] = ("cut", "laid", "on", "left")
BarState = Literal["free", "firm", "begun"]


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenOrder:
    """An order that has not left whole, as it was last planned: its takeoff, bundles and loads.

    `takeoff`, `stack` and `load` are of one plan, the one released last that holds the order; absent where none does.
    """

    order: OrderId
    revision: Annotated[int, Minimum(0), Description("of the order when it was planned")] = 0
    takeoff: Takeoff | None = None
    stack: StackPart | None = None
    load: LoadPart | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorPiece:
    """Where a piece is. `wanted`: on no bar, never planned or scrapped; `on_bar`: to come from the bar named.

    `making`: which time it is made; of a piece that was scrapped the next one. What is laid names its bundle, what is on a
    truck or left its load too.
    """

    order: OrderId
    mark: str
    making: Annotated[int, Minimum(1)] = 1
    state: PieceState
    bar: Annotated[int, Minimum(1), Description("running number of the bar that it comes or came from")] | None = None
    bundle: BundleId | None = None
    load: LoadId | None = None

    @property
    def id(self) -> PieceId:
        """The piece's name: its order and its mark."""
        return piece_id(self.order, self.mark)

    @property
    def made(self) -> bool:
        """Whether this making is cut."""
        return self.state in MADE


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorBar:
    """A bar of a release that is not wholly cut. `free`: not begun; `firm`: starts so soon that it stays; `begun`: on the saw.

    `bar` is the bar as it was released, with all its pieces where they lie on it, those already cut too. `item`: the stock
    item that it is reserved from or was drawn from; absent: it is bought or laminated for it. `ready`: it is in the press, or
    came from it, and its glue is set from then on; such a bar stays. Absent of a bar without an item: still to be laminated.
    """

    number: Annotated[int, Minimum(1), Description("running number of the plant")]
    machine: Annotated[MachineId, Description("the saw that cuts it")]
    item: Annotated[int, Minimum(1), Description("its stock item")] | None = None
    state: BarState
    bar: Bar
    ready: Annotated[Instant, Description("when the glue of a bar that was laminated for it is set")] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorBundle:
    """A bundle on which something was laid: the pieces laid, bottom first, as they were reported."""

    bundle: BundleId
    laid: tuple[PieceId, ...] = ()
    closed: bool = False
    tag_printed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorLoad:
    """A load with something on it, or gone: the bundles that are on, and those that it left without."""

    load: LoadId
    on: tuple[BundleId, ...] = ()
    left: bool = False
    without: tuple[BundleId, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorSnapshot:
    """What is there at an instant, after the last event seen (0: none). What is not listed was never touched."""

    format: Literal[1] = 1
    unit: Unit = field(default="mm", metadata={"always": True})
    seen: Annotated[int, Minimum(0), Description("number of the last event that it takes in")]
    at: Instant
    stock: tuple[StockItem, ...] = ()
    orders: tuple[OpenOrder, ...] = ()
    pieces: tuple[FloorPiece, ...] = ()
    bars: tuple[FloorBar, ...] = ()
    last_bar: Annotated[int, Minimum(0), Description("the highest running number that any bar was ever given")] = 0
    bundles: tuple[FloorBundle, ...] = ()
    loads: tuple[FloorLoad, ...] = ()
