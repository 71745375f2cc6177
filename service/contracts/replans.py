"""How a plan goes on after what happened, as the web tells it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

STEPS = (
    "reading the plan and what the floor told",
    "what is done, what is left",
    "looking for calm, and for time",
    "checking each choice",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class MovedWork:
    """An operation that is elsewhere or at another time than released; instants in the plant's time.

    `before` and `machine_before` are absent for work that is new.
    """

    order: str = ""  # empty: for several orders at once
    step: str
    about: str
    machine_before: str | None = None
    machine: str
    before: str | None = None
    start: str
    by_s: int = 0
    forced: bool = field(default=False, metadata={"always": True})  # it could not have stayed


@dataclass(frozen=True, slots=True, kw_only=True)
class EndingChange:
    """A delivery's end at the dock, released and new."""

    order: str
    delivery: str
    due: str | None
    done_before: str
    done: str
    late_before_s: int
    late_s: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ReplanChoice:
    """One way to go on, kept as a plan of its own that can be looked at and released.

    "calm": moves as little as it can; "on_time": least late first, then as few and as small moves as found.
    """

    name: Literal["calm", "on_time"]
    plan: str  # looked at and released as any other
    late_s: int  # of all deliveries together
    late_before_s: int
    moved: int  # released operations that start at another time or on another machine
    machines: int  # of these, on another machine
    far: int  # of these, farther than a shift
    shifted_s: int  # all moves together
    deliveries: tuple[EndingChange, ...]
    moves: tuple[MovedWork, ...]  # the longest first


@dataclass(frozen=True, slots=True, kw_only=True)
class Replanned:
    """The calm choice, and where calm costs lateness also the one on time; `proved`: nothing is less late."""

    proved: bool = field(metadata={"always": True})
    choices: tuple[ReplanChoice, ...]
    operations: int  # of the released plan
    kept: int  # finished, running or firm, and where they were
    forced: int  # could not stay
    undone: int  # should have been done by now, and nobody told that they are
    sooner: int  # done, and planned for later
