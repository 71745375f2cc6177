"""How does a stored plan go on? From its parts, the floor's ledger and what happened: each choice a plan of its own."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from service.contracts.faults import to_fault
from service.contracts.plans import Document, Job, LateLine, PlanManifest, ProofLine, ReplanWanted
from service.contracts.replans import STEPS, EndingChange, MovedWork, ReplanChoice, Replanned
from service.ports import Store, Transaction
from service.usecases.make.plan import MEDIA, Printer, canonical_json
from service.usecases.plan_bounds import verified_bounds
from service.usecases.plan_rows import write_plan_rows
from service.usecases.stored import plan_from_manifest, stored_plan, written_parts
from solver.codec import encode
from solver.documents.moves import OperationMove, compare_timetables
from solver.domain.disruptions import FloorReport, seconds_after_epoch
from solver.domain.plan import Plan
from solver.domain.plant import Plant
from solver.domain.replan import Choice
from solver.domain.timetable import Timetable
from solver.domain.work_ids import operation_id
from solver.errors import Defect, InputError, NoPlan
from solver.loading.dispatch import plan_departures
from solver.plan_parts import check_departures, iterate_plan_parts, part_claim
from solver.promise_problem import ReleasedPlan
from solver.replan_problem import ReplanProblem, replan_problem, timetables_of_choices
from solver.replanning.check import check_replan
from solver.replanning.replan import replan
from solver.scheduling.check import check as check_schedule
from solver.scheduling.check_timetable import timetable_faults
from solver.search import Search

QUOTING = ("departures.csv", "loads.csv", "tables.xlsx", "machine-days.pdf", "timetable-weeks.pdf")  # they quote times


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoicePlan:
    """A choice as a plan: its manifest, the parts that it does not share, its files."""

    manifest: PlanManifest
    bodies: tuple[tuple[str, str], ...]
    files: tuple[Document, ...]


def make_replan_of(job: Job, token: str, search: Search, *, store: Store, printer: Printer) -> None:
    """Answer a replanning's job that we own, each choice kept as a plan; a refusal ends the job with its faults.

    Raises NotFound for what is not stored, Defect for an answer that its checks do not prove, LostLease, having stored
    nothing, when the job got another owner meanwhile.
    """
    wanted = job.wanted
    assert isinstance(wanted, ReplanWanted)
    try:
        answer, made = replan_plan(wanted, search, store=store, printer=printer)
    except (InputError, NoPlan) as error:
        faults = [to_fault(one.path, one.problem, one.fix) for one in error.faults]
        with store.writing() as tx:
            tx.jobs.end(job.id, token, "failed", doing="refused", faults=faults)
        return
    if search.stop():
        with store.writing() as tx:
            tx.jobs.end(job.id, token, "cancelled", doing="stopped")
        return
    text = canonical_json(encode(answer))
    with store.writing() as tx:
        tx.jobs.end(job.id, token, "done", doing="done", answer=text)
        for one in reversed(made):  # the calm one last: it is the newest plan
            tx.plans.add(one.manifest, one.bodies, one.files, job=job.id)
    for one in made:
        write_plan_rows(one.manifest.id, store=store)
        verified_bounds(one.manifest.id, store=store)


def replan_plan(
    wanted: ReplanWanted, search: Search, *, store: Store, printer: Printer
) -> tuple[Replanned, tuple[ChoicePlan, ...]]:
    """Return how a stored plan goes on, and its choices as plans. Raises NotFound, InputError, NoPlan, Defect."""
    search.tell(STEPS[0], 0.05)
    with store.reading() as tx:
        old = tx.plans.manifest(wanted.plan)
        whole, plant = stored_plan(tx, wanted.plan)
        released = ReleasedPlan.of(whole, plant, plant.stated_stock)
        ledger = floor_report_of(tx, released)
        files = tuple(tx.plans.document(old.id, line.name) for line in tx.plans.documents(old.id))
    search.tell(STEPS[1], 0.15)
    asked = replan_problem(
        released, wanted.happened, ledger, now_s=wanted.now_s, firm_until_s=wanted.firm_until_s, seed=wanted.seed
    )
    search.tell(STEPS[2], 0.2)
    result = replan(asked.job, search)
    search.tell(STEPS[3], 0.85)
    report = check_replan(asked.job, result)
    if not report.sound:
        raise Defect("the check", *report.faults)
    told_choices, made = [], []
    for choice, table in zip(result.choices, timetables_of_choices(asked, result, plant, epoch=old.epoch), strict=True):
        with store.writing() as tx:
            plan_id = tx.plans.new_id()
        one = _plan_of(choice, table, old, whole, plant, files, printer, plan_id)
        made.append(one)
        told_choices.append(_told(choice, table, asked, released, one))
    answer = Replanned(
        proved=result.status == "optimal",
        choices=tuple(told_choices),
        operations=len(released.table.operations),
        kept=result.kept,
        forced=result.forced,
        undone=len(asked.ran.undone),
        sooner=len(asked.ran.sooner),
    )
    return answer, tuple(made)


def floor_report_of(tx: Transaction, released: ReleasedPlan) -> FloorReport:
    """Return what the floor told of a plan, as far as it was not undone."""
    epoch = released.table.epoch

    def when(subjects: list[str], *kinds: str) -> dict[str, tuple[int, str, int]]:
        """By subject: its last word, as sequence number, kind, and seconds from the plan's start."""
        last: dict[str, tuple[int, str, int]] = {}
        for (subject, kind), event in tx.events.last_events_in_force(subjects, kinds).items():
            at = max(0, seconds_after_epoch(epoch, event.at))
            last[subject] = max(last.get(subject, (-1, "", 0)), (event.seq, kind, at))
        return last

    pieces = [str(piece.id) for takeoff in released.takeoffs for piece in takeoff.pieces]
    bundles = [str(bundle.id) for part in released.stacks for bundle in part.result.bundles]
    loads = [str(load.id) for part in released.loads for load in part.result.loads]
    cut, again = when(pieces, "cut", "scrapped"), when(pieces, "cut", "scrapped", "remade")
    to_fault = {
        "cut": {piece: at for piece, (_, _, at) in cut.items()},
        "scrapped": tuple(piece for piece, (_, kind, _) in again.items() if kind != "cut"),
        "bundled": {name: at for name, (_, _, at) in when(bundles, "bundled").items()},
        "loaded": {name: at for name, (_, _, at) in when(bundles, "loaded").items()},
        "shipped": {name: at for name, (_, _, at) in when(loads, "shipped").items()},
    }
    return FloorReport(**to_fault)  # type: ignore[arg-type]  # ids are their text


