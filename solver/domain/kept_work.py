"""What a plan that goes on from the floor leaves as it is: pieces made, bars begun or firm, bundles built, loads that left."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Literal

from solver.domain.cut_plan import Bar, CutPlan, NestJob, NestResult
from solver.domain.disruptions import Instant
from solver.domain.ids import BundleId, LoadId, PieceId
from solver.field_limits import Description, Minimum


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptBar:
    """A bar that stays: its running number, its stock item, and the bar with what is still to be cut of it, where it lies.

    `ready`: it is laminated already, or in the press, and may be cut from then on.
    """

    number: Annotated[int, Minimum(1)]
    item: Annotated[int, Minimum(1)] | None = None
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

    seen: Annotated[int, Minimum(0), Description("number of the last event that the plan knows of")]
    at: Instant
    made: tuple[PieceId, ...] = ()  # pieces of the plan's orders that are cut, wherever they are since
    laid: tuple[PieceId, ...] = ()  # those of them that lie on their bundles, or went with them
    bars: tuple[KeptBar, ...] = ()
    built: tuple[BundleId, ...] = ()  # bundles that need no more work
    aboard: tuple[BundleId, ...] = ()  # bundles that are on their truck
    left: tuple[LoadId, ...] = ()
    surplus: tuple[Surplus, ...] = ()


def with_kept_bars(cuts: Sequence[CutPlan], kept: KeptWork | None) -> tuple[CutPlan, ...]:
    """Return the cut plans with kept bars ahead of the bars of their material, as machines and coils see them."""
    if kept is None or not kept.bars:
        return tuple(cuts)
    by_material: dict[str, list[Bar]] = {}
    for one in kept.bars:
        by_material.setdefault(one.bar.material, []).append(one.bar)
    made = []
    for cut in cuts:
        bars = by_material.pop(cut.material, [])
        made.append(replace(cut, bars=(*bars, *cut.bars)) if bars else cut)
    made += [_bars_alone(bars) for bars in by_material.values()]
    return tuple(made)


def _bars_alone(bars: Sequence[Bar]) -> CutPlan:
    """Bars of a material of which nothing is nested anew."""
    job = NestJob(stock=(), pieces=())
    result = NestResult(status="optimal", cost=0.0, lower_bound=0.0, waste=0.0, seconds=0.0, bars=())
    return CutPlan(material=bars[0].material, job=job, result=result, bars=tuple(bars))
