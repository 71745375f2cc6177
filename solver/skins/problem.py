"""The skins problem in whole numbers: coils as runs between flaws, faces as counts of lengths, cost as a fraction."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from solver.domain.skin_plan import SkinCoil, SkinCut, SkinDraw, SkinJob
from solver.units import INCH, MM, Nm

Spot = tuple[int, int, int, int]  # face, kind of length in it, coil, clear run of the coil
Fill = Mapping[Spot, int]  # how many pieces lie in each


@dataclass(frozen=True, slots=True)
class CoilRuns:
    """A coil as its clear runs: begin and end of each, in order, the change at the outer end taken off."""

    batch: int
    length: int
    cost: Fraction
    runs: tuple[tuple[int, int], ...]

    @property
    def room(self) -> int:
        """The length of its clear runs."""
        return sum(end - begin for begin, end in self.runs)


@dataclass(frozen=True, slots=True)
class FaceDemand:
    """A face: its group, and its kinds of piece as length and count, the longest first."""

    group: int
    kinds: tuple[tuple[int, int], ...]

    @property
    def run(self) -> int:
        """The length of all its pieces."""
        return sum(length * count for length, count in self.kinds)


@dataclass(frozen=True, slots=True)
class SkinProblem:
    """A job in nanometres. `groups`, `batches`: the indices of the faces and of the coils of each."""

    coils: tuple[CoilRuns, ...]
    faces: tuple[FaceDemand, ...]
    groups: tuple[tuple[int, ...], ...]
    batches: tuple[tuple[int, ...], ...]
    keep_from: int | None
    keep_value: Fraction
    split: Fraction

    def need(self, group: int) -> int:
        """Return the length of all pieces of a group."""
        return sum(self.faces[face].run for face in self.groups[group])


def skin_problem(job: SkinJob) -> SkinProblem:
    """Return a valid job in whole nanometres and fractions."""
    batches = {name: n for n, name in enumerate(dict.fromkeys(coil.batch for coil in job.coils))}
    groups = {name: n for n, name in enumerate(dict.fromkeys(face.group for face in job.faces))}
    coils = tuple(
        CoilRuns(
            batch=batches[coil.batch],
            length=coil.length_nm,
            cost=_exact(coil.cost),
            runs=tuple(clear_runs(coil, job.change_nm)),
        )
        for coil in job.coils
    )
    faces = []
    for face in job.faces:
        counts: dict[int, int] = defaultdict(int)
        for piece in face.pieces:
            counts[piece.length_nm] += piece.count
        faces.append(FaceDemand(group=groups[face.group], kinds=tuple(sorted(counts.items(), reverse=True))))
    return SkinProblem(
        coils=coils,
        faces=tuple(faces),
        groups=tuple(tuple(n for n, face in enumerate(faces) if face.group == group) for group in range(len(groups))),
        batches=tuple(tuple(n for n, coil in enumerate(coils) if coil.batch == batch) for batch in range(len(batches))),
        keep_from=job.keep_from_nm,
        keep_value=_exact(job.keep_value) if job.keep_from_nm is not None else Fraction(0),
        split=_exact(job.split) * unit_nm(job),
    )


def _exact(number: float) -> Fraction:
    return Fraction(repr(number))


def unit_nm(job: SkinJob) -> int:
    """Return the job's unit in nanometres."""
    return INCH if job.unit == "in" else MM


def clear_runs(coil: SkinCoil, change: int) -> Iterable[tuple[int, int]]:
    """Yield where a coil is clear, from what the change loses to its inner end."""
    begin = int(change)
    for first, last in sorted(coil.flaws_nm):
        if first > begin:
            yield begin, min(int(first), int(coil.length_nm))
        begin = max(begin, int(last))
    if begin < coil.length_nm:
        yield begin, int(coil.length_nm)


def cut_ends(problem: SkinProblem, fill: Fill) -> dict[int, int]:
    """Return how far from its outer end each used coil is cut."""
    loads: dict[tuple[int, int], int] = defaultdict(int)
    for (face, kind, coil, run), count in fill.items():
        loads[coil, run] += problem.faces[face].kinds[kind][0] * count
    end: dict[int, int] = {}
    for (coil, run), load in loads.items():
        if load:
            end[coil] = max(end.get(coil, 0), problem.coils[coil].runs[run][0] + load)
    return end


def length_used_up(problem: SkinProblem, coil: int, end: int) -> Fraction:
    """Return what counts as used up of a coil that is cut so far: all of it, but what is left and worth keeping in part."""
    length = problem.coils[coil].length
    left = length - end
    kept = problem.keep_from is not None and left >= problem.keep_from
    return length - problem.keep_value * left if kept else Fraction(length)


def count_splits(fill: Fill) -> int:
    """Return the coils beyond the first, over all faces."""
    pairs = {(face, coil) for (face, _, coil, _), count in fill.items() if count}
    return len(pairs) - len({face for face, _ in pairs})


def fill_cost(problem: SkinProblem, fill: Fill) -> Fraction:
    """Return the cost of a fill, in nanometres of steel at cost 1."""
    steel = sum(
        (problem.coils[coil].cost * length_used_up(problem, coil, end) for coil, end in cut_ends(problem, fill).items()),
        Fraction(0),
    )
    return steel + problem.split * count_splits(fill)


def coil_draws(job: SkinJob, problem: SkinProblem, fill: Fill) -> tuple[SkinDraw, ...]:
    """Return the draws of a fill: in each clear run face by face, so that a face's pieces come off together."""
    left: dict[tuple[int, int], list[str]] = {}
    for n, wanted in enumerate(job.faces):
        for kind, (length, _) in enumerate(problem.faces[n].kinds):
            left[n, kind] = [piece.id for piece in wanted.pieces if piece.length_nm == length for _ in range(piece.count)]
    cuts: dict[int, list[SkinCut]] = defaultdict(list)
    at: dict[tuple[int, int], int] = {}
    for (face, kind, coil, run), count in sorted(fill.items(), key=lambda held: (*held[0][2:], *held[0][:2])):
        for _ in range(count):
            begin = at.get((coil, run), problem.coils[coil].runs[run][0])
            cuts[coil].append(SkinCut(face=job.faces[face].id, id=left[face, kind].pop(0), at_nm=Nm(begin)))
            at[coil, run] = begin + problem.faces[face].kinds[kind][0]
    return tuple(SkinDraw(coil=job.coils[coil].id, pieces=tuple(pieces)) for coil, pieces in sorted(cuts.items()))
