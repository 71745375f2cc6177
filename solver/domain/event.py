"""What happened on the floor: never edited, kept once however often it is sent."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from solver.hints import Matches

EventKind = Literal["cut", "scrapped", "remade", "drop_put_away", "bundled", "loaded", "shipped", "undone"]


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorEvent:
    """One thing that happened, told by a station; `id` is chosen by the sender, so that sending twice keeps it once."""

    id: Annotated[str, Matches(r"[A-Za-z0-9_.:-]{1,80}", "an id of letters, digits and _ . : -")]
    kind: EventKind
    at: str  # ISO 8601 with offset
    station: str
    subject: str  # the piece, bar, bundle or load it happened to
    about: str | None = None  # the bar it was cut from, the load it went on, the event undone
    reason: str | None = None
