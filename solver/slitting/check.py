"""Is a slitting plan what it says? Judged pattern by pattern with whole numbers, without the search's patterns."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction

from solver.domain.report import Report
from solver.domain.slit_plan import SlitJob, SlitResult
from solver.errors import FaultCollector
from solver.units import INCH, MM

CHECKED = (
    "every strip across a coil is wanted, and every pattern fits between the edge trims",
    "no pattern has more strips than knives allow, nor uses less width than it must",
    "patterns differ from each other and are really run",
    "of every strip at least the wanted run is made, and the overrun is as stated",
    "steel, set-ups and objective are as stated, and the job's limits on patterns and runs are kept",
    "no bound is above its value, none below what width alone needs; optimal is said only where the bound is met",
)
MILLION = 1_000_000


def check(job: SlitJob, result: SlitResult) -> Report:
    """Return what was checked of a slitting plan and every fault found."""
    faults = FaultCollector()
    if result.status == "unknown":
        if result.patterns or result.steel_nm is not None:
            faults.add("status", "is unknown, but a plan is given", "feasible or optimal")
        return Report(checked=CHECKED[5:], faults=tuple(faults.found))
    _patterns(job, result, faults)
    _runs(job, result, faults)
    _totals(job, result, faults)
    _bounds(job, result, faults)
    return Report(checked=CHECKED, faults=tuple(faults.found))


def _patterns(job: SlitJob, result: SlitResult, faults: FaultCollector) -> None:
    widths = {strip.id: strip.width_nm for strip in job.strips}
    room = job.coil_width_nm - 2 * job.edge_trim_nm
    alike = Counter(tuple(sorted(pattern.strips.items())) for pattern in result.patterns)
    for n, pattern in enumerate(result.patterns):
        path = f"patterns[{n}]"
        for name, count in pattern.strips.items():
            if name not in widths:
                faults.add(f"{path}.strips", f"{name!r} is not wanted", "strips of the job")
            if count < 1:
                faults.add(f"{path}.strips", f"{count} of {name!r}", "at least 1, or not named")
        used = sum(widths.get(name, 0) * count for name, count in pattern.strips.items())
        strips = sum(pattern.strips.values())
        if used > room:
            faults.add(path, f"uses {used / MM:g} mm of width", f"at most {room / MM:g} mm between the edge trims")
        if used < job.min_used_nm:
            faults.add(path, f"uses {used / MM:g} mm of width", f"at least {job.min_used_nm / MM:g} mm")
        if job.max_strips is not None and strips > job.max_strips:
            faults.add(path, f"has {strips} strips", f"at most {job.max_strips}")
        if alike[tuple(sorted(pattern.strips.items()))] > 1:
            faults.add(path, "is given more than once", "each pattern once, with its whole run")
        if pattern.length_nm <= 0:
            faults.add(f"{path}.length", "is no run", "more than 0")
        if job.whole_runs and pattern.length_nm % _one(job):
            faults.add(f"{path}.length", "is not a whole number of parent rolls", "a whole number")


def _one(job: SlitJob) -> int:
    return INCH if job.unit == "in" else MM


def _runs(job: SlitJob, result: SlitResult, faults: FaultCollector) -> None:
    for strip in job.strips:
        made = sum(pattern.strips.get(strip.id, 0) * pattern.length_nm for pattern in result.patterns)
        over = made - strip.length_nm
        if over < 0:
            faults.add("patterns", f"{strip.id!r} is short by {-over / MM:g} mm of run", "the wanted run of every strip")
        if result.overrun.get(strip.id) != over:
            faults.add(f"overrun.{strip.id}", f"{result.overrun.get(strip.id)} nm is stated", f"{over} nm")
    for name in result.overrun.keys() - {strip.id for strip in job.strips}:
        faults.add(f"overrun.{name}", "is no strip of the job", "strips of the job")


def _totals(job: SlitJob, result: SlitResult, faults: FaultCollector) -> None:
    steel = sum(pattern.length_nm for pattern in result.patterns)
    if result.steel_nm != steel:
        faults.add("steel", f"{result.steel_nm} nm is stated", f"{steel} nm, the sum of the runs")
    count = len(result.patterns)
    if result.setups != count:
        faults.add("setups", f"{result.setups} is stated", f"{count}, the number of patterns")
    if job.max_patterns is not None and count > job.max_patterns:
        faults.add("patterns", f"{count} patterns", f"at most {job.max_patterns}")
    if job.setup_costs is not None and count > len(job.setup_costs):
        faults.add("patterns", f"{count} patterns, but only {len(job.setup_costs)} set-up costs", "a cost for each pattern")
    longest = sorted((pattern.length_nm for pattern in result.patterns), reverse=True)
    limits = job.max_runs
    caps = [limits] * count if isinstance(limits, int) else sorted(limits, reverse=True) if limits is not None else None
    if caps is not None:
        for place, run in enumerate(longest):
            if place >= len(caps) or run > caps[place] * _one(job):
                faults.add("patterns", f"the run of {run / _one(job):g} is over its limit", "runs within max_runs")
    if result.objective_nm is not None:
        spent = sum((Fraction(repr(cost)) for cost in (job.setup_costs or ())[:count]), Fraction(0)) * _one(job)
        if abs(result.objective_nm - steel - spent) > count:
            faults.add("objective", f"{result.objective_nm} nm is stated", f"{float(steel + spent):.0f} nm")


def _bounds(job: SlitJob, result: SlitResult, faults: FaultCollector) -> None:
    value = result.steel_nm if result.objective_nm is None else result.objective_nm
    if value is None:
        faults.add("steel", "is missing", "the run of coil used")
        return
    if result.lower_bound_nm > value:
        faults.add("lower_bound", f"{result.lower_bound_nm} nm is above the value {value} nm", "at most the value")
    met = value * MILLION <= result.lower_bound_nm * (MILLION + 1)
    if result.status == "optimal" and not met:
        faults.add("status", f"optimal is stated with value {value} nm, bound {result.lower_bound_nm} nm", "feasible")
    room = job.coil_width_nm - 2 * job.edge_trim_nm
    area = sum(strip.width_nm * strip.length_nm for strip in job.strips)
    if result.status == "optimal" and (result.lower_bound_nm + 1) * room * (MILLION + 1) < area * MILLION:
        faults.add("lower_bound", "is below the steel that the strips' own area needs", "a bound that was proved")
    if result.setups_lower_bound > result.setups:
        faults.add("setups_lower_bound", f"{result.setups_lower_bound} is above {result.setups}", "at most setups")
    if job.strips and result.setups_lower_bound < 1:
        faults.add("setups_lower_bound", f"{result.setups_lower_bound} for strips that need a pattern", "at least 1")
