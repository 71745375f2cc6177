"""Prove the bound of a timetable again by another solver: is there one below it, closed times and set-ups left out?

What is left out only ever delays, so where CBC finds none there is none. What it finds refutes a bound only where it is a
timetable by all rules: that is judged by the check of timetables.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

from solver.cbc import ConstraintRow, solve_with_cbc
from solver.domain.certificate import BoundReport
from solver.domain.timetable import ScheduleJob, ScheduleResult, Slot
from solver.scheduling.check import check
from solver.scheduling.check_bound import JobsAlone, earliest_end_on_machine
from solver.search import Search

MOST_PAIRS = 2_000  # of operations that share a machine


def verify_by_other_solver(
    job: ScheduleJob, result: ScheduleResult, exact: Sequence[BoundReport], search: Search
) -> tuple[BoundReport, ...]:
    """Return the reports of `exact`, those not confirmed judged again by CBC within the time."""
    return tuple(_Again(job, result).judge(report, search) if report.state == "unconfirmed" else report for report in exact)


class _Again:
    """The program: starts of operations, which machine, and of two on one machine which comes first."""

    def __init__(self, task: ScheduleJob, result: ScheduleResult) -> None:
        self.task, self.claimed = task, result.lower_bound
        self.rows: list[ConstraintRow] = []
        self.whole: list[bool] = []
        self.most: list[float | None] = []
        self.costs: list[float] = []
        self.keys = [(n, k) for n, job in enumerate(task.jobs) for k in range(len(job.operations))]

    def _column(self, *, cost: float = 0.0, whole: bool = False, most: float | None = None) -> int:
        self.costs.append(cost)
        self.whole.append(whole)
        self.most.append(most)
        return len(self.costs) - 1

    def judge(self, report: BoundReport, search: Search) -> BoundReport:
        """Ask for a timetable below the bound."""
        shared: dict[str, list[tuple[int, int]]] = defaultdict(list)
        for n, k in self.keys:
            for name in self.task.jobs[n].operations[k].on:
                shared[name].append((n, k))
        if sum(len(mine) * (len(mine) - 1) // 2 for mine in shared.values()) > MOST_PAIRS:
            return replace(report, state="out_of_time", by="too many operations share machines for the other solver")
        self._build(shared)
        said = solve_with_cbc(self.costs, self.rows, seconds=search.left_s(), whole=self.whole, most=self.most)
        if said.none:
            return replace(report, state="again", by="CBC: no timetable below it, even without set-ups and closed times")
        if said.values is None:
            return replace(report, state="out_of_time", by="CBC did not end")
        return self._found(report, said.values)

    def _build(self, shared: dict[str, list[tuple[int, int]]]) -> None:
        task = self.task
        horizon = float(sum(max(step.on.values()) + step.hold for job in task.jobs for step in job.operations))
        horizon += max((job.release for job in task.jobs), default=0) + self.claimed
        heads = JobsAlone(task).heads
        self.start = {key: self._column() for key in self.keys}
        self.uses: dict[tuple[tuple[int, int], str], int] = {}
        for n, k in self.keys:
            job, step = task.jobs[n], task.jobs[n].operations[k]
            self.uses |= {((n, k), name): self._column(whole=True, most=1.0) for name in step.on}
            self.rows.append(ConstraintRow(parts={self.uses[(n, k), name]: 1.0 for name in step.on}, low=1, high=1))
            self.rows.append(ConstraintRow(parts={self.start[n, k]: 1.0}, low=heads[job.id][k]))
            if k:
                self._after((n, k - 1), (n, k))
        self.at = {job.id: n for n, job in enumerate(task.jobs)}
        for n, job in enumerate(task.jobs):
            for other in job.after:
                last = self.at[other]
                self._after((last, len(task.jobs[last].operations) - 1), (n, 0))
        for name, mine in shared.items():
            for one, two in combinations(mine, 2):
                self._apart(name, one, two, horizon)
        self._objective()

    def _ends(self, key: tuple[int, int]) -> dict[int, float]:
        step = self.task.jobs[key[0]].operations[key[1]]
        return {self.start[key]: 1.0, **{self.uses[key, name]: float(work) for name, work in step.on.items()}}

    def _after(self, one: tuple[int, int], two: tuple[int, int]) -> None:
        hold = self.task.jobs[one[0]].operations[one[1]].hold
        self.rows.append(
            ConstraintRow(parts={self.start[two]: 1.0, **{n: -part for n, part in self._ends(one).items()}}, low=hold)
        )

    def _apart(self, name: str, one: tuple[int, int], two: tuple[int, int], horizon: float) -> None:
        """Where both are on the machine, one ends before the other begins."""
        first = self._column(whole=True, most=1.0)
        for before, after, sign in ((one, two, 1.0), (two, one, -1.0)):
            work = float(self.task.jobs[before[0]].operations[before[1]].on[name])
            # start(after) >= start(before) + work - horizon * (1 - [before first]) - horizon * (2 - both here)
            parts = {
                self.start[after]: 1.0,
                self.start[before]: -1.0,
                first: -sign * horizon,
                self.uses[before, name]: -horizon,
                self.uses[after, name]: -horizon,
            }
            low = work - 3 * horizon if sign > 0 else work - 2 * horizon
            self.rows.append(ConstraintRow(parts=parts, low=low))

    def _objective(self) -> None:
        """The objective, a whole number, is to be at most one less than the bound."""
        task = self.task
        if task.objective == "makespan":
            most = self._column(cost=1.0, most=float(self.claimed - 1))
            for n, job in enumerate(task.jobs):
                last = (n, len(job.operations) - 1)
                parts = {most: 1.0, **{at: -part for at, part in self._ends(last).items()}}
                self.rows.append(ConstraintRow(parts=parts, low=job.operations[-1].hold))
            return
        late: dict[int, float] = {}
        for n, job in enumerate(task.jobs):
            if job.due is None or job.weight == 0:
                continue
            column = self._column(cost=float(job.weight))
            late[column] = float(job.weight)
            parts = {column: 1.0, **{at: -part for at, part in self._ends((n, len(job.operations) - 1)).items()}}
            self.rows.append(ConstraintRow(parts=parts, low=job.operations[-1].hold - job.due))
        self.rows.append(ConstraintRow(parts=late, high=float(self.claimed - 1)))

    def _found(self, report: BoundReport, values: Sequence[float]) -> BoundReport:
        slots = self._replayed(values)
        ends = {(slot.job, slot.index): slot.end for slot in slots}
        done = {job.id: ends[job.id, len(job.operations) - 1] + job.operations[-1].hold for job in self.task.jobs}
        if self.task.objective == "makespan":
            value = max(done.values())
        else:
            value = sum(job.weight * max(0, done[job.id] - job.due) for job in self.task.jobs if job.due is not None)
        plain = replace(self.task, goals=None)
        made = ScheduleResult(
            status="feasible" if value else "optimal", objective=value, lower_bound=0, operations=tuple(slots), seconds=0.0
        )
        if value < self.claimed and check(plain, made).sound:
            return replace(report, state="refuted", by=f"CBC found a timetable of {value}")
        return replace(report, state="unconfirmed", by="CBC finds one below it without set-ups, closed times, people and rooms")

    def _replayed(self, values: Sequence[float]) -> list[Slot]:
        """Return what was found in whole numbers: in its order, each operation as early as it can be on its machine."""
        slots: list[Slot] = []
        free: dict[str, int] = {}
        ended: dict[str, int] = {}
        machines = {machine.id: machine for machine in self.task.machines}
        for key in sorted(self.keys, key=lambda one: (round(values[self.start[one]], 3), one[1])):
            job = self.task.jobs[key[0]]
            step = job.operations[key[1]]
            name = max(step.on, key=lambda one: values[self.uses[key, one]])
            ready = max([job.release, *(ended.get(other, 0) for other in job.after)]) if key[1] == 0 else ended[job.id]
            ready = max(ready, free.get(name, 0))
            end = earliest_end_on_machine(machines[name], ready, step.on[name], step)
            start = end - step.on[name] if not step.pause else ready
            free[name], ended[job.id] = end, end + step.hold
            slots.append(Slot(job=job.id, index=key[1], machine=name, start=start, end=end))
        return slots
