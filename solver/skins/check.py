"""Is a skins plan what it says? Judged cut by cut from the job alone, without the search's view of it."""

from __future__ import annotations

from collections import Counter, defaultdict
from fractions import Fraction

from solver.domain.report import Report
from solver.domain.skin_plan import SkinCoil, SkinJob, SkinResult
from solver.errors import FaultCollector
from solver.units import INCH, MM

CHECKED = (
    "every piece of every face is cut as often as wanted, and nothing else is",
    "cuts follow one another along each coil, behind the change, within the coil, none over a flaw",
    "all faces of a group come from coils of one batch",
    "cost and splits are as the job's prices say",
    "no bound is above its value, none of an optimal plan below what the pieces' own length costs",
)
MILLION = 1_000_000


def check(job: SkinJob, result: SkinResult) -> Report:
    """Return what was checked of a skins plan and every fault found."""
    faults = FaultCollector()
    if result.status == "unknown":
        if result.draws or result.cost is not None:
            faults.add("status", "is unknown, but a plan is given", "feasible or optimal")
        return Report(checked=CHECKED[4:], faults=tuple(faults.found))
    coils = {coil.id: coil for coil in job.coils}
    ends = _cuts(job, result, coils, faults)
    _counts(job, result, faults)
    _batches(job, result, coils, faults)
    _cost(job, result, coils, ends, faults)
    return Report(checked=CHECKED, faults=tuple(faults.found))


def _cuts(job: SkinJob, result: SkinResult, coils: dict[str, SkinCoil], faults: FaultCollector) -> dict[str, int]:
    """How far each coil is cut; faults of cuts that overlap or lie where none may."""
    lengths = {(face.id, piece.id): piece.length_nm for face in job.faces for piece in face.pieces}
    ends: dict[str, int] = {}
    for n, draw in enumerate(result.draws):
        coil = coils.get(draw.coil)
        if coil is None or draw.coil in ends or not draw.pieces:
            what = "is no coil of the job" if coil is None else "is drawn from twice" if draw.coil in ends else "has no piece"
            faults.add(f"draws[{n}].coil", f"{draw.coil!r} {what}", "each used coil of the job once")
        at = int(job.change_nm)
        for m, cut in enumerate(draw.pieces):
            path = f"draws[{n}].pieces[{m}]"
            length = lengths.get((cut.face, cut.id))
            if length is None:
                faults.add(path, f"{cut.face!r} has no piece {cut.id!r}", "pieces of the job")
                continue
            end = cut.at_nm + length
            if cut.at_nm < at:
                faults.add(
                    f"{path}.at", f"{cut.at_nm / MM:g} mm is before {at / MM:g} mm", "behind the change and the piece before"
                )
            if coil is not None and end > coil.length_nm:
                faults.add(path, f"ends {(end - coil.length_nm) / MM:g} mm behind the coil", "within the coil")
            for first, last in coil.flaws_nm if coil is not None else ():
                if cut.at_nm < last and first < end:
                    faults.add(path, f"lies over the flaw from {first / MM:g} to {last / MM:g} mm", "clear of flaws")
            at = max(at, end)
        ends[draw.coil] = at
    return ends


def _counts(job: SkinJob, result: SkinResult, faults: FaultCollector) -> None:
    cut = Counter((piece.face, piece.id) for draw in result.draws for piece in draw.pieces)
    for n, face in enumerate(job.faces):
        for m, piece in enumerate(face.pieces):
            if cut[face.id, piece.id] != piece.count:
                faults.add(f"faces[{n}].pieces[{m}]", f"{cut[face.id, piece.id]} are cut of {piece.id!r}", f"{piece.count}")


def _batches(job: SkinJob, result: SkinResult, coils: dict[str, SkinCoil], faults: FaultCollector) -> None:
    group_of = {face.id: face.group for face in job.faces}
    batches: dict[str, set[str]] = defaultdict(set)
    for draw in result.draws:
        for cut in draw.pieces:
            if draw.coil in coils and cut.face in group_of:
                batches[group_of[cut.face]].add(coils[draw.coil].batch)
    for group, found in batches.items():
        if len(found) > 1:
            faults.add("draws", f"{group!r} is cut from batches {', '.join(sorted(found))}", "one batch a group")


def _cost(job: SkinJob, result: SkinResult, coils: dict[str, SkinCoil], ends: dict[str, int], faults: FaultCollector) -> None:
    unit = INCH if job.unit == "in" else MM
    served = {(cut.face, draw.coil) for draw in result.draws for cut in draw.pieces}
    splits = len(served) - len({face for face, _ in served})
    if result.splits != splits:
        faults.add("splits", f"{result.splits} is stated", f"{splits}")
    cost = Fraction(repr(job.split)) * splits
    for name, end in ends.items():
        coil = coils.get(name)
        if coil is None:
            continue
        used, left = Fraction(int(coil.length_nm)), int(coil.length_nm) - end
        if job.keep_from_nm is not None and left >= job.keep_from_nm:
            used -= Fraction(repr(job.keep_value)) * left
        cost += Fraction(repr(coil.cost)) * used / unit
    if result.cost is None or abs(Fraction(result.cost) - cost) > max(cost, Fraction(1)) / 10**9:
        faults.add("cost", f"{result.cost} is stated", f"{float(cost):.6f}")
    if result.lower_bound > float(cost) * (1 + 1e-12):
        faults.add("lower_bound", f"{result.lower_bound} is above the cost {float(cost):.6f}", "at most the cost")
    if result.status != "optimal":
        return
    if cost * MILLION > Fraction(result.lower_bound) * (MILLION + 1):
        faults.add("status", f"optimal is stated with cost {float(cost):.6f}, bound {result.lower_bound}", "feasible")
    cheapest = min((Fraction(repr(coil.cost)) for coil in job.coils), default=Fraction(0))
    run = sum(piece.length_nm * piece.count for face in job.faces for piece in face.pieces)
    if Fraction(result.lower_bound) * (MILLION + 1) < cheapest * Fraction(run) / unit * MILLION:
        faults.add("lower_bound", "is below what the pieces' own length costs", "a bound that was proved")
