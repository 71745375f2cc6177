"""The exact model: how many of each length lie in which clear run of which coil; and the same without faces, as a bound."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import reduce

from ortools.sat.python import cp_model

from solver.search import Search, calling_at_end
from solver.skins.problem import Fill, SkinProblem, Spot

LARGEST = 2**52  # of the objective: what the solver adds up stays far from its last whole number


@dataclass(frozen=True, slots=True)
class ModelSolution:
    """What a model came to: a fill, or none; the least cost it left possible, in nanometres; whether none is possible."""

    fill: Fill | None
    bound: Fraction
    impossible: bool = False


@dataclass(slots=True)
class FreeDecisions:
    """What a model may decide: the coils, the pieces of each face that lie on them, and where a group may go.

    `served`: faces that have pieces on a coil which is not free, so that each free coil is one more for them. `whole`: faces
    that the model keeps on one coil each, which makes it far smaller.
    """

    coils: Sequence[int]
    pieces: Mapping[int, Mapping[int, int]]
    batches: Mapping[int, Sequence[int]]
    served: frozenset[int] = frozenset()
    whole: frozenset[int] = frozenset()


@dataclass(slots=True)
class Scale:
    """Lengths in grains (the largest length that all are whole multiples of), cost in whole steps, rounded for the bound."""

    grain: int
    steps: Fraction

    def length(self, nm: int) -> int:
        """Return a length in grains."""
        return nm // self.grain

    def down(self, cost: Fraction) -> int:
        """Return a cost in steps, rounded down."""
        return math.floor(cost * self.steps)

    def up(self, cost: Fraction) -> int:
        """Return a cost in steps, rounded up."""
        return math.ceil(cost * self.steps)


def choose_scale(problem: SkinProblem) -> Scale:
    """Return the scale in which all lengths are whole, and cost as far as whole numbers of the solver reach."""
    lengths = [length for face in problem.faces for length, _ in face.kinds]
    lengths += [at for coil in problem.coils for run in coil.runs for at in run]
    lengths += [coil.length for coil in problem.coils] + ([problem.keep_from] if problem.keep_from else [])
    grain = reduce(math.gcd, lengths)
    rates = [coil.cost * grain for coil in problem.coils]
    rates += [rate * problem.keep_value for rate in rates] + [problem.split]
    steps = Fraction(math.lcm(*(rate.denominator for rate in rates)))
    most = sum((coil.cost * coil.length for coil in problem.coils), Fraction(0)) + problem.split * len(problem.faces) * 4 + 1
    return Scale(grain=grain, steps=min(steps, Fraction(LARGEST) / most))


@dataclass(slots=True)
class CoilTerms:
    """A coil's part of a model: whether it is used, which clear run is its last, and the cost terms."""

    used: cp_model.IntVar
    last: list[cp_model.IntVar]
    kept: cp_model.IntVar | None = None
    left: cp_model.IntVar | None = None
    load: list[cp_model.LinearExprT] = field(default_factory=list)


def coil_terms(
    model: cp_model.CpModel, problem: SkinProblem, scale: Scale, n: int, load: list[cp_model.LinearExprT]
) -> CoilTerms:
    """Add a coil with the length that lies in each of its clear runs; nothing lies behind its last run."""
    coil = problem.coils[n]
    terms = CoilTerms(used=model.new_bool_var(""), last=[model.new_bool_var("") for _ in coil.runs], load=load)
    model.add(sum(terms.last) == terms.used)
    sizes = [scale.length(end) - scale.length(begin) for begin, end in coil.runs]
    for run, size in enumerate(sizes):
        model.add(load[run] <= size * sum(terms.last[run:]))
    if problem.keep_from is None or not problem.keep_value:
        return terms
    length = scale.length(coil.length)
    terms.kept, terms.left = model.new_bool_var(""), model.new_int_var(0, length, "")
    model.add_implication(terms.kept, terms.used)
    model.add(terms.left <= length * terms.kept)
    model.add(terms.left >= scale.length(problem.keep_from) * terms.kept)
    for run, (begin, _) in enumerate(coil.runs):  # what is left behind the pieces of the last run
        model.add(terms.left <= length - scale.length(begin) * terms.last[run] - load[run])
    if coil.runs:
        model.add(terms.left <= (length - scale.length(coil.runs[0][0])) * terms.used - sum(load))
    return terms


def coil_cost(problem: SkinProblem, scale: Scale, n: int, terms: CoilTerms) -> cp_model.LinearExprT:
    """Return the cost terms of a coil, rounded so that no plan costs less than they say."""
    coil = problem.coils[n]
    cost: cp_model.LinearExprT = scale.down(coil.cost * coil.length) * terms.used
    if terms.left is not None:
        cost = cost - scale.up(coil.cost * problem.keep_value * scale.grain) * terms.left
    return cost


