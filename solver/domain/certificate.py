"""What a bound rests on, and how far that carries it when somebody verifies it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Literal

from solver.field_limits import Description, Minimum

Argument = Literal[
    "worths",  # no bar (no coil's width) holds pieces worth more than it costs: linear duality, whole numbers
    "lengths",  # pieces and cuts in sum against the best room for its price
    "width",  # strips in sum against the width between the edge trims
    "strips",  # how many set-ups the different strips alone need
    "loads",  # work in sum that only some machines can do; or one job's own work, one after the other
    "open",  # bundles that every order of the bars has open together
    "clique",  # bundles of one bar are open together
    "weight",  # what weighs against what may be carried
    "runs",  # pieces in the order of standing, each stack closed only when the next does not fit
    "room",  # scales of length, width and height that never sum to more than 1 over what fits
    "nothing",  # a bound of zero, or of nothing to do
    "search",  # more than these numbers prove: a search that looked at all there is, or at all that could be better
]
State = Literal["confirmed", "unconfirmed", "refuted", "again", "out_of_time"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Certificate:
    """The argument of a bound and the whole numbers that prove it.

    `worths` of pieces (or strips) and `rents` of limited stock, times `scale`: nothing that can be cut from one bar is
    worth more than what the bar costs and its rent. With `search` they prove a part of the bound, and a search the rest.
    """

    kind: Argument
    scale: Annotated[int, Minimum(1)] = 1
    worths: Mapping[str, int] = field(default_factory=dict)
    rents: Mapping[str, int] = field(default_factory=dict)
    step: Annotated[int, Minimum(1), Description("sizes were rounded down to multiples of so many quarters of a nanometre")] = 1
    starts: Annotated[tuple[tuple[int, int], ...], Description("by lean in nm: share of a cut's room, quarters of a nm")] = ()
    ends: tuple[tuple[int, int], ...] = ()
    steps: Annotated[
        tuple[tuple[str, str], ...],
        Description("bundles made one, the first with the second; before all one of the part, twice"),
    ] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class BoundReport:
    """How far a stated bound was verified. `proved`: what exact arithmetic carries; None: nothing that it could judge.

    `confirmed` in exact arithmetic; `again` by another solver; `unconfirmed`: it rests on a search, or states nothing
    that carries it; `out_of_time`: the other solver did not end; `refuted`: its numbers do not carry it, or a plan beats it.
    """

    about: str
    state: State
    claimed: float
    proved: float | None
    kind: Argument | None = None
    by: str = ""  # in words, for who reads the check
