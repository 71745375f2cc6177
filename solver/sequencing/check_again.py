"""Prove the bound of open bundles again by another solver: is there an order with one less?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from solver.cbc import ConstraintRow, solve_with_cbc
from solver.domain.certificate import BoundReport
from solver.domain.sequence import SequenceJob, SequenceResult
from solver.search import Search

MOST_CELLS = 20_000  # bars, and bundles, by places in the order


def verify_by_other_solver(
    job: SequenceJob, result: SequenceResult, exact: Sequence[BoundReport], search: Search
) -> tuple[BoundReport, ...]:
    """Return the reports of `exact`, that of open bundles judged again by CBC within the time where it is not confirmed."""
    return tuple(
        _again(job, result.lower_bound, report, search)
        if (report.about, report.state) == ("lower_bound", "unconfirmed")
        else report
        for report in exact
    )


def _again(job: SequenceJob, claimed: int, report: BoundReport, search: Search) -> BoundReport:
    """Ask for an order: which bar at which place; a bundle is open once one of its bars is cut and until all are."""
    bars = [bar for bar in job.bars if bar.bundles]
    bundles = sorted({bundle for bar in bars for bundle in bar.bundles})
    size, many = len(bars), len(bundles)
    if (size + 2 * many) * size > MOST_CELLS:
        return replace(report, state="out_of_time", by="too many bars and bundles for the other solver")

    def at(bar: int, place: int) -> int:
        return bar * size + place

    def opened(bundle: int, place: int) -> int:
        return size * size + bundle * size + place

    def left(bundle: int, place: int) -> int:
        return size * size + many * size + bundle * size + place

    rows = [ConstraintRow(parts={at(bar, place): 1 for place in range(size)}, low=1, high=1) for bar in range(size)]
    rows += [ConstraintRow(parts={at(bar, place): 1 for bar in range(size)}, low=1, high=1) for place in range(size)]
    for number, bundle in enumerate(bundles):
        mine = [n for n, bar in enumerate(bars) if bundle in bar.bundles]
        for place in range(size):
            for bar in mine:
                so_far = {at(bar, before): -1.0 for before in range(place + 1)}
                rows.append(ConstraintRow(parts={opened(number, place): 1.0, **so_far}, low=0))
                if place:
                    done = {at(bar, before): -1.0 for before in range(place)}
                    rows.append(ConstraintRow(parts={left(number, place): 1.0, **done}, high=0))
            if not place:
                rows.append(ConstraintRow(parts={left(number, place): 1.0}, high=0))
    for place in range(size):
        now = {opened(number, place): 1.0 for number in range(many)}
        rows.append(ConstraintRow(parts={**now, **{left(number, place): -1.0 for number in range(many)}}, high=claimed - 1))
    columns = size * size + 2 * many * size
    whole = [n < size * size for n in range(columns)]
    said = solve_with_cbc([0.0] * columns, rows, seconds=search.left_s(), whole=whole, most=[1.0] * columns)
    if said.none:
        return replace(report, state="again", by=f"CBC: no order of the {size} bars has fewer open")
    if said.values is None:
        return replace(report, state="out_of_time", by=f"CBC did not end over the orders of {size} bars")
    order = [max(range(size), key=lambda bar: said.values[at(bar, place)]) for place in range(size)]  # type: ignore[index]
    most = _most_open([bars[n].bundles for n in order]) if len(set(order)) == size else claimed
    if most >= claimed:
        return replace(report, state="unconfirmed", by="CBC found an order that does not keep what it says")
    return replace(report, state="refuted", by=f"CBC found an order with {most} open")


def _most_open(bars: Sequence[Sequence[str]]) -> int:
    first: dict[str, int] = {}
    last: dict[str, int] = {}
    for place, bundles in enumerate(bars):
        for bundle in bundles:
            first.setdefault(bundle, place)
            last[bundle] = place
    return max((sum(first[one] <= place <= last[one] for one in first) for place in range(len(bars))), default=0)
