"""A bar half cut, with a flaw: at once a new plan for the pieces it still owed, first from what is left of it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace

from solver.domain.cut_plan import CutBar, HalfCut, NestJob, NestResult, PlacedPiece, StockLength
from solver.domain.ids import StockId
from solver.errors import FieldFault, InputError
from solver.nesting.shapes import gap_nm
from solver.units import Nm

Sections = dict[StockId, tuple[Nm, Nm]]


def remaining_job(job: NestJob, bar: CutBar, *, done: int, flaw_nm: tuple[Nm, Nm]) -> NestJob:
    """Return the job of what a bar of a plan still owes: `done` of its pieces are cut, from `flaw_nm` on it is spoiled.

    Drops earn no credit here: what is left of the bar is used first. Raises InputError for a count that the bar does
    not have.
    """
    if not 0 <= done <= len(bar.pieces):
        raise InputError(FieldFault("done", f"{done} pieces of {len(bar.pieces)}", "as many as are cut"))
    wanted = Counter(piece.id for piece in bar.pieces[done:])
    return replace(
        job,
        pieces=tuple(replace(kind, count=wanted[kind.id]) for kind in job.pieces if wanted[kind.id]),
        keep_from_nm=None,
        half_cut=HalfCut(stock=bar.stock, done=bar.pieces[:done], flaw=flaw_nm),
    )


def half_cut_faults(job: NestJob) -> Iterable[FieldFault]:
    """Yield what is wrong with the bar on the saw."""
    half = job.half_cut
    if half is None:
        return
    stock = next((item for item in job.stock if item.id == half.stock), None)
    if stock is None:
        yield FieldFault("half_cut.stock", f"{half.stock!r} is not of the job", "a stock id of the job")
        return
    if half.flaw is not None and not 0 <= half.flaw[0] <= half.flaw[1] <= stock.length_nm:
        yield FieldFault("half_cut.flaw", f"{half.flaw[0]} to {half.flaw[1]} nm is not on the bar", "a part of the bar")
    for n, piece in enumerate(half.done):
        for name, edge in (("edge_a", piece.edge_a), ("edge_b", piece.edge_b)):
            if not 0 <= edge[0] <= edge[1] <= stock.length_nm:
                yield FieldFault(f"half_cut.done[{n}].{name}", "does not lie on the bar", "where the piece was cut")
        sloped = piece.edge_a[1] != piece.edge_b[1]
        if sloped and job.width_nm is None:
            yield FieldFault("width", f"is missing, and an end of {piece.id!r} is not square", "the bar's width")


def with_bar_sections(job: NestJob) -> tuple[NestJob, Sections]:
    """Return the job with what is left of the half-cut bar as stock at no cost, and where each section lies on it.

    A section begins a kerf, at the angle of the last cut, behind what is cut, and has no trim of its own but the bar's at
    its far end. A new bar that would be free is charged, so that the old one's rest goes first.
    """
    half = job.half_cut
    assert half is not None
    stock = next(item for item in job.stock if item.id == half.stock)
    trim = job.end_trim_nm if stock.end_trim_nm is None else stock.end_trim_nm
    low, high = _cut_to(job, half.done) if half.done else trim, stock.length_nm - trim
    spans = [(low, high)] if half.flaw is None else [(low, min(half.flaw[0], high)), (max(low, half.flaw[1]), high)]
    taken = {item.id for item in job.stock}
    sections: Sections = {}
    for start, end in spans:
        if end > start:
            sections[_free(f"{half.stock} section {len(sections) + 1}", taken)] = (Nm(start), Nm(end))
    offers = [
        StockLength(id=name, length_nm=Nm(end - start), cost=0.0, count=1, end_trim_nm=Nm(0))
        for name, (start, end) in sections.items()
    ]
    new = [replace(item, cost=1.0) if item.cost == 0 else item for item in job.stock]
    return replace(job, stock=(*offers, *new), half_cut=None), sections


def place_on_half_cut_bar(job: NestJob, result: NestResult, sections: Sections) -> NestResult:
    """Return the result with pieces of sections where they lie on the half-cut bar."""
    half = job.half_cut
    assert half is not None
    bars = []
    for bar in result.bars:
        if bar.stock not in sections:
            bars.append(bar)
            continue
        span = sections[bar.stock]
        pieces = tuple(_moved(piece, span[0]) for piece in bar.pieces)
        bars.append(replace(bar, stock=half.stock, pieces=pieces, section=span))
    return replace(result, bars=tuple(bars))


def _moved(piece: PlacedPiece, by_nm: int) -> PlacedPiece:
    (a0, a1), (b0, b1) = piece.edge_a, piece.edge_b
    return replace(piece, edge_a=(Nm(a0 + by_nm), Nm(a1 + by_nm)), edge_b=(Nm(b0 + by_nm), Nm(b1 + by_nm)))


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
