"""Pitches: `8/12` exactly, `30 deg` as the nearest fraction to 1e-12."""

from __future__ import annotations

import math
from fractions import Fraction

from solver.reading.draft import Reading

STEEPEST = 3  # rise over run: 36/12, 71.6 degrees
FLATTEST = Fraction(1, 100)


def read_pitch(reading: Reading, text: str, path: str) -> tuple[int, int, str] | None:
    """Return rise, run and the text to show of a pitch that has the right form, or note why it is none."""
    body = text.replace(" ", "")
    if body.endswith("deg"):
        said = body[:-3]
        slope = Fraction(math.tan(math.radians(float(said)))).limit_denominator(10_000_000)
        shown = f"{said} deg"
    else:
        said = body.split("/")[0]
        slope = Fraction(said) / 12
        shown = f"{said}/12"
    if not FLATTEST <= slope <= STEEPEST:
        reading.faults.add(path, f"{shown} is no roof pitch", "1/8 in 12 to 36/12, or 0.6 to 71.5 degrees")
        return None
    return slope.numerator, slope.denominator, shown
