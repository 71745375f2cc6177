"""What a check found: the rules it judged, and each fault."""

from __future__ import annotations

from dataclasses import dataclass, replace

from solver.domain.certificate import BoundReport
from solver.errors import FieldFault


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """What was checked, a line each, every fault, and how far each bound was verified; sound when there is no fault."""

    checked: tuple[str, ...]
    faults: tuple[FieldFault, ...]
    bounds: tuple[BoundReport, ...] = ()

    @property
    def sound(self) -> bool:
        """Whether nothing was found wrong."""
        return not self.faults


def with_bounds(report: Report, bounds: tuple[BoundReport, ...]) -> Report:
    """Return a report with how far each bound was verified; what was refuted is a fault."""
    refuted = (
        FieldFault(one.about, f"{one.claimed:g} is claimed: {one.by}", "a bound that its certificate carries")
        for one in bounds
        if one.state == "refuted"
    )
    return replace(report, faults=(*report.faults, *refuted), bounds=bounds)
