"""A timetable for generic jobs: best dispatch rule, then a constraint program, with the bound that was proved."""

from __future__ import annotations

import math
from dataclasses import replace

from solver.domain.timetable import ScheduleJob, ScheduleResult, Slot
from solver.errors import Faults, FieldFault
from solver.scheduling.beside import setup_and_flow
from solver.scheduling.crowd import crowd_floor
from solver.scheduling.dispatch import RULES, dispatch, job_by_job, value_of
from solver.scheduling.less import is_minded, less_beside
from solver.scheduling.local import searches_of
from solver.scheduling.neighbourhood import improve_large, is_large
from solver.scheduling.permutation import floor_of, flow_of
from solver.scheduling.room_faults import refuse_rooms, refuse_what_never_fits, room_faults
from solver.scheduling.settle import settle
from solver.scheduling.through import through
from solver.search import Search, share

MOST_TIME = 2**60  # beyond, the constraint program would not take the numbers
MOST_WITH_ROOMS = 400  # operations up to which one model is tried with the rooms in it
FIRST_TRY = 0.02  # of the constraint program's own deterministic time, in the first round
COUNTED_S = 7.0  # seconds, about, that a unit of its deterministic time takes with two workers on two cores
FOR_LATENESS = 0.9  # of the time, at most, where set-up and flow time are goals too


def validate(task: ScheduleJob) -> list[FieldFault]:
    """Return every fault of a schedule job, with its path."""
    faults = Faults()
    machines = _ids([machine.id for machine in task.machines], "machines", faults)
    jobs = _ids([job.id for job in task.jobs], "jobs", faults)
    families: dict[str, int] = {}
    for operation in (operation for job in task.jobs for operation in job.operations):
        for name in operation.on:
            families[name] = max(families.get(name, 1), 1 + operation.family)
    for n, machine in enumerate(task.machines):
        path = f"machines[{n}]"
        _closed_faults(machine.closed, f"{path}.closed", faults)
        if machine.setup is not None:
            size = len(machine.setup)
            need = max(size, families.get(machine.id, 1))
            if size < need or any(len(row) != size for row in machine.setup):
                faults.add(f"{path}.setup", f"is not square for {need} families", f"{need} rows of {need}")
            if machine.initial is not None and machine.initial >= size:
                faults.add(f"{path}.initial", f"{machine.initial} has no set-up row", f"0 to {size - 1}")
    for n, job in enumerate(task.jobs):
        if not job.operations:
            faults.add(f"jobs[{n}].operations", "is empty", "at least one operation")
        for other in job.after:
            if other not in jobs:
                faults.add(f"jobs[{n}].after", f"{other!r} is no job", "ids of other jobs")
        for k, operation in enumerate(job.operations):
            if not operation.on:
                faults.add(f"jobs[{n}].operations[{k}].on", "names no machine", "at least one machine and its time")
            for name in operation.on:
                if name not in machines:
                    faults.add(f"jobs[{n}].operations[{k}].on.{name}", "is no machine", "an id of machines")
    for n, pool in enumerate(task.pools):
        for name, count in pool.uses.items():
            if name not in machines:
                faults.add(f"pools[{n}].uses.{name}", "is no machine", "an id of machines")
            elif count > pool.size:
                faults.add(f"pools[{n}].uses.{name}", f"{count} of {pool.size} people", f"at most {pool.size}")
    if not faults and _circular(task):
        faults.add("jobs", "wait for each other in a circle", "an order in which jobs can be done")
    _ids([room.id for room in task.rooms], "rooms", faults)
    room_faults(task, faults)
    return faults.found


def _ids(ids: list[str], path: str, faults: Faults) -> set[str]:
    seen: set[str] = set()
    for n, name in enumerate(ids):
        if name in seen:
            faults.add(f"{path}[{n}].id", f"{name!r} is used before", "an id of its own")
        seen.add(name)
    return seen


