"""Nesting: pieces to cut from bars, as the `nest` contract states them, and bars bound to marked pieces."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Annotated, Literal

from solver.domain.certificate import Certificate
from solver.domain.ids import BarId, MaterialId, PieceId, StockId
from solver.domain.material import window_name
from solver.field_limits import Description, ExclusiveMinimum, ItemCount, Maximum, Minimum, TextPattern
from solver.units import Nm, Unit

Turn = Literal["as_is", "end_for_end", "over", "over_end"]
TURNS: tuple[Turn, ...] = ("as_is", "end_for_end", "over", "over_end")
Status = Literal["optimal", "feasible", "unknown"]
Way = Literal["whole", "left_rip", "right_rip", "drop"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StockLength:
    """A stock length on offer: its price and how many there are (null: as many as wanted).

    `end_trim` is this stock's own, where it differs from the job's: a bar laminated to length has none.
    """

    id: StockId
    length_nm: Annotated[Nm, ExclusiveMinimum(0)]
    cost: Annotated[float, Minimum(0)] | None = None
    count: Annotated[int, Minimum(0)] | None = None
    end_trim_nm: Annotated[Nm, Minimum(0)] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PieceKind:
    """A piece along the bar: its extent on either long edge, how many, and the turns it may take."""

    id: str
    length_nm: Annotated[Nm, ExclusiveMinimum(0)] | None = None
    edge_a: tuple[Nm, Nm] | None = None
    edge_b: tuple[Nm, Nm] | None = None
    count: Annotated[int, Minimum(1)] = 1
    turns: Annotated[tuple[Turn, ...], ItemCount(1, 4)] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedPiece:
    """Where a piece lies on a bar: positions of its ends on both long edges, from the bar's zero end."""

    id: str
    turn: Turn
    edge_a: tuple[Nm, Nm]
    edge_b: tuple[Nm, Nm]


@dataclass(frozen=True, slots=True, kw_only=True)
class HalfCut:
    """The bar on the saw: what is cut from it already (no longer wanted), and from where to where it is spoiled.

    What is left before and behind the flaw is stock that costs nothing, one section each.
    """

    stock: StockId
    done: tuple[PlacedPiece, ...] = ()
    flaw: tuple[Nm, Nm] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NestJob:
    """Pieces wanted and stock to cut them from; lengths in `unit`."""

    unit: Unit = field(default="mm", metadata={"always": True})
    kerf_nm: Annotated[Nm, Minimum(0)] = Nm(0)
    end_trim_nm: Annotated[Nm, Minimum(0)] = Nm(0)
    clamp_nm: Annotated[Nm, Minimum(0)] = Nm(0)
    width_nm: Annotated[Nm, ExclusiveMinimum(0)] | None = None
    keep_from_nm: Annotated[Nm, ExclusiveMinimum(0)] | None = None
    keep_value: Annotated[float, Minimum(0), Maximum(1)] = 0.0
    time_limit_s: Annotated[float, Minimum(0)] = 10.0
    seed: int = 1
    stock: tuple[StockLength, ...]
    pieces: tuple[PieceKind, ...]
    half_cut: HalfCut | None = None
    few_patterns: Annotated[bool, Description("of plans that cost the same, one with few different patterns")] = False


