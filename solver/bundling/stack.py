"""Pieces in order of standing to bundles: the fewest, then the steadiest, the first piece to stand on top."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise

from solver.bundling.columns import cut_trim_runs, fill_columns
from solver.bundling.layout import lay_out_panel_bundle, lay_out_trim_bundle, pack_small_parts_box, pack_start_box
from solver.bundling.rules import may_lie_on, pieces_set_aside, single_panel_faults
from solver.bundling.sscc import assign_ssccs, bundle_contents_name
from solver.bundling.stack_runs import DISORDER_PIECES, StackRun, greedy_partition, partition_into_stacks
from solver.domain.bundle import Bundle, BundleLimits, LooseItem, StackJob, StackPiece, StackResult
from solver.domain.certificate import Certificate
from solver.domain.ids import BundleId, OrderId, in_order
from solver.errors import FaultCollector, FieldFault, NoPlan
from solver.search import Search

OFFER_PIECES = 400  # beyond this many pieces the alternative is not worked out, only the pairs are named
OFFERED_PAIRS = 20


def validate(job: StackJob) -> list[FieldFault]:
    """Return every fault of a job: ids given twice, two pieces that stand at the same time, limits that clash."""
    faults = FaultCollector()
    limits = job.limits
    if limits.dunnage_nm >= limits.height_nm:
        faults.add("limits.dunnage", "leaves no height for a piece", "dunnage lower than the bundle's height")
    if limits.spreader_length_nm is not None and limits.spreader_length_nm < limits.length_nm:
        faults.add("limits.spreader_length", "is shorter than what forks handle", "at least the bundle's length")
    if limits.box_tare_g >= limits.weight_g:
        faults.add("limits.box_tare_g", "is as heavy as a bundle may be", "less than limits.weight_g")
    for place, item in enumerate(job.loose):
        if item.weight_g + limits.box_tare_g > limits.weight_g:
            faults.add(f"loose[{place}].weight_g", "is heavier than a box may be", "a lighter line, or several")
    ids: dict[str, int] = {}
    stands: dict[tuple[OrderId | None, int], int] = {}
    for place, piece in enumerate(job.pieces):
        if (first := ids.setdefault(piece.id, place)) != place:
            faults.add(f"pieces[{place}].id", f"{piece.id!r} is the id of pieces[{first}] too", "an id of its own")
        if (first := stands.setdefault((piece.order, piece.stands), place)) != place:
            faults.add(f"pieces[{place}].stands", f"{piece.stands} is where pieces[{first}] stands too", "a number of its own")
    return faults.found


def stack(job: StackJob, search: Search) -> StackResult:
    """Return the bundles of a job in order of need, with the proof that no fewer will do.

    Panels are cut into contiguous runs of the order of standing (case S10), trims and small parts into runs of their
    own, base channel by itself. Orders never share a bundle, nor do deliveries. Raises InputError for a faulty job, NoPlan
    naming each piece that no bundle can hold.
    """
    faults = FaultCollector()
    faults.extend(validate(job))
    faults.raise_if_any()
    shares: dict[tuple[OrderId | None, str | None], list[StackPiece]] = {}
    for piece in sorted(job.pieces, key=lambda piece: piece.stands):
        shares.setdefault((piece.order, piece.delivery), []).append(piece)
    made: list[Bundle] = []
    notes: list[str] = []
    bound = 0
    for pieces in shares.values():
        stacks, low, told = _stack_share(pieces, job.limits, search)
        bound += low
        notes += told
        made += stacks
    for items in _shares_of(job.loose).values():
        boxes = _boxes_of(items, job.limits)
        room = job.limits.weight_g - job.limits.box_tare_g
        bound += max(1, -(-sum(item.weight_g for item in items) // room))
        made += boxes
    bundles = _named(made)
    if job.company_prefix is not None:
        codes = assign_ssccs(job.company_prefix, [bundle_contents_name(bundle) for bundle in bundles])
        bundles = [replace(bundle, serial=code) for bundle, code in zip(bundles, codes, strict=True)]
    search.tell("stacked", 1.0)
    return StackResult(
        status="optimal" if len(bundles) == bound else "feasible",
        bundles=tuple(bundles),
        lower_bound=bound,
        seconds=0.0,
        notes=(*job.notes, *notes),
        certificate=Certificate(kind="search" if job.pieces else "weight"),
    )


def _shares_of(loose: Sequence[LooseItem]) -> dict[tuple[OrderId | None, str | None], list[LooseItem]]:
    shares: dict[tuple[OrderId | None, str | None], list[LooseItem]] = {}
    for item in loose:
        shares.setdefault((item.order, item.delivery), []).append(item)
    return shares


def _boxes_of(items: Sequence[LooseItem], limits: BundleLimits) -> list[Bundle]:
    """Return start boxes, each filled with the next item until the one after is too heavy; volume is not judged."""
    made: list[list[LooseItem]] = []
    weight: int = limits.weight_g
    for item in items:
        weight += item.weight_g
        if weight > limits.weight_g:
            made.append([])
            weight = limits.box_tare_g + item.weight_g
        made[-1].append(item)
    return [pack_start_box(box, limits) for box in made]


def _named(bundles: Sequence[Bundle]) -> list[Bundle]:
    """Return the bundles numbered within their order, start boxes first, then in order of need; orders as they first appear."""
    made = []
    for order in dict.fromkeys(bundle.order for bundle in bundles):
        own = [bundle for bundle in bundles if bundle.order == order]
        stacks = sorted((bundle for bundle in own if not bundle.items), key=lambda bundle: bundle.first_stands)
        starts = [bundle for bundle in own if bundle.items]
        made += [replace(bundle, id=BundleId(in_order(order, f"S{place:02d}"))) for place, bundle in enumerate(starts, 1)]
        made += [replace(bundle, id=BundleId(in_order(order, f"B{place:02d}"))) for place, bundle in enumerate(stacks, 1)]
    return made


def _stack_share(pieces: Sequence[StackPiece], limits: BundleLimits, search: Search) -> tuple[list[Bundle], int, list[str]]:
    """Return the bundles of one order's delivery, the fewest that any plan needs, and what the planner should know."""
    panels = [piece for piece in pieces if piece.kind == "panel"]
    trims = [piece for piece in pieces if piece.kind == "trim"]
    smalls = [piece for piece in pieces if piece.kind == "small"]
    _refuse_impossible(panels, trims, smalls, limits)
    runs = partition_into_stacks(panels, limits, search)
    if runs is None:
        raise NoPlan(FieldFault("pieces", "can't be cut into bundles", "wider limits"))
    made = [_panel_run(panels, run, limits) for run in runs]
    trim_bound = 0
    for lot in dict.fromkeys(piece.lot for piece in trims):
        found, least = cut_trim_runs([piece for piece in trims if piece.lot == lot], limits)
        made += [lay_out_trim_bundle(run, limits) for run in found]
        trim_bound += least
    box_runs = _close_when_full(smalls, lambda run: _smalls_fit(run, limits))
    made += [pack_small_parts_box(run, limits) for run in box_runs]
    exact = not limits.set_aside or (_all_searched(panels, limits) and not search.over())
    low = len(runs) if exact else greedy_partition(panels, limits, ordered=False)
    return made, low + trim_bound + len(box_runs), _advice(panels, runs, limits, search)


