"""When could this order ship? The earliest end found with the released timetable as it is, and what a date would cost."""

from __future__ import annotations

import random
from collections.abc import Iterable
from dataclasses import replace

from solver.domain.replan import Earlier, Ending, PromiseJob, PromiseResult, ReplanJob
from solver.domain.timetable import Goals, Job, Operation, Slot
from solver.replanning.fitting import first_fit_with_buffer_room
from solver.replanning.freeze import freeze_timetable
from solver.replanning.remaining_capacity import RemainingCapacity
from solver.replanning.reschedule import ReschedulePreferences, reschedule_by_preferences
from solver.scheduling.rescheduling import (
    BufferContents,
    Key,
    ReleasedBuffers,
    completion_times,
    in_precedence_order,
    total_buffer_excess,
)
from solver.search import Search

MOST_ROUNDS = 400
GAP_SHARE = 0.3  # of the time for the gaps, where a date is asked for too
LATE_ONLY = Goals(setup=0, flow=0)  # nothing moves for less set-up when a date is at stake
NEW = 4  # how many times each other job's slip a unit counts by which the date is missed


def promise(job: PromiseJob, search: Search) -> PromiseResult:
    """Return the earliest end found for the new order, a bound on it, and where it misses `by` what would have to give."""
    gaps, buffers = RemainingCapacity(job.plan, job.slots), ReleasedBuffers(job.plan, job.slots, job.order)
    done_plan = completion_times(job.plan.jobs, job.slots)
    order = [replace(one, release=max(one.release, job.now)) for one in in_precedence_order(job.order)]
    lower_bound = _fill(gaps.copy(), None, order, done_plan, {})[0]
    begun = search.left_s()
    share = GAP_SHARE if job.by is not None else 0.9
    tails = _tails(order)
    dice, keys = random.Random(search.seed), dict(tails)
    best = _fill(gaps.copy(), buffers.contents(), order, done_plan, keys)
    for _ in range(MOST_ROUNDS):
        if best[0] <= lower_bound or search.left_s() < (1 - share) * begun or search.stop():
            break
        trial = {key: value * dice.uniform(0.6, 1.4) for key, value in keys.items()}
        found = _fill(gaps.copy(), buffers.contents(), order, done_plan, trial)
        if found[0] <= best[0]:
            best, keys = found, trial
    done, slots = best
    earlier = _earlier(job, done, slots, search, done_plan) if job.by is not None and done > job.by else None
    task = replace(job.plan, jobs=(*job.plan.jobs, *job.order))
    if earlier is not None and (earlier.done >= done or total_buffer_excess(task, earlier.operations)):
        # nothing given made it sooner, or not in the room there is: then nothing has to give
        earlier = Earlier(reached=False, done=done, slips=(), moved=0, operations=_by_name((*job.slots, *slots)))
    return PromiseResult(
        status="optimal" if done <= lower_bound else "feasible",
        done=done,
        lower_bound=min(lower_bound, done),
        operations=_by_name(slots),
        earlier=earlier,
        seconds=0.0,
    )


def _by_name(slots: Iterable[Slot]) -> tuple[Slot, ...]:
    return tuple(sorted(slots, key=lambda slot: (slot.job, slot.index)))


def _tails(order: list[Job]) -> dict[Key, float]:
    """For each operation the least time from its start to the end of all that waits for it."""
    after: dict[str, float] = {}
    made: dict[Key, float] = {}
    for job in reversed(order):
        tail = after.get(job.id, 0.0)
        for n in range(len(job.operations) - 1, -1, -1):
            step = job.operations[n]
            tail += min(step.on.values()) + step.hold
            made[job.id, n] = tail
        for other in job.after:
            after[other] = max(after.get(other, 0.0), tail)
    return made


def _fill(
    gaps: RemainingCapacity,
    contents: BufferContents | None,
    order: list[Job],
    done_plan: dict[str, int],
    keys: dict[Key, float],
) -> tuple[int, list[Slot]]:
    """Place the new order, most urgent first of what finds room; return its end and its slots.

    Without a contents of what is in the rooms: each job as if no other were new and there were room for all, a bound.
    """
    jobs = {job.id: job for job in order}
    done: dict[str, int] = {}
    at = dict.fromkeys(jobs, 0)
    ready = {job.id: max([job.release, *(done_plan[one] for one in job.after if one in done_plan)]) for job in order}
    waits = {job.id: {one for one in job.after if one in jobs} for job in order}
    slots: list[Slot] = []
    while at:
        free = sorted((name for name in at if not waits[name]), key=lambda one: -keys.get((one, at[one]), 0.0))
        name, (end, start, machine) = _next(gaps, contents, jobs, free, at, ready)
        step: Operation = jobs[name].operations[at[name]]
        if contents is not None:
            gaps.add(machine, start, end, step.family)
        slots.append(Slot(job=name, index=at[name], machine=machine, start=start, end=end))
        if contents is not None:
            contents.note(slots[-1])
        ready[name] = end + step.hold
        at[name] += 1
        if at[name] == len(jobs[name].operations):
            done[name] = ready[name]
            del at[name]
            for other, left in waits.items():
                if name in left:
                    left.discard(name)
                    ready[other] = max(ready[other], done[name])
    return max(done.values()), slots


