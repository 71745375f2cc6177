"""Judge the bound of bundles: runs of the order of standing, each closed only when the next piece can't be in it.

A bundle holds a run of its delivery's pieces of one kind and lot, in the order of standing. What is asked of a run here
is less than a bundle must keep, and holds for each part of a run that keeps it: so no fewer runs will do (case S10).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from solver.domain.bundle import BundleLimits, StackJob, StackPiece, StackResult
from solver.domain.certificate import BoundReport, State

Keeps = Callable[[Sequence[StackPiece], BundleLimits], bool]


def verify_bounds(job: StackJob, result: StackResult) -> tuple[BoundReport, ...]:
    """Return how far the bound of bundles is carried by counting."""
    claimed, proved = result.lower_bound, least_bundles(job)
    kind = None if result.certificate is None else result.certificate.kind
    state: State = "confirmed" if claimed <= proved else "unconfirmed"
    said = "runs of the order of standing by weight, height and what carries what"
    if state == "unconfirmed" and kind is not None:
        state = "unconfirmed" if kind == "search" else "refuted"
        said += "; beyond that runs by timbers, balance and how trims lie" if kind == "search" else ""
    if state == "confirmed":
        kind = "runs"
    return (BoundReport(about="lower_bound", state=state, claimed=float(claimed), proved=float(proved), kind=kind, by=said),)


def least_bundles(job: StackJob) -> int:
    """Return a number of bundles that no plan can do without."""
    lines: dict[tuple[object, ...], list[StackPiece]] = {}
    for piece in sorted(job.pieces, key=lambda piece: piece.stands):
        lines.setdefault((piece.order, piece.delivery, piece.kind, piece.lot), []).append(piece)
    most = 0
    for pieces in lines.values():
        keeps: Keeps = {"panel": _panels, "trim": _trims, "small": _smalls}[pieces[0].kind]
        most += _runs(pieces, job.limits, keeps)
    boxes: dict[tuple[object, ...], int] = {}
    for item in job.loose:
        boxes[item.order, item.delivery] = boxes.get((item.order, item.delivery), 0) + item.weight_g
    room = max(1, job.limits.weight_g - job.limits.box_tare_g)
    return most + sum(max(1, -(-weight // room)) for weight in boxes.values())


def _runs(pieces: Sequence[StackPiece], limits: BundleLimits, keeps: Keeps) -> int:
    made, first = 0, 0
    for end in range(1, len(pieces) + 1):
        if end - first == 1 or not keeps(pieces[first:end], limits):
            made, first = made + 1, end - 1
    return made


def _panels(run: Sequence[StackPiece], limits: BundleLimits) -> bool:
    weight, high = sum(piece.weight_g for piece in run), sum(piece.thickness_nm for piece in run)
    if weight > limits.weight_g or high + limits.dunnage_nm > limits.height_nm:
        return False
    if limits.forklift_g is not None:
        moment = limits.forklift_g * limits.forklift_centre_nm
        if weight > limits.forklift_g or weight * max(piece.width_nm for piece in run) > 2 * moment:
            return False
    return limits.set_aside > 0 or _lies(run[-2], run[-1], limits)  # the others were asked before


def _lies(upper: StackPiece, lower: StackPiece, limits: BundleLimits) -> bool:
    """Whether a piece may lie on the one that stands next: both ends and both sides share what hangs over."""
    side = limits.overhang_nm if limits.overhang_across_nm is None else limits.overhang_across_nm
    along, across = upper.length_nm - lower.length_nm, upper.width_nm - lower.width_nm
    return lower.carries and along <= 2 * limits.overhang_nm and across <= 2 * side


def _trims(run: Sequence[StackPiece], limits: BundleLimits) -> bool:
    longest = max(limits.length_nm, limits.spreader_length_nm or 0)
    filled = sum(piece.length_nm * piece.width_nm * piece.thickness_nm for piece in run)
    room = longest * limits.trim_width_nm * max(0, limits.height_nm - limits.dunnage_nm)
    return sum(piece.weight_g for piece in run) <= limits.weight_g and filled <= room


def _smalls(run: Sequence[StackPiece], limits: BundleLimits) -> bool:
    filled = sum(piece.length_nm * piece.width_nm * piece.thickness_nm for piece in run)
    room = limits.box_length_nm * limits.box_width_nm * limits.box_height_nm * limits.box_fill_permille
    return filled * 1000 <= room and sum(piece.weight_g for piece in run) + limits.box_tare_g <= limits.weight_g
