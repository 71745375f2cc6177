"""Bars in an order that keeps few bundles open beside the saw, with proof."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from random import Random

from solver.domain.certificate import Certificate
from solver.domain.sequence import BarBundles, SequenceJob, SequenceResult
from solver.errors import FaultCollector, FieldFault, InputError, NoPlan
from solver.search import Search
from solver.sequencing.bounds import contraction_bound, greedy_closing_order, max_open_bundles, random_closing_order
from solver.sequencing.exact import ClosingSearch, OutOfTime
from solver.sequencing.graph import BundleGraph, bundle_graph, connected_components, set_bits
from solver.sequencing.rack import order_for_fewest_slots, rack_slots_needed

STARTS = 8  # greedy orders tried before the exact search
DRAWS = 100  # orders drawn by lot after them


def sequence(job: SequenceJob, search: Search) -> SequenceResult:
    """Return all bars in an order in which the most bundles open at one time are fewest.

    Where stacks are given: an order in which the fewest pieces wait in the rack. Exact unless the search ends first; the
    bounds hold for every order allowed. Raises InputError, and NoPlan when a bound is over `open_max` or `rack_slots_needed`.
    """
    if faults := validate(job):
        raise InputError(*faults)
    graph = bundle_graph([bar.bundles for bar in job.bars])
    closing, bound, certificate = _closing_order(graph, search)
    order = _bar_order(job, graph, closing)
    if job.open_max is not None and bound > job.open_max:
        raise NoPlan(_too_few(job, bound))
    if job.stacks is not None:
        return replace(_for_the_rack(job, job.stacks, order, bound, search), certificate=certificate)
    by_id = {bar.id: bar for bar in job.bars}
    most = most_open_bundles([by_id[name] for name in order])
    unmet = job.open_max is not None and most > job.open_max
    return SequenceResult(
        status="unknown" if unmet else "optimal" if most == bound else "feasible",
        order=() if unmet else tuple(order),
        open=None if unmet else most,
        lower_bound=bound,
        seconds=0.0,
        certificate=certificate,
    )


def _for_the_rack(
    job: SequenceJob, stacks: Sequence[Sequence[str]], closing: list[str], bound: int, search: Search
) -> SequenceResult:
    by_id = {bar.id: bar for bar in job.bars}
    found = order_for_fewest_slots(job.bars, stacks, job.open_max, search)
    tried = [
        ([job.bars[n].id for n in found.order], found.slots),
        (closing, rack_slots_needed([by_id[n] for n in closing], stacks)),
    ]
    judged = [(most_open_bundles([by_id[name] for name in ids]), slots, ids) for ids, slots in tried]
    limit = max(most for most, _, _ in judged) if job.open_max is None else job.open_max
    over, slots, most, order = min((max(0, most - limit), slots, most, ids) for most, slots, ids in judged)
    floor = min(found.lower_bound, slots)
    if job.rack_slots is not None and floor > job.rack_slots:
        allowed = "" if job.open_max is None else f" with at most {job.open_max} bundles open"
        problem = f"{job.rack_slots} is impossible: in every order{allowed} {floor} pieces wait at one time"
        raise NoPlan(FieldFault("rack_slots", problem, f"at least {floor}"))
    unmet = over > 0 or (job.rack_slots is not None and slots > job.rack_slots)
    return SequenceResult(
        status="unknown" if unmet else "optimal" if slots == floor else "feasible",
        order=() if unmet else tuple(order),
        open=None if unmet else most,
        lower_bound=bound,
        seconds=0.0,
        rack=None if unmet else slots,
        rack_lower_bound=floor,
    )


def rate_order(job: SequenceJob, order: Sequence[str]) -> SequenceResult:
    """Return what an order of all bars asks for, without a search: open bundles, pieces in the rack, bounds of 0.

    For a caller whose time is over. Raises KeyError for a name that is no bar. Does not ask whether limits are kept.
    """
    by_id = {bar.id: bar for bar in job.bars}
    bars = [by_id[name] for name in order]
    most = most_open_bundles(bars)
    rack = None if job.stacks is None else rack_slots_needed(bars, job.stacks)
    reached = most if rack is None else rack
    return SequenceResult(
        status="optimal" if reached == 0 else "feasible",
        order=tuple(order),
        open=most,
        lower_bound=0,
        seconds=0.0,
        rack=rack,
        rack_lower_bound=None if rack is None else 0,
    )


def validate(job: SequenceJob) -> list[FieldFault]:
    """Return every fault of a job: bars named twice, a bundle named twice on one bar, stacks that the bars do not make."""
    faults, known = FaultCollector(), dict[str, int]()
    for n, bar in enumerate(job.bars):
        if not bar.id:
            faults.add(f"bars[{n}].id", "is empty", "a name")
        if (first := known.setdefault(bar.id, n)) != n:
            faults.add(f"bars[{n}].id", f"{bar.id!r} is also the id of bars[{first}]", "each id once")
        seen = dict[str, int]()
        for at, bundle in enumerate(bar.bundles):
            if not bundle:
                faults.add(f"bars[{n}].bundles[{at}]", "is empty", "a bundle's name")
            if seen.setdefault(bundle, at) != at:
                faults.add(f"bars[{n}].bundles[{at}]", f"{bundle!r} is named twice on this bar", "each bundle once a bar")
    if job.open_max is not None and job.open_max < 0:
        faults.add("open_max", f"{job.open_max} is below 0", "at least 0")
    _judge_stacks(job, faults)
    return faults.found


def _judge_stacks(job: SequenceJob, faults: FaultCollector) -> None:
    cut, lies = dict[str, str](), dict[str, str]()
    for n, bar in enumerate(job.bars):
        for at, piece in enumerate(bar.pieces):
            if (first := cut.setdefault(piece, f"bars[{n}].pieces[{at}]")) != f"bars[{n}].pieces[{at}]":
                faults.add(f"bars[{n}].pieces[{at}]", f"{piece!r} is {first} too", "each piece once")
    if job.stacks is None:
        if job.rack_slots is not None:
            faults.add("rack_slots", "is given without stacks", "the pieces of each stack, bottom first, in stacks")
        return
    for n, stack in enumerate(job.stacks):
        for at, piece in enumerate(stack):
            path = f"stacks[{n}][{at}]"
            if (first := lies.setdefault(piece, path)) != path:
                faults.add(path, f"{piece!r} is {first} too", "each piece once")
            if piece not in cut:
                faults.add(path, f"{piece!r} is on no bar", "pieces that the bars name")


def _too_few(job: SequenceJob, bound: int) -> FieldFault:
    widest = max(job.bars, key=lambda bar: len(bar.bundles))
    why = (
        f"bar {widest.id!r} alone has pieces of {len(widest.bundles)} bundles"
        if len(widest.bundles) == bound
        else (f"every order of the bars opens {bound} bundles at one time")
    )
    return FieldFault("open_max", f"{job.open_max} is impossible: {why}", f"at least {bound}")


def _closing_order(graph: BundleGraph, search: Search) -> tuple[list[int], int, Certificate]:
    """Return an order of closing all bundles, the bound of every order and what it rests on; parts follow one another."""
    near = graph.neighbours
    parts = connected_components(graph)
    bound, certificate = _contracted(graph, parts, search)
    least = bound
    orders: list[list[int]] = []
    proved = True
    for number, part in enumerate(parts):
        search.tell("ordering bars", number / len(parts))
        order, sure = _close_part(near, part, bound, search)
        width = max_open_bundles(near, order)
        # a part that was searched out needs its width, so every order of all bars does
        bound = max(bound, width) if sure else bound
        proved = proved and sure
        orders.append(order)
    if bound > least:
        certificate = replace(certificate, kind="search")
    return [bundle for order in orders for bundle in order], bound, certificate


def _contracted(graph: BundleGraph, parts: Sequence[int], search: Search) -> tuple[int, Certificate]:
    """Return the best bound by contraction of any part, with the steps that show it."""
    best, names = 0, graph.bundles
    certificate = Certificate(kind="nothing")
    for part in parts:
        steps: list[tuple[int, int]] = []
        bound = contraction_bound(graph.neighbours, part, search.over, steps)
        if bound > best:
            best = bound
            told, first = tuple((names[one], names[into]) for one, into in steps), names[next(set_bits(part))]
            certificate = Certificate(kind="open", steps=((first, first), *told))
    return best, certificate


def _close_part(near: Sequence[int], part: int, enough: int, search: Search) -> tuple[list[int], bool]:
    """Return an order of one part, and whether it is as narrow as can be (or no wider than `enough`)."""
    starts = sorted(set_bits(part), key=lambda bundle: (near[bundle].bit_count(), bundle))[:STARTS]
    best = min(
        (greedy_closing_order(near, part, first, search.over) for first in starts),
        key=lambda order: max_open_bundles(near, order),
    )
    if max_open_bundles(near, best) > enough:
        best = _by_lot(near, part, best, enough, search)
    exact = ClosingSearch(near, part, search.over)
    try:
        while (width := max_open_bundles(near, best)) > enough:
            found = exact.order_within(width - 1)
            if found is None:
                break
            best = found
    except OutOfTime:
        return best, False
    return best, True


def _by_lot(near: Sequence[int], part: int, best: list[int], enough: int, search: Search) -> list[int]:
    """Return a narrower order where drawing lots among equal choices finds one within so many draws."""
    dice, width = Random(search.seed), max_open_bundles(near, best)
    for _ in range(DRAWS):
        if width <= enough or search.over():
            break
        found = random_closing_order(near, part, width, dice)
        if found is not None:
            best, width = found, max_open_bundles(near, found)
    return best


def _bar_order(job: SequenceJob, graph: BundleGraph, closing: Sequence[int]) -> list[str]:
    """Return bar ids so that bundles close in the given order; a bar is cut when the first of its bundles closes."""
    rank = {graph.bundles[bundle]: place for place, bundle in enumerate(closing)}
    last = len(closing)
    keyed = [(min((rank[bundle] for bundle in bar.bundles), default=last), n) for n, bar in enumerate(job.bars)]
    return [job.bars[n].id for _, n in sorted(keyed)]


def most_open_bundles(bars: Sequence[BarBundles]) -> int:
    """Return the most bundles open at one time when bars are cut in this order; first and last bar included."""
    first, last = dict[str, int](), dict[str, int]()
    for place, bar in enumerate(bars):
        for bundle in bar.bundles:
            first.setdefault(bundle, place)
            last[bundle] = place
    change = [0] * (len(bars) + 1)
    for bundle, place in first.items():
        change[place] += 1
        change[last[bundle] + 1] -= 1
    most = now = 0
    for step in change:
        now += step
        most = max(most, now)
    return most