def _next(
    gaps: RemainingCapacity,
    contents: BufferContents | None,
    jobs: dict[str, Job],
    free: list[str],
    at: dict[str, int],
    ready: dict[str, int],
) -> tuple[str, tuple[int, int, str]]:
    """The first of the free jobs whose next operation finds room, and where that ends first."""
    for name in free:
        step = jobs[name].operations[at[name]]
        if contents is None:
            return name, gaps.first(step, ready[name], alone=True)
        found = first_fit_with_buffer_room(gaps, contents, name, at[name], step, ready[name])
        if found is not None:
            return name, found
    assert contents is not None  # there is always one that waits for nothing
    name = next(name for name in contents.sequence.order if name not in contents.ended)
    found = first_fit_with_buffer_room(
        gaps, contents, name, at[name], jobs[name].operations[at[name]], ready[name], asked=False
    )
    assert found is not None  # all before it in the order that keeps to the rooms is done
    return name, found


def _earlier(job: PromiseJob, promised: int, found: Iterable[Slot], search: Search, done_before: dict[str, int]) -> Earlier:
    """Let unfirm work give: the new order on time first, then the fewest other jobs later than due and than released.

    That any one slips at all counts as much as if it slipped by all that the date is missed by. First nothing may be sooner
    than released, which moves least; where that does not do, all may move.
    """
    assert job.by is not None
    many = 1 + sum(one.due is not None for one in job.plan.jobs)
    followed = {one for new in job.order for one in new.after}
    new = tuple(
        replace(one, due=job.by, weight=NEW * many) if one.id not in followed else replace(one, due=None) for one in job.order
    )
    kept = tuple(
        replace(one, due=max(one.due, done_before[one.id]), weight=1) if one.due is not None else one for one in job.plan.jobs
    )
    firm = max(job.firm_until, job.now)
    asked = ReplanJob(
        plan=replace(job.plan, jobs=kept, goals=LATE_ONLY),
        slots=job.slots,
        now=job.now,
        firm_until=firm,
        added=new,
        seed=job.seed,
    )
    slips = {one.id: promised - job.by for one in kept if one.due is not None}
    half = search.left_s() / 2
    calm = replace(search, left_s=lambda: search.left_s() - half)
    frozen, begin = freeze_timetable(asked), {(slot.job, slot.index): slot for slot in found}
    preferences = ReschedulePreferences(tardiness=1_000, moves=1, keep=True, fixed=slips)
    calm_result = _as_earlier(job, reschedule_by_preferences(asked, frozen, preferences, calm, begin), done_before)
    if calm_result.reached and not calm_result.slips:
        return calm_result  # nobody else gives anything but hours to spare
    bold = reschedule_by_preferences(asked, frozen, replace(preferences, keep=False), search, begin)
    by = job.by
    return min(
        (calm_result, _as_earlier(job, bold, done_before)),
        key=lambda one: (
            max(0, one.done - by),
            len(one.slips),
            sum(slip.late - slip.late_before for slip in one.slips),
            one.moved,
        ),
    )


def _as_earlier(job: PromiseJob, slots: tuple[Slot, ...], done_before: dict[str, int]) -> Earlier:
    """What a timetable with the new order in it says of the date and of all others."""
    assert job.by is not None
    after = completion_times((*job.plan.jobs, *job.order), slots)
    before = {(slot.job, slot.index): slot for slot in job.slots}
    done = max(after[one.id] for one in job.order)
    worse = [
        Ending(
            job=one.id,
            due=one.due,
            done_before=done_before[one.id],
            done=after[one.id],
            late_before=max(0, done_before[one.id] - one.due),
            late=max(0, after[one.id] - one.due),
        )
        for one in job.plan.jobs
        if one.due is not None and after[one.id] > max(one.due, done_before[one.id])
    ]
    moved = sum(
        (slot.start, slot.machine) != (before[slot.job, slot.index].start, before[slot.job, slot.index].machine)
        for slot in slots
        if (slot.job, slot.index) in before
    )
    return Earlier(reached=done <= job.by, done=done, slips=tuple(worse), moved=moved, operations=slots)
