"""Refusals of later stages told in the order's own terms: an order has walls and roofs, it has no bundles and no trucks."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from solver.domain.bundle import Bundle
from solver.domain.takeoff import Takeoff
from solver.errors import FieldFault, InputError, NoPlan

_NUMBERED = re.compile(r"bundles\[(\d+)\]")


@contextmanager
def refusals_in_order_terms(takeoff: Takeoff, bundles: Sequence[Bundle] = ()) -> Iterator[None]:
    """Raise what a stage refuses with paths below the order's id: the wall or roof plane whose pieces it cannot take.

    What names no piece and no bundle is a limit of the plant, and told as such.
    """
    try:
        yield
    except InputError as error:
        raise InputError(*_told(takeoff, bundles, error.faults)) from error
    except NoPlan as error:
        raise NoPlan(*_told(takeoff, bundles, error.faults)) from error


def _told(takeoff: Takeoff, bundles: Sequence[Bundle], faults: Sequence[FieldFault]) -> list[FieldFault]:
    order, pieces = takeoff.building.order, {str(piece.id): piece for piece in takeoff.pieces}
    roofs = {plane.id for plane in takeoff.building.roof}
    held = {str(bundle.id): bundle for bundle in bundles}
    found = []
    for fault in faults:
        number = _NUMBERED.match(fault.path)
        bundle = bundles[int(number[1])] if number else held.get(fault.path)
        piece = pieces.get(bundle.pieces[0].piece if bundle and bundle.pieces else fault.path)
        if piece is None:
            found.append(FieldFault(f"plant.{fault.path}", f"for {order}: {fault.problem}", fault.fix))
            continue
        where = f"roofs.{piece.group}" if piece.group in roofs else f"walls[{piece.group}]"
        more = f" and {len(bundle.pieces) - 1} more in its bundle" if bundle and len(bundle.pieces) > 1 else ""
        found.append(FieldFault(f"{order}.{where}", f"{piece.mark}{more}: {fault.problem}", fault.fix))
    return list(dict.fromkeys(found))
