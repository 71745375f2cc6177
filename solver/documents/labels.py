"""Rows of piece labels: two a piece, in cut order, so that a roll comes off as the saw needs it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta

from solver.documents.codes import label_code, making_name, short_code
from solver.documents.index import PlanIndex
from solver.documents.texts import say
from solver.domain.building import delivery_of_part
from solver.domain.document import LABEL_PLACES, PieceLabel
from solver.domain.ids import BarId, short_name
from solver.domain.piece import Piece


def piece_labels(index: PlanIndex) -> tuple[PieceLabel, ...]:
    """Return two labels for every piece of a plan, foot end first: bar by bar as they are cut, then what is on no bar.

    What is made, or comes from a bar that stays, has its label: it holds as long as the making does.
    """
    on_bars = [piece for name in index.numbers for piece in index.laid[name]]
    cut = {*on_bars, *index.labelled_pieces}
    rest = [name for name in index.pieces if name not in cut]
    return tuple(label for name in (*on_bars, *rest) for label in labels_of(index, name))


def labels_of(index: PlanIndex, piece_id: str) -> tuple[PieceLabel, ...]:
    """Return the labels of one piece. Raises KeyError when the plan has no such piece."""
    return tuple(_labels(index, index.pieces[piece_id]))


def _labels(index: PlanIndex, piece: Piece) -> Iterator[PieceLabel]:
    bar, at = index.bars.get(piece.id, (None, 0))
    bundle, from_top = index.places.get(piece.id, (None, 0))
    making = index.makings.get(piece.id, 1)
    name = making_name(piece.id, making)
    for place in LABEL_PLACES:
        yield PieceLabel(
            piece=piece,
            place=place,
            code=label_code(name),
            short_code=short_code(name),
            making=making,
            lift=index.plant.lift(piece.weight_g),
            unit=index.buildings[piece.order].unit,
            bar=bar.id if bar else None,
            bar_name=_bar_name(index, bar.id) if bar else "",
            bar_at=at,
            bar_of=len(bar.pieces) if bar else 0,
            bundle=bundle.id if bundle else None,
            bundle_name=short_name(bundle.id) if bundle else "",
            bundle_at=from_top,
            bundle_of=len(bundle.pieces) if bundle else 0,
            film_by=film_by(index, piece) if piece.is_panel else None,
        )


def _bar_name(index: PlanIndex, bar: BarId) -> str:
    """Return the machine that cuts a bar, and which of its bars it is."""
    number = index.numbers[bar]
    return f"{number.machine}, {say(index.language, 'bar_number', n=number.at)}"


def film_by(index: PlanIndex, piece: Piece) -> str | None:
    """Return the ISO date by which film must be off: so many days after the delivery is on site; None without one."""
    building = index.buildings[piece.order]
    brought = delivery_of_part(building.deliveries, piece.part, piece.role)
    if brought is None:
        return None
    return (_day(brought.need_by) + timedelta(days=index.plant.film_days)).isoformat()


def _day(moment: str) -> date:
    return datetime.fromisoformat(moment).date()
