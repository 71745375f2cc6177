"""Cut order: which bar when, so that few bundles are open beside the saw."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from solver.domain.certificate import Certificate
from solver.field_limits import Description, ItemCount, Minimum


@dataclass(frozen=True, slots=True, kw_only=True)
class BarBundles:
    """A bar and the bundles that its pieces belong to; `pieces` as they leave the saw, where stacks are given."""

    id: str
    bundles: Annotated[tuple[str, ...], ItemCount(0, 100_000)]
    pieces: Annotated[tuple[str, ...], ItemCount(0, 100_000)] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SequenceJob:
    """Bars to put in order; `open_max` forbids more bundles open at one time.

    With `stacks`, a piece that leaves the saw before those below it waits in the rack. The goal is then the fewest that
    wait at one time; `rack_slots` forbids more.
    """

    open_max: Annotated[int, Minimum(0)] | None = None
    rack_slots: Annotated[int, Minimum(0), Description("slots of the rack; with stacks only")] | None = None
    stacks: Annotated[tuple[tuple[str, ...], ...], Description("pieces of each stack, bottom first")] | None = None
    bars: tuple[BarBundles, ...]
    time_limit_s: Annotated[float, Minimum(0)] = 10.0
    seed: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class SequenceResult:
    """All bars in order, the most bundles open at one time, and the bound.

    Where stacks are given, `rack` is the most pieces waiting at one time; `optimal` is then said of it and its bound,
    which holds for orders that keep `open_max`.
    """

    status: Literal["optimal", "feasible", "unknown"]
    order: tuple[str, ...]
    open: int | None
    lower_bound: int
    seconds: float
    rack: int | None = None
    rack_lower_bound: int | None = None
    certificate: Annotated[Certificate, Description("what the bound of open bundles rests on")] | None = None