@dataclass(frozen=True, slots=True, kw_only=True)
class CutBar:
    """A bar and the pieces along it, in order; `repeat` bars are cut alike.

    `section`: from where to where of the half-cut bar these pieces come; positions are those on that bar.
    """

    stock: StockId
    repeat: int
    drop_nm: Nm
    pieces: tuple[PlacedPiece, ...]
    section: tuple[Nm, Nm] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NestResult:
    """A cut plan with its proof: cost of bars less credit of kept drops, and the bound nothing can beat."""

    status: Status
    cost: float | None
    lower_bound: float
    waste: float | None
    seconds: float
    bars: tuple[CutBar, ...]
    patterns: Annotated[int, Minimum(0)] | None = None  # stated where few were asked for
    patterns_lower_bound: Annotated[int, Minimum(0)] | None = None
    certificate: Annotated[Certificate, Description("what the bound rests on")] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BarPiece:
    """A marked piece in its slot on a bar.

    Two rips from one blank share its slot: first the one that keeps the left joint. A piece from a drop has the slot of
    the panel (`host`) whose `opening` it falls out of.
    """

    piece: PieceId
    turn: Turn
    edge_a: tuple[Nm, Nm]
    edge_b: tuple[Nm, Nm]
    way: Way = "whole"
    host: PieceId | None = None
    opening: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """One bar to pull and cut: real pieces in their slots, in order along the bar; pieces from drops come last."""

    id: BarId
    material: MaterialId
    stock: StockId
    length_nm: Nm
    drop_nm: Nm
    pieces: tuple[BarPiece, ...]

    @property
    def blanks(self) -> tuple[BarPiece, ...]:
        """What the saw frees from the bar, each slot once: no second rip of a blank, nothing that falls out of a panel."""
        return tuple(item for item in self.pieces if item.way in ("whole", "left_rip"))


@dataclass(frozen=True, slots=True, kw_only=True)
class CutPlan:
    """All bars of one material and due window, in cut order, with the nesting that made them and its proof.

    The job is that of the blanks; `floor` is a bound over all ways to share blanks among rips and to use drops, where it
    is lower than the result's own. Bars beside those of the result are remnants that no whole panel fits.
    """

    material: MaterialId
    job: NestJob
    result: NestResult
    bars: tuple[Bar, ...]
    floor: float | None = None
    window: Annotated[int, Minimum(0)] = 0  # deliveries due near each other, nested together: 1 the first; 0: all there are

    @property
    def name(self) -> str:
        """The material, with its due window where there are several: once in a plan."""
        return window_name(self.material, self.window)

    @property
    def lower_bound(self) -> float:
        """What no plan of these pieces can beat."""
        return self.result.lower_bound if self.floor is None else self.floor

    @property
    def status(self) -> Status:
        """`optimal` only where the cost equals the bound over all ways."""
        cost = self.result.cost
        if cost is not None and self.result.status == "optimal" and cost - self.lower_bound > 1e-6 * cost:
            return "feasible"
        return self.result.status


Joints = Literal["both", "left", "right", "none"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Remnant:
    """A kept drop or an opening's drop put away as stock: what it is and where it came from."""

    id: Annotated[StockId, Description("rack label of the remnant")]
    material: MaterialId
    length_nm: Annotated[Nm, ExclusiveMinimum(0)]
    width_nm: Annotated[Nm, ExclusiveMinimum(0)] | None = None
    joints: Joints = "both"
    from_bar: BarId | None = None
    put_away: Annotated[str, TextPattern(r"\d{4}-\d\d-\d\d", "a date such as 2031-04-28")] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Renested:
    """A new plan for what a flawed bar still had to give, and the job that asked for it."""

    job: NestJob
    result: NestResult


@dataclass(frozen=True, slots=True, kw_only=True)
class Rip:
    """A piece ripped from a panel that keeps one of its joints; its widths on both faces differ where the rip is bevelled.

    `alone_nm`: what it takes of a bar on a blank of its own, where a sloped end makes that less than its length.
    """

    id: str
    keeps: Literal["left", "right"]
    outside_nm: Annotated[Nm, ExclusiveMinimum(0)]
    inside_nm: Annotated[Nm, ExclusiveMinimum(0)]
    length_nm: Annotated[Nm, ExclusiveMinimum(0)]
    alone_nm: Annotated[Nm, ExclusiveMinimum(0)] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RipPair:
    """One blank: a rip that keeps its left joint, one that keeps its right, or one of them alone."""

    left: str | None
    right: str | None
    length_nm: Nm


@dataclass(frozen=True, slots=True, kw_only=True)
class SmallPiece:
    """A piece small enough for a drop: its size, and the joints it needs."""

    id: str
    length_nm: Annotated[Nm, ExclusiveMinimum(0)]
    width_nm: Annotated[Nm, ExclusiveMinimum(0)]
    joints: Joints = "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class DropUse:
    """Pieces cut from one drop, in order along it."""

    drop: StockId
    pieces: tuple[str, ...]
