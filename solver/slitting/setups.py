"""Which patterns to run and how long, when set-ups count: a whole-number program over given patterns."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Literal

from solver.search import Search
from solver.slitting.problem import Pattern


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupProgram:
    """Patterns with the most steps each may run, what is wanted in steps, and what a step and each set-up cost."""

    patterns: Sequence[Pattern]
    longest: Sequence[int]
    wanted: Sequence[int]
    step_cost: int = 0
    setup_costs: Sequence[int] = ()  # of the first, second, ...; beyond: the last entry
    least_steps: int = 0  # in all, known to be needed
    least_patterns: int = 0  # known to be needed
    most_steps: int | None = None  # in all
    most_made: Sequence[int | None] = ()  # of each strip, where more would cost too much steel
    rounded: bool = False  # each run stands for a true one less than a step shorter: what is made may exceed by that
    most_cost: int | None = None
    most_patterns: int | None = None
    caps: Sequence[int] | None = None  # steps of the longest, second longest, ... run; one entry: of every run


@dataclass(frozen=True, slots=True, kw_only=True)
class SetupSolution:
    """Runs in steps, the value, a bound that holds over the given patterns, and whether none can meet the rules."""

    runs: Mapping[Pattern, int] | None
    value: int | None
    bound: int
    impossible: bool = False


def solve_setup_program(
    program: SetupProgram, aim: Literal["cost", "setups"], search: Search, hint: Mapping[Pattern, int] | None
) -> SetupSolution:
    """Return runs of least cost, or with fewest patterns, within the rules of the program."""
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    steps, used = _runs(model, program)
    chosen = _spend(model, program, steps, used, aim)
    for n, pattern in enumerate(program.patterns):
        if hint is not None:
            model.add_hint(steps[n], min(hint.get(pattern, 0), program.longest[n]))
            model.add_hint(used[n], pattern in hint)
    solver = cp_model.CpSolver()
    solver.parameters.random_seed = search.seed % 2**31
    solver.parameters.num_workers = 1  # repeatable, and measured to be faster here than several that share
    solver.parameters.max_time_in_seconds = max(0.01, search.left_s())
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        return SetupSolution(runs=None, value=None, bound=0, impossible=True)
    bound = max(0, round(solver.best_objective_bound)) if status != cp_model.UNKNOWN or solver.best_objective_bound > 0 else 0
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return SetupSolution(runs=None, value=None, bound=bound)
    runs = {pattern: solver.value(step) for pattern, step in zip(program.patterns, steps, strict=True) if solver.value(step)}
    return SetupSolution(runs=runs, value=solver.value(chosen), bound=bound)


def _runs(model: Any, program: SetupProgram) -> tuple[list[Any], list[Any]]:
    """Return the run of each pattern and whether it is run at all; what is wanted is made."""
    steps = [model.new_int_var(0, longest, f"run{n}") for n, longest in enumerate(program.longest)]
    used = [model.new_bool_var(f"used{n}") for n in range(len(program.patterns))]
    for n, longest in enumerate(program.longest):
        model.add(steps[n] <= longest * used[n])
        model.add(steps[n] >= used[n])
    for strip, want in enumerate(program.wanted):
        with_it = [n for n, pattern in enumerate(program.patterns) if pattern[strip]]
        model.add(sum(program.patterns[n][strip] * steps[n] for n in with_it) >= want)
        if want > 0:
            model.add_at_least_one(used[n] for n in with_it)
    return steps, used


def _spend(model: Any, program: SetupProgram, steps: list[Any], used: list[Any], aim: str) -> Any:
    """Limit steps, cost, patterns and single runs; return what is made least."""
    model.add(sum(steps) >= program.least_steps)
    model.add(sum(used) >= program.least_patterns)
    loose: list[Any] = used if program.rounded else []
    if program.most_steps is not None:
        model.add(sum(steps) <= program.most_steps + sum(loose))
    for strip, most in enumerate(program.most_made):
        if most is not None:
            made = sum(pattern[strip] * step for pattern, step in zip(program.patterns, steps, strict=True))
            model.add(made <= most + sum(pattern[strip] * use for pattern, use in zip(program.patterns, loose, strict=False)))
    if program.most_patterns is not None and program.most_patterns < len(used):
        model.add(sum(used) <= program.most_patterns)
    if program.caps is not None:
        _cap(model, program, steps, used)
    cost: Any = program.step_cost * sum(steps)
    if program.setup_costs:
        rank = [model.new_bool_var(f"setup{n}") for n in range(min(len(used), len(program.setup_costs)))]
        for sooner, later in pairwise(rank):
            model.add_implication(later, sooner)
        model.add(sum(rank) == sum(used))
        cost += sum(price * var for price, var in zip(program.setup_costs, rank, strict=False))
    if program.most_cost is not None:
        model.add(cost <= program.most_cost)
    aimed = cost if aim == "cost" else sum(used)
    model.minimize(aimed)
    return aimed


def _cap(model: Any, program: SetupProgram, steps: list[Any], used: list[Any]) -> None:
    caps = program.caps or ()
    if len(caps) == 1:
        for step in steps:
            model.add(step <= caps[0])
        return
    for place, cap in enumerate(caps):
        longer = [model.new_bool_var(f"over{place}_{n}") for n in range(len(steps))]
        for n, step in enumerate(steps):
            model.add(step <= cap).only_enforce_if(~longer[n])
        model.add(sum(longer) <= place)  # only those before this place may run longer than its cap
    model.add(sum(used) <= len(caps))
