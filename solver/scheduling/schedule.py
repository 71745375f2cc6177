"""A timetable for generic jobs: best dispatch rule, then a constraint program, with the bound that was proved."""

from __future__ import annotations

import math
from dataclasses import replace

from solver.domain.certificate import Certificate
from solver.domain.timetable import ScheduleJob, ScheduleResult, Slot
from solver.scheduling.buffers.faults import refuse_deadlocking_buffers, refuse_oversized_jobs
from solver.scheduling.buffers.overfull import overfull_buffers, total_buffer_excess, widen_buffers_to_hold
from solver.scheduling.buffers.partial_schedule import semi_active
from solver.scheduling.buffers.repair import best_repair, timetable_rank
from solver.scheduling.buffers.serial import serial_schedule
from solver.scheduling.dispatch import RULES, dispatch_by_rule, dispatch_whole_jobs
from solver.scheduling.lists.annealing import is_large_tardiness_job
from solver.scheduling.lists.machine_group_bound import machine_group_bound
from solver.scheduling.lists.portfolio import improve_large
from solver.scheduling.lists.secondary import has_secondary_goals, improve_secondary
from solver.scheduling.local_search import local_searches_for
from solver.scheduling.model_size import MOST_CONSTRAINTS, WORTH_A_MODEL, estimate_constraint_count
from solver.scheduling.objectives import objective_value, secondary_costs, single_job_bound
from solver.scheduling.permutations.flow_shop import build_flow_shop, stage_bound
from solver.scheduling.permutations.line_search import machine_line_search_for
from solver.search import Search, calling_at_end, with_time_limit

MOST_TIME = 2**60  # beyond, the constraint program would not take the numbers
MOST_WITH_ROOMS = 400  # operations up to which one model is tried with the rooms in it
MOST_AT_ONCE = 1_000  # operations up to which a dispatch rule takes no time worth sparing
BEFORE_ROOMS = 0.85  # of the time, for the search without rooms; keeping a large timetable to them takes seconds
FIRST_TRY = 0.02  # of the constraint program's own deterministic time, in the first round
COUNTED_S = 7.0  # seconds, about, that a unit of its deterministic time takes with two workers on two cores
FOR_LATENESS = 0.9  # of the time, at most, where set-up and flow time are goals too


def schedule(task: ScheduleJob, search: Search) -> ScheduleResult:
    """Return a timetable for a valid job: the best found in the time, and the bound that was proved.

    Never without a plan, for a dispatch rule always gives one, but where rooms are hard and so small that no order of work
    was found that keeps to them: then unknown, with what is too much at the least. Raises NoPlan where that is proved to be
    none. A large job for which no time is left at all is answered in a moment.
    """
    if not task.jobs:
        return ScheduleResult(status="optimal", objective=0, lower_bound=0, operations=(), seconds=0.0)
    if search.over() and not task.same_order and sum(len(job.operations) for job in task.jobs) > MOST_AT_ONCE:
        return _at_once(task)
    if task.rooms:
        return _with_rooms(task, search)
    if task.pools:
        return _with_people(task, search)
    lower_bound = single_job_bound(task)
    if is_large_tardiness_job(task):
        return _large(task, search, lower_bound)
    if not has_secondary_goals(task):
        return _result(task, *_least(task, search, lower_bound))
    kept = (1 - FOR_LATENESS) * search.left_s()
    best, lower_bound = _least(task, replace(search, left_s=lambda: search.left_s() - kept), lower_bound)
    return _result(task, improve_secondary(task, best, search), lower_bound)


def _least(task: ScheduleJob, search: Search, lower_bound: int) -> tuple[tuple[Slot, ...], int]:
    """The best timetable found by the objective alone, and the bound: dispatch rules, constraint program, local searches."""
    flow = build_flow_shop(task)
    if flow is not None:
        lower_bound = max(lower_bound, stage_bound(flow))
        line = machine_line_search_for(flow, search) if estimate_constraint_count(task) > WORTH_A_MODEL else None
        if line is not None:
            return line.improve(search, lower_bound), lower_bound
    best = _first(task)
    searches = local_searches_for(task, search)
    effort = 1
    while objective_value(task, best) > lower_bound:
        best, bound, proved = _improve(task, best, search, FIRST_TRY * effort if searches else math.inf)
        lower_bound = max(lower_bound, bound)
        if proved or objective_value(task, best) <= lower_bound or search.over() or not searches:
            break
        for one in searches:
            best = _better(task, best, one.improve(best, effort, search, lower_bound))
            search.spend(effort * one.seconds)
        effort *= 2
    return best, lower_bound


def _large(task: ScheduleJob, search: Search, lower_bound: int) -> ScheduleResult:
    """More than one model holds: moves on the list of operations, which mind set-up and flow time too."""
    lower_bound = max(lower_bound, machine_group_bound(task, search.over))
    return _result(task, improve_large(task, None, search), lower_bound)


def _with_people(task: ScheduleJob, search: Search) -> ScheduleResult:
    """The best order of work found as if people abounded, or of a dispatch rule, made to keep to the people there are.

    The bound is that of the job without pools: people only ever delay. Rules are tried while time is left.
    """
    alone = schedule(replace(task, pools=()), search)
    if alone.status == "unknown":
        return alone
    best = semi_active(task, alone.operations)
    for rule in () if task.same_order else RULES:
        if objective_value(task, best) <= alone.lower_bound or search.left_s() <= 0:
            break
        best = min(best, semi_active(task, dispatch_by_rule(task, rule)), key=lambda slots: objective_value(task, slots))
    return _result(task, best, alone.lower_bound)


