"""Limited stock that can not hold the pieces: proofs by length and by number, before any search."""

from __future__ import annotations

from collections.abc import Iterable

from solver.errors import FieldFault, NoPlan
from solver.nesting.model import NestingModel, room_alone_nm


def require_stock(model: NestingModel) -> None:
    """Raise NoPlan, naming the pieces, where limited stock is too short or too few for the pieces that need it.

    For each length: the pieces at least so long fit only stock at least so long. If that is limited, they must fit it by
    their summed lengths (each with one kerf), and by how many of so long a piece a bar can hold.
    """
    alone = [room_alone_nm(model, kind) for kind in model.kinds]
    for least in sorted(set(alone), reverse=True):
        stocks = [stock for stock in model.stocks if stock.room_nm >= least]
        if any(stock.count is None for stock in stocks):
            return  # shorter pieces fit that stock too
        kinds = [n for n, need in enumerate(alone) if need >= least]
        wanted = sum(model.kinds[n].count * (model.kinds[n].doubled + 2 * model.kerf_nm) for n in kinds)
        room = sum((stock.count or 0) * 2 * (stock.room_nm + model.kerf_nm) for stock in stocks)
        if wanted > room:
            raise stock_shortage(model, kinds, f"they need {wanted / 2e6:.1f} mm with cuts, and it has {room / 2e6:.1f}")
        shortest = min(model.kinds[n].doubled + 2 * model.kerf_nm for n in kinds)
        pieces = sum(model.kinds[n].count for n in kinds)
        places = sum((stock.count or 0) * (2 * (stock.room_nm + model.kerf_nm) // shortest) for stock in stocks)
        if pieces > places:
            raise stock_shortage(model, kinds, f"they are {pieces}, and it has places for {places}")


def stock_shortage(model: NestingModel, kinds: Iterable[int], why: str) -> NoPlan:
    """Return the refusal: the pieces that limited stock can not hold, and why."""
    names = [model.job.pieces[owner].id for kind in kinds for owner, _ in model.kinds[kind].owners]
    shown = ", ".join(repr(name) for name in names[:20]) + (f" and {len(names) - 20} more" if len(names) > 20 else "")
    return NoPlan(FieldFault("stock", f"too little limited stock for {shown}: {why}", "more bars, or longer ones"))
