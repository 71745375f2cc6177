"""When material is there: seasoned core and coil on hand or on its way, drawn in the order in which work is wanted."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from solver.domain.steel import nearest_gauge
from solver.domain.stock import StockSnapshot
from solver.units import Nm

_MM = 1_000_000  # nanometres


@dataclass(slots=True)
class _Batch:
    left: int  # litres of core, or grams of coil
    ready_s: int


class MaterialLedger:
    """A ledger of the plant's core and coil; each draw says when all of it is there, in seconds from the plan's start."""

    def __init__(self, stock: StockSnapshot, lead_s: int, epoch: datetime) -> None:
        """Open the ledger with what is in stock; coil that is not is there `lead_s` seconds from the plan's start."""
        self.lead_s = lead_s
        self._core: dict[str, list[_Batch]] = {}
        for core in stock.cores:
            self._core.setdefault(core.core, []).append(_Batch(core.litres, seconds_since_epoch(core.ready, epoch)))
        self._coils: list[tuple[str, int, Nm, _Batch]] = []
        for coil in stock.coils:
            batch = _Batch(coil.weight_g, seconds_since_epoch(coil.arrives, epoch))
            self._coils.append((coil.colour, nearest_gauge(coil.thickness_nm), coil.width_nm, batch))

    def core(self, grade: str, litres: int) -> tuple[int, bool]:
        """Draw seasoned core; return when it is there, and whether some must be seasoned first."""
        ready, left = _draw(self._core.get(grade, []), litres)
        return ready, left > 0

    def coil(self, colour: str, gauge: int, width_nm: Nm, weight_g: int) -> int:
        """Draw coil at least that wide; return when it is there. What the plant does not hold is bought."""
        mine = [batch for shade, thick, wide, batch in self._coils if (shade, thick) == (colour, gauge) and wide >= width_nm]
        ready, left = _draw(mine, weight_g)
        return max(ready, self.lead_s) if left > 0 else ready

    def coil_width(self, colour: str) -> Nm:
        """Return the width of the widest coil of a colour, used up or not; 0 for none."""
        return max((wide for shade, _, wide, _ in self._coils if shade == colour), default=Nm(0))


def litres_of(length_nm: int, width_nm: int, thickness_nm: int) -> int:
    """Return the volume of a board in whole litres, rounded up."""
    return -(-(length_nm // _MM) * (width_nm // _MM) * (thickness_nm // _MM) // 1_000_000)


def grams_of(length_nm: int, width_nm: int, mg_per_m2: int) -> int:
    """Return the weight of a sheet in whole grams, rounded up."""
    return -(-(length_nm // _MM) * (width_nm // _MM) * mg_per_m2 // 1_000_000_000)


def seconds_since_epoch(instant: str | None, epoch: datetime) -> int:
    """Return the whole seconds from a plan's start to an instant; 0 for what has passed, or is not stated."""
    return 0 if instant is None else max(0, int((datetime.fromisoformat(instant) - epoch).total_seconds()))


def _draw(batches: list[_Batch], wanted: int) -> tuple[int, int]:
    """Take from the batches, the earliest first; return when the last of it is there, and what is missing."""
    ready = 0
    for batch in sorted(batches, key=lambda one: one.ready_s):
        taken = min(batch.left, wanted)
        if taken > 0:
            batch.left -= taken
            wanted -= taken
            ready = max(ready, batch.ready_s)
    return ready, wanted
