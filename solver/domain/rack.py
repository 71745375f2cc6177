"""What yield costs in rack slots: the same pieces cut in several ways, each with the slots that it needs beside the saw."""

from __future__ import annotations

from dataclasses import dataclass

from solver.domain.ids import BarId, MaterialId, PieceId, StockId
from solver.units import Nm


@dataclass(frozen=True, slots=True, kw_only=True)
class RackBar:
    """A bar and its pieces in the order in which they leave the saw."""

    id: BarId
    material: MaterialId
    stock: StockId
    drop_nm: Nm
    pieces: tuple[PieceId, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RackPoint:
    """One way to cut: bundles nested so many at a time, what its bars cost less kept drops, and what it asks beside the saw.

    `bars` in cut order. `best`: no other point is as good in cost and slots and better in one.
    """

    id: str
    bundles: int  # nested together, neighbours in order of need
    cost: float
    slots: int  # most pieces waiting at one time
    lower_bound: int  # of the slots, over all orders of these bars within the open bundles allowed
    open: int  # most bundles open at one time
    bars: tuple[RackBar, ...]
    best: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class RackCurve:
    """Points, cheapest first; the plan is cut as `chosen` says: the cheapest that fits, else the one of fewest slots.

    `stacks`: the panels of each bundle, bottom first. `slots`: of the plant's rack; none: as many as the cheapest needs.
    """

    stacks: tuple[tuple[PieceId, ...], ...]
    slots: int | None
    open_max: int
    chosen: str
    points: tuple[RackPoint, ...]

    @property
    def chosen_point(self) -> RackPoint:
        """The point that the plan is cut by. Raises StopIteration when it names none."""
        return next(point for point in self.points if point.id == self.chosen)

    @property
    def fits(self) -> bool:
        """Whether the rack holds what the chosen point needs."""
        return self.slots is None or self.chosen_point.slots <= self.slots
