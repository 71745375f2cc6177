"""Flow shops of one order drawn as the published ones were, beside the mean of the best known values of their class.

Vallada, Ruiz and Minella (2008), Computers & Operations Research 35: 1350-1373, draw 540 of them: work from 1 to 100 (99 in
the paper, 100 in the files), due dates evenly from P (1 - T - R/2) to P (1 - T + R/2), where P is a bound of the makespan
(Taillard 1993, European Journal of Operational Research 64: 278-285), five of each class. The best known values are those of
Naderi, Ruiz and Roshanaei (2023), INFORMS Journal on Computing 35: 817-843, results file. The published files of the large
ones are not beside this project and their seeds are not stated; ours are drawn with seeds of our own, so one may be some per
cent easier or harder than the five are in the mean (least where R is 0.2).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

# jobs, machines, T, R: the best known values of the five published instances of that class
BEST_KNOWN: dict[tuple[int, int, float, float], tuple[int, ...]] = {
    (150, 10, 0.4, 0.2): (70165, 64473, 64174, 79074, 72329),
    (150, 50, 0.6, 0.2): (499624, 513227, 518650, 517772, 532318),
    (150, 30, 0.6, 1.0): (285181, 315136, 294690, 279912, 307213),
    (250, 30, 0.4, 0.6): (221269, 197933, 251129, 184637, 192299),
    (250, 50, 0.6, 0.6): (1058521, 1098793, 1103502, 1058493, 1066712),
    (350, 10, 0.6, 0.2): (924816, 957292, 931910, 931997, 975174),
    (350, 50, 0.4, 0.2): (853777, 795709, 866200, 884137, 878294),
    (350, 50, 0.4, 0.6): (595974, 576541, 613491, 597098, 609984),
    (350, 50, 0.4, 1.0): (454122, 433805, 279201, 458375, 381939),
    (350, 50, 0.6, 0.2): (1883939, 1862054, 1839613, 1876533, 1778852),
    (350, 50, 0.6, 1.0): (1337761, 1447044, 1269079, 1315529, 1342715),
}


@dataclass
class Lehmer:
    """The generator of Taillard 1993: 16807 x mod 2^31 - 1; the same numbers on any machine."""

    state: int

    def between(self, low: int, high: int) -> int:
        """Return the next whole number from `low` to `high`."""
        self.state = self.state * 16807 % 2147483647
        return low + self.state * (high - low + 1) // 2147483647


def drawn(jobs: int, machines: int, late: float, spread: float, seed: int) -> dict[str, Any]:
    """Return an instance in the form of the published set `flow_shop_tardiness`."""
    dice = Lehmer(seed)
    work = [[dice.between(1, 100) for _ in range(machines)] for _ in range(jobs)]
    ends = [
        min(sum(row[:m]) for row in work) + sum(row[m] for row in work) + min(sum(row[m + 1 :]) for row in work)
        for m in range(machines)
    ]
    least = max(*ends, *(sum(row) for row in work))
    low, high = (max(0, int(least * (1 - late + side * spread / 2))) for side in (-1, 1))
    best = BEST_KNOWN[jobs, machines, late, spread]
    return {
        "name": f"{jobs}x{machines}-T{late}-R{spread}-{seed}",
        "n_machines": machines,
        "p": work,
        "due": [dice.between(low, high) for _ in range(jobs)],
        "upper_bound": round(sum(best) / len(best)),
        "lower_bound": None,
    }


def all_drawn() -> list[dict[str, Any]]:
    """Return one instance of each class."""
    return [drawn(*kind, seed=873_654_221 + n) for n, kind in enumerate(BEST_KNOWN)]
