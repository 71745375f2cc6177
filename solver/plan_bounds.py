"""Verifies the bounds of a whole plan, each by its own stage: in exact arithmetic, and by another solver."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

from solver.bundling.check_bound import verify_bounds as check_stack
from solver.domain.certificate import BoundReport
from solver.domain.cut_plan import CutPlan
from solver.domain.dispatch import Dispatch
from solver.domain.plan import LoadPart, Part, Plan, SequencePart, SlitPart, StackPart
from solver.domain.timetable import Timetable
from solver.loading.check_again import verify_by_other_solver as again_load
from solver.loading.check_bound import verify_bounds as check_load
from solver.nesting.check_again import verify_by_other_solver as again_nest
from solver.nesting.check_bound import verify_bounds as check_nest
from solver.plan_parts import iterate_plan_parts
from solver.scheduling.check_again import verify_by_other_solver as again_schedule
from solver.scheduling.check_bound import verify_bounds as check_schedule
from solver.search import Search, with_time_limit
from solver.sequencing.check_again import verify_by_other_solver as again_sequence
from solver.sequencing.check_bound import verify_bounds as check_sequence
from solver.slitting.check_again import verify_by_other_solver as again_slit
from solver.slitting.check_bound import verify_bounds as check_slit

Reports = tuple[BoundReport, ...]
Again = Callable[[Sequence[BoundReport], Search], Reports]


def verify_bounds(plan: Plan) -> Reports:
    """Return how far exact arithmetic carries each bound of a plan."""
    return tuple(one for part in _parts(plan) for one in _below(part))


def verify_by_other_solver(plan: Plan, search: Search) -> Reports:
    """Return the same, with what exact arithmetic does not carry proved by another solver, each with its share of the time."""
    made: list[BoundReport] = []
    parts = list(_parts(plan))
    waiting = sum(not _all_confirmed(part.exact) for part in parts)
    for part in parts:
        if _all_confirmed(part.exact):
            made += _below(part)
            continue
        found = part.again(part.exact, with_time_limit(search, max(0.0, search.left_s()) / waiting))
        made += _below(replace(part, exact=found))
        waiting -= 1
    return tuple(made)


@dataclass(frozen=True, slots=True)
class PartBounds:
    """The bounds of one part of a plan: where it stands, what exact arithmetic says, and how to ask another solver."""

    path: str
    exact: Reports
    again: Again


def verify_part_bounds(part: Part) -> PartBounds | None:
    """Return the bounds of a part, or None where it claims none that is verified."""
    if isinstance(part, StackPart):
        exact = check_stack(part.job, part.result)
        return PartBounds(f"stacks[{part.order}]", exact, lambda reports, _search: tuple(reports))
    if isinstance(part, CutPlan):
        exact = _over_all_ways(part, check_nest(part.job, part.result))
        return PartBounds(f"cuts[{part.name}]", exact, partial(again_nest, part.job, part.result))
    if isinstance(part, SequencePart):
        exact = check_sequence(part.job, part.result)
        return PartBounds(f"sequences[{part.machine}]", exact, partial(again_sequence, part.job, part.result))
    if isinstance(part, SlitPart):
        exact = check_slit(part.job, part.result)
        return PartBounds(f"slits[{part.material}]", exact, partial(again_slit, part.job, part.result))
    if isinstance(part, Timetable):
        exact = check_schedule(part.job, part.result)
        return PartBounds("timetable", exact, partial(again_schedule, part.job, part.result))
    if isinstance(part, LoadPart):
        exact = check_load(part.job, part.result)
        return PartBounds(f"loads[{part.order}]", exact, partial(again_load, part.job, part.result))
    if isinstance(part, Dispatch):
        return PartBounds("dispatch", (_lateness(part),), lambda reports, _search: tuple(reports))
    return None


def _lateness(part: Dispatch) -> BoundReport:
    """No truck is less late than not at all; a bound above that rests on how dispatch counts, which is not verified here."""
    claimed = float(part.lower_bound)
    if claimed <= 0:
        return BoundReport(about="lower_bound", state="confirmed", claimed=claimed, proved=0.0, kind="nothing")
    said = "when bundles are built, and doors; not verified"
    return BoundReport(about="lower_bound", state="unconfirmed", claimed=claimed, proved=0.0, kind="search", by=said)


def _parts(plan: Plan) -> Iterator[PartBounds]:
    for _, part in iterate_plan_parts(plan):
        if (told := verify_part_bounds(part)) is not None:
            yield told


def _all_confirmed(reports: Reports) -> bool:
    return all(one.state == "confirmed" for one in reports)


def _below(part: PartBounds) -> list[BoundReport]:
    return [replace(one, about=f"{part.path}.{one.about}") for one in part.exact]


def _over_all_ways(cut: CutPlan, exact: Reports) -> Reports:
    """The bound of these blanks, and that over all ways to share blanks among rips and to use drops where it is lower."""
    if cut.floor is None:
        return exact
    said = "over all ways to share blanks and to use drops: these are not verified"
    return (*exact, BoundReport(about="floor", state="unconfirmed", claimed=cut.floor, proved=None, kind="search", by=said))
