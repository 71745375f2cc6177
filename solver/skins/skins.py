"""Skins from coils at least cost: small jobs exactly, large ones part by part against a bound by lengths."""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from solver.domain.skin_plan import SkinJob, SkinResult
from solver.errors import FaultCollector, FieldFault, InputError, NoPlan
from solver.search import Search, with_time_limit
from solver.skins.first_fit import first_fit
from solver.skins.model import FreeDecisions, Scale, choose_scale, length_relaxation, solve_model
from solver.skins.problem import Fill, SkinProblem, coil_draws, count_splits, fill_cost, skin_problem, unit_nm
from solver.units import Nm, length_as_number

EXACT_VARIABLES = 3_000  # up to so many counts the whole is one model
PART_VARIABLES = 1_500  # of a part that is decided anew
PART_S = 1.0
IDLE = 200  # parts in a row that saved nothing
BOUND_SHARE = 0.25  # of the time, at most, for the bound by lengths
FIRST_SHARE = 0.3  # of the time, at most, for parts where the whole is decided after
WHOLE_VARIABLES = 4_000  # of a part whose faces stay whole: a face on a coil
MAY_SPLIT = 0.1  # of the faces of a part
CLOSE = Fraction(1, 1_000_000)


def plan_skins(job: SkinJob, search: Search) -> SkinResult:
    """Return which coil each face is cut from, and where: least cost of steel used up and of faces that are split.

    Raises InputError with every fault, and NoPlan where a group fits no batch, or all groups together do not.
    """
    if faults := validate(job):
        raise InputError(*faults)
    problem = skin_problem(job)
    _refuse(job, problem)
    if not job.faces:
        return SkinResult(status="optimal", draws=(), cost=0.0, splits=0, lower_bound=0.0, seconds=0.0)
    fill, bound, impossible = _search(problem, choose_scale(problem), search)
    if impossible:
        raise NoPlan(_together(job, problem))
    unit = unit_nm(job)
    if fill is None:
        return SkinResult(status="unknown", draws=(), cost=None, splits=0, lower_bound=float(bound / unit), seconds=0.0)
    cost = fill_cost(problem, fill)
    return SkinResult(
        status="optimal" if cost <= bound * (1 + CLOSE) else "feasible",
        draws=coil_draws(job, problem, fill),
        cost=float(cost / unit),
        splits=count_splits(fill),
        lower_bound=float(min(cost, bound) / unit),
        seconds=0.0,
    )


def validate(job: SkinJob) -> list[FieldFault]:
    """Return every fault of a job: names given twice, flaws that are no part of their coil."""
    faults = FaultCollector()
    _names(faults, "coils", [coil.id for coil in job.coils])
    _names(faults, "faces", [face.id for face in job.faces])
    for n, face in enumerate(job.faces):
        _names(faults, f"faces[{n}].pieces", [piece.id for piece in face.pieces])
    for n, coil in enumerate(job.coils):
        for m, (first, last) in enumerate(coil.flaws_nm):
            if not 0 <= first < last <= coil.length_nm:
                length = length_as_number(coil.length_nm, job.unit)
                faults.add(
                    f"coils[{n}].flaws[{m}]", "is no part of the coil", f"from, to: 0 <= from < to <= {length} {job.unit}"
                )
    return faults.found


def _names(faults: FaultCollector, path: str, names: Sequence[str]) -> None:
    known: dict[str, int] = {}
    for n, name in enumerate(names):
        if (first := known.setdefault(name, n)) != n:
            faults.add(f"{path}[{n}].id", f"{name!r} is also the id of {path}[{first}]", "each id once")


def _refuse(job: SkinJob, problem: SkinProblem) -> None:
    """Raise NoPlan with every group that no batch holds by itself, and what is short where it is nearest."""
    faults = []
    for group, name in enumerate(dict.fromkeys(face.group for face in job.faces)):
        if not any(_alone(problem, group, batch) for batch in range(len(problem.batches))):
            path = f"faces[{problem.groups[group][0]}].group"
            what = _short_of(job, problem, group)
            faults.append(FieldFault(path, f"{name!r} {what}", "more steel of one batch, or the group parted in two"))
    if faults:
        raise NoPlan(*faults)


