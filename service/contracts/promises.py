"""Promises as the web tells them: when an order could ship beside a plan, and what an earlier date would cost."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """A truck that would be later than released: whose, which, and by how much."""

    order: str
    load: str
    later_s: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Promised:
    """A promise in clear: instants in the plant's time; `slips` and `moved` only where a date is asked for and missed."""

    ships: str
    not_before: str  # no timetable that leaves the released one alone ships sooner
    proved: bool
    met: bool | None = None
    slips: tuple[Slip, ...] = ()
    moved: int = 0
