"""How far a plan is while it is made, as its job's row and the web tell it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from solver.domain.progress import StageProgress
from solver.field_limits import Minimum


@dataclass(frozen=True, slots=True, kw_only=True)
class Making:
    """Each stage with its own bar, about how long until plan and sheets stand, and whether the search can still be ended."""

    stages: tuple[StageProgress, ...]
    left_s: Annotated[float, Minimum(0)]
    searching: bool  # it may be told to stop and keep what it has
