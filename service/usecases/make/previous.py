"""Earlier takeoffs out of an earlier result: of one order, or of all orders of a plan."""

from __future__ import annotations

from typing import Any

from solver.codec import decode
from solver.domain.takeoff import Takeoff
from solver.errors import FieldFault, InputError


def earlier_takeoffs(data: Any) -> tuple[Takeoff, ...]:
    """Return the takeoffs that a result's JSON value holds: a takeoff or a plan, bare or with its job inside.

    Raises InputError where it is neither.
    """
    result = data.get("result", data) if isinstance(data, dict) else data
    if isinstance(result, dict) and isinstance(result.get("takeoffs"), list):
        return tuple(
            decode(Takeoff, item, name=f"previous.takeoffs[{n}]", unit=result.get("unit"))
            for n, item in enumerate(result["takeoffs"])
        )
    if isinstance(result, dict) and isinstance(result.get("building"), dict):
        return (decode(Takeoff, result, name="previous", unit=result["building"].get("unit")),)
    raise InputError(FieldFault("previous", "is no takeoff and no plan", "what takeoff or plan printed or wrote before"))