def _all_searched(panels: Sequence[StackPiece], limits: BundleLimits) -> bool:
    """Return whether no stack could hold more pieces than the search over orders looks at."""
    thin = sorted(piece.thickness_nm for piece in panels)[: DISORDER_PIECES + 1]
    return len(thin) <= DISORDER_PIECES or sum(thin) + limits.dunnage_nm > limits.height_nm


def _panel_run(panels: Sequence[StackPiece], run: StackRun, limits: BundleLimits) -> Bundle:
    top_down = [panels[place] for place in run.top_down]
    aside = tuple(top_down[place].id for place in pieces_set_aside([piece.stands for piece in top_down]))
    return replace(lay_out_panel_bundle(top_down[::-1], limits), set_aside=aside)


def _close_when_full(pieces: Sequence[StackPiece], fits: Callable[[Sequence[StackPiece]], bool]) -> list[list[StackPiece]]:
    """Return runs closed only when the next piece does not fit: the fewest, `fits` being hereditary (case S10)."""
    made: list[list[StackPiece]] = []
    for piece in pieces:
        if made and fits([*made[-1], piece]):
            made[-1].append(piece)
        else:
            made.append([piece])
    return made


def _smalls_fit(run: Sequence[StackPiece], limits: BundleLimits) -> bool:
    """Return whether loose parts fit one box: each by its sides, all by their volume and weight."""
    box = sorted((limits.box_length_nm, limits.box_width_nm, limits.box_height_nm))
    for piece in run:
        sides = sorted((piece.length_nm, piece.width_nm, piece.thickness_nm))
        if any(side > room for side, room in zip(sides, box, strict=True)):
            return False
    filled = sum(piece.length_nm * piece.width_nm * piece.thickness_nm for piece in run)
    room = limits.box_length_nm * limits.box_width_nm * limits.box_height_nm * limits.box_fill_permille
    return filled * 1000 <= room and sum(piece.weight_g for piece in run) + limits.box_tare_g <= limits.weight_g