def solve_model(
    problem: SkinProblem, scale: Scale, free: FreeDecisions, hint: Fill | None, search: Search, seconds: float
) -> ModelSolution:
    """Return the best fill of what is free within the time, with its bound (of the free coils and faces alone)."""
    model = cp_model.CpModel()
    held: dict[Spot, cp_model.IntVar] = {}
    serves: dict[tuple[int, int], cp_model.IntVar] = {}
    goes = _batches(model, free)
    loads: dict[tuple[int, int], list[cp_model.LinearExprT]] = defaultdict(list)
    for face, wanted in free.pieces.items():
        _face(model, problem, scale, free, face, wanted, goes, held, serves, loads)
    cost: list[cp_model.LinearExprT] = []
    for n in free.coils:
        load = [sum(loads[n, run]) if loads[n, run] else 0 for run in range(len(problem.coils[n].runs))]
        terms = coil_terms(model, problem, scale, n, load)
        for face in free.pieces:
            if (face, n) in serves:
                model.add_implication(serves[face, n], terms.used)
        cost.append(coil_cost(problem, scale, n, terms))
    _by_batch(model, problem, scale, free, goes, loads)
    split = scale.down(problem.split)
    whole = sum(face not in free.served for face in free.pieces)
    if split:
        cost.append(split * (sum(serves.values()) - whole))
    model.minimize(sum(cost))
    if hint is not None:
        for spot, var in held.items():
            model.add_hint(var, hint.get(spot, 0))
        served = {(spot[0], spot[2]) for spot, count in hint.items() if count}
        for pair, var in serves.items():
            model.add_hint(var, pair in served)
    answer, solver = _answer(model, scale, held, search, seconds)
    if answer.fill is None:
        return answer
    fill = dict(answer.fill)
    for (face, n), var in serves.items():
        if face in free.whole and len(problem.coils[n].runs) == 1 and solver.value(var):
            fill |= {(face, kind, n, 0): count for kind, count in free.pieces[face].items()}
    return ModelSolution(fill=fill, bound=answer.bound)


def _by_batch(
    model: cp_model.CpModel,
    problem: SkinProblem,
    scale: Scale,
    free: FreeDecisions,
    goes: Mapping[tuple[int, int], cp_model.IntVar],
    loads: Mapping[tuple[int, int], list[cp_model.LinearExprT]],
) -> None:
    """Say again, for the relaxation, that a batch holds just what goes there."""
    need: dict[int, int] = defaultdict(int)
    for face, wanted in free.pieces.items():
        for kind, count in wanted.items():
            need[problem.faces[face].group] += scale.length(problem.faces[face].kinds[kind][0]) * count
    for batch in {problem.coils[n].batch for n in free.coils}:
        held = [load for (n, _), held in loads.items() if problem.coils[n].batch == batch for load in held]
        model.add(sum(held) == sum(need[group] * var for (group, to), var in goes.items() if to == batch))


def _batches(model: cp_model.CpModel, free: FreeDecisions) -> dict[tuple[int, int], cp_model.IntVar]:
    goes = {(group, batch): model.new_bool_var("") for group, batches in free.batches.items() for batch in batches}
    for group, batches in free.batches.items():
        model.add_exactly_one(goes[group, batch] for batch in batches)
    return goes


