"""Parts of the plan that is on the floor now."""

from __future__ import annotations

from typing import TypeVar

from service.errors import NotFound
from service.ports import Store
from service.usecases.ask.drawings import part_about

T = TypeVar("T")


def released_part(stage: str, kind: type[T], about: str, *, store: Store) -> T:
    """Return the part of the released plan that is about something. Raises NotFound."""
    with store.reading() as tx:
        now = tx.plans.released()
        if now is None:
            raise NotFound(stage, about)
        return part_about(tx, now[0], stage, kind, about)