def _closed_faults(closed: tuple[tuple[int, int], ...], path: str, faults: Faults) -> None:
    last = None
    for n, (start, end) in sorted(enumerate(closed), key=lambda pair: pair[1]):
        if start >= end:
            faults.add(f"{path}[{n}]", f"[{start}, {end}] ends before it starts", "start below end")
        elif last is not None and start < last:
            faults.add(f"{path}[{n}]", f"[{start}, {end}] overlaps another", "disjoint intervals")
        last = end if last is None else max(last, end)


def _circular(task: ScheduleJob) -> bool:
    waits = {job.id: set(job.after) for job in task.jobs}
    while True:
        free = {name for name, others in waits.items() if not others}
        if not free:
            return bool(waits)
        waits = {name: others - free for name, others in waits.items() if name not in free}


def schedule(task: ScheduleJob, search: Search) -> ScheduleResult:
    """Return a timetable for a valid job: the best found in the time, and the bound that was proved.

    Never without a plan, for a dispatch rule always gives one, but where rooms are so small that no order of work was found
    that keeps to them: then unknown. Raises NoPlan where that is proved to be none.
    """
    if not task.jobs:
        return ScheduleResult(status="optimal", objective=0, lower_bound=0, operations=(), seconds=0.0)
    if task.rooms:
        return _with_rooms(task, search)
    if task.pools:
        return _with_people(task, search)
    floor = simple_floor(task)
    if is_large(task):
        return _large(task, search, floor)
    if not is_minded(task):
        return _result(task, *_least(task, search, floor))
    kept = (1 - FOR_LATENESS) * search.left_s()
    best, floor = _least(task, replace(search, left_s=lambda: search.left_s() - kept), floor)
    return _result(task, less_beside(task, best, search), floor)


def _least(task: ScheduleJob, search: Search, floor: int) -> tuple[tuple[Slot, ...], int]:
    """The best timetable found by the objective alone, and the bound: dispatch rules, constraint program, local searches."""
    flow = flow_of(task)
    if flow is not None:
        floor = max(floor, floor_of(flow))
    best = _first(task)
    searches = searches_of(task, search)
    effort = 1
    while value_of(task, best) > floor:
        best, bound, proved = _improve(task, best, search, FIRST_TRY * effort if searches else math.inf)
        floor = max(floor, bound)
        if proved or value_of(task, best) <= floor or search.over() or not searches:
            break
        for one in searches:
            best = _better(task, best, one.improve(best, effort, search, floor))
            search.spend(effort * one.seconds)
        effort *= 2
    return best, floor


def _large(task: ScheduleJob, search: Search, floor: int) -> ScheduleResult:
    """More than one model holds: moves on the list of operations, which mind set-up and flow time too."""
    floor = max(floor, crowd_floor(task))
    return _result(task, improve_large(task, None, search), floor)


def _with_people(task: ScheduleJob, search: Search) -> ScheduleResult:
    """The best order of work found as if people abounded, or of a dispatch rule, made to keep to the people there are.

    The bound is that of the job without pools: people only ever delay. Rules are tried while time is left.
    """
    alone = schedule(replace(task, pools=()), search)
    if alone.status == "unknown":
        return alone
    best = settle(task, alone.operations)
    for rule in () if task.same_order else RULES:
        if value_of(task, best) <= alone.lower_bound or search.left_s() <= 0:
            break
        best = min(best, settle(task, dispatch(task, rule)), key=lambda slots: value_of(task, slots))
    return _result(task, best, alone.lower_bound)


def _with_rooms(task: ScheduleJob, search: Search) -> ScheduleResult:
    """The best order of work found as if there were room for all, made to keep to the rooms there are; then, as far as one
    model holds it, what the constraint program makes of that with the rooms in it.

    Rooms only ever delay, so the bound without them holds.
    """
    refuse_what_never_fits(task)
    small = not is_large(task) and sum(len(job.operations) for job in task.jobs) <= MOST_WITH_ROOMS
    alone = schedule(replace(task, rooms=()), share(search, search.left_s() / 2) if small else search)
    best, floor = through(task, alone.operations, alone.lower_bound, search), alone.lower_bound
    if small and (best is None or value_of(task, best) > floor):
        found, bound, status = _solved(replace(task, pools=()), best, search, math.inf)
        if status == "INFEASIBLE" and best is None:
            refuse_rooms(task)
        floor = max(floor, bound)
        better = through(task, found, floor, search, rules=False) if found else None
        best = best if better is None else better if best is None else _better(task, best, better)
    if best is None:
        return ScheduleResult(status="unknown", objective=None, lower_bound=floor, operations=(), seconds=0.0)
    return _result(task, best, floor)


