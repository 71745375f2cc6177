"""What cannot change: finished, running and firm work; and the schedule job that is left after what happened."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from solver.domain.replan import ReplanJob
from solver.domain.timetable import Job, Machine, Pool, ScheduleJob, Slot
from solver.scheduling.rescheduling import Calendar, Key, ResourceProfile, Span, working_spans


@dataclass(frozen=True, slots=True)
class FrozenTimetable:
    """The job after what happened, the slots that stay (running work that pauses may end later), and what could not stay."""

    task: ScheduleJob
    kept: dict[Key, Slot]
    forced: frozenset[Key]


def merge_intervals(closed: Iterable[tuple[int, int]]) -> tuple[tuple[int, int], ...]:
    """Return closed times in order, none touching another."""
    return tuple(Calendar(closed).closed)


def job_after_disruptions(job: ReplanJob) -> ScheduleJob:
    """Return the schedule job after what happened; jobs that have begun keep their releases and what they waited for."""
    begun = {slot.job for slot in job.slots if slot.start < job.now} - {one.job for one in job.undone if one.index == 0}
    late = {one.job: one.release for one in job.late if one.job not in begun}
    waits: dict[str, list[str]] = {}
    for one in job.waits:
        if one.job not in begun:
            waits.setdefault(one.job, []).append(one.after)
    jobs = [_changed(one, job, late.get(one.id, 0), waits.get(one.id, [])) for one in job.plan.jobs]
    added = [replace(one, release=max(one.release, job.now)) for one in job.added]
    machines = tuple(_down(machine, job) for machine in job.plan.machines)
    return replace(job.plan, machines=machines, jobs=(*jobs, *added), same_order=False, objective="weighted_tardiness")


def _changed(one: Job, job: ReplanJob, release: int, waits: list[str]) -> Job:
    due, weight = one.due, one.weight
    for wish in job.urgent:
        if wish.job == one.id:
            due = wish.due if wish.due is not None else due
            weight = wish.weight if wish.weight is not None else weight
    after = tuple(dict.fromkeys((*one.after, *waits)))
    return replace(one, due=due, weight=weight, release=max(one.release, release), after=after)


def _down(machine: Machine, job: ReplanJob) -> Machine:
    more = [(max(one.start, job.now), one.end) for one in job.down if one.machine == machine.id and one.end > job.now]
    return replace(machine, closed=merge_intervals((*machine.closed, *more))) if more else machine


def freeze_timetable(job: ReplanJob) -> FrozenTimetable:
    """Return what stays of a released timetable and what is left to place."""
    task = job_after_disruptions(job)
    jobs = {one.id: one for one in task.jobs}
    machines = {machine.id: machine for machine in task.machines}
    calendars = {machine.id: Calendar(machine.closed) for machine in task.machines}
    firm = max(job.firm_until, job.now)
    kept: dict[Key, Slot] = {}
    forced: set[Key] = set()
    last: dict[str, Slot] = {}
    undone = {(one.job, one.index) for one in job.undone}
    people = People(task.pools)
    for slot in sorted(job.slots, key=lambda slot: (slot.start, slot.end, slot.index)):
        key = (slot.job, slot.index)
        step = jobs[slot.job].operations[slot.index]
        if key in undone:
            forced.add(key)
            continue
        if slot.end <= job.now and slot.start < job.now:
            kept[key] = last[slot.machine] = slot
            people.at_work(slot.machine, working_spans(calendars[slot.machine], slot.start, slot.end))
            continue
        if slot.start >= firm:
            continue
        start, end = calendars[slot.machine].fit(slot.start, step.on[slot.machine], pause=step.pause)
        spans = working_spans(calendars[slot.machine], start, end)
        stays = start == slot.start and (
            slot.start < job.now
            or (
                people.are_free(slot.machine, spans)
                and _follows(slot, jobs, kept, last.get(slot.machine), machines[slot.machine])
            )
        )
        if stays:
            kept[key] = last[slot.machine] = replace(slot, end=end)
            people.at_work(slot.machine, spans)
        else:
            forced.add(key)
    return FrozenTimetable(task, kept, frozenset(forced))


class People:
    """Who is at work when, of each pool: running work that a breakdown draws out may need those whom firm work counted on."""

    def __init__(self, pools: Sequence[Pool]) -> None:
        """Start with nobody at work."""
        self._pools = [(pool, ResourceProfile(pool.size)) for pool in pools]

    def at_work(self, machine: str, spans: Sequence[Span]) -> None:
        """Take those whom a machine needs, over the times given."""
        for pool, profile in self._pools:
            if count := pool.uses.get(machine, 0):
                profile.take(spans, count)

    def are_free(self, machine: str, spans: Sequence[Span]) -> bool:
        """Return whether those whom a machine needs are free over the times given."""
        return all(
            profile.end_of_last_conflict(spans, count) is None
            for pool, profile in self._pools
            if (count := pool.uses.get(machine, 0))
        )


def _follows(slot: Slot, jobs: dict[str, Job], kept: dict[Key, Slot], before: Slot | None, machine: Machine) -> bool:
    """Whether firm work can still start when it was to: what it waits for stays and is done, its machine is free."""
    job = jobs[slot.job]
    waits = [(slot.job, slot.index - 1)] if slot.index else [(one, len(jobs[one].operations) - 1) for one in job.after]
    if slot.start < job.release:
        return False
    for key in waits:
        if key not in kept or kept[key].end + jobs[key[0]].operations[key[1]].hold > slot.start:
            return False
    if before is None:
        return True
    gap = 0
    if machine.setup is not None:
        family = job.operations[slot.index].family
        gap = machine.setup[jobs[before.job].operations[before.index].family][family]
    return before.end + gap <= slot.start