def _short_of(job: SkinJob, problem: SkinProblem, group: int) -> str:
    def shown(length: int) -> str:
        return f"{length_as_number(Nm(length), job.unit)} {job.unit}"

    need = problem.need(group)
    most = max((sum(problem.coils[n].room for n in coils) for coils in problem.batches), default=0)
    longest = max(length for face in problem.groups[group] for length, _ in problem.faces[face].kinds)
    clear = max((end - begin for coil in problem.coils for begin, end in coil.runs), default=0)
    if longest > clear:
        return f"has a piece of {shown(longest)}, the longest clear run is {shown(clear)}"
    if need > most:
        return f"takes {shown(need)} of one batch, the largest has {shown(most)} clear: short by {shown(need - most)}"
    return f"takes {shown(need)}, and no batch has clear runs for all its pieces"


def _alone(problem: SkinProblem, group: int, batch: int) -> bool:
    """Whether a group could lie in a batch, were nothing else there: a necessary rule, by count and by length."""
    coils = [problem.coils[n] for n in problem.batches[batch]]
    for length in {length for face in problem.groups[group] for length, _ in problem.faces[face].kinds}:
        count = sum(n for face in problem.groups[group] for size, n in problem.faces[face].kinds if size >= length)
        if count > sum((end - begin) // length for coil in coils for begin, end in coil.runs):
            return False
    return problem.need(group) <= sum(coil.room for coil in coils)


def _together(job: SkinJob, problem: SkinProblem) -> FieldFault:
    need = Nm(sum(problem.need(group) for group in range(len(problem.groups))))
    room = Nm(sum(coil.room for coil in problem.coils))
    faces, clear = length_as_number(need, job.unit), length_as_number(room, job.unit)
    what = f"no batch for each group holds all {faces} {job.unit} of faces together; {clear} {job.unit} are clear"
    return FieldFault("coils", what, "more steel, or groups parted in two")


def _search(problem: SkinProblem, scale: Scale, search: Search) -> tuple[Fill | None, Fraction, bool]:
    """Return the best fill found, the best bound, and whether none is possible."""
    search.tell("filling coils", 0.1)
    fill, began = first_fit(problem), search.left_s()
    bound, batch_of, impossible = length_relaxation(problem, scale, search, BOUND_SHARE * began)
    if impossible:
        return None, bound, True
    if batch_of is not None:
        fill = _better(problem, fill, first_fit(problem, batch_of))
    search.tell("saving steel", 0.4)
    small = _variables(problem, range(len(problem.faces)), range(len(problem.coils))) <= EXACT_VARIABLES
    if fill is not None:
        fill = _improve(problem, scale, fill, bound, with_time_limit(search, FIRST_SHARE * began) if small else search)
        if not small or fill_cost(problem, fill) <= bound * (1 + CLOSE):
            return fill, bound, False
    answer = solve_model(
        problem, scale, _all(problem), fill, search, search.left_s()
    )  # also where room is too tight for first fit
    return _better(problem, fill, answer.fill), max(bound, answer.bound), answer.impossible


def _better(problem: SkinProblem, one: Fill | None, other: Fill | None) -> Fill | None:
    if one is None or other is None:
        return one or other
    return min(one, other, key=lambda fill: fill_cost(problem, fill))


def _variables(problem: SkinProblem, faces: Sequence[int], coils: Sequence[int]) -> int:
    runs = sum(len(problem.coils[n].runs) for n in coils)
    return runs * sum(len(problem.faces[face].kinds) for face in faces)


def _all(problem: SkinProblem) -> FreeDecisions:
    return FreeDecisions(
        coils=range(len(problem.coils)),
        pieces={n: {kind: count for kind, (_, count) in enumerate(face.kinds)} for n, face in enumerate(problem.faces)},
        batches={group: range(len(problem.batches)) for group in range(len(problem.groups))},
    )


def _improve(problem: SkinProblem, scale: Scale, fill: Fill, bound: Fraction, search: Search) -> Fill:
    """Decide parts of a fill anew, each exactly, while time is left: a large neighbourhood search (Shaw 1998).

    By turns faces stay whole, all but a few, in large parts, and any face may be split, in small ones.
    """
    rng = random.Random(search.seed)
    cost, idle = fill_cost(problem, fill), 0
    for turn, chosen in enumerate(_parts(problem, rng)):
        if cost <= bound * (1 + CLOSE) or search.over() or idle > IDLE:
            break
        whole = turn % 3 < 2
        coils = _cropped(problem, fill, chosen, whole=whole)
        free = _freed(problem, fill, coils)
        if whole:
            free.whole = _stay_whole(problem, fill, free, rng)
        answer = solve_model(problem, scale, free, fill, search, PART_S) if free.pieces else None
        idle += 1
        if answer is None or answer.fill is None:
            continue
        inside = set(coils)
        other = {spot: count for spot, count in fill.items() if spot[2] not in inside} | dict(answer.fill)
        if (less := fill_cost(problem, other)) < cost:
            fill, cost, idle = other, less, 0
    return fill


def _stay_whole(problem: SkinProblem, fill: Fill, free: FreeDecisions, rng: random.Random) -> frozenset[int]:
    """Return the faces of a part that stay on one coil each: those that do, all but a few by chance."""
    coils: dict[int, set[int]] = defaultdict(set)
    for face, _, coil, _ in fill:
        coils[face].add(coil)
    return frozenset(face for face in free.pieces if len(coils[face]) == 1 and rng.random() > MAY_SPLIT)


def _parts(problem: SkinProblem, rng: random.Random) -> Iterator[list[int]]:
    """Yield the coils to free: all, each batch by itself, then batches in pairs and coils of a batch by chance."""
    batches = [list(coils) for coils in problem.batches]
    yield [n for coils in batches for n in coils]
    yield from batches
    while True:
        count = min(len(batches), rng.choice((1, 2, 2, 3)))
        coils = [n for batch in rng.sample(batches, count) for n in batch]
        rng.shuffle(coils)
        yield coils


def _cropped(problem: SkinProblem, fill: Fill, coils: Sequence[int], *, whole: bool) -> list[int]:
    """Return the first coils of a part that make no model too large."""
    on: dict[int, set[tuple[int, int]]] = defaultdict(set)
    for face, kind, coil, _ in fill:
        on[coil].add((face, 0 if whole and len(problem.coils[coil].runs) == 1 else kind))
    most = WHOLE_VARIABLES if whole else PART_VARIABLES
    taken: list[int] = []
    kinds: set[tuple[int, int]] = set()
    runs = 0
    for n in coils:
        more, longer = kinds | on[n], runs + len(problem.coils[n].runs)
        if taken and len(more) * longer > most:
            continue
        taken.append(n)
        kinds, runs = more, longer
    return taken


def _freed(problem: SkinProblem, fill: Fill, coils: Sequence[int]) -> FreeDecisions:
    """Return what may be decided when all that lies on some coils is taken off them."""
    inside = set(coils)
    pieces: dict[int, dict[int, int]] = defaultdict(lambda: defaultdict(int))
    outside: dict[int, int] = {}  # the batch of each group that has pieces elsewhere
    served = set()
    for (face, kind, coil, _), count in fill.items():
        if coil in inside:
            pieces[face][kind] += count
        else:
            outside[problem.faces[face].group] = problem.coils[coil].batch
            served.add(face)
    free = sorted({problem.coils[n].batch for n in coils})
    groups = {problem.faces[face].group for face in pieces}
    batches: Mapping[int, Sequence[int]] = {group: (outside[group],) if group in outside else free for group in groups}
    return FreeDecisions(coils=list(coils), pieces=pieces, batches=batches, served=frozenset(served))
