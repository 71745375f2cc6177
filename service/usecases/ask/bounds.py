"""What the bounds of a plan rest on, and how far exact arithmetic carries them, a page at a time."""

from __future__ import annotations

from dataclasses import dataclass

from service.ports import Store
from service.usecases.plan_bounds import PartBounds, PlanBounds, verified_bounds

LINES_A_PAGE = 100


def plan_bounds(plan_id: str, *, store: Store) -> PlanBounds:
    """Return the bounds of a plan, verified from what they rest on. Raises NotFound."""
    with store.reading() as tx:
        plan = tx.plans.known(plan_id)
    return verified_bounds(plan, store=store)


@dataclass(frozen=True, slots=True, kw_only=True)
class BoundsPage:
    """A page of the bounds of a plan: some parts in order, which page it is, and whether more follow."""

    parts: tuple[PartBounds, ...]
    at: int
    more: bool


def bounds_page(bounds: PlanBounds, *, at: int, part: str | None) -> BoundsPage:
    """Return a page of bounds, whole parts up to some hundred lines: the one with a part ("stage about") where it is named."""
    pages: list[list[PartBounds]] = [[]]
    lines = 0
    for one in bounds.parts:
        if lines and lines + len(one.bounds) > LINES_A_PAGE:
            pages.append([])
            lines = 0
        pages[-1].append(one)
        lines += len(one.bounds)
    named = (n for n, some in enumerate(pages) if any(f"{one.stage} {one.about}" == part for one in some))
    number = min(next(named, at), len(pages) - 1)
    return BoundsPage(parts=tuple(pages[number]), at=number, more=number + 1 < len(pages))
