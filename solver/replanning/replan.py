"""How to go on after what happened: calmly, and where calm costs lateness also as much on time as found."""

from __future__ import annotations

from dataclasses import replace

from solver.domain.replan import Choice, Ending, Move, ReplanJob, ReplanResult
from solver.domain.timetable import ScheduleJob, Slot
from solver.replanning.freeze import FrozenTimetable, freeze_timetable
from solver.replanning.reschedule import ReschedulePreferences, reschedule_by_preferences
from solver.scheduling.rescheduling import Calendar, completion_times, in_precedence_order, secondary_costs, weighted_tardiness
from solver.search import Search

CALM = ReschedulePreferences(
    tardiness=10, moves=1_000, keep=True
)  # a move counts a hundred times its cost in weighted tardiness
ON_TIME = ReschedulePreferences(tardiness=100_000, moves=1, keep=False)  # and here next to nothing: lateness first


def replan(job: ReplanJob, search: Search) -> ReplanResult:
    """Return the calm choice, and the one that is on time as far as found where that is less late.

    Finished, running and firm work stays unless what happened makes that impossible; see `freeze_timetable`.
    """
    frozen = freeze_timetable(job)
    begun = search.left_s()
    half = replace(search, left_s=lambda: search.left_s() - 0.6 * begun)
    choices = [_choice("calm", job, frozen, reschedule_by_preferences(job, frozen, CALM, half))]
    on_time = _choice("on_time", job, frozen, reschedule_by_preferences(job, frozen, ON_TIME, search))
    if on_time.tardiness < choices[0].tardiness:
        choices.append(on_time)
    lower_bound = _lower_bound(frozen, job.now)
    least = min(one.tardiness for one in choices)
    return ReplanResult(
        status="optimal" if least <= lower_bound else "feasible",
        tardiness_before=weighted_tardiness_of_slots(job.plan, job.slots),
        lower_bound=min(lower_bound, least),
        kept=len(frozen.kept),
        forced=len(frozen.forced),
        choices=tuple(choices),
        seconds=0.0,
    )


def weighted_tardiness_of_slots(task: ScheduleJob, slots: tuple[Slot, ...]) -> int:
    """Return the weighted tardiness of a timetable."""
    return weighted_tardiness(task.jobs, completion_times(task.jobs, slots))


def _lower_bound(frozen: FrozenTimetable, now: int) -> int:
    """Weighted tardiness that nothing beats: each job as if alone, in open hours, behind what stays."""
    calendars = {machine.id: Calendar(machine.closed) for machine in frozen.task.machines}
    done: dict[str, int] = {}
    for job in in_precedence_order(frozen.task.jobs):
        at = max([job.release, *(done[other] for other in job.after)])
        for n, step in enumerate(job.operations):
            slot = frozen.kept.get((job.id, n))
            soonest = max(at, now)
            ends = [calendars[name].fit(soonest, work, pause=step.pause)[1] for name, work in step.on.items()]
            at = (slot.end if slot is not None else min(ends)) + step.hold
        done[job.id] = at
    return weighted_tardiness(frozen.task.jobs, done)


def _choice(name: str, job: ReplanJob, frozen: FrozenTimetable, slots: tuple[Slot, ...]) -> Choice:
    before = {(slot.job, slot.index): slot for slot in job.slots}
    moves = tuple(
        Move(
            job=slot.job,
            index=slot.index,
            machine_before=old.machine,
            machine=slot.machine,
            start_before=old.start,
            start=slot.start,
            forced=(slot.job, slot.index) in frozen.forced,
        )
        for slot in sorted(slots, key=lambda slot: (slot.start, slot.job, slot.index))
        if (old := before.get((slot.job, slot.index))) and (old.start, old.machine) != (slot.start, slot.machine)
    )
    setup, flow = secondary_costs(frozen.task, slots)
    return Choice(
        name="calm" if name == "calm" else "on_time",
        tardiness=weighted_tardiness_of_slots(frozen.task, slots),
        setup=setup,
        flow=flow,
        moved=len(moves),
        machines=sum(one.machine != one.machine_before for one in moves),
        far=sum(abs(one.start - one.start_before) > job.calm.shift for one in moves),
        shifted=sum(abs(one.start - one.start_before) for one in moves),
        moves=moves,
        endings=_endings(job, frozen, slots),
        operations=tuple(sorted(slots, key=lambda slot: (slot.job, slot.index))),
    )


def _endings(job: ReplanJob, frozen: FrozenTimetable, slots: tuple[Slot, ...]) -> tuple[Ending, ...]:
    old, new = completion_times(job.plan.jobs, job.slots), completion_times(frozen.task.jobs, slots)
    dues = {one.id: one.due for one in job.plan.jobs}
    made = []
    for one in frozen.task.jobs:
        was, due = old.get(one.id), dues.get(one.id)
        if one.due is not None and was != new[one.id]:
            late = max(0, was - due) if was is not None and due is not None else 0
            made.append(
                Ending(
                    job=one.id, due=one.due, done_before=was, done=new[one.id], late_before=late,
                    late=max(0, new[one.id] - one.due),
                )
            )  # fmt: skip
    return tuple(made)
