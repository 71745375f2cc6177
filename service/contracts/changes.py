"""What a plan changes of orders that were taken off before, as the web tells it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class ObsoletePiece:
    """A piece that nothing needs any more: whether it was cut already, so that it must be put aside."""

    piece: str
    cut: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderChanges:
    """One order against its takeoff before: how many pieces are kept, and the ids of those that are not."""

    order: str
    revision: int
    since: int  # the revision that was taken off before
    kept: int
    kept_cut: int  # kept pieces that were cut already
    changed: tuple[str, ...]
    new: tuple[str, ...]
    obsolete: tuple[ObsoletePiece, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanChanges:
    """What changed in each order of a plan that was taken off before; orders planned for the first time are left out."""

    orders: tuple[OrderChanges, ...]
