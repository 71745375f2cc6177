"""What is left to place after what happened: what stays is pinned, what moves pays for it, and nothing comes too soon."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from solver.domain.replan import ReplanJob
from solver.domain.timetable import Goals, Slot
from solver.replanning.freeze import FrozenTimetable
from solver.scheduling.rescheduling import Key, MoveCosts, reschedule
from solver.search import Search


@dataclass(frozen=True, slots=True)
class ReschedulePreferences:
    """What a way to go on minds: weighted tardiness, how often over the costs of moves count; whether nothing may be sooner."""

    tardiness: int
    moves: int
    keep: bool  # work starts no sooner than released
    fixed: Mapping[str, int] = field(default_factory=dict)


def reschedule_by_preferences(
    job: ReplanJob,
    frozen: FrozenTimetable,
    preferences: ReschedulePreferences,
    search: Search,
    begin: Mapping[Key, Slot] = MappingProxyType({}),
) -> tuple[Slot, ...]:
    """Return a whole timetable: what stays where it is, the rest in its released order first, then better as time allows.

    `begin`: where new work finds room beside all that is released, to begin with; else it begins as soon as it can.
    """
    goals, calm, times = job.plan.goals or Goals(), job.calm, preferences.moves
    return reschedule(
        frozen.task,
        job.slots,
        search,
        kept=frozen.kept,
        not_before=_not_before(job, frozen, keep=preferences.keep),
        goals=Goals(tardiness=preferences.tardiness, setup=goals.setup, flow=goals.flow),
        moves=MoveCosts(
            move=calm.move * times,
            machine=calm.machine * times,
            far=calm.far * times,
            by_shift=calm.far * times,
            shift=calm.shift,
        ),
        fixed=preferences.fixed,
        begin=begin,
    )


def _not_before(job: ReplanJob, frozen: FrozenTimetable, *, keep: bool) -> dict[Key, int]:
    """By operation that does not stay: new and forced work not before now, other work not inside the firm window.

    `keep`: and none of the released work sooner than it was released.
    """
    released = {(slot.job, slot.index): slot.start for slot in job.slots}
    firm = max(job.firm_until, job.now)
    times: dict[Key, int] = {}
    for key in ((one.id, n) for one in frozen.task.jobs for n in range(len(one.operations))):
        if key not in released or key in frozen.forced:
            times[key] = job.now
        else:
            times[key] = released[key] if keep else firm
    return times
