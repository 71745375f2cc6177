"""Prove the bound of trucks again by another solver: do the bundles share one truck less, by weight and by scales?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from solver.cbc import ConstraintRow, solve_with_cbc
from solver.domain.certificate import BoundReport
from solver.domain.load import LoadJob, LoadResult
from solver.loading.check_bound import bundles_by_trip, trucks_bound_of_trip
from solver.search import Search

MOST_CELLS = 20_000


def verify_by_other_solver(
    job: LoadJob, result: LoadResult, exact: Sequence[BoundReport], search: Search
) -> tuple[BoundReport, ...]:
    """Return the reports of `exact`, that of trucks judged again by CBC within the time where it is not confirmed.

    Trip by trip the least number of trucks on which no weight, ground or scale is overfull; where stands what is not asked,
    so a sharing that it finds is no load, and refutes nothing.
    """
    return tuple(
        _again(job, result.trucks_lower_bound, report, search)
        if (report.about, report.state) == ("trucks_lower_bound", "unconfirmed")
        else report
        for report in exact
    )


def _again(job: LoadJob, claimed: int, report: BoundReport, search: Search) -> BoundReport:
    trips = bundles_by_trip(job)
    needed: list[int] = []
    for bundles in trips:
        least, rows = trucks_bound_of_trip(job, bundles)
        while sum(needed) + least + len(trips) - len(needed) - 1 < claimed and not search.over():
            if len(bundles) * least > MOST_CELLS or not _none(rows, least, search):
                break
            least += 1
        needed.append(least)
    if sum(needed) >= claimed:
        return replace(report, state="again", by=f"CBC: no sharing among {claimed - 1} trucks by weight, ground and scales")
    return replace(report, state="out_of_time", by=f"by weight, ground and scales alone {sum(needed)} trucks could do")


def _none(rows: Sequence[Sequence[Fraction]], trucks: int, search: Search) -> bool:
    """Whether CBC proves that no sharing of the bundles among so many trucks keeps to every row."""
    many = len(rows[0])
    program = [ConstraintRow(parts={n * trucks + t: 1.0 for t in range(trucks)}, low=1, high=1) for n in range(many)]
    for row in rows:
        for truck in range(trucks):
            parts = {n * trucks + truck: float(share) for n, share in enumerate(row) if share}
            if parts:
                program.append(ConstraintRow(parts=parts, high=1.0 + 1e-7))
    columns = many * trucks
    said = solve_with_cbc([0.0] * columns, program, seconds=search.left_s(), most=[1.0] * columns)
    return said.none
