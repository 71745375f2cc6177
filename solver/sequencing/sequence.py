"""Bars in an order that keeps few bundles open beside the saw, with proof."""

from __future__ import annotations

from collections.abc import Sequence

from solver.domain.sequence import SequenceJob, SequenceResult
from solver.errors import Faults, FieldFault, InputError, NoPlan
from solver.search import Search
from solver.sequencing.bounds import contraction_bound, greedy_order, width_of
from solver.sequencing.exact import ClosingSearch, OutOfTime
from solver.sequencing.graph import BundleGraph, bits, graph_of, parts_of

STARTS = 8  # greedy orders tried before the exact search


def sequence(job: SequenceJob, search: Search) -> SequenceResult:
    """Return all bars in an order in which the most bundles open at one time are fewest.

    Exact unless the search ends first; the bound holds for every order. Raises InputError, and NoPlan when even the
    bound is over `open_max`.
    """
    if faults := validate(job):
        raise InputError(*faults)
    graph = graph_of([bar.bundles for bar in job.bars])
    closing, bound = _closing_order(graph, search)
    order = _bar_order(job, graph, closing)
    most = _most_open(job, order)
    if job.open_max is not None and bound > job.open_max:
        raise NoPlan(_too_few(job, bound))
    unmet = job.open_max is not None and most > job.open_max
    return SequenceResult(
        status="unknown" if unmet else "optimal" if most == bound else "feasible",
        order=() if unmet else tuple(order),
        open=None if unmet else most,
        lower_bound=bound,
        seconds=0.0,
    )


def validate(job: SequenceJob) -> list[FieldFault]:
    """Return every fault of a job: bars named twice, a bundle named twice on one bar."""
    faults, known = Faults(), dict[str, int]()
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
    return faults.found


def _too_few(job: SequenceJob, bound: int) -> FieldFault:
    widest = max(job.bars, key=lambda bar: len(bar.bundles))
    why = (
        f"bar {widest.id!r} alone has pieces of {len(widest.bundles)} bundles"
        if len(widest.bundles) == bound
        else (f"every order of the bars opens {bound} bundles at one time")
    )
    return FieldFault("open_max", f"{job.open_max} is impossible: {why}", f"at least {bound}")


def _closing_order(graph: BundleGraph, search: Search) -> tuple[list[int], int]:
    """Return an order of closing all bundles and the bound of every order; parts follow one another."""
    near = graph.near
    parts = parts_of(graph)
    bound = max((contraction_bound(near, part, search.over) for part in parts), default=0)
    orders: list[list[int]] = []
    proved = True
    for number, part in enumerate(parts):
        search.tell("ordering bars", number / len(parts))
        order, sure = _close_part(near, part, bound, search)
        width = width_of(near, order)
        # a part that was searched out needs its width, so every order of all bars does
        bound = max(bound, width) if sure else bound
        proved = proved and sure
        orders.append(order)
    return [bundle for order in orders for bundle in order], bound


def _close_part(near: Sequence[int], part: int, enough: int, search: Search) -> tuple[list[int], bool]:
    """Return an order of one part, and whether it is as narrow as can be (or no wider than `enough`)."""
    starts = sorted(bits(part), key=lambda bundle: (near[bundle].bit_count(), bundle))[:STARTS]
    best = min((greedy_order(near, part, first, search.over) for first in starts), key=lambda order: width_of(near, order))
    exact = ClosingSearch(near, part, search.over)
    try:
        while (width := width_of(near, best)) > enough:
            found = exact.within(width - 1)
            if found is None:
                break
            best = found
    except OutOfTime:
        return best, False
    return best, True


def _bar_order(job: SequenceJob, graph: BundleGraph, closing: Sequence[int]) -> list[str]:
    """Return bar ids so that bundles close in the given order; a bar is cut when the first of its bundles closes."""
    rank = {graph.bundles[bundle]: place for place, bundle in enumerate(closing)}
    last = len(closing)
    keyed = [(min((rank[bundle] for bundle in bar.bundles), default=last), n) for n, bar in enumerate(job.bars)]
    return [job.bars[n].id for _, n in sorted(keyed)]


def _most_open(job: SequenceJob, order: Sequence[str]) -> int:
    bundles = {bar.id: bar.bundles for bar in job.bars}
    first, last = dict[str, int](), dict[str, int]()
    for place, bar in enumerate(order):
        for bundle in bundles[bar]:
            first.setdefault(bundle, place)
            last[bundle] = place
    change = [0] * (len(order) + 1)
    for bundle, place in first.items():
        change[place] += 1
        change[last[bundle] + 1] -= 1
    most = now = 0
    for step in change:
        now += step
        most = max(most, now)
    return most