def _with_rooms(task: ScheduleJob, search: Search) -> ScheduleResult:
    """The best order of work found as if there were room for all, made to keep to the rooms there are; then, as far as one
    model holds it, what the constraint program makes of that with the rooms in it.

    Rooms only ever delay, so the bound without them holds. Soft rooms that no order of work was found to keep to are made as
    wide as the least full timetable found has them.
    """
    if not task.soft_rooms:
        refuse_oversized_jobs(task)
    small = not is_large_tardiness_job(task) and sum(len(job.operations) for job in task.jobs) <= MOST_WITH_ROOMS
    alone = schedule(replace(task, rooms=()), with_time_limit(search, (0.5 if small else BEFORE_ROOMS) * search.left_s()))
    best, lower_bound = best_repair(task, alone.operations, alone.lower_bound, search), alone.lower_bound
    if small and (best is None or timetable_rank(task, best) > (False, lower_bound, 0)):
        best, lower_bound = _modelled(task, best, lower_bound, search)
    if best is None:
        least = overfull_buffers(task, serial_schedule(task))
        return ScheduleResult(
            status="unknown", objective=None, lower_bound=lower_bound, operations=(), seconds=0.0, overfull=least
        )
    return _result(task, best, lower_bound)


def _modelled(
    task: ScheduleJob, best: tuple[Slot, ...] | None, lower_bound: int, search: Search
) -> tuple[tuple[Slot, ...] | None, int]:
    """What one model with the rooms in it makes of a timetable, and the bound; rooms that it overfills are tried both ways.

    Raises NoPlan where it is proved that hard rooms can't be kept.
    """
    begun = best
    for room in (
        (task,) if begun is None or not total_buffer_excess(task, begun) else (task, widen_buffers_to_hold(task, begun))
    ):
        if room is not task and best is not begun:
            break  # it found how to overfill them less
        found, bound, status = _solved(
            replace(room, pools=()), None if best is None or total_buffer_excess(room, best) else best, search, math.inf
        )
        if status == "INFEASIBLE" and best is None:
            refuse_deadlocking_buffers(task)
        lower_bound = max(lower_bound, bound)
        better = best_repair(room, found, lower_bound, search, rules=False) if found else None
        best = (
            best if better is None else better if best is None else min(best, better, key=lambda one: timetable_rank(task, one))
        )
    return best, lower_bound


def _at_once(task: ScheduleJob) -> ScheduleResult:
    """What can be had without any time, with a bound that takes none."""
    slots, lower_bound = serial_schedule(task), single_job_bound(task)
    least = overfull_buffers(task, slots)
    if least and not task.soft_rooms:
        return ScheduleResult(
            status="unknown", objective=None, lower_bound=lower_bound, operations=(), seconds=0.0, overfull=least
        )
    return _result(task, slots, lower_bound)


def _better(task: ScheduleJob, one: tuple[Slot, ...], two: tuple[Slot, ...]) -> tuple[Slot, ...]:
    return two if objective_value(task, two) < objective_value(task, one) else one


def _first(task: ScheduleJob) -> tuple[Slot, ...]:
    made = (dispatch_whole_jobs(task, rule) if task.same_order else dispatch_by_rule(task, rule) for rule in RULES)
    return min(made, key=lambda slots: objective_value(task, slots))


def _result(task: ScheduleJob, slots: tuple[Slot, ...], lower_bound: int) -> ScheduleResult:
    """The bound is of lateness alone, so nothing with overfull rooms is called optimal: less might be too much.

    Set-up and flow time are stated where they are goals beside it.
    """
    value, full = objective_value(task, slots), overfull_buffers(task, slots)
    slots = tuple(sorted(slots, key=lambda slot: (slot.job, slot.index)))
    setup, flow = secondary_costs(task, slots) if task.goals is not None else (None, None)
    return ScheduleResult(
        status="optimal" if value <= lower_bound and not full else "feasible",
        objective=value,
        lower_bound=min(lower_bound, value),
        operations=slots,
        seconds=0.0,
        setup=setup,
        flow=flow,
        overfull=full,
        certificate=Certificate(kind="loads" if min(lower_bound, value) <= single_job_bound(task) else "search"),
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

    from solver.scheduling.cp_model import ScheduleCpModel, planning_horizon

    value, horizon = objective_value(task, start) if start is not None else None, planning_horizon(task)
    if task.objective == "makespan" and value is not None:
        horizon = min(horizon, value)
    too_long = horizon * (1 + sum(job.weight for job in task.jobs)) > MOST_TIME
    if too_long or estimate_constraint_count(task) > MOST_CONSTRAINTS or search.over():
        return None, 0, "UNKNOWN"
    model = ScheduleCpModel(task, horizon, most=value)
    if start is not None:
        model.hint_solution(start)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = search.workers
    solver.parameters.random_seed = search.seed % 2**31
    solver.parameters.interleave_search = search.workers > 1
    solver.parameters.max_deterministic_time = effort if search.clocked else min(effort, search.left_s() / COUNTED_S)
    if search.clocked:
        solver.parameters.max_time_in_seconds = max(0.01, search.left_s())
    if search.clocked:
        with calling_at_end(search, solver.stop_search):
            status = solver.solve(model.model)
    else:
        status = solver.solve(model.model)
    search.spend(COUNTED_S * solver.response_proto.deterministic_time)
    bound = max(0, math.ceil(solver.best_objective_bound - 1e-6)) if math.isfinite(solver.best_objective_bound) else 0
    if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return model.slots(solver.value), bound, solver.status_name(status)
    return None, bound if status == cp_model.UNKNOWN else 0, solver.status_name(status)
