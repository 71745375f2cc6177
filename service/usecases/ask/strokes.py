"""Where the blade goes: the strokes that free the pieces of a bar, from their positions on its two long edges."""

from __future__ import annotations

import math
from collections.abc import Sequence
from fractions import Fraction

from service.contracts.floor import SawStroke
from solver.units import MicroDeg, Nm, isqrt_nearest, round_half_up

Line = tuple[Nm, Nm]  # where a cut crosses the fence edge and the far edge
Slot = tuple[Line, Line]  # a piece's near and far end
Tilt = tuple[MicroDeg, bool]  # how the blade leans through the thickness, and whether the piece's longer face lies up
UPRIGHT: Tilt = (MicroDeg(0), False)


def strokes_of(
    slots: Sequence[Slot],
    *,
    bar_nm: Nm,
    width_nm: Nm,
    kerf_nm: Nm,
    tilts: Sequence[tuple[Tilt, Tilt]] = (),
) -> tuple[tuple[SawStroke, ...], ...]:
    """Return, for each piece in order along the bar, the strokes to make until it is free; positions from the bar's zero.

    A stroke that frees a piece also makes the next one's near end where the two lie a kerf apart on both edges; else the
    wedge between them takes a stroke of its own. A tilted blade makes two ends at once only where the tilt is one and the
    same: the longer face of the one up, of the other down. `tilts`: near and far, a pair a slot; absent: all upright.
    A piece that begins at zero needs none before it, one that ends
    with the bar none after it. Positions are the edges of the pieces; the blade runs on the waste side.
    """
    made: list[tuple[SawStroke, ...]] = []
    leans = tilts or [(UPRIGHT, UPRIGHT)] * len(slots)
    last, loose = (Nm(0), Nm(0)), True  # where the bar begins now; whether the next piece's near end is not yet made
    for n, (near, far) in enumerate(slots):
        mine: list[SawStroke] = []
        tilt, far_tilt = leans[n]
        if loose and (near != last or tilt[0]):
            mine.append(_stroke(near, last, width_nm, tilt, "end" if n == 0 else "waste"))
            last = near
        if far != (bar_nm, bar_nm) or far_tilt[0]:
            mine.append(_stroke(far, last, width_nm, far_tilt, "piece"))
        last = far
        following = slots[n + 1][0] if n + 1 < len(slots) else None
        loose = (
            following is None or not _one_kerf(far, following, width_nm, kerf_nm) or not _one_tilt(far_tilt, leans[n + 1][0])
        )
        if not loose and following is not None:
            last = following
        made.append(tuple(mine))
    return tuple(made)


def _one_tilt(end: Tilt, start: Tilt) -> bool:
    return end[0] == start[0] and (end[0] == 0 or end[1] != start[1])


def _stroke(line: Line, last: Line, width_nm: Nm, tilt: Tilt, frees: str) -> SawStroke:
    fence, far = line
    return SawStroke(
        fence_nm=fence,
        far_nm=far,
        from_last_nm=Nm(fence - last[0]),
        swing_udeg=swing_udeg(Nm(far - fence), width_nm),
        tilt_udeg=tilt[0],
        long_up=tilt[1],
        frees="end" if frees == "end" else "piece" if frees == "piece" else "waste",
    )


def swing_udeg(offset_nm: Nm, width_nm: Nm) -> MicroDeg:
    """Return the angle from square of a cut that runs `offset_nm` along the bar over its width; for showing only."""
    return MicroDeg(round(math.degrees(math.atan2(offset_nm, width_nm)) * 1_000_000))


def _one_kerf(far: Line, near: Line, width_nm: Nm, kerf_nm: Nm) -> bool:
    """Whether one pass of the blade makes both ends: parallel, and kerf / cos(lean) apart, within a tenth of a millimetre."""
    gaps = (near[0] - far[0], near[1] - far[1])
    slope = far[1] - far[0]
    along = round_half_up(Fraction(kerf_nm * isqrt_nearest(width_nm**2 + slope**2), width_nm))
    return abs(gaps[0] - gaps[1]) <= 100_000 and abs(gaps[0] - along) <= 100_000
