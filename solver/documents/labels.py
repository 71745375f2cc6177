"""Rows of piece labels: two a piece, in order of standing."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta

from solver.documents.codes import label_code, short_code
from solver.documents.index import PlanIndex, short_name
from solver.domain.document import LABEL_PLACES, PieceLabel
from solver.domain.piece import Piece


def piece_labels(index: PlanIndex) -> tuple[PieceLabel, ...]:
    """Return two labels for every piece of a plan, foot end first."""
    return tuple(label for piece in index.pieces.values() for label in labels_of(index, piece.id))


def labels_of(index: PlanIndex, piece_id: str) -> tuple[PieceLabel, ...]:
    """Return the labels of one piece. Raises KeyError when the plan has no such piece."""
    return tuple(_labels(index, index.pieces[piece_id]))


def _labels(index: PlanIndex, piece: Piece) -> Iterator[PieceLabel]:
    bar, at = index.bars.get(piece.id, (None, 0))
    bundle, from_top = index.places.get(piece.id, (None, 0))
    for place in LABEL_PLACES:
        yield PieceLabel(
            piece=piece,
            place=place,
            code=label_code(piece.id),
            short_code=short_code(piece.id),
            crew=index.plant.crew(piece.weight_g),
            bar=bar.id if bar else None,
            bar_at=at,
            bar_of=len(bar.pieces) if bar else 0,
            bundle=bundle.id if bundle else None,
            bundle_name=short_name(bundle.id) if bundle else "",
            bundle_at=from_top,
            bundle_of=len(bundle.pieces) if bundle else 0,
            film_by=film_by(index, piece) if piece.is_panel else None,
        )


def film_by(index: PlanIndex, piece: Piece) -> str | None:
    """Return the ISO date by which film must be off: so many days after the delivery is on site; None without one."""
    building = index.buildings[piece.order]
    needs = [one.need_by for one in building.deliveries if piece.part in one.parts]
    if not needs:
        return None
    return (_day(min(needs)) + timedelta(days=index.plant.film_days)).isoformat()


def _day(moment: str) -> date:
    return datetime.fromisoformat(moment).date()
