"""The timetable as a constraint program (CP-SAT): one method for each thing that is forced."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from ortools.sat.python import cp_model

from solver.domain.timetable import Buffer, Job, Operation, ScheduleJob, Slot
from solver.scheduling.calendar import Calendar
from solver.scheduling.precedence import Key, in_precedence_order, successors_by_job


@dataclass(slots=True)
class _Choice:
    machine: str
    work: int
    taken: Any  # literal: the operation runs here
    interval: Any


@dataclass(slots=True)
class _Step:
    key: Key
    operation: Operation
    start: Any
    end: Any
    choices: list[_Choice] = field(default_factory=list)


class ScheduleCpModel:
    """A CP-SAT model of a schedule job; times in the job's own unit, up to `horizon`."""

    def __init__(self, task: ScheduleJob, horizon: int, *, most: int | None = None) -> None:
        """`most`: a value that is known to be reached; only timetables at least as good are kept."""
        self.task = task
        self.horizon = horizon
        self.spans = start_end_windows(task, horizon, most)
        self.model = cp_model.CpModel()
        self.calendars = {machine.id: Calendar(machine.closed) for machine in task.machines}
        self.steps: dict[Key, _Step] = {}
        self.done: dict[str, Any] = {}
        self._operations_in_order()
        self._jobs_after_jobs()
        for machine in task.machines:
            self._one_at_a_time(machine.id)
        for room in task.rooms:
            self._in_room(room)
        if task.same_order:
            self._same_order()
        self.value = self._objective()

    def _operations_in_order(self) -> None:
        for job in self.task.jobs:
            before: Any = job.release
            for index, operation in enumerate(job.operations):
                step = self._step((job.id, index), operation)
                self.model.add(step.start >= before)
                before = step.end + operation.hold
            self.done[job.id] = before

    def _jobs_after_jobs(self) -> None:
        for job in self.task.jobs:
            for other in job.after:
                self.model.add(self.steps[job.id, 0].start >= self.done[other])

    def _step(self, key: Key, operation: Operation) -> _Step:
        name = f"{key[0]}.{key[1]}"
        low, high = self.spans[key]
        start = self.model.new_int_var(low, high, f"s {name}")
        end = self.model.new_int_var(low, high, f"e {name}")
        step = _Step(key, operation, start, end)
        self.steps[key] = step
        for machine, work in operation.on.items():
            taken = self.model.new_bool_var(f"on {machine} {name}")
            step.choices.append(_Choice(machine, work, taken, self._run(step, machine, work, taken)))
        self.model.add_exactly_one(choice.taken for choice in step.choices)
        return step

    def _run(self, step: _Step, machine: str, work: int, taken: Any) -> Any:
        calendar, name = self.calendars[machine], f"{machine} {step.key[0]}.{step.key[1]}"
        if work == 0 or not calendar.closed:
            return self.model.new_optional_interval_var(step.start, work, step.end, taken, name)
        if not step.operation.pause:
            low, high = self.spans[step.key]
            fits = [(max(low, a), min(high, b)) for a, b in calendar.starts(work, self.horizon) if b >= low and a <= high]
            allowed = cp_model.Domain.from_intervals([list(pair) for pair in fits])
            self.model.add_linear_expression_in_domain(step.start, allowed).only_enforce_if(taken)
            return self.model.new_optional_interval_var(step.start, work, step.end, taken, name)
        return self._pausing_run(step, machine, work, taken)

    def _pausing_run(self, step: _Step, machine: str, work: int, taken: Any) -> Any:
        """Work that pauses: the first unit of work lies in one open window, the last in the same or a later one."""
        soonest, latest = self.spans[step.key]
        windows = [
            pair for pair in self.calendars[machine].open_intervals(self.horizon) if pair[1] > soonest and pair[0] <= latest
        ]
        if not windows:
            self.model.add(taken == 0)
            windows = [(soonest, soonest + 1)]
        shut, before = [], 0
        for number, (low, _) in enumerate(windows):
            before += low - (windows[number - 1][1] if number else 0)
            shut.append(before)
        begins = [self.model.new_bool_var("") for _ in windows]
        ends = [self.model.new_bool_var("") for _ in windows]
        for literals in (begins, ends):
            self.model.add(sum(literals) == 1).only_enforce_if(taken)
            self.model.add(sum(literals) == 0).only_enforce_if(~taken)
        for (low, high), begin, finish in zip(windows, begins, ends, strict=True):
            self.model.add_linear_constraint(step.start, low, high - 1).only_enforce_if(begin)
            self.model.add_linear_constraint(step.end, low + 1, high).only_enforce_if(finish)
        closed = sum(c * f for c, f in zip(shut, ends, strict=True)) - sum(c * b for c, b in zip(shut, begins, strict=True))
        self.model.add(step.end == step.start + work + closed).only_enforce_if(taken)
        size = self.model.new_int_var(work, self.horizon, "")
        return self.model.new_optional_interval_var(step.start, size, step.end, taken, "")

    def _one_at_a_time(self, machine_id: str) -> None:
        machine = next(machine for machine in self.task.machines if machine.id == machine_id)
        here = [(step, choice) for step in self.steps.values() for choice in step.choices if choice.machine == machine_id]
        self.model.add_no_overlap([choice.interval for _, choice in here])
        if machine.setup is not None and any(any(row) for row in machine.setup):
            self._set_ups(machine.setup, machine.initial, here)

    def _set_ups(self, setup: tuple[tuple[int, ...], ...], initial: int | None, here: list[tuple[_Step, _Choice]]) -> None:
        """Set-ups between consecutive operations only, so the sequence itself is a circuit through node 0."""
        arcs: list[tuple[int, int, Any]] = [(0, 0, idle := self.model.new_bool_var(""))]
        for n, (step, choice) in enumerate(here, start=1):
            arcs.append((n, n, ~choice.taken))
            self.model.add_implication(idle, ~choice.taken)
            arcs.append((0, n, first := self.model.new_bool_var("")))
            arcs.append((n, 0, self.model.new_bool_var("")))
            if initial is not None:
                self.model.add(step.start >= setup[initial][step.operation.family]).only_enforce_if(first)
            for m, (other, _) in enumerate(here, start=1):
                if m != n and step.key[0] == other.key[0] and other.key[1] < step.key[1]:
                    continue
                if m != n:
                    arcs.append((n, m, follows := self.model.new_bool_var("")))
                    gap = setup[step.operation.family][other.operation.family]
                    self.model.add(other.start >= step.end + gap).only_enforce_if(follows)
        self.model.add_circuit(arcs)

    def _in_room(self, room: Buffer) -> None:
        """What waits there is there from the end of the job that brings it to the start of the one that fetches it."""
        stays = []
        for stay in room.stays:
            came, gone = self._last(stay.job).end, self.steps[stay.until, 0].start
            stays.append(self.model.new_interval_var(came, self.model.new_int_var(0, 2 * self.horizon, ""), gone, ""))
        self.model.add_cumulative(stays, [stay.takes for stay in room.stays], room.size)

    def _last(self, job_id: str) -> _Step:
        return self.steps[job_id, max(index for name, index in self.steps if name == job_id)]

    def _same_order(self) -> None:
        """All machines take the jobs in one order: a literal for each pair of jobs decides it wherever both are.

        Where no machine is sure to see every job, the order of pairs could go in a circle: then each job has a rank.
        """
        jobs = [job for job in self.task.jobs if job.operations]
        sure = [{name for step in job.operations if len(step.on) == 1 for name in step.on} for job in jobs]
        ranks = None if sure and set.intersection(*sure) else [self.model.new_int_var(0, len(jobs) - 1, "") for _ in jobs]
        for n, one in enumerate(jobs):
            for m, two in enumerate(jobs[n + 1 :], start=n + 1):
                met = self._met(one, two)
                if not met:
                    continue
                first = self.model.new_bool_var("")
                for (s, on_s), (t, on_t) in met:
                    self.model.add(t.start >= s.end).only_enforce_if(first, on_s.taken, on_t.taken)
                    self.model.add(s.start >= t.end).only_enforce_if(~first, on_s.taken, on_t.taken)
                if ranks is not None:
                    self.model.add(ranks[n] < ranks[m]).only_enforce_if(first)
                    self.model.add(ranks[n] > ranks[m]).only_enforce_if(~first)

    def _met(self, one: Job, two: Job) -> list[tuple[tuple[_Step, _Choice], tuple[_Step, _Choice]]]:
        """The machines on which operations of both jobs may be."""
        mine, theirs = (
            [(step, choice) for n in range(len(job.operations)) for step in [self.steps[job.id, n]] for choice in step.choices]
            for job in (one, two)
        )
        return [(p, q) for p in mine for q in theirs if p[1].machine == q[1].machine]

    def _objective(self) -> Any:
        if self.task.objective == "makespan":
            value = self.model.new_int_var(0, self.horizon, "makespan")
            for done in self.done.values():
                self.model.add(value >= done)
        else:
            late = []
            for job in self.task.jobs:
                if job.due is not None and job.weight:
                    tardiness = self.model.new_int_var(0, self.horizon + max(0, self._longest_hold()), f"late {job.id}")
                    self.model.add(tardiness >= self.done[job.id] - job.due)
                    late.append(job.weight * tardiness)
            value = sum(late) if late else self.model.new_constant(0)
        self.model.minimize(value)
        return value

    def _longest_hold(self) -> int:
        return max((operation.hold for job in self.task.jobs for operation in job.operations), default=0)

    def hint_solution(self, slots: tuple[Slot, ...]) -> None:
        """Start the search at a timetable."""
        for slot in slots:
            step = self.steps[slot.job, slot.index]
            self.model.add_hint(step.start, slot.start)
            self.model.add_hint(step.end, slot.end)
            for choice in step.choices:
                self.model.add_hint(choice.taken, choice.machine == slot.machine)

    def slots(self, value_of: Any) -> tuple[Slot, ...]:
        """Return the timetable that a solution holds; `value_of` gives a variable's value."""
        made = []
        for step in self.steps.values():
            machine = next(choice.machine for choice in step.choices if value_of(choice.taken))
            key = step.key
            made.append(
                Slot(job=key[0], index=key[1], machine=machine, start=int(value_of(step.start)), end=int(value_of(step.end)))
            )
        return tuple(made)


