"""Cut order: which bar when, so that few bundles are open beside the saw."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from solver.hints import Items, Low


@dataclass(frozen=True, slots=True, kw_only=True)
class BarBundles:
    """A bar and the bundles that its pieces belong to."""

    id: str
    bundles: Annotated[tuple[str, ...], Items(0, 100_000)]


@dataclass(frozen=True, slots=True, kw_only=True)
class SequenceJob:
    """Bars to put in order; `open_max` forbids more bundles open at one time."""

    open_max: Annotated[int, Low(0)] | None = None
    bars: tuple[BarBundles, ...]
    time_limit_s: Annotated[float, Low(0)] = 10.0
    seed: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class SequenceResult:
    """All bars in order, the most bundles open at one time, and the bound."""

    status: Literal["optimal", "feasible", "unknown"]
    order: tuple[str, ...]
    open: int | None
    lower_bound: int
    seconds: float
