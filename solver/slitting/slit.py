"""Strips from coils: least steel, then fewest set-ups, each with its proof."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

from solver.domain.certificate import Certificate
from solver.domain.slit_plan import SlitJob, SlitPattern, SlitResult
from solver.errors import FaultCollector, FieldFault, InputError, NoPlan
from solver.search import Search
from solver.slitting.bounds import LinearRelaxation, fewest_whole_runs, solve_relaxation
from solver.slitting.patterns import TooManyPatterns, best_pattern, full_patterns
from solver.slitting.problem import Pattern, SlitProblem, slit_problem, unit_nm
from solver.slitting.setups import SetupProgram, solve_setup_program
from solver.units import Nm, length_as_number

Runs = Mapping[Pattern, int]
TOLERANCE = Fraction(1, 1_000_000)  # of steel: plans this near the bound count as least, by contract
MOST_PATTERNS = 2000
WORK = 400_000
GRID = 10**8  # continuous runs are counted in this part of the least steel where set-ups are searched


def slit(job: SlitJob, search: Search) -> SlitResult:
    """Return patterns and runs of least steel and, at that steel, fewest set-ups.

    With whole runs, set-up costs or limits: least runs plus set-up costs. Raises InputError, and NoPlan where a strip
    fits no pattern or the limits rule every plan out.
    """
    if faults := validate(job):
        raise InputError(*faults)
    if not job.strips:
        return SlitResult(
            status="optimal",
            patterns=(),
            steel_nm=Nm(0),
            lower_bound_nm=Nm(0),
            overrun={},
            setups=0,
            setups_lower_bound=0,
            seconds=0.0,
            certificate=Certificate(kind="nothing"),
        )
    problem = slit_problem(job)
    first = _patterns_for_each(job, problem, search)
    search.tell("mixing patterns", 0.1)
    relaxed = solve_relaxation(problem, first, search)
    made = _least_steel(problem, relaxed, search) if problem.plain else _least_cost(problem, relaxed, search)
    return replace(made, certificate=_certificate(problem, relaxed, made.lower_bound_nm))


def _certificate(problem: SlitProblem, relaxed: LinearRelaxation, bound_nm: int) -> Certificate:
    """The prices of strips, `scale` the most that any pattern is worth; `search` where the bound is above what they prove."""
    least = math.ceil(relaxed.bound) if problem.whole else relaxed.bound
    proved = least * problem.step_nm + sum((problem.costs_nm or ())[: setups_lower_bound(problem)])
    prices = {name: price for name, price in zip(problem.ids, relaxed.prices, strict=True) if price}
    return Certificate(kind="worths" if bound_nm <= proved else "search", scale=relaxed.worth, worths=prices)


def validate(job: SlitJob) -> list[FieldFault]:
    """Return every fault of a job: ids given twice, no room between the trims, counts that are not whole."""
    faults, known = FaultCollector(), dict[str, int]()
    if job.coil_width_nm <= 2 * job.edge_trim_nm:
        faults.add("edge_trim", "leaves nothing of the coil's width", "less than half of coil_width")
    if 0 < job.coil_width_nm - 2 * job.edge_trim_nm < job.min_used_nm:
        faults.add("min_used", "is more than the width between the edge trims", "at most coil_width - 2 edge_trim")
    for n, strip in enumerate(job.strips):
        if not strip.id:
            faults.add(f"strips[{n}].id", "is empty", "a name")
        if (first := known.setdefault(strip.id, n)) != n:
            faults.add(f"strips[{n}].id", f"{strip.id!r} is also the id of strips[{first}]", "each id once")
        if job.whole_runs and strip.length_nm % unit_nm(job):
            faults.add(f"strips[{n}].length", "is not a whole number", "with whole_runs a count of strips, a whole number")
    if job.setup_costs is not None and not job.setup_costs:
        faults.add("setup_costs", "has no entry", "the cost of the first pattern at least, or no setup_costs")
    if isinstance(job.max_runs, tuple) and not job.max_runs:
        faults.add("max_runs", "has no entry", "the most runs of the first pattern at least, or no max_runs")
    return faults.found


def _patterns_for_each(job: SlitJob, problem: SlitProblem, search: Search) -> list[Pattern]:
    """Return for each strip a pattern with most of it. Raises NoPlan naming every strip that fits none."""
    found, lost = [], []
    room = length_as_number(job.coil_width_nm - 2 * job.edge_trim_nm, job.unit)
    for n, (strip, size) in enumerate(zip(job.strips, problem.sizes, strict=True)):
        path = f"strips[{n}].width"
        if size > problem.room:
            shown = length_as_number(strip.width_nm, job.unit)
            lost.append(FieldFault(path, f"{strip.id!r} is {shown} {job.unit} wide", f"at most {room} between the edge trims"))
            continue
        most = _most_of(problem, n, search)
        if most is None:
            why = "lies in no pattern that uses min_used with max_strips strips"
            lost.append(FieldFault(path, f"{strip.id!r} {why}", "a smaller min_used or a larger max_strips"))
        else:
            found.append(most)
    if lost:
        raise NoPlan(*lost)
    return found


def _most_of(problem: SlitProblem, strip: int, search: Search) -> Pattern | None:
    """Return a pattern with the most of one strip, filled up where that costs none of it."""
    fill = min(problem.knives, problem.room // problem.sizes[strip])
    alone = tuple(fill if n == strip else 0 for n in range(len(problem.sizes)))
    if problem.used(alone) >= problem.least:
        return alone
    priced = best_pattern(problem, tuple(int(n == strip) for n in range(len(problem.sizes))), lambda: False)
    return priced[1] if priced is not None and priced[0] else None


def _least_steel(problem: SlitProblem, relaxed: LinearRelaxation, search: Search) -> SlitResult:
    """Return a plan of least steel and, within the tolerance of steel, fewest set-ups."""
    runs: Runs = fewest_whole_runs(problem, relaxed.patterns) or {}  # every strip has a pattern from the start
    allowed = math.floor(relaxed.bound * (1 + TOLERANCE))
    bound = setups_lower_bound(problem)
    if sum(runs.values()) <= allowed and len(runs) > bound:
        search.tell("saving set-ups", 0.5)
        runs, bound = _fewest_setups(problem, relaxed, runs, allowed, search)
    steel = sum(runs.values())
    return _result(problem, runs, lower_nm=math.floor(relaxed.bound), value=steel, setups_bound=bound)


def setups_lower_bound(problem: SlitProblem) -> int:
    """Return the patterns needed for each strip to lie in one of them."""
    room, most = problem.room, 0
    for size in sorted(problem.sizes)[: problem.knives]:
        room -= size
        if room < 0:
            break
        most += 1
    return -(-len(problem.sizes) // most)


def _fewest_setups(
    problem: SlitProblem, relaxed: LinearRelaxation, runs: Runs, allowed: int, search: Search
) -> tuple[Runs, int]:
    """Return runs within the allowed steel that need fewest patterns found, and a bound on the patterns of all such plans.

    A plan within the allowed steel runs patterns of reduced cost over `gap` for at most slack / gap steps in all; those
    patterns are left out and what they could make is taken off what is wanted. The rest is counted on a grid, rounded
    so that every true plan has an image on it: an infeasible grid proves the bound in whole numbers.
    """
    floor = setups_lower_bound(problem)
    for gap in (Fraction(1, 500), Fraction(1, 50)):
        if len(runs) <= floor or search.over():
            break
        near = _near_least(problem, relaxed, gap, search)
        if near is None:
            break
        keep = search.left_s() / 2
        half = replace(search, left_s=lambda keep=keep: search.left_s() - keep)  # type: ignore[misc]
        program = _setups_program(problem, relaxed, near, allowed, floor)
        found = solve_setup_program(program, "setups", half, _in_steps(runs, allowed))
        runs = _fewer(problem, runs, found.runs, allowed)
        refuted = solve_setup_program(
            _loosened(problem, program, (allowed - relaxed.bound) / gap, allowed, runs), "setups", search, None
        )
        runs, before = _fewer(problem, runs, refuted.runs, allowed), len(runs)
        floor = before if refuted.impossible else max(floor, min(refuted.bound, len(runs)))
    return runs, floor


def _step(allowed: int) -> int:
    return max(1, allowed // GRID)


def _in_steps(runs: Runs, allowed: int) -> Runs:
    return {pattern: -(-run // _step(allowed)) for pattern, run in runs.items()}


def _setups_program(
    problem: SlitProblem, relaxed: LinearRelaxation, near: Sequence[Pattern], allowed: int, floor: int
) -> SetupProgram:
    """Return the program whose every answer is a plan within the allowed steel."""
    slack, step = allowed - relaxed.bound, _step(allowed)
    most = _most_made(problem, relaxed, slack)
    return SetupProgram(
        patterns=near,
        longest=[_longest(problem, relaxed, pattern, slack, most) // step + 1 for pattern in near],
        wanted=[-(-want // step) for want in problem.wanted],
        least_patterns=floor,
        most_steps=allowed // step,
        most_made=[None if made is None else made // step for made in most],
    )


def _loosened(problem: SlitProblem, program: SetupProgram, lost: Fraction, allowed: int, runs: Runs) -> SetupProgram:
    """Return the program that has an answer for every plan within the allowed steel of fewer patterns than `runs`.

    `lost`: steps that patterns left out may run in all, so what each of them could make is not asked for.
    """
    across = [min(problem.knives, problem.room // size) for size in problem.sizes]
    least = [max(0, math.floor(want - n * lost)) for want, n in zip(problem.wanted, across, strict=True)]
    return replace(
        program,
        wanted=[-(-want // _step(allowed)) for want in least],
        least_patterns=0,
        most_patterns=len(runs) - 1,
        rounded=True,
    )


def _fewer(problem: SlitProblem, runs: Runs, hoped: Runs | None, allowed: int) -> Runs:
    """Return the runs of the hoped-for patterns where those are fewer and exact arithmetic keeps to the allowed steel."""
    exact = fewest_whole_runs(problem, list(hoped)) if hoped else None
    return exact if exact is not None and sum(exact.values()) <= allowed and len(exact) < len(runs) else runs


def _near_least(problem: SlitProblem, relaxed: LinearRelaxation, gap: Fraction, search: Search) -> list[Pattern] | None:
    """Return all full patterns of reduced cost up to the gap; None when there are too many."""
    floor = math.ceil(relaxed.worth * (1 - gap))
    try:
        return full_patterns(problem, relaxed.prices, floor, most=MOST_PATTERNS, work=WORK, over=search.over)
    except TooManyPatterns:
        return None


def _most_made(problem: SlitProblem, relaxed: LinearRelaxation, slack: Fraction) -> list[int | None]:
    """Return what may be made of each strip before its price alone takes more than the slack of steel."""
    return [
        math.floor(want + slack * relaxed.worth / price) if price else None
        for want, price in zip(problem.wanted, relaxed.prices, strict=True)
    ]


def _longest(
    problem: SlitProblem, relaxed: LinearRelaxation, pattern: Pattern, slack: Fraction, most: Sequence[int | None]
) -> int:
    """Return the longest run of a pattern in a plan within the slack: by its reduced cost and by what it may make."""
    reduced = 1 - Fraction(relaxed.worth_of(pattern), relaxed.worth)
    limits = [made // count for made, count in zip(most, pattern, strict=True) if made is not None and count]
    if reduced > 0:
        limits.append(math.ceil(slack / reduced))
    return min(problem.longest(pattern), *limits) if limits else problem.longest(pattern)


def _least_cost(problem: SlitProblem, relaxed: LinearRelaxation, search: Search) -> SlitResult:
    """Return a plan of least runs plus set-up costs within the limits of the job, then of fewest set-ups."""
    step = 1 if problem.whole else max(1, math.ceil(relaxed.bound) // GRID)
    step_nm = step * problem.step_nm
    fewest_patterns = setups_lower_bound(problem)
    setup_nm = sum((problem.costs_nm or ())[:fewest_patterns])
    least = math.ceil(relaxed.bound) if problem.whole else relaxed.bound
    bound_nm = math.floor(least * problem.step_nm) + setup_nm
    start = solve_setup_program(_program(problem, relaxed, relaxed.patterns, step), "cost", search, None)
    patterns = _all_that_matter(problem, relaxed, start.value, setup_nm, search)
    whole_truth = patterns is not None
    best = (
        solve_setup_program(_program(problem, relaxed, patterns, step), "cost", search, start.runs)
        if patterns is not None
        else start
    )
    if whole_truth and best.impossible:
        raise NoPlan(FieldFault(_limit_named(problem), "rules out every plan for these strips", "a higher limit"))
    if whole_truth and (problem.whole or problem.caps is None):
        rounding = 0 if problem.whole else step_nm * min(problem.max_patterns, len(patterns or ()))
        bound_nm = max(bound_nm, best.bound - rounding)
    setups_bound, runs = fewest_patterns, best.runs or start.runs
    if runs is not None and best.value is not None and patterns is not None and best.value <= bound_nm:
        again = solve_setup_program(_program(problem, relaxed, patterns, step, most_cost=best.value), "setups", search, runs)
        setups_bound, runs = max(setups_bound, again.bound), again.runs or runs
    if runs is None:
        return _unknown(bound_nm, setups_bound)
    runs = {pattern: run * step for pattern, run in runs.items()}
    if not problem.whole and problem.caps is None:
        runs = dict(fewest_whole_runs(problem, list(runs)) or runs)
    value = sum(runs.values()) * problem.step_nm + sum((problem.costs_nm or ())[: len(runs)])
    return _result(problem, runs, lower_nm=min(bound_nm, value), value=value, setups_bound=min(setups_bound, len(runs)))


def _program(
    problem: SlitProblem, relaxed: LinearRelaxation, patterns: Sequence[Pattern], step: int, most_cost: int | None = None
) -> SetupProgram:
    caps = None if problem.caps is None else tuple(cap // step for cap in problem.caps)
    return SetupProgram(
        patterns=patterns,
        longest=[-(-problem.longest(pattern) // step) for pattern in patterns],
        wanted=[-(-want // step) for want in problem.wanted],
        step_cost=step * problem.step_nm,
        least_steps=math.ceil(relaxed.bound) if problem.whole else 0,
        least_patterns=setups_lower_bound(problem),
        setup_costs=problem.costs_nm or (),
        most_patterns=problem.max_patterns,
        caps=caps,
        most_cost=most_cost,
    )


def _all_that_matter(
    problem: SlitProblem, relaxed: LinearRelaxation, value_nm: int | None, setup_nm: int, search: Search
) -> list[Pattern] | None:
    """Return every pattern that a plan no dearer than the one known may use; None when there are too many.

    A pattern of reduced cost r that runs at least one step makes a plan cost at least the bound and r. A pattern that
    takes no further strip does all that its parts do, unless a cap on runs makes it worth having both.
    """
    floor = 0
    if problem.whole and value_nm is not None:
        gap = Fraction(value_nm - setup_nm, problem.step_nm) - relaxed.bound
        floor = max(0, math.ceil(relaxed.worth * (1 - gap)))
    binding = problem.caps is not None and min(problem.caps) < max(problem.wanted)
    try:
        return full_patterns(problem, relaxed.prices, floor, most=MOST_PATTERNS, work=WORK, over=search.over, part_full=binding)
    except TooManyPatterns:
        return None


def _limit_named(problem: SlitProblem) -> str:
    return "max_runs" if problem.caps is not None else "max_patterns"


def _result(problem: SlitProblem, runs: Runs, *, lower_nm: int, value: int, setups_bound: int) -> SlitResult:
    step = problem.step_nm
    made = [sum(pattern[n] * run for pattern, run in runs.items()) for n in range(len(problem.ids))]
    ranked = sorted(runs.items(), key=lambda item: (-item[1], item[0]))
    return SlitResult(
        status="optimal" if value <= lower_nm * (1 + TOLERANCE) else "feasible",
        patterns=tuple(
            SlitPattern(
                strips={problem.ids[n]: count for n, count in enumerate(pattern) if count},
                length_nm=Nm(run * step),
            )
            for pattern, run in ranked
        ),
        steel_nm=Nm(sum(runs.values()) * step),
        lower_bound_nm=Nm(lower_nm),
        overrun={name: Nm((got - want) * step) for name, got, want in zip(problem.ids, made, problem.wanted, strict=True)},
        setups=len(runs),
        setups_lower_bound=setups_bound,
        seconds=0.0,
        objective_nm=None if problem.plain else Nm(value),
    )


def _unknown(bound_nm: int, setups_bound: int) -> SlitResult:
    return SlitResult(
        status="unknown",
        patterns=(),
        steel_nm=None,
        lower_bound_nm=Nm(bound_nm),
        overrun={},
        setups=0,
        setups_lower_bound=setups_bound,
        seconds=0.0,
    )
