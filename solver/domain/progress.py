"""How far a plan is while it is made: each stage with what is done and what is proved so far."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from solver.field_limits import Maximum, Minimum

PlanStage = Literal["takeoff", "stack", "nest", "sequence", "slit", "load", "schedule", "check", "sheets"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StageProgress:
    """One stage: the share of it that is done, how many of its parts are proved best, and how far the rest can be off."""

    stage: PlanStage
    done: Annotated[float, Minimum(0), Maximum(1)] = 0.0
    parts: Annotated[int, Minimum(0)] = 0
    proved: Annotated[int, Minimum(0)] = 0
    gap: Annotated[float, Minimum(0)] | None = None  # of the parts not proved: value less bound, as a share of the value


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanProgress:
    """All stages in their order; how long the search goes on is known to who gave it its time."""

    stages: tuple[StageProgress, ...]
    checks_s: Annotated[float, Minimum(0)] = 0.0  # that checks will take after the search, as far as is known
    pieces: Annotated[int, Minimum(0)] = 0  # once they are known
