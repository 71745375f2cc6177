"""Which pieces are nested together: those whose deliveries are due near each other.

Orders weeks apart that share a bar fill the room before the bundle bay with pieces that nobody wants yet.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime

from solver.domain.ids import PieceId
from solver.domain.piece import Piece
from solver.domain.takeoff import Takeoff


def due_times(takeoffs: Iterable[Takeoff]) -> Iterator[tuple[Piece, float]]:
    """Give each piece with the instant (POSIX seconds) at which its delivery is due at the dock; inf where none is."""
    for takeoff in takeoffs:
        due: dict[str, float] = {}
        for delivery in takeoff.building.deliveries:
            at = datetime.fromisoformat(delivery.dock_due).timestamp()
            due.update({part: min(at, due.get(part, at)) for part in delivery.parts})
        for piece in takeoff.pieces:
            yield piece, due.get(piece.part, math.inf)


def due_windows(takeoffs: Sequence[Takeoff], window_s: int | None) -> dict[PieceId, int]:
    """Return the window of each piece, 0 the first: the deliveries due within `window_s` of a window's first belong to it.

    The next window begins with the first delivery after it. One window where `window_s` is None. Pieces that nobody is
    waiting for go with the last.
    """
    due = list(due_times(takeoffs))
    times = sorted({at for _, at in due if math.isfinite(at)})
    number: dict[float, int] = {}
    begun, window = -math.inf, -1
    for at in times:
        if window < 0 or (window_s is not None and at - begun >= window_s):
            begun, window = at, window + 1
        number[at] = window
    return {piece.id: number.get(at, max(window, 0)) for piece, at in due}
