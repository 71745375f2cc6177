"""Prove the bounds of a slitting plan again by another solver, over every pattern there is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from solver.cbc import ConstraintRow, solve_with_cbc
from solver.domain.certificate import BoundReport
from solver.domain.slit_plan import SlitJob, SlitResult
from solver.search import Search
from solver.slitting.check_bound import NEAR, unit_nm

MOST_PATTERNS = 4_000
Pattern = tuple[int, ...]


def verify_by_other_solver(
    job: SlitJob, result: SlitResult, exact: Sequence[BoundReport], search: Search
) -> tuple[BoundReport, ...]:
    """Return the reports of `exact`, those not confirmed judged again by CBC within the time."""
    waiting = [report for report in exact if report.state == "unconfirmed"]
    if not waiting:
        return tuple(exact)
    patterns = _patterns(job, search)
    made = []
    for report in exact:
        if report.state != "unconfirmed":
            made.append(report)
        elif patterns is None:
            made.append(replace(report, state="out_of_time", by=f"there are more than {MOST_PATTERNS} patterns"))
        else:
            made.append(_again(job, result, report, patterns, search.left_s() / len(waiting)))
    return tuple(made)


def _patterns(job: SlitJob, search: Search) -> list[Pattern] | None:
    """Return every pattern that fits and uses what it must; those alone that take no further strip, where those do."""
    room, widths = job.coil_width_nm - 2 * job.edge_trim_nm, [strip.width_nm for strip in job.strips]
    narrow, knives = min(widths), job.max_strips or room
    full_do = job.max_runs is None  # else a part of a pattern may be run where the whole may not
    found: list[Pattern] = []
    waiting: list[tuple[int, int, int, Pattern]] = [(0, room, knives, ())]
    while waiting:
        place, left, free, counts = waiting.pop()
        if place == len(widths):
            full = free == 0 or left < narrow
            if any(counts) and (full or not full_do) and room - left >= job.min_used_nm:
                found.append(counts)
                if len(found) > MOST_PATTERNS or search.over():
                    return None
            continue
        for many in range(min(free, left // widths[place]) + 1):
            waiting.append((place + 1, left - many * widths[place], free - many, (*counts, many)))
    return found


def _again(job: SlitJob, result: SlitResult, report: BoundReport, patterns: Sequence[Pattern], seconds: float) -> BoundReport:
    """Ask CBC for a plan below the bound: runs, whether each pattern is set up, and how many set-ups are paid for."""
    unit = max(strip.length_nm for strip in job.strips) if not job.whole_runs else unit_nm(job)
    wanted = [strip.length_nm / unit for strip in job.strips]
    size, many = len(patterns), len(job.setup_costs or ())
    longest = [max(want / held for want, held in zip(wanted, pattern, strict=True) if held) for pattern in patterns]
    if isinstance(job.max_runs, int):
        longest = [min(run, job.max_runs * unit_nm(job) / unit) for run in longest]
    if job.whole_runs:
        longest = [float(math.ceil(run)) for run in longest]
    paid = [float(cost) * unit_nm(job) / unit for cost in job.setup_costs or ()]
    runs, used = range(size), range(size, 2 * size)
    rows = [
        ConstraintRow(parts={n: pattern[strip] for n, pattern in enumerate(patterns) if pattern[strip]}, low=want)
        for strip, want in enumerate(wanted)
    ]
    rows += [ConstraintRow(parts={n: 1.0, size + n: -longest[n]}, high=0.0) for n in runs]
    if many:
        rows.append(ConstraintRow(parts={**dict.fromkeys(used, 1.0), **{2 * size + n: -1.0 for n in range(many)}}, high=0.0))
        rows += [ConstraintRow(parts={2 * size + n: -1.0, 2 * size + n + 1: 1.0}, high=0.0) for n in range(many - 1)]
    most = min(job.max_patterns or size, many or size, size)
    costs = [1.0] * size + [0.0] * size + paid
    claimed = Fraction(result.lower_bound_nm)
    if report.about == "setups_lower_bound":
        most = min(most, result.setups_lower_bound - 1)
        limit = float(claimed * (1 + NEAR)) / unit
    else:
        limit = float(claimed * (1 - 2 * NEAR)) / unit
    rows.append(ConstraintRow(parts=dict.fromkeys(used, 1.0), high=float(most)))
    rows.append(ConstraintRow(parts={n: cost for n, cost in enumerate(costs) if cost}, high=limit))
    whole = [job.whole_runs] * size + [True] * (size + many)
    limits = [*longest, *([1.0] * (size + many))]
    said = solve_with_cbc(costs, rows, seconds=seconds, whole=whole, most=limits)
    if said.none:
        return replace(report, state="again", by=f"CBC: no plan below it over all {size} patterns")
    if said.values is None:
        return replace(report, state="out_of_time", by=f"CBC did not end over {size} patterns")
    return _found(job, report, patterns, said.values[:size], limit * unit, most)


def _found(
    job: SlitJob, report: BoundReport, patterns: Sequence[Pattern], values: Sequence[float], limit_nm: float, most: int
) -> BoundReport:
    """Judge exactly what CBC found: its runs lengthened until they cover what is wanted."""
    unit = max(strip.length_nm for strip in job.strips) if not job.whole_runs else unit_nm(job)
    runs = [Fraction(round(value) if job.whole_runs else value) if value > 1e-9 else Fraction(0) for value in values]
    short = Fraction(1)
    for strip, item in enumerate(job.strips):
        made = sum((pattern[strip] * run for pattern, run in zip(patterns, runs, strict=True)), Fraction(0)) * unit
        short = min(short, made / item.length_nm)
    if short <= 0 or (job.whole_runs and short < 1) or isinstance(job.max_runs, tuple):
        return replace(report, state="unconfirmed", by="CBC found a plan below it that exact arithmetic does not bear out")
    setups = sum(run > 0 for run in runs)
    spent = sum((Fraction(repr(cost)) for cost in (job.setup_costs or ())[:setups]), Fraction(0)) * unit_nm(job)
    total = sum(runs, Fraction(0)) * unit / short + spent
    if total > Fraction(limit_nm) * (1 + NEAR / 2) or setups > most:
        return replace(report, state="unconfirmed", by="CBC found a plan below it that exact arithmetic does not bear out")
    return replace(report, state="refuted", by=f"CBC found a plan of {float(total / unit_nm(job)):.9g} with {setups} set-ups")