def _plan_of(
    choice: Choice,
    table: Timetable,
    old: PlanManifest,
    whole: Plan,
    plant: Plant,
    files: tuple[Document, ...],
    printer: Printer,
    plan_id: str,
) -> ChoicePlan:
    """The released plan with another timetable, other departures and the files that quote them. Raises Defect."""
    trucks = plan_departures(whole.takeoffs, whole.stacks, whole.loads, table)
    leaving = check_departures(trucks, replace(whole, timetable=table))
    faults = [*check_schedule(table.job, table.result).faults, *timetable_faults(table), *leaving.faults]
    if faults:
        raise Defect("the check", *faults)
    new, bodies = written_parts((("schedule", "plant", table), ("dispatch", "plant", trucks)))
    digests = {line.stage: line.digest for line in new}
    parts = [replace(line, digest=digests.get(line.stage, line.digest)) for line in old.parts]
    if not any(line.stage == "dispatch" for line in parts):
        parts.append(new[-1])
    claims = {stage: part_claim(part) for stage, part in (("schedule", table), ("dispatch", trucks))}
    proofs = [one for one in old.proofs if one.stage not in claims]
    proofs += [
        ProofLine(stage=stage, about="plant", status=said.status, value=said.value, lower_bound=said.bound, checked=True)
        for stage, said in claims.items()
    ]
    manifest = replace(
        old,
        id=plan_id,
        status="optimal" if all(one.status in ("optimal", "done") for one in proofs) else "feasible",
        parts=tuple(parts),
        proofs=tuple(proofs),
        deliveries=tuple(
            LateLine(
                order=one.order,
                delivery=one.delivery,
                due_s=one.due_s,
                done_s=one.done_s,
                late_s=one.late_s,
                why=one.why,
            )
            for one in table.deliveries
        ),
        predecessor=old.id,
    )
    changed = replace(whole, timetable=table, dispatch=trucks)
    quoting = (
        tuple(_quoting(plan_from_manifest(manifest, (part for _, part in iterate_plan_parts(changed))), plant, printer))
        if files
        else ()
    )
    kept = tuple(file for file in files if file.name not in {one.name for one in quoting})
    return ChoicePlan(manifest=manifest, bodies=tuple(bodies), files=(*kept, *quoting))


