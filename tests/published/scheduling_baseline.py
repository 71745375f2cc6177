"""A plain constraint program for the published sets: the textbook interval model, nothing added, no start."""

from __future__ import annotations

import math
from typing import Any

from ortools.sat.python import cp_model

from solver.domain.timetable import ScheduleJob


def plain_cp_sat(task: ScheduleJob, limit_s: float, *, workers: int = 2) -> tuple[int | None, int, bool]:
    """Return the value found (None: none), the bound and whether it is proved, by CP-SAT alone on one interval an operation.

    Covers what the published sets use: choices of machine, set-ups by a circuit, one order on all machines, both objectives;
    no calendars, holds or jobs after jobs.
    """
    model = cp_model.CpModel()
    far = sum(max(step.on.values()) for job in task.jobs for step in job.operations)
    far += sum(_longest(task) for job in task.jobs for _ in job.operations)
    far += max(job.release for job in task.jobs)
    lines: dict[str, list[tuple[Any, Any, Any, Any, int]]] = {machine.id: [] for machine in task.machines}
    ends = []
    for job in task.jobs:
        before: Any = job.release
        for step in job.operations:
            start, end = model.new_int_var(0, far, ""), model.new_int_var(0, far, "")
            model.add(start >= before)
            taken = []
            for name, work in step.on.items():
                here = model.new_bool_var("") if len(step.on) > 1 else model.new_constant(1)
                interval = model.new_optional_interval_var(start, work, end, here, "")
                lines[name].append((start, end, interval, here, step.family))
                taken.append(here)
            model.add_exactly_one(taken)
            before = end
        ends.append(before)
    for machine in task.machines:
        model.add_no_overlap([line[2] for line in lines[machine.id]])
        if machine.setup is not None:
            _circuit(model, lines[machine.id], machine.setup, machine.initial)
    if task.same_order:
        _one_order(model, task, lines)
    _minimize(model, task, ends, far)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = workers
    solver.parameters.max_time_in_seconds = limit_s
    status = solver.solve(model)
    found = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    bound = solver.best_objective_bound
    value = round(solver.objective_value) if found else None
    return value, max(0, math.ceil(bound - 1e-6)) if math.isfinite(bound) else 0, status == cp_model.OPTIMAL


def _longest(task: ScheduleJob) -> int:
    cells = (cell for machine in task.machines for row in machine.setup or () for cell in row if cell < 1_000_000)
    return max(cells, default=0)


def _circuit(model: Any, line: list[tuple[Any, Any, Any, Any, int]], setup: Any, initial: int | None) -> None:
    arcs = [(0, 0, idle := model.new_bool_var(""))]
    for n, (start, end, _, here, family) in enumerate(line, start=1):
        model.add_implication(idle, ~here)
        arcs += [(n, n, ~here), (0, n, first := model.new_bool_var("")), (n, 0, model.new_bool_var(""))]
        if initial is not None:
            model.add(start >= setup[initial][family]).only_enforce_if(first)
        for m, other in enumerate(line, start=1):
            if m != n:
                arcs.append((n, m, follows := model.new_bool_var("")))
                model.add(other[0] >= end + setup[family][other[4]]).only_enforce_if(follows)
    model.add_circuit(arcs)


def _one_order(model: Any, task: ScheduleJob, lines: Any) -> None:
    many = len(task.jobs)
    for n in range(many):
        for m in range(n + 1, many):
            first = model.new_bool_var("")
            for line in lines.values():
                model.add(line[m][0] >= line[n][1]).only_enforce_if(first)
                model.add(line[n][0] >= line[m][1]).only_enforce_if(~first)


def _minimize(model: Any, task: ScheduleJob, ends: list[Any], far: int) -> None:
    if task.objective == "makespan":
        value = model.new_int_var(0, far, "")
        model.add_max_equality(value, ends)
        model.minimize(value)
        return
    late = []
    for job, end in zip(task.jobs, ends, strict=True):
        if job.due is not None:
            late.append(job.weight * (tardiness := model.new_int_var(0, far, "")))
            model.add(tardiness >= end - job.due)
    model.minimize(sum(late))
