"""When could a stored order ship? Asked of a done plan's stored parts, answered in the plant's own time."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from service.contracts.faults import to_fault
from service.contracts.plans import Job, PromiseWanted
from service.contracts.promises import STEPS, Promised, Slip
from service.ports import Store
from service.usecases.make.plan import canonical_json
from service.usecases.stored import stored_plan
from solver.codec import decode, encode
from solver.domain.floor_snapshot import FloorSnapshot
from solver.domain.plan import Plan
from solver.domain.plant import Plant
from solver.domain.replan import PromiseResult
from solver.errors import Defect, InputError, NoPlan
from solver.floor_continuation import stock_of
from solver.promise_problem import PromiseProblem, ReleasedPlan, promise_problem
from solver.reading.read_order import read_order
from solver.replanning.check import check_promise, choices_as_schedules
from solver.replanning.promise import promise
from solver.scheduling.check import check as check_schedule
from solver.scheduling.plant.lateness_chain import operation_id_of_key
from solver.search import Search

DOING = {"done": "done", "failed": "refused", "cancelled": "stopped"}


def make_promise_of(job: Job, token: str, search: Search, *, store: Store) -> None:
    """Answer a promise's job that we own; a refusal or an impossibility ends the job with its faults.

    Raises NotFound for what is not stored, Defect for an answer that its check does not prove, LostLease, having stored
    nothing, when the job got another owner meanwhile.
    """
    wanted = job.wanted
    assert isinstance(wanted, PromiseWanted)
    answer, faults, status = None, [], "done"
    try:
        answer = canonical_json(encode(promise_order(wanted, search, store=store)))
    except (InputError, NoPlan) as error:
        faults, status = [to_fault(one.path, one.problem, one.fix) for one in error.faults], "failed"
    if search.stop():
        answer, faults, status = None, [], "cancelled"
    with store.writing() as tx:
        tx.jobs.end(job.id, token, status, doing=DOING[status], answer=answer, faults=faults)


def promise_order(wanted: PromiseWanted, search: Search, *, store: Store) -> Promised:
    """Return when an order could ship beside a plan. Raises NotFound for what is not stored, InputError and NoPlan."""
    search.tell(STEPS[0], 0.05)
    with store.reading() as tx:
        document = tx.orders.document(wanted.order.id, wanted.order.revision)
        plan, plant = stored_plan(tx, wanted.plan)
        released = ReleasedPlan.of(plan, plant, plant.stated_stock)
    search.tell(STEPS[1], 0.2)
    asked = promise_problem(
        released,
        read_order(document, released.plant),
        search,
        now_s=wanted.now_s,
        firm_until_s=wanted.firm_until_s,
        by_s=wanted.by_s,
    )
    search.tell(STEPS[2], 0.6)
    return _asked(asked, released, search)


def released_in_file(data: Any, plant: Plant) -> ReleasedPlan:
    """Return the parts of a plan as `sawbill plan` writes it, with the stock that it was made from. Raises InputError."""
    result, job = (data.get("result", data), data.get("job") or {}) if isinstance(data, dict) else (data, {})
    floor = decode(FloorSnapshot, job["floor"], name="job.floor") if job.get("floor") else None
    return ReleasedPlan.of(decode(Plan, result, name="plan"), plant, stock_of(plant, floor))


def promise_beside(data: Any, document: Any, plant: Plant, search: Search, *, by: datetime | None = None) -> Promised:
    """Return when an order could ship beside a plan as `sawbill plan` writes it. Raises InputError and NoPlan."""
    released = released_in_file(data, plant)
    by_s = None if by is None else int((by - datetime.fromisoformat(released.table.epoch)).total_seconds())
    return _asked(
        promise_problem(released, read_order(document, plant), search, firm_until_s=plant.firm_s, by_s=by_s), released, search
    )


def _asked(asked: PromiseProblem, released: ReleasedPlan, search: Search) -> Promised:
    """The answer, proved by its own check and the timetable's before anybody is told. Raises Defect for a fault of ours."""
    result = promise(asked.job, search)
    faults = list(check_promise(asked.job, result).faults)
    for task, claim in choices_as_schedules(asked.job, result):
        faults += check_schedule(task, claim).faults
    if faults:
        raise Defect("the check", *faults)
    return promise_from_result(asked, result, released)


def promise_from_result(asked: PromiseProblem, result: PromiseResult, released: ReleasedPlan) -> Promised:
    """Return the answer with clock times, and each slip by its order and truck."""
    epoch, zone = datetime.fromisoformat(released.table.epoch), ZoneInfo(released.plant.time_zone)
    named = {op.id: op for op in released.table.operations}

    def at(seconds: int) -> str:
        return (epoch + timedelta(seconds=seconds)).astimezone(zone).isoformat()

    done, by, earlier = result.done, asked.job.by, result.earlier
    if earlier is not None and not earlier.moved:  # sooner without moving anything: then that is the date
        done, earlier = earlier.done, None
    return Promised(
        ships=at(done),
        not_before=at(result.lower_bound),
        proved=done <= result.lower_bound,
        met=None if by is None else earlier.reached if earlier else done <= by,
        gives=at(earlier.done) if earlier else None,
        slips=tuple(
            Slip(
                order=named[operation_id_of_key((one.job, 0))].order,
                load=named[operation_id_of_key((one.job, 0))].about,
                later_s=one.late - one.late_before,
            )
            for one in (earlier.slips if earlier else ())
        ),
        moved=earlier.moved if earlier else 0,
    )
