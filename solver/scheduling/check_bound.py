"""Judge the bound of a timetable: each job alone, and work that only some machines can do; whole numbers, nothing searched."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from solver.domain.certificate import BoundReport, State
from solver.domain.timetable import Job, Machine, Operation, ScheduleJob, ScheduleResult


def verify_bounds(job: ScheduleJob, result: ScheduleResult) -> tuple[BoundReport, ...]:
    """Return how far the bound of the objective is carried by arithmetic."""
    proof, claimed = result.certificate, result.lower_bound
    kind = None if proof is None else proof.kind
    if claimed <= 0:
        return (BoundReport(about="lower_bound", state="confirmed", claimed=float(claimed), proved=0.0, kind="nothing"),)
    proved, said = JobsAlone(job).least()
    state: State = "confirmed" if claimed <= proved else "unconfirmed"
    if state == "unconfirmed" and kind is not None:
        state = "unconfirmed" if kind == "search" else "refuted"
        said += "; beyond that a search over timetables, or work handed out to time" if kind == "search" else ""
    if state == "confirmed":
        kind = "loads"
    return (BoundReport(about="lower_bound", state=state, claimed=float(claimed), proved=float(proved), kind=kind, by=said),)


class JobsAlone:
    """When each job could begin and end with nothing in its way but closed times and what it waits for."""

    def __init__(self, task: ScheduleJob) -> None:
        self.task = task
        self.machines = {machine.id: machine for machine in task.machines}
        self.jobs = {job.id: job for job in task.jobs}
        self.done: dict[str, int] = {}
        self.heads: dict[str, list[int]] = {}  # of each operation, when it could begin
        waiting = list(task.jobs)
        while waiting:
            ready = [job for job in waiting if all(other in self.done for other in job.after)]
            for job in ready:
                self._place(job)
            if not ready:
                break
            waiting = [job for job in waiting if job.id not in self.done]

    def _place(self, job: Job) -> None:
        now = max([job.release, *(self.done[other] for other in job.after)])
        self.heads[job.id] = []
        for step in job.operations:
            self.heads[job.id].append(now)
            now = (
                min(earliest_end_on_machine(self.machines[name], now, work, step) for name, work in step.on.items()) + step.hold
            )
        self.done[job.id] = now

    def least(self) -> tuple[int, str]:
        """Return a value of the objective that no timetable beats, and the argument."""
        if self.task.objective != "makespan":
            late = sum(job.weight * max(0, self.done[job.id] - job.due) for job in self.task.jobs if job.due is not None)
            return late, "each job alone, done as soon as it can be"
        longest = max(self.done.values(), default=0)
        crowded = max((self._crowded(group) for group in self._groups()), default=0)
        if crowded > longest:
            return crowded, "work in sum that only some machines can do"
        return longest, "the longest job alone"

    def _groups(self) -> set[frozenset[str]]:
        return {frozenset(step.on) for job in self.task.jobs for step in job.operations}

    def _crowded(self, group: frozenset[str]) -> int:
        """Return when the work of a group of machines could be done: begun at the earliest head, followed by the least tail."""
        mine = [
            (self.heads[job.id][place], min(step.on.values()), _after(job, place))
            for job in self.task.jobs
            for place, step in enumerate(job.operations)
            if set(step.on) <= group
        ]
        best, shut = 0, {name: self.machines[name].closed for name in group}
        heads = sorted({head for head, _, _ in mine})
        for head in heads[:: max(1, len(heads) // 50)]:
            later = [(work, tail) for begun, work, tail in mine if begun >= head]
            for least in sorted({tail for _, tail in later})[:10]:
                work = sum(one for one, tail in later if tail >= least)
                best = max(best, _full(shut, head, work) + least)
        return best


def _after(job: Job, place: int) -> int:
    """What of a job comes after the work of one of its operations."""
    return job.operations[place].hold + sum(min(step.on.values()) + step.hold for step in job.operations[place + 1 :])


def _full(shut: Mapping[str, Iterable[tuple[int, int]]], head: int, work: int) -> int:
    """Return the earliest time by which machines, from a time on, are open long enough for some work in all."""
    changes = sorted(change for one in shut.values() for begin, end in one for change in ((begin, -1), (end, 1)))
    running, now, left = len(shut), 0, work
    for at, change in changes:
        if at > now:
            worked = running * max(0, at - max(now, head))
            if running and worked >= left:
                break
            left, now = left - worked, at
        running += change
    start = max(now, head)
    return start + -(-left // running) if running > 0 else start


def earliest_end_on_machine(machine: Machine, now: int, work: int, step: Operation) -> int:
    """Return the earliest end of an operation on a machine from a time on, outside closed times."""
    start, closed = now, sorted(machine.closed)
    if work == 0:
        return now
    if step.pause:
        left = work
        for begin, end in closed:
            if end <= start:
                continue
            if begin > start and begin - start >= left:
                break
            left, start = left - max(0, begin - start), end
        return start + left
    for begin, end in closed:
        if end > start and begin < start + work:
            start = end
    return start + work