def _better(task: ScheduleJob, one: tuple[Slot, ...], two: tuple[Slot, ...]) -> tuple[Slot, ...]:
    return two if value_of(task, two) < value_of(task, one) else one


def _first(task: ScheduleJob) -> tuple[Slot, ...]:
    made = (job_by_job(task, rule) if task.same_order else dispatch(task, rule) for rule in RULES)
    return min(made, key=lambda slots: value_of(task, slots))


def _result(task: ScheduleJob, slots: tuple[Slot, ...], floor: int) -> ScheduleResult:
    """The status and the bound are of lateness alone; set-up and flow time are stated where they are goals beside it."""
    value = value_of(task, slots)
    slots = tuple(sorted(slots, key=lambda slot: (slot.job, slot.index)))
    setup, flow = setup_and_flow(task, slots) if task.goals is not None else (None, None)
    return ScheduleResult(
        status="optimal" if value <= floor else "feasible",
        objective=value,
        lower_bound=min(floor, value),
        operations=slots,
        seconds=0.0,
        setup=setup,
        flow=flow,
    )


def _improve(task: ScheduleJob, start: tuple[Slot, ...], search: Search, effort: float) -> tuple[tuple[Slot, ...], int, bool]:
    """Return the better of a timetable and what the constraint program makes of it, its bound, and whether it is done.

    `effort`: deterministic time, so that with the search interleaved a repeat finds the same unless the clock ends it.
    """
    found, bound, status = _solved(task, start, search, effort)
    return (start if found is None else _better(task, start, found)), bound, status == "OPTIMAL"


def _solved(
    task: ScheduleJob, start: tuple[Slot, ...] | None, search: Search, effort: float
) -> tuple[tuple[Slot, ...] | None, int, str]:
    """What the constraint program finds, no worse than a timetable to start from, its bound, and its status by name."""
    from ortools.sat.python import cp_model

    from solver.scheduling.model import Model, horizon_of

    value, horizon = value_of(task, start) if start is not None else None, horizon_of(task)
    if task.objective == "makespan" and value is not None:
        horizon = min(horizon, value)
    if horizon * (1 + sum(job.weight for job in task.jobs)) > MOST_TIME or search.over():
        return None, 0, "UNKNOWN"
    model = Model(task, horizon, most=value)
    if start is not None:
        model.hint(start)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = search.workers
    solver.parameters.random_seed = search.seed % 2**31
    solver.parameters.interleave_search = search.workers > 1
    solver.parameters.max_deterministic_time = effort if search.clocked else min(effort, search.left_s() / COUNTED_S)
    if search.clocked:
        solver.parameters.max_time_in_seconds = max(0.01, search.left_s())
    status = solver.solve(model.model)
    search.spend(COUNTED_S * solver.response_proto.deterministic_time)
    bound = max(0, math.ceil(solver.best_objective_bound - 1e-6)) if math.isfinite(solver.best_objective_bound) else 0
    if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return model.slots(solver.value), bound, solver.status_name(status)
    return None, bound if status == cp_model.UNKNOWN else 0, solver.status_name(status)


def simple_floor(task: ScheduleJob) -> int:
    """Return a value that no timetable beats: each job alone, started at its release, with nothing in its way."""
    done: dict[str, int] = {}
    waiting = list(task.jobs)
    while waiting:
        later = []
        for job in waiting:
            if any(other not in done for other in job.after):
                later.append(job)
                continue
            start = max([job.release, *(done[other] for other in job.after)])
            done[job.id] = start + sum(min(step.on.values()) + step.hold for step in job.operations)
        waiting = later
    if task.objective == "makespan":
        return max(done.values(), default=0)
    return sum(job.weight * max(0, done[job.id] - job.due) for job in task.jobs if job.due is not None)
