"""Sheet steel: what a gauge number means."""

from __future__ import annotations

from solver.units import Nm

# galvanized sheet, thickness by gauge number (ASTM A924/A653)
GAUGE_NM = {18: 1_310_640, 20: 1_005_840, 22: 853_440, 24: 701_040, 26: 551_180, 28: 474_980, 29: 436_880, 30: 398_780}


def nearest_gauge(thickness_nm: Nm) -> int:
    """Return the gauge whose thickness is nearest."""
    return min(GAUGE_NM, key=lambda known: abs(GAUGE_NM[known] - thickness_nm))
