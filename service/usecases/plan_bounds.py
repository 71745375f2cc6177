"""How far the bounds of a stored plan were verified: worked out once, by the worker or by who first asks, and kept as a row."""

from __future__ import annotations

from dataclasses import dataclass

from service.ports import Store
from service.stored_form import to_stored_text
from service.usecases.plan_rows import read_extract
from service.usecases.stored import read_parts
from solver.domain.certificate import BoundReport
from solver.domain.rack import RackCurve
from solver.domain.takeoff import Takeoff
from solver.plan_parts import PARTS

UNBOUNDED = (Takeoff, RackCurve)  # nothing is searched for in them: no need to read them


@dataclass(frozen=True, slots=True, kw_only=True)
class PartBounds:
    """The bounds of one part: its stage, what it is about, and how far each was verified."""

    stage: str
    about: str
    bounds: tuple[BoundReport, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanBounds:
    """The bounds of a plan, part by part."""

    parts: tuple[PartBounds, ...]


def verified_bounds(plan_id: str, *, store: Store) -> PlanBounds:
    """Return the bounds of a stored plan, verified from what they rest on when somebody first asks."""
    with store.reading() as tx:
        there = read_extract(tx, plan_id, "bounds", PlanBounds)
    if there is not None:
        return there
    from solver.plan_bounds import verify_part_bounds  # here: it loads numpy, which no page needs once this is kept

    with store.reading() as tx:
        parts = [
            (kind.stage, kind.about(part), part)
            for kind in PARTS
            if kind.kind not in UNBOUNDED
            for part in read_parts(tx, plan_id, kind.stage, kind.kind)
        ]
    verified = PlanBounds(
        parts=tuple(
            PartBounds(stage=stage, about=about, bounds=told.exact)
            for stage, about, part in parts
            if (told := verify_part_bounds(part)) is not None
        )
    )
    text = to_stored_text(verified)
    with store.writing() as tx:
        tx.rows.add_extract(plan_id, "bounds", text)
    return verified