def _refuse_impossible(
    panels: Sequence[StackPiece], trims: Sequence[StackPiece], smalls: Sequence[StackPiece], limits: BundleLimits
) -> None:
    faults = [FieldFault(piece.id, *said) for piece in panels for said in single_panel_faults(piece, limits)]
    faults += [
        FieldFault(piece.id, "fits no trim bundle, even alone", "a shorter, narrower or lighter part, or wider limits")
        for piece in trims
        if fill_columns([piece], limits) is None
    ]
    faults += [
        FieldFault(piece.id, "fits no box, even alone", "a smaller part, a larger box, or kind trim")
        for piece in smalls
        if not _smalls_fit([piece], limits)
    ]
    if faults:
        raise NoPlan(*faults)


def _advice(panels: Sequence[StackPiece], runs: Sequence[StackRun], limits: BundleLimits, search: Search) -> list[str]:
    """Return which pairs make order and stability conflict, and what setting pieces aside would save."""
    blamed = [
        f"{upper.id} stands before {lower.id} but can't lie on it: {_why(upper, lower, limits)}"
        for upper, lower in pairwise(panels)
        if not may_lie_on(upper, lower, limits)
    ]
    if not blamed:
        return []
    told = ([] if search.over() else _stricter(panels, runs, limits, search)) + blamed[:OFFERED_PAIRS]
    if len(blamed) > OFFERED_PAIRS:
        told.append(f"and {len(blamed) - OFFERED_PAIRS} more such pairs")
    if not limits.set_aside and len(panels) <= OFFER_PIECES and not search.over():
        told += _offer(panels, runs, limits, search)
    return told


def _why(upper: StackPiece, lower: StackPiece, limits: BundleLimits) -> str:
    if not lower.carries:
        return f"{lower.id} may not carry"
    along = upper.length_nm - lower.length_nm > 2 * limits.overhang_nm
    return "it is too long for it" if along else "it is too wide for it"


def _stricter(panels: Sequence[StackPiece], runs: Sequence[StackRun], limits: BundleLimits, search: Search) -> list[str]:
    """Return what fewer pieces set aside would cost in bundles: the way with the fewest more of them."""
    aside = sum(run.set_aside for run in runs)
    if not aside or len(panels) > OFFER_PIECES:
        return []
    made = []
    for most in range(max(run.set_aside for run in runs) - 1, -1, -1):
        strict = partition_into_stacks(panels, replace(limits, set_aside=most), search)
        if search.over():
            break
        if strict is not None and (left := sum(run.set_aside for run in strict)) < aside:
            more = len(strict) - len(runs)
            made.append(f"{aside} pieces are set aside; {more} more bundles would leave {left} (at most {most} a bundle)")
            break
    return made


def _offer(panels: Sequence[StackPiece], runs: Sequence[StackRun], limits: BundleLimits, search: Search) -> list[str]:
    for most in (1, 2, 3, 13):
        freer = partition_into_stacks(panels, replace(limits, set_aside=most), search)
        if search.over():
            break
        if freer is None or len(freer) >= len(runs):
            continue
        aside = sum(run.set_aside for run in freer)
        return [f"setting aside {aside} pieces (at most {most} a bundle) would make {len(runs) - len(freer)} fewer bundles"]
    return []