def start_end_windows(task: ScheduleJob, horizon: int, most: int | None) -> dict[Key, tuple[int, int]]:
    """Return for each operation a time before which it cannot start and one after which it need not end.

    Forward from releases by least work; backward from the lateness that a job may have in a timetable worth at most
    `most`, and from the jobs that wait for it.
    """
    jobs = {job.id: job for job in task.jobs}
    ordered, followers = in_precedence_order(task.jobs), successors_by_job(task.jobs)
    calendars = {machine.id: Calendar(machine.closed) for machine in task.machines}
    done: dict[str, int] = {}
    low: dict[Key, int] = {}
    for job in ordered:
        at = max([job.release, *(done[other] for other in job.after)])
        for n, step in enumerate(job.operations):
            low[job.id, n] = at
            at = min(calendars[one].fit(at, work, pause=step.pause)[1] for one, work in step.on.items()) + step.hold
        done[job.id] = at
    high: dict[Key, int] = {}
    for job in reversed(ordered):
        last = horizon + (job.operations[-1].hold if job.operations else 0)
        if most is not None and task.objective == "weighted_tardiness" and job.due is not None and job.weight > 0:
            last = min(last, job.due + most // job.weight)
        starts = [high[other, 0] - min(jobs[other].operations[0].on.values()) for other in followers.get(job.id, ())]
        last = max(done[job.id], min([last, *starts]))
        for n in range(len(job.operations) - 1, -1, -1):
            step = job.operations[n]
            last -= step.hold
            high[job.id, n] = max(low[job.id, n], last)
            last -= min(step.on.values())
    return {key: (low[key], high[key]) for key in low}


def planning_horizon(task: ScheduleJob) -> int:
    """Return a time by which some best timetable is done: past the last closure all runs on without idle time."""
    calm = max([0, *(Calendar(machine.closed).last_end for machine in task.machines), *(job.release for job in task.jobs)])
    longest_setup = max((cell for machine in task.machines for row in machine.setup or () for cell in row), default=0)
    work = sum(max(operation.on.values()) + operation.hold + longest_setup for job in task.jobs for operation in job.operations)
    return calm + work + longest_setup
