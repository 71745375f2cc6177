"""Judge the bounds of a slitting plan: prices of strips in whole numbers, and the width that different strips need.

If no pattern is worth more than M at some prices, a run of steel makes at most M worth a step: so the worth of what is
wanted, divided by M, is a bound (Farley 1990). Whether one is worth more is a knapsack over widths and knives.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from fractions import Fraction

import numpy as np
from numpy.typing import NDArray

from solver.domain.certificate import Argument, BoundReport, State
from solver.domain.slit_plan import SlitJob, SlitResult
from solver.units import INCH, MM

NEAR = Fraction(1, 1_000_000)
MOST_WORK = 400_000_000
MOST_SUM = 1 << 61
_NEVER = -(1 << 62)


def verify_bounds(job: SlitJob, result: SlitResult) -> tuple[BoundReport, ...]:
    """Return how far the bounds of steel and of set-ups are carried by exact arithmetic."""
    if not job.strips:
        return ()
    setups = setups_needed(job)
    return (_steel(job, result, setups), _setups(result, setups))


def _steel(job: SlitJob, result: SlitResult, setups: int) -> BoundReport:
    proof, claimed = result.certificate, result.lower_bound_nm
    beside = setup_cost_nm(job, setups)
    proved, said = whole_run_nm(job, _by_width(job)) + beside, "the strips' own area against the width between the edge trims"
    if proof is not None and proof.worths:
        most = best_pattern_worth(job, proof.worths)
        wanted = sum(proof.worths.get(strip.id, 0) * strip.length_nm for strip in job.strips)
        by_worth = whole_run_nm(job, Fraction(wanted, most)) + beside if most else Fraction(0)
        if by_worth > proved:
            proved, said = by_worth, f"prices of {len(proof.worths)} strips: no pattern is worth more"
    state: State = "confirmed" if claimed <= proved * (1 + NEAR) + 1 else "unconfirmed"
    if state == "unconfirmed" and proof is not None:
        state = "unconfirmed" if proof.kind == "search" else "refuted"
        said += "; beyond that a search over all patterns that matter" if proof.kind == "search" else ""
    kind: Argument | None = None if proof is None else proof.kind
    if state == "confirmed":
        kind = "worths" if said.startswith("prices") else "width"
    unit = unit_nm(job)
    return BoundReport(
        about="lower_bound", state=state, claimed=claimed / unit, proved=float(proved / unit), kind=kind, by=said
    )


def _setups(result: SlitResult, setups: int) -> BoundReport:
    claimed = result.setups_lower_bound
    state: State = "confirmed" if claimed <= setups else "unconfirmed"
    said = "each strip lies in a pattern, and so many different ones fit side by side"
    if state != "confirmed":
        said += "; beyond that a search over all patterns near the least steel"
    kind: Argument = "strips" if state == "confirmed" else "search"
    return BoundReport(
        about="setups_lower_bound",
        state=state,
        claimed=float(claimed),
        proved=float(setups),
        kind=kind,
        by=said,
    )


def unit_nm(job: SlitJob) -> int:
    """Return the job's unit in nanometres; with whole runs a parent roll counts as one."""
    return MM if job.unit == "mm" else INCH


def whole_run_nm(job: SlitJob, run: Fraction) -> Fraction:
    """Return a run of steel that is needed at least: whole rolls where only those can be cut."""
    return Fraction(math.ceil(run / unit_nm(job)) * unit_nm(job)) if job.whole_runs else run


def setups_needed(job: SlitJob) -> int:
    """Return the patterns that the different strips alone need: so many of the narrowest fit side by side."""
    room, side_by_side = job.coil_width_nm - 2 * job.edge_trim_nm, 0
    for width in sorted(strip.width_nm for strip in job.strips):
        if room < width or side_by_side == job.max_strips:
            break
        room, side_by_side = room - width, side_by_side + 1
    return math.ceil(Fraction(len(job.strips), max(1, side_by_side)))


def setup_cost_nm(job: SlitJob, setups: int) -> int:
    """Return what so many set-ups cost at least, in nanometres of run."""
    return sum(math.floor(Fraction(repr(cost)) * unit_nm(job)) for cost in (job.setup_costs or ())[:setups])


def _by_width(job: SlitJob) -> Fraction:
    room = job.coil_width_nm - 2 * job.edge_trim_nm
    return Fraction(sum(strip.width_nm * strip.length_nm for strip in job.strips), room)


def best_pattern_worth(job: SlitJob, worths: Mapping[str, int]) -> int | None:
    """Return the most that a pattern can be worth; None where that is too much to work out. Prices below 0 count as 0."""
    room = job.coil_width_nm - 2 * job.edge_trim_nm
    priced = [(strip.width_nm, max(0, worths.get(strip.id, 0))) for strip in job.strips]
    step = math.gcd(*(width for width, _ in priced))
    by_width = room // min(width for width, _ in priced)
    knives = by_width if job.max_strips is None else job.max_strips
    layers = knives if knives < by_width else 0  # 0: width alone limits
    cells = room // step
    if max(price for _, price in priced) * (by_width + 1) >= MOST_SUM or (cells + 1) * max(1, layers) * len(priced) > MOST_WORK:
        return None
    least = -(-job.min_used_nm // step)
    table = _unlimited(priced, step, cells) if layers == 0 else _by_knives(priced, step, cells, layers)
    best = int(table[least:].max(initial=_NEVER))
    return best if best > 0 else None


def _unlimited(priced: Sequence[tuple[int, int]], step: int, cells: int) -> NDArray[np.int64]:
    """Return the most worth for each width used exactly, of any number of strips: counts split in powers of two."""
    table = np.full(cells + 1, _NEVER, dtype=np.int64)
    table[0] = 0
    for width, price in priced:
        size, times = width // step, 1
        while size * times <= cells:
            by = size * times
            np.maximum(table[by:], table[: cells + 1 - by] + price * times, out=table[by:])
            times *= 2
    return table


def _by_knives(priced: Sequence[tuple[int, int]], step: int, cells: int, knives: int) -> NDArray[np.int64]:
    """Return the most worth for each width used exactly, of at most so many strips: one strip more in each turn."""
    layer = np.full(cells + 1, _NEVER, dtype=np.int64)
    layer[0] = 0
    best = layer.copy()
    for _ in range(knives):
        after = np.full(cells + 1, _NEVER, dtype=np.int64)
        for width, price in priced:
            by = width // step
            if by <= cells:
                np.maximum(after[by:], layer[: cells + 1 - by] + price, out=after[by:])
        layer = after
        np.maximum(best, layer, out=best)
    return best
