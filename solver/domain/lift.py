"""Who lifts a piece: so many people by the guideline, or more than it covers, or a machine because hands have no way."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

LiftBy = Literal["hands", "over", "machine"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Lift:
    """How a piece is lifted.

    `hands`: by `people` together. `over`: it weighs more than the guideline gives the largest team, `people`: a lifting aid,
    or as the site's assessment says. `machine`: the catalog says that from this weight on nobody lifts it by hand.
    """

    by: LiftBy
    people: int

    @property
    def alone(self) -> bool:
        """Whether one person lifts it."""
        return self.by == "hands" and self.people == 1
