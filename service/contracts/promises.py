"""Promises as the web tells them: when an order could ship beside a plan, and what an earlier date would cost."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from solver.field_limits import Description, Maximum, Minimum, TextPattern

LocalOrInstant = Annotated[
    str,
    TextPattern(
        r"\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d(\.\d{1,6})?)?(Z|[+-]\d\d:\d\d)?",
        "a date and time such as 2031-05-09T12:00, by the plant's clock, or with its own offset, 2031-05-09T12:00-06:00",
    ),
]
STEPS = ("reading the plan", "the new order's own way through the plant", "looking for room beside what is released")


@dataclass(frozen=True, slots=True, kw_only=True)
class PromiseAsked:
    """When could a stored order ship beside a plan that does not hold it, and what would have to give for a date?"""

    order: Annotated[str, Description("the id of a stored order that the plan does not hold")]
    by: Annotated[LocalOrInstant | None, Description("wanted at the dock; absent: no date is asked for")] = None
    firm_hours: (
        Annotated[
            float,
            Minimum(0),
            Maximum(10_000),
            Description("work that starts sooner than this from now gives for no date; absent: the catalog's"),
        ]
        | None
    ) = None


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
    met: bool | None = None  # whether the date asked for is met, if need be by what gives
    gives: str | None = None  # when it would ship if that gives; absent: nothing has to, or nothing helps
    slips: tuple[Slip, ...] = ()
    moved: int = 0
