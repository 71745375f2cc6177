"""Where the blade goes: a bar's cuts as the saw's page shows them, each with its way from the last one."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Literal

from service.contracts.floor import SawStroke
from solver.domain.document import SawCut
from solver.units import Nm

_FREES: Mapping[str, Literal["end", "waste", "piece"]] = {"trim": "end", "start": "waste", "part": "piece"}


def saw_strokes_by_piece(cuts: Iterable[SawCut], begins: Mapping[str, Nm]) -> dict[str, tuple[SawStroke, ...]]:
    """Return the strokes that free each piece, by its id; pieces that need none are absent.

    `begins`: where each piece begins on the edge at the fence; a cut that frees one piece may also start the next.
    """
    found: dict[str, list[SawStroke]] = {}
    last = Nm(0)
    for cut in cuts:
        name = str(cut.piece)
        from_nm = begins[name] if cut.kind == "part" and name not in found else last
        found.setdefault(name, []).append(_stroke(cut, Nm(cut.near_nm - from_nm)))
        last = cut.near_nm
    return {name: tuple(strokes) for name, strokes in found.items()}


def _stroke(cut: SawCut, from_last: Nm) -> SawStroke:
    return SawStroke(
        fence_nm=cut.near_nm,
        far_nm=cut.far_nm,
        from_last_nm=from_last,
        swing_udeg=cut.lean_udeg,
        tilt_udeg=cut.tilt_udeg,
        long_up=cut.long_up,
        on_upper=cut.on_upper,
        upper_nm=None if cut.on_upper else Nm(cut.near_nm + cut.arris_nm),
        frees=_FREES[cut.kind],
    )
