"""What a check found: the rules it judged, and each fault."""

from __future__ import annotations

from dataclasses import dataclass

from solver.errors import FieldFault


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """What was checked, a line each, and every fault; sound when there is none."""

    checked: tuple[str, ...]
    faults: tuple[FieldFault, ...]

    @property
    def sound(self) -> bool:
        """Whether nothing was found wrong."""
        return not self.faults
