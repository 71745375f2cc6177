"""Timetables repaired to keep to their buffers: who would overfill one is held back, and nobody is held back for ever."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace

from solver.domain.timetable import Job, ScheduleJob, Slot
from solver.scheduling.buffers.contents import BufferContents
from solver.scheduling.buffers.flows import (
    BufferFlows,
    buffer_flows,
    least_overfull_sequence,
    priorities_as_listed,
    widen_for_sequence,
)
from solver.scheduling.buffers.left_shift import left_shift
from solver.scheduling.buffers.list_schedule import list_schedule
from solver.scheduling.buffers.overfull import total_buffer_excess, widen_buffers_to_hold
from solver.scheduling.buffers.partial_schedule import PartialSchedule, semi_active
from solver.scheduling.buffers.right_shift import right_shift
from solver.scheduling.buffers.serial import serial_in_order
from solver.scheduling.dispatch import RULES, dispatch_by_rule
from solver.scheduling.objectives import objective_value
from solver.scheduling.precedence import Key
from solver.scheduling.resource_profile import FAR
from solver.search import Search

MOST_BY_RULES = 4_000  # operations: beyond, a rule takes seconds and is never as good as the search

MOST_OVERTAKING = 6_000  # operations: beyond, who may overtake whom is tried too often


class NoSafeOrder(Exception):
    """No order of work was found that keeps to the buffers; there may be one."""


def compact_timetable(task: ScheduleJob, slots: Sequence[Slot]) -> tuple[Slot, ...]:
    """Return a timetable with everything as early as its own order of work allows, people and buffers counted.

    Buffers that it overfills change its order as far as they must. Raises NoSafeOrder where that could not be done.
    """
    return repair_buffers(task, slots) if task.rooms else semi_active(task, slots)


def repair_buffers(task: ScheduleJob, slots: Sequence[Slot], over: Callable[[], bool] = lambda: False) -> tuple[Slot, ...]:
    """Return the work on the same machines as early as can be with buffers and people, in the same order if that keeps to both.

    First people alone are minded, then buffers by letting nothing in sooner than it is wanted. If that is not enough, the best
    of three ways: machines keep their order as long as it leads on; whatever finds room may overtake what does not; or jobs
    go one by one in an order that keeps to the buffers. `over`: whether time is up, after which the last way must do.
    Buffers that no order was found to keep to: where they are soft the least late is taken, of equals the least full;
    else raises NoSafeOrder. Ends: see `list_schedule`; each step of `left_shift` moves work to an earlier time.
    """
    if is_feasible(task, slots):
        return left_shift(task, slots)
    slots = semi_active(task, slots)
    shifted = right_shift(task, slots)
    for candidate in (slots, shifted):
        if is_feasible(task, candidate):
            return left_shift(task, candidate)
    flows, starts = buffer_flows(task.rooms), _starts(slots)
    dues = {job.id: float(job.due) if job.due is not None else float(FAR) for job in task.jobs}
    order = least_overfull_sequence(task.jobs, flows, (starts, dues, priorities_as_listed(task.jobs)), over=over)
    full = order.over(flows.sizes) > 0
    if full and not task.soft_rooms:
        raise NoSafeOrder
    flows = widen_for_sequence(flows, order)
    candidates: list[tuple[Slot, ...]] = [slots, shifted] if full else []
    few = sum(len(job.operations) for job in task.jobs) <= MOST_OVERTAKING
    for overtake in (False, True) if few else (False,):
        contents = BufferContents(task.jobs, flows, order.jobs)
        placed = None if over() else list_schedule(task, slots, contents, overtake=overtake, over=over)
        candidates += [] if placed is None else [placed]
    candidates.append(serial_in_order(task, flows, order.jobs))
    shifted_left = (left_shift(widen_buffers_to_hold(task, candidate), candidate) for candidate in candidates)
    return min(shifted_left, key=lambda candidate: timetable_rank(task, candidate))


def timetable_rank(task: ScheduleJob, slots: tuple[Slot, ...]) -> tuple[bool, int, int]:
    """Return what makes one timetable better than another: no soft buffer overfull, then less late, then less too much.

    What keeps to its buffers comes first. Where nothing found does, work stands in the way whatever is chosen, and holding it
    back made ten houses twice as late for a quarter less of it: so lateness decides, and the buffer is reported.
    """
    over = total_buffer_excess(task, slots)
    return over > 0, objective_value(task, slots), over


def repair_around_kept(
    task: ScheduleJob, slots: Sequence[Slot], kept: Mapping[Key, Slot], not_before: Mapping[Key, int], old: Iterable[Slot]
) -> tuple[Slot, ...]:
    """Return a timetable as it is where no buffer is overfull, else with what is not kept placed again.

    `not_before`: of operations. `old`: a timetable that kept to the buffers, whose order may still do. Where what is kept
    leaves no order that keeps to them, they are overfilled as little as an order was found to.
    """
    if not total_buffer_excess(task, slots):
        return tuple(slots)
    flows, size = buffer_flows(task.rooms), {job.id: len(job.operations) for job in task.jobs}
    begun = {name for name, index in kept if index == 0}
    ended = {name for name in begun if (name, size[name] - 1) in kept}
    there = [0] * len(flows.sizes)
    for sign, counts, names in ((1, flows.brings, ended), (-1, flows.fetches, begun)):
        for name in names & counts.keys():
            there = [a + sign * b for a, b in zip(there, counts[name], strict=True)]
    jobs = [
        replace(job, after=tuple(other for other in job.after if other not in ended))
        for job in task.jobs
        if job.id not in ended
    ]
    left = replace(flows, fetches={name: counts for name, counts in flows.fetches.items() if name not in begun})
    order = least_overfull_sequence(
        jobs, left, (_passing_times(flows, old, jobs), _starts(slots), priorities_as_listed(jobs)), tuple(there)
    )
    wide = widen_for_sequence(flows, order)
    candidates = [
        list_schedule(
            task, slots, BufferContents(task.jobs, wide, order.jobs), overtake=overtake, kept=kept, not_before=not_before
        )
        for overtake in (False, True)
    ]
    return min((one for one in candidates if one is not None), key=lambda candidate: objective_value(task, candidate))


def best_repair(
    task: ScheduleJob, slots: tuple[Slot, ...], lower_bound: int, search: Search, *, rules: bool = True
) -> tuple[Slot, ...] | None:
    """Return the best that a timetable, or those of the dispatch rules, become when they keep to buffers and people.

    None: no order was found that does. Rules are tried while time is left, and while the best is above `lower_bound`.
    """
    best = None
    rules = rules and sum(len(job.operations) for job in task.jobs) <= MOST_BY_RULES
    for rule in (None, *(RULES if rules else ())):
        if rule is not None and (
            search.left_s() <= 0 or (best is not None and timetable_rank(task, best) <= (False, lower_bound, 0))
        ):
            break
        try:
            made = repair_buffers(task, slots if rule is None else dispatch_by_rule(task, rule), search.over)
        except NoSafeOrder:
            continue
        best = made if best is None or timetable_rank(task, made) < timetable_rank(task, best) else best
    return best


def _starts(slots: Sequence[Slot]) -> dict[str, float]:
    found: dict[str, float] = {}
    for slot in slots:
        found[slot.job] = min(found.get(slot.job, FAR), slot.start)
    return found


def _passing_times(flows: BufferFlows, slots: Iterable[Slot], jobs: Iterable[Job]) -> dict[str, float]:
    """When each job brought what it brings, or else started; FAR for jobs that were not there."""
    found: dict[str, float] = {job.id: FAR for job in jobs}
    for slot in slots:
        time = found.get(slot.job, FAR)
        found[slot.job] = max(0 if time == FAR else time, slot.end) if slot.job in flows.brings else min(time, slot.start)
    return found


def is_feasible(task: ScheduleJob, slots: Sequence[Slot]) -> bool:
    """Return whether no buffer is ever overfull and people are enough."""
    partial = PartialSchedule(task)
    for slot in slots:
        partial.book(slot.machine, slot.start, slot.end, 1)
    crews = [crew for used in partial.crews.values() for crew, _ in used]
    return not total_buffer_excess(task, slots) and all(crew.end_of_last_conflict([(0, FAR)], 0) is None for crew in crews)
