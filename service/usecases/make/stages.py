"""Each stage alone: a job in JSON to a result in JSON, checked or refused, as the contracts state."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from solver.codec import decode, encode, schema
from solver.domain.certificate import BoundReport
from solver.domain.plant import Plant
from solver.domain.report import Report, with_bounds
from solver.domain.takeoff import Takeoff
from solver.errors import FieldFault, InputError, NoPlan
from solver.search import Search, deterministic_search

DONE, REFUSED, IMPOSSIBLE, UNSOUND, UNKNOWN = 0, 2, 3, 4, 5
LONGEST_SEARCH_S = 86_400.0


@dataclass(frozen=True, slots=True, kw_only=True)
class StageAnswer:
    """A stage's answer to one job: the exit code, the result as JSON data (or None), and the faults."""

    code: int
    result: dict[str, Any] | None
    faults: tuple[FieldFault, ...] = ()

    def line(self) -> dict[str, Any]:
        """Return the answer as one line of a JSON Lines result."""
        if self.result is not None:
            return self.result
        status = "refused" if self.code == REFUSED else "impossible"
        faults = [{"path": fault.path, "problem": fault.problem, "fix": fault.fix} for fault in self.faults]
        return {"status": status, "faults": faults}


Confirm = Callable[[Any, Any], tuple[BoundReport, ...]]
Again = Callable[[Any, Any, Sequence[BoundReport], Search], tuple[BoundReport, ...]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """What a stage is made of; solver libraries are loaded only when it runs."""

    job: Callable[[], type[Any]]
    result: Callable[[], type[Any]]
    validate: Callable[[Any], list[FieldFault]]
    solve: Callable[[Any, Search], Any]
    check: Callable[[Any, Any], Report]
    beside: Callable[[Any], list[FieldFault]] = lambda _data: []  # what else is wrong with a job that can't be read
    confirm: Confirm = lambda _job, _result: ()  # how far exact arithmetic carries the bounds
    again: Again = lambda _job, _result, exact, _search: tuple(exact)  # those that it does not, by another solver


def _nest_stage() -> Stage:
    from solver.domain.cut_plan import NestJob, NestResult
    from solver.nesting.check import check
    from solver.nesting.check_again import verify_by_other_solver
    from solver.nesting.check_bound import verify_bounds
    from solver.nesting.faults import faults_of_readable_parts
    from solver.nesting.nest import nest, validate

    return Stage(
        job=lambda: NestJob,
        result=lambda: NestResult,
        validate=validate,
        solve=nest,
        check=check,
        beside=faults_of_readable_parts,
        confirm=verify_bounds,
        again=verify_by_other_solver,
    )


def _sequence_stage() -> Stage:
    from solver.domain.sequence import SequenceJob, SequenceResult
    from solver.sequencing.check import check
    from solver.sequencing.check_again import verify_by_other_solver
    from solver.sequencing.check_bound import verify_bounds
    from solver.sequencing.sequence import sequence, validate

    return Stage(
        job=lambda: SequenceJob,
        result=lambda: SequenceResult,
        validate=validate,
        solve=sequence,
        check=check,
        confirm=verify_bounds,
        again=verify_by_other_solver,
    )


def _slit_stage() -> Stage:
    from solver.domain.slit_plan import SlitJob, SlitResult
    from solver.slitting.check import check
    from solver.slitting.check_again import verify_by_other_solver
    from solver.slitting.check_bound import verify_bounds
    from solver.slitting.slit import slit, validate

    return Stage(
        job=lambda: SlitJob,
        result=lambda: SlitResult,
        validate=validate,
        solve=slit,
        check=check,
        confirm=verify_bounds,
        again=verify_by_other_solver,
    )


def _skins_stage() -> Stage:
    from solver.domain.skin_plan import SkinJob, SkinResult
    from solver.skins.check import check
    from solver.skins.check_bound import verify_bounds
    from solver.skins.skins import plan_skins, validate

    return Stage(
        job=lambda: SkinJob,
        result=lambda: SkinResult,
        validate=validate,
        solve=plan_skins,
        check=check,
        confirm=verify_bounds,
    )


def _schedule_stage() -> Stage:
    from solver.domain.timetable import ScheduleJob, ScheduleResult
    from solver.scheduling.check import check
    from solver.scheduling.check_again import verify_by_other_solver
    from solver.scheduling.check_bound import verify_bounds
    from solver.scheduling.faults import validate
    from solver.scheduling.schedule import schedule

    return Stage(
        job=lambda: ScheduleJob,
        result=lambda: ScheduleResult,
        validate=validate,
        solve=schedule,
        check=check,
        confirm=verify_bounds,
        again=verify_by_other_solver,
    )


def _stack_stage() -> Stage:
    from solver.bundling.check import check
    from solver.bundling.check_bound import verify_bounds
    from solver.bundling.stack import stack, validate
    from solver.domain.bundle import StackJob, StackResult

    return Stage(
        job=lambda: StackJob,
        result=lambda: StackResult,
        validate=validate,
        solve=stack,
        check=check,
        confirm=verify_bounds,
    )


def _load_stage() -> Stage:
    from solver.domain.load import LoadJob, LoadResult
    from solver.loading.check import check
    from solver.loading.check_again import verify_by_other_solver
    from solver.loading.check_bound import verify_bounds
    from solver.loading.faults import validate
    from solver.loading.load import load

    return Stage(
        job=lambda: LoadJob,
        result=lambda: LoadResult,
        validate=validate,
        solve=load,
        check=check,
        confirm=verify_bounds,
        again=verify_by_other_solver,
    )


def _promise_stage() -> Stage:
    from solver.domain.replan import PromiseJob, PromiseResult
    from solver.replanning.check import check_promise
    from solver.replanning.promise import promise
    from solver.replanning.validate import promise_faults

    def check(job: PromiseJob, result: PromiseResult) -> Report:
        return _with_timetables(check_promise(job, result), job, result)

    return Stage(job=lambda: PromiseJob, result=lambda: PromiseResult, validate=promise_faults, solve=promise, check=check)


def _replan_stage() -> Stage:
    from solver.domain.replan import ReplanJob, ReplanResult
    from solver.replanning.check import check_replan
    from solver.replanning.replan import replan
    from solver.replanning.validate import replan_faults

    def check(job: ReplanJob, result: ReplanResult) -> Report:
        return _with_timetables(check_replan(job, result), job, result)

    return Stage(job=lambda: ReplanJob, result=lambda: ReplanResult, validate=replan_faults, solve=replan, check=check)


def _with_timetables(report: Report, job: Any, result: Any) -> Report:
    """A report with what the timetable's own check finds in each timetable of an answer."""
    from solver.replanning.check import choices_as_schedules
    from solver.scheduling.check import CHECKED, check

    if not report.sound:
        return report
    found = [fault for task, claim in choices_as_schedules(job, result) for fault in check(task, claim).faults]
    return Report(checked=(*report.checked, *CHECKED), faults=tuple(found))


STAGES: dict[str, Callable[[], Stage]] = {
    "nest": _nest_stage,
    "sequence": _sequence_stage,
    "slit": _slit_stage,
    "skins": _skins_stage,
    "schedule": _schedule_stage,
    "stack": _stack_stage,
    "load": _load_stage,
    "promise": _promise_stage,
    "replan": _replan_stage,
}


def countdown(limit_s: float) -> Callable[[], float]:
    """Return a function that tells the seconds left of `limit_s`, counted from now."""
    end = time.monotonic() + min(limit_s, LONGEST_SEARCH_S)
    return lambda: end - time.monotonic()


def answer_stage_job(
    stage: str,
    data: Any,
    *,
    plant: Plant,
    tell: Callable[[str, float], None] | None = None,
    previous: tuple[Takeoff, ...] = (),
) -> StageAnswer:
    """Return a stage's answer to one job (JSON data): never raises for what is wrong with the job.

    `previous`: earlier takeoffs, whose marks a takeoff of the same order keeps.
    """
    try:
        made = run_takeoff(data, plant, previous) if stage == "takeoff" else run_stage(stage, data, tell=tell)
    except InputError as error:
        return StageAnswer(code=REFUSED, result=None, faults=error.faults)
    except NoPlan as error:
        return StageAnswer(code=IMPOSSIBLE, result=None, faults=error.faults)
    if made.get("status") == "unknown":
        return StageAnswer(code=UNKNOWN, result=made, faults=tuple(map(_too_full, made.get("overfull", ()))))
    return StageAnswer(code=DONE, result=made)


def _too_full(room: dict[str, Any]) -> FieldFault:
    """What an unknown timetable says of a room that no order of work was found to keep to."""
    what = f"no order of work was found for less than {room['most']} at one time, it holds {room['size']}"
    return FieldFault(f"rooms.{room['room']}", what, 'more room, or less work together; "soft_rooms": true gives a timetable')


def run_takeoff(data: Any, plant: Plant, previous: tuple[Takeoff, ...] = ()) -> dict[str, Any]:
    """Return the takeoff of an order as JSON data. Raises InputError, NoPlan."""
    from solver.reading.read_order import read_order
    from solver.takeoff.take_off import take_off

    building = read_order(data, plant)
    before = next((takeoff for takeoff in previous if takeoff.building.order == building.order), None)
    made: dict[str, Any] = encode(take_off(building, plant, before), unit=building.unit)
    return made


def run_stage(stage: str, data: Any, *, tell: Callable[[str, float], None] | None = None) -> dict[str, Any]:
    """Return the result of one job as JSON data, lengths in the job's unit. Raises InputError, NoPlan."""
    parts = STAGES[stage]()
    try:
        job = decode(parts.job(), data, name="$")
    except InputError as error:
        raise InputError(*error.faults, *parts.beside(data)) from error
    faults = parts.validate(job)
    if faults:
        raise InputError(*faults)
    started = time.monotonic()
    told = tell or (lambda _text, _part: None)
    if getattr(job, "repeat", False):
        search = deterministic_search(min(job.time_limit_s, LONGEST_SEARCH_S), seed=job.seed, tell=told)
    else:
        search = Search(seed=job.seed, left_s=countdown(job.time_limit_s), tell=told)
    result = replace(parts.solve(job, search), seconds=round(time.monotonic() - started, 3))
    made: dict[str, Any] = encode(result, unit=getattr(job, "unit", "mm"))
    return made


def check_stage_result(data: Any, *, plant: Plant, again: Search | None = None) -> Report:
    """Return what an independent check finds of a result with its job inside. Raises InputError on a malformed one.

    Bounds are verified in exact arithmetic; with `again` those that it does not carry are proved by another solver, in
    the time of that search.
    """
    if not isinstance(data, dict) or not {"stage", "job", "result"} <= set(data):
        fix = '{"stage": "nest", "job": {...}, "result": {...}}'
        raise InputError(FieldFault("document", "is not a result with its job", fix))
    stage = data["stage"]
    if stage == "takeoff":
        return _judge_takeoff(data, plant)
    if stage == "plan":
        return _judge_plan(data, plant, again)
    if stage not in STAGES:
        known = ", ".join(("takeoff", *STAGES, "plan"))
        raise InputError(FieldFault("stage", f"{stage!r} is not known", f"one of {known}"))
    parts = STAGES[stage]()
    job = decode(parts.job(), data["job"], name="job")
    faults = parts.validate(job)
    if faults:
        raise InputError(*(prefix_fault_path(fault, "job") for fault in faults))
    result = decode(parts.result(), data["result"], name="result", unit=getattr(job, "unit", None))
    bounds = parts.confirm(job, result)
    if again is not None:
        bounds = parts.again(job, result, bounds, again)
    return with_bounds(parts.check(job, result), bounds)


def prefix_fault_path(fault: FieldFault, prefix: str) -> FieldFault:
    """Return the fault with its path below `prefix`."""
    return FieldFault(f"{prefix}.{fault.path}", fault.problem, fault.fix)


def _judge_takeoff(data: Any, plant: Plant) -> Report:
    from solver.reading.read_order import read_order
    from solver.takeoff.check import check

    building = read_order(data["job"], plant)
    takeoff = decode(Takeoff, data["result"], name="result", unit=building.unit)
    return check(building, plant, takeoff)


def _judge_plan(data: Any, plant: Plant, again: Search | None) -> Report:
    from solver.domain.floor_snapshot import FloorSnapshot
    from solver.domain.plan import Plan
    from solver.plan_bounds import verify_bounds, verify_by_other_solver
    from solver.plan_check import check_plan
    from solver.reading.read_order import read_order

    orders = data["job"].get("orders") if isinstance(data["job"], dict) else None
    floor = data["job"].get("floor") if isinstance(data["job"], dict) else None
    if not isinstance(orders, list):
        raise InputError(FieldFault("job.orders", "is missing", "the orders that were planned"))
    buildings = tuple(read_order(order, plant) for order in orders)
    start = None if floor is None else decode(FloorSnapshot, floor, name="job.floor")
    plan = decode(Plan, data["result"], name="result")
    bounds = verify_bounds(plan) if again is None else verify_by_other_solver(plan, again)
    return with_bounds(check_plan(buildings, plant, plan, start), bounds)


def stage_schema(stage: str) -> dict[str, Any]:
    """Return the JSON Schemas of a stage's input and result. Raises KeyError for an unknown stage."""
    from solver.domain.floor_snapshot import FloorSnapshot
    from solver.domain.order import Order
    from solver.domain.plan import Plan

    if stage == "floor":
        return schema(FloorSnapshot)
    if stage == "order":
        return schema(Order)
    if stage == "plant":
        return schema(Plant)
    if stage == "takeoff":
        return {"input": schema(Order), "result": schema(Takeoff)}
    if stage == "plan":
        return {"input": {"type": "array", "items": schema(Order)}, "result": schema(Plan)}
    parts = STAGES[stage]()
    return {"input": schema(parts.job()), "result": schema(parts.result())}
