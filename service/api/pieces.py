"""Where a piece is, over HTTP."""

from __future__ import annotations

from fastapi import APIRouter, Response

from service.api.answers import json_response, openapi_responses
from service.contracts.floor import PieceRead
from service.dependencies import Here, Name
from service.usecases.ask.pieces import read_piece
from solver.domain.ids import piece_id

router = APIRouter(prefix="/pieces", tags=["floor"])


@router.get("/{order}/{mark}", responses=openapi_responses(PieceRead, also=(404,)))
def get_piece(order: Name, mark: Name, here: Here) -> Response:
    """Tell which making of a piece counts, where it is, and which of its labels hold."""
    return json_response(read_piece(piece_id(order, mark), store=here.store))
