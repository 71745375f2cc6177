"""A slit job as whole numbers: widths by their common divisor, runs in nanometres."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from solver.domain.slit_plan import SlitJob
from solver.units import INCH, MM

Pattern = tuple[int, ...]  # how many of each strip lie across the coil


@dataclass(frozen=True, slots=True, kw_only=True)
class SlitProblem:
    """Strips `sizes` wide within `room`, at least `least` used, at most `knives` strips; `wanted` of each, in steps.

    A step is what a run is a whole number of: a nanometre, or with whole runs one parent roll.
    """

    ids: tuple[str, ...]
    sizes: tuple[int, ...]
    room: int
    least: int
    knives: int
    wanted: tuple[int, ...]
    step_nm: int
    whole: bool
    costs_nm: tuple[int, ...] | None  # of the first, second, ... pattern
    max_patterns: int
    caps: tuple[int, ...] | None  # most steps of the first, second, ... pattern; longest first

    @property
    def plain(self) -> bool:
        """Whether steel comes first and set-ups second, with no limit on either."""
        return not self.whole and self.costs_nm is None and self.caps is None and self.max_patterns >= len(self.sizes)

    def used(self, pattern: Pattern) -> int:
        """Return the width that a pattern uses."""
        return sum(size * count for size, count in zip(self.sizes, pattern, strict=True))

    def full(self, pattern: Pattern) -> bool:
        """Return whether no further strip can be added."""
        return sum(pattern) >= self.knives or self.used(pattern) + min(self.sizes) > self.room

    def longest(self, pattern: Pattern) -> int:
        """Return the steps beyond which running this pattern adds only overrun."""
        return max(-(-want // count) for want, count in zip(self.wanted, pattern, strict=True) if count)


def unit_nm(job: SlitJob) -> int:
    """Return the job's unit in nanometres: with whole runs, one parent roll."""
    return MM if job.unit == "mm" else INCH


def slit_problem(job: SlitJob) -> SlitProblem:
    """Return the job as whole numbers; the job is valid and has strips."""
    common = math.gcd(*(strip.width_nm for strip in job.strips))
    sizes = tuple(strip.width_nm // common for strip in job.strips)
    room = (job.coil_width_nm - 2 * job.edge_trim_nm) // common
    step = unit_nm(job) if job.whole_runs else 1
    most = min(job.max_patterns or 10**9, len(job.setup_costs) if job.setup_costs is not None else 10**9)
    caps = None
    if isinstance(job.max_runs, tuple):
        caps = tuple(sorted((cap * unit_nm(job) // step for cap in job.max_runs), reverse=True))
        most = min(most, len(caps))
    elif job.max_runs is not None:
        caps = (job.max_runs * unit_nm(job) // step,)
    return SlitProblem(
        ids=tuple(strip.id for strip in job.strips),
        sizes=sizes,
        room=room,
        least=-(-job.min_used_nm // common),
        knives=min(job.max_strips or 10**9, room // min(sizes)),
        wanted=tuple(strip.length_nm // step for strip in job.strips),
        step_nm=step,
        whole=job.whole_runs,
        costs_nm=None if job.setup_costs is None else tuple(cost_nm(cost, job) for cost in job.setup_costs),
        max_patterns=most,
        caps=caps,
    )


def cost_nm(cost: float, job: SlitJob) -> int:
    """Return a set-up cost, given in the unit of runs, in nanometres of run; rounded down."""
    return math.floor(Fraction(repr(cost)) * unit_nm(job))
