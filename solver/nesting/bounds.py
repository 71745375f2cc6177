"""Quick exact bounds: what no plan can beat, before any search."""

from __future__ import annotations

from fractions import Fraction

from solver.nesting.model import Model


def area_bound(model: Model) -> Fraction:
    """Return a cost that no plan can beat, from lengths alone.

    n pieces on a bar need n - 1 cuts, so each piece and the bar's room grow by one kerf; a cut at a lean takes no less,
    and a piece no less than the mean of its edges. The best worth for its price of any stock, credit counted as if
    all that is not used were kept.
    """
    used = sum(kind.count * (kind.doubled + 2 * model.kerf_nm) for kind in model.kinds)
    rates = []
    for stock in model.stocks:
        room = 2 * (stock.room_nm + model.kerf_nm)
        keep = model.keep_value if model.keep_from_nm is not None else Fraction(0)
        # a bar with u of its room used costs at least cost (1 - keep (room - u) / (2 length)): linear in u
        empty = stock.cost * (1 - keep * Fraction(room, 2 * stock.length_nm))
        full = stock.cost
        rates.append(min(full / room, _least_rate(empty, full, room)))
    return max(Fraction(0), used * min(rates, default=Fraction(0)))


def _least_rate(empty: Fraction, full: Fraction, room: int) -> Fraction:
    """Return the least of (empty + (full - empty) u / room) / u for 0 < u <= room: at u = room unless empty is below 0."""
    return full / room if empty >= 0 else (full - empty) / room