def _quoting(plan: Plan, plant: Plant, printer: Printer) -> Iterator[Document]:
    """The files that quote times, made anew; the others stay as they were printed."""
    with tempfile.TemporaryDirectory() as folder:
        printer(plan, plant, Path(folder), lambda _text, _part: None)
        for path in sorted(Path(folder).iterdir()):
            if path.name in QUOTING:
                media = MEDIA.get(path.suffix, "application/octet-stream")
                yield Document(name=path.name, media_type=media, body=path.read_bytes())


def _goes_on(move: OperationMove) -> bool:
    """Whether an operation is where it was and only ends at another time, as running work does that waits for a repair."""
    old, new = move.old, move.new
    return old is not None and new is not None and (old.machine, old.start_s) == (new.machine, new.start_s)


def _told(choice: Choice, table: Timetable, asked: ReplanProblem, released: ReleasedPlan, made: ChoicePlan) -> ReplanChoice:
    """A choice in clear: instants in the plant's time, the longest move first."""
    epoch, zone = datetime.fromisoformat(table.epoch), ZoneInfo(released.plant.time_zone)

    def at(seconds: int) -> str:
        return (epoch + timedelta(seconds=seconds)).astimezone(zone).isoformat()

    change = compare_timetables(released.table, table)
    ran = {operation_id(*key) for key in asked.ran.sooner}
    forced = {operation_id(one.job, one.index) for one in choice.moves if one.forced}
    moves = [
        MovedWork(
            order=move.work.order,
            step=move.work.step,
            about=move.work.about,
            machine_before=move.old.machine if move.old else None,
            machine=move.work.machine,
            before=at(move.old.start_s) if move.old else None,
            start=at(move.work.start_s),
            by_s=move.by_s,
            forced=move.work.id in forced,
        )
        for move in change.moves
        if move.new is not None and move.work.id not in ran and not _goes_on(move)
    ]
    deliveries = [
        EndingChange(
            order=one.order,
            delivery=one.delivery,
            due=None if one.new.due_s is None else at(one.new.due_s),
            done_before=at(one.old.done_s),
            done=at(one.new.done_s),
            late_before_s=one.old.late_s,
            late_s=one.new.late_s,
        )
        for one in change.deliveries
        if one.old is not None and one.new is not None
    ]
    return ReplanChoice(
        name=choice.name,
        plan=made.manifest.id,
        late_s=sum(one.late_s for one in deliveries),
        late_before_s=sum(one.late_before_s for one in deliveries),
        moved=choice.moved,
        machines=choice.machines,
        far=choice.far,
        shifted_s=choice.shifted,
        deliveries=tuple(deliveries),
        moves=tuple(moves),
    )
