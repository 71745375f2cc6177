"""A flaw in a bar that is half cut: at once a new plan for the pieces it still owed."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

from solver.domain.cut_plan import CutBar, NestJob, PlacedPiece, Renested, StockLength
from solver.domain.ids import StockId
from solver.errors import FieldFault, InputError
from solver.nesting.nest import nest
from solver.nesting.shapes import gap_nm
from solver.search import Search
from solver.units import Nm


def renest(job: NestJob, bar: CutBar, *, done: int, flaw_nm: tuple[Nm, Nm], search: Search) -> Renested:
    """Return a plan for the pieces that a bar still owes, around a flaw.

    `done`: how many of the bar's pieces are cut; they keep their places. `flaw_nm`: from where to where the bar is spoiled.
    What is left before and behind the flaw costs nothing, new bars their price, so that as much as can be still comes from
    this bar. A section starts square: a kerf, at the angle of the last cut, behind what is cut. Raises InputError for
    a flaw outside the bar or a count of pieces that the bar does not have, NoPlan as `nest` does.
    """
    stock = next((item for item in job.stock if item.id == bar.stock), None)
    faults = []
    if stock is None:
        faults.append(FieldFault("bar.stock", f"{bar.stock!r} is not of the job", "the bar's own job"))
    if not 0 <= done <= len(bar.pieces):
        faults.append(FieldFault("done", f"{done} pieces of {len(bar.pieces)}", "as many as are cut"))
    if stock is not None and not 0 <= flaw_nm[0] <= flaw_nm[1] <= stock.length_nm:
        faults.append(FieldFault("flaw", f"{flaw_nm[0]} to {flaw_nm[1]} nm is not on the bar", "a part of the bar"))
    if faults or stock is None:
        raise InputError(*faults)
    trim = job.end_trim_nm if stock.end_trim_nm is None else stock.end_trim_nm
    start = _cut_to(job, bar.pieces[:done]) if done else trim
    sections = [(start, min(flaw_nm[0], stock.length_nm - trim)), (max(start, flaw_nm[1]), stock.length_nm - trim)]
    owed = Counter(piece.id for piece in bar.pieces[done:])
    taken = {item.id for item in job.stock}
    offers, starts = [], []
    for n, (low, high) in enumerate(sections):
        if high > low:
            name = _free(f"{bar.stock} section {n + 1}", taken)
            offers.append(StockLength(id=name, length_nm=Nm(high - low), cost=0.0, count=1, end_trim_nm=Nm(0)))
            starts.append((name, Nm(low)))
    rest = replace(
        job,
        stock=(*offers, *job.stock),
        pieces=tuple(replace(kind, count=owed[kind.id]) for kind in job.pieces if owed[kind.id]),
        keep_from_nm=None,
    )
    rest = replace(rest, stock=tuple(_priced(item, job) for item in rest.stock))
    return Renested(job=rest, result=nest(rest, search), starts=tuple(starts))


def _priced(item: StockLength, job: NestJob) -> StockLength:
    """New bars keep their price; one that would be free is charged, so that the old bar's rest is used first."""
    return replace(item, cost=1.0) if item.cost == 0 and item in job.stock else item


def _free(name: str, taken: set[StockId]) -> StockId:
    while name in taken:
        name += "'"
    return StockId(name)


def _cut_to(job: NestJob, done: tuple[PlacedPiece, ...]) -> int:
    """Return from where the bar is whole behind the pieces that are cut: their farthest point and a kerf at its angle."""
    last = done[-1]
    lean = abs(last.edge_a[1] - last.edge_b[1])
    farthest = max(last.edge_a[1], last.edge_b[1])
    return farthest + gap_nm(job.kerf_nm, job.width_nm, lean)
