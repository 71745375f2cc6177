"""Parts of a plan that something on the floor is of."""

from __future__ import annotations

from typing import TypeVar

from service.ports import Store
from service.usecases.ask.drawings import part_about

T = TypeVar("T")


def floor_part(plan_id: str, stage: str, kind: type[T], about: str, *, store: Store) -> T:
    """Return the part of a stored plan that is about something. Raises NotFound."""
    with store.reading() as tx:
        return part_about(tx, plan_id, stage, kind, about)
