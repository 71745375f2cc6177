"""Timetables by dispatch rules, set-ups included: quick, sound, and a start for the search."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from solver.domain.timetable import Job, ScheduleJob, Slot
from solver.scheduling.calendar import Calendar
from solver.scheduling.precedence import successors_by_job

RULES = ("due", "slack", "ratio", "work", "short", "long")


@dataclass(slots=True)
class _Lane:
    calendar: Calendar
    setup: tuple[tuple[int, ...], ...] | None
    free: int
    family: int | None

    def ready(self, family: int) -> int:
        if self.family is None or self.setup is None:
            return self.free
        return self.free + self.setup[self.family][family]


@dataclass(slots=True)
class _Progress:
    job: Job
    next: int
    ready: int
    left: int  # least work of what is not started
    waits: int  # jobs that must be done first


def dispatch_by_rule(task: ScheduleJob, rule: str) -> tuple[Slot, ...]:
    """Return a sound timetable made by one dispatch rule of RULES, in order of start of decision."""
    lanes = {machine.id: _Lane(Calendar(machine.closed), machine.setup, 0, machine.initial) for machine in task.machines}
    followers = successors_by_job(task.jobs)
    progress: dict[str, _Progress] = {}
    for job in task.jobs:
        least = sum(min(operation.on.values()) for operation in job.operations)
        progress[job.id] = _Progress(job, 0, job.release, least, len(set(job.after)))
    average = _average_work(task)
    priority = _priority(rule, average)
    open_jobs = {key for key, item in progress.items() if item.waits == 0}
    slots: list[Slot] = []
    while open_jobs:
        key = _choose(open_jobs, progress, lanes, priority) if len(open_jobs) > 1 else next(iter(open_jobs))
        item = progress[key]
        if item.next < len(item.job.operations):
            slots.append(_place(item, lanes))
        if item.next >= len(item.job.operations):
            open_jobs.discard(key)
            for other in followers.get(key, ()):
                progress[other].waits -= 1
                progress[other].ready = max(progress[other].ready, item.ready)
                if progress[other].waits == 0:
                    open_jobs.add(other)
    return tuple(slots)


def dispatch_whole_jobs(task: ScheduleJob, rule: str) -> tuple[Slot, ...]:
    """Return a sound timetable with one order of jobs on all machines: a whole job at a time, in the order of a rule."""
    lanes = {machine.id: _Lane(Calendar(machine.closed), machine.setup, 0, machine.initial) for machine in task.machines}
    priority = _priority(rule, _average_work(task))
    left = {job.id: job for job in task.jobs}
    done: dict[str, int] = {}
    slots: list[Slot] = []
    while left:
        free = [job for job in left.values() if all(other in done for other in job.after)]
        items = []
        for job in free:
            least = sum(min(operation.on.values()) for operation in job.operations)
            items.append(_Progress(job, 0, max([job.release, *(done[other] for other in job.after)]), least, 0))
        item = min(items, key=lambda one: priority(one, one.ready, one.left))
        slots.extend(_place(item, lanes) for _ in item.job.operations)
        done[item.job.id] = item.ready
        del left[item.job.id]
    return tuple(slots)


def _average_work(task: ScheduleJob) -> float:
    works = [min(operation.on.values()) for job in task.jobs for operation in job.operations]
    return max(1.0, sum(works) / len(works)) if works else 1.0


def _priority(rule: str, average: float) -> Callable[[_Progress, int, int], float]:
    """Return the rule as a function of a job's progress, the start and the work: the least value goes first."""

    def due(item: _Progress) -> float:
        return float(item.job.due) if item.job.due is not None else math.inf

    def ratio(item: _Progress, start: int, work: int) -> float:
        # apparent tardiness cost: Vepsalainen and Morton (1987), Management Science 33(8): 1035-1047, look-ahead 2
        slack = max(0.0, due(item) - start - item.left) if item.job.due is not None else 1e9
        return -item.job.weight / max(1, work) * math.exp(-min(700.0, slack / (2 * average)))

    rules: dict[str, Callable[[_Progress, int, int], float]] = {
        "due": lambda item, _start, _work: due(item),
        "slack": lambda item, start, _work: due(item) - start - item.left,
        "ratio": ratio,
        "work": lambda item, _start, _work: -item.left,
        "short": lambda _item, _start, work: work,
        "long": lambda _item, _start, work: -work,
    }
    return rules[rule]


def _best_lane(item: _Progress, lanes: dict[str, _Lane]) -> tuple[int, int, str]:
    operation = item.job.operations[item.next]
    best: tuple[int, int, str] | None = None
    for machine, work in operation.on.items():
        lane = lanes[machine]
        start, end = lane.calendar.fit(max(item.ready, lane.ready(operation.family)), work, pause=operation.pause)
        if best is None or (end, start) < (best[1], best[0]):
            best = (start, end, machine)
    assert best is not None  # every operation names a machine: validated
    return best


def _choose(
    open_jobs: set[str],
    progress: dict[str, _Progress],
    lanes: dict[str, _Lane],
    priority: Callable[[_Progress, int, int], float],
) -> str:
    found: list[tuple[int, int, str]] = []
    first_end = math.inf
    for key in open_jobs:
        item = progress[key]
        if item.next >= len(item.job.operations):
            return key
        start, end, _ = _best_lane(item, lanes)
        found.append((start, end, key))
        first_end = min(first_end, end)
    # active schedules: only what could start before the earliest end may go next (Giffler and Thompson 1960)
    likely = [(start, end, key) for start, end, key in found if start < first_end or end == first_end]
    return min(likely, key=lambda one: (priority(progress[one[2]], one[0], one[1] - one[0]), one[0], one[2]))[2]


def _place(item: _Progress, lanes: dict[str, _Lane]) -> Slot:
    operation = item.job.operations[item.next]
    start, end, machine = _best_lane(item, lanes)
    lane = lanes[machine]
    lane.free, lane.family = end, operation.family
    slot = Slot(job=item.job.id, index=item.next, machine=machine, start=start, end=end)
    item.next += 1
    item.left -= min(operation.on.values())
    item.ready = end + operation.hold
    return slot