def _face(
    model: cp_model.CpModel,
    problem: SkinProblem,
    scale: Scale,
    free: FreeDecisions,
    face: int,
    wanted: Mapping[int, int],
    goes: Mapping[tuple[int, int], cp_model.IntVar],
    held: dict[Spot, cp_model.IntVar],
    serves: dict[tuple[int, int], cp_model.IntVar],
    loads: dict[tuple[int, int], list[cp_model.LinearExprT]],
) -> None:
    """Add a face: its pieces over the clear runs of the coils of its group's batch, whole on one of them or split."""
    group = problem.faces[face].group
    ways = [n for n in free.coils if (group, problem.coils[n].batch) in goes]
    for n in ways:
        serves[face, n] = model.new_bool_var("")
        model.add_implication(serves[face, n], goes[group, problem.coils[n].batch])
    if face in free.whole:
        model.add_exactly_one(serves[face, n] for n in ways)
    else:
        model.add_bool_or(serves[face, n] for n in ways)
    lengths = {kind: problem.faces[face].kinds[kind][0] for kind in wanted}
    run_of_all = sum(scale.length(lengths[kind]) * count for kind, count in wanted.items())
    for n in ways:
        if face in free.whole and len(problem.coils[n].runs) == 1:
            loads[n, 0].append(run_of_all * serves[face, n])
    for kind, count in wanted.items():
        spread: list[cp_model.LinearExprT] = []
        for n in ways:
            if face in free.whole and len(problem.coils[n].runs) == 1:
                spread.append(count * serves[face, n])
                continue
            here = []
            for run, (begin, end) in enumerate(problem.coils[n].runs):
                most = min(count, (end - begin) // lengths[kind])
                if most:
                    held[face, kind, n, run] = model.new_int_var(0, most, "")
                    here.append(held[face, kind, n, run])
                    loads[n, run].append(scale.length(lengths[kind]) * held[face, kind, n, run])
            if face in free.whole:
                model.add(sum(here) == count * serves[face, n])
            elif here:
                model.add(sum(here) <= count * serves[face, n])
            spread += here
        model.add(sum(spread) == count)


def _answer(
    model: cp_model.CpModel, scale: Scale, held: Mapping[Spot, cp_model.IntVar], search: Search, seconds: float
) -> tuple[ModelSolution, cp_model.CpSolver]:
    solver, status = _solved(model, search, seconds)
    if status == cp_model.INFEASIBLE:
        return ModelSolution(fill=None, bound=Fraction(0), impossible=True), solver
    bound = _bound(solver, status, scale)
    if status == cp_model.UNKNOWN:
        return ModelSolution(fill=None, bound=bound), solver
    return ModelSolution(fill={spot: count for spot, var in held.items() if (count := solver.value(var))}, bound=bound), solver


def _solved(model: cp_model.CpModel, search: Search, seconds: float) -> tuple[cp_model.CpSolver, cp_model.CpSolverStatus]:
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = search.workers
    solver.parameters.random_seed = search.seed
    solver.parameters.max_time_in_seconds = max(0.01, min(seconds, search.left_s()))
    with calling_at_end(search, solver.stop_search):
        return solver, solver.solve(model)


def _bound(solver: cp_model.CpSolver, status: cp_model.CpSolverStatus, scale: Scale) -> Fraction:
    """Return the bound that a model proved, in nanometres, never below nothing."""
    if status == cp_model.UNKNOWN:
        return Fraction(0)
    steps = solver.objective_value if status == cp_model.OPTIMAL else solver.best_objective_bound
    return max(Fraction(0), Fraction(math.floor(steps + 1e-6)) / scale.steps)


def length_relaxation(
    problem: SkinProblem, scale: Scale, search: Search, seconds: float
) -> tuple[Fraction, dict[int, int] | None, bool]:
    """Return a bound by lengths alone, the batch of each group in that plan, and whether even lengths find no room.

    Groups are a length each, that lies in the coils of one batch as water would; a face longer than a coil is split as often
    as the largest coils ask for. Whatever keeps to the contract keeps to this, so no plan costs less.
    """
    model = cp_model.CpModel()
    goes = {
        (group, batch): model.new_bool_var("")
        for group in range(len(problem.groups))
        for batch in range(len(problem.batches))
        if _could(problem, group, batch)
    }
    cost: list[cp_model.LinearExprT] = []
    for group in range(len(problem.groups)):
        ways = [goes[group, batch] for batch in range(len(problem.batches)) if (group, batch) in goes]
        if not ways:
            return Fraction(0), None, True
        model.add_exactly_one(ways)
    for batch, coils in enumerate(problem.batches):
        loads = []
        for n in coils:
            load = [model.new_int_var(0, scale.length(end) - scale.length(begin), "") for begin, end in problem.coils[n].runs]
            cost.append(coil_cost(problem, scale, n, coil_terms(model, problem, scale, n, list(load))))
            loads += load
        ways = [group for group in range(len(problem.groups)) if (group, batch) in goes]
        model.add(sum(loads) == sum(scale.length(problem.need(group)) * goes[group, batch] for group in ways))
    split = scale.down(problem.split)
    for (group, batch), var in goes.items():
        if more := least_splits(problem, group, batch):
            cost.append(split * more * var)
    model.minimize(sum(cost))
    solver, status = _solved(model, search, seconds)
    if status == cp_model.INFEASIBLE:
        return Fraction(0), None, True
    bound = _bound(solver, status, scale)
    if status == cp_model.UNKNOWN:
        return bound, None, False
    return bound, {group: batch for (group, batch), var in goes.items() if solver.value(var)}, False


def _could(problem: SkinProblem, group: int, batch: int) -> bool:
    coils = [problem.coils[n] for n in problem.batches[batch]]
    longest = max((end - begin for coil in coils for begin, end in coil.runs), default=0)
    fits = all(kinds[0][0] <= longest for face in problem.groups[group] if (kinds := problem.faces[face].kinds))
    return fits and problem.need(group) <= sum(coil.room for coil in coils)


def least_splits(problem: SkinProblem, group: int, batch: int) -> int:
    """Return the coils beyond the first that a group's faces need in a batch, were each alone there."""
    rooms = sorted((problem.coils[n].room for n in problem.batches[batch]), reverse=True)
    more = 0
    for face in problem.groups[group]:
        left, coils = problem.faces[face].run, 0
        for room in rooms:
            if left <= 0:
                break
            left, coils = left - room, coils + 1
        more += coils - 1
    return more
