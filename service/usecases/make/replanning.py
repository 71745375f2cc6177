"""How does a stored plan go on? From its parts, the floor's ledger and what happened: each choice a plan of its own."""

from __future__ import annotations

import hashlib
import json
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from uuid import uuid4
from zoneinfo import ZoneInfo

from service.contracts.faults import told
from service.contracts.plans import Document, Job, LateLine, PartLine, PlanManifest, PlanWanted, ProofLine, ReplanWanted
from service.contracts.replans import EndingChange, MovedWork, ReplanChoice, Replanned
from service.ports import Store, Transaction
from service.usecases.make.plan import MEDIA, Printer, canonical
from service.usecases.make.promising import released_parts
from solver.codec import decode, encode
from solver.documents.moves import Move, change_between
from solver.domain.dispatch import Dispatch
from solver.domain.happening import Told, seconds_from
from solver.domain.plan import Plan
from solver.domain.plant import Plant
from solver.domain.rack import RackCurve
from solver.domain.replan import Choice
from solver.domain.timetable import Timetable
from solver.errors import InputError, NoPlan
from solver.going_on import GoingOn, going_on, tables
from solver.loading.check_dispatch import check as check_dispatch
from solver.loading.dispatch import dispatch
from solver.promising import Released
from solver.replanning.check import check_replan
from solver.replanning.replan import replan
from solver.scheduling.check import check as check_schedule
from solver.scheduling.check_clear import faults_in_clear
from solver.search import Search

LEASE_S, DEATHS_MOST = 60.0, 1  # of the job of a plan that is made already
QUOTING = ("departures.csv", "loads.csv", "tables.xlsx", "machine-days.pdf", "timetable-weeks.pdf")  # they quote times


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A choice as a plan: its manifest, the parts that it does not share, its files, and under which job it is found."""

    job: str
    manifest: PlanManifest
    bodies: tuple[tuple[str, str], ...]
    files: tuple[Document, ...]


def make_replan_of(job: Job, token: str, search: Search, *, store: Store, printer: Printer) -> None:
    """Answer a replanning's job that we own, each choice kept as a plan; a refusal ends the job with its faults.

    Raises NotFound for what is not stored, ValueError for an answer that its checks do not prove, LostLease, having stored
    nothing, when the job got another owner meanwhile.
    """
    wanted = job.wanted
    assert isinstance(wanted, ReplanWanted)
    try:
        answer, made = replan_plan(wanted, search, store=store, printer=printer)
    except (InputError, NoPlan) as error:
        faults = [told(one.path, one.problem, one.fix) for one in error.faults]
        with store.writing() as tx:
            tx.jobs.end(job.id, token, "failed", doing="refused", faults=faults)
        return
    if search.stop():
        with store.writing() as tx:
            tx.jobs.end(job.id, token, "cancelled", doing="stopped")
        return
    with store.writing() as tx:
        tx.jobs.end(job.id, token, "done", doing="done", answer=canonical(encode(answer)))
        for one in reversed(made):  # the calm one last: it is the newest plan
            tx.plans.add(one.manifest, one.bodies, one.files)
            tx.jobs.add(one.job, _as_plan(wanted, one.manifest))
            tx.jobs.claim(one.job, token, lease_s=LEASE_S, deaths_most=DEATHS_MOST)
            tx.jobs.end(one.job, token, "done", doing="done", plan=one.manifest.id)


def _as_plan(wanted: ReplanWanted, manifest: PlanManifest) -> PlanWanted:
    return PlanWanted(
        orders=wanted.orders,
        seconds=wanted.seconds,
        seed=wanted.seed,
        epoch=manifest.epoch,
        predecessor=wanted.plan,
    )


def replan_plan(wanted: ReplanWanted, search: Search, *, store: Store, printer: Printer) -> tuple[Replanned, tuple[Made, ...]]:
    """Return how a stored plan goes on, and its choices as plans. Raises NotFound, InputError, NoPlan, ValueError."""
    search.tell("reading the plan and what the floor told", 0.05)
    with store.reading() as tx:
        old = tx.plans.manifest(wanted.plan)
        released = released_parts(tx, wanted.plan)
        ledger = ledger_of(tx, released)
        files = tuple(tx.plans.document(old.id, line.name) for line in tx.plans.documents(old.id))
        curve = next((_rack(tx.plans.part(old.id, line.digest)) for line in tx.plans.parts_of(old.id, "rack")), None)
    search.tell("what is done, what is left", 0.15)
    asked = going_on(released, wanted.happened, ledger, now_s=wanted.now_s, firm_until_s=wanted.firm_until_s, seed=wanted.seed)
    search.tell("looking for calm, and for time", 0.2)
    result = replan(asked.job, search)
    search.tell("checking each choice", 0.85)
    report = check_replan(asked.job, result)
    if not report.sound:
        raise ValueError("; ".join(str(fault) for fault in report.faults)[:1000])
    told_choices, made = [], []
    for choice, table in zip(result.choices, tables(asked, result, epoch=old.epoch), strict=True):
        one = _plan_of(choice, table, old, released, curve, files, printer)
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


def ledger_of(tx: Transaction, released: Released) -> Told:
    """Return what the floor told of a plan, as far as it was not undone."""
    epoch = released.table.epoch

    def when(subjects: list[str], *kinds: str) -> dict[str, tuple[int, str, int]]:
        """By subject: its last word, as sequence number, kind, and seconds from the plan's start."""
        last: dict[str, tuple[int, str, int]] = {}
        for (subject, kind), event in tx.events.standing(subjects, kinds).items():
            at = max(0, seconds_from(epoch, event.at))
            last[subject] = max(last.get(subject, (-1, "", 0)), (event.seq, kind, at))
        return last

    pieces = [str(piece.id) for takeoff in released.takeoffs for piece in takeoff.pieces]
    bundles = [str(bundle.id) for part in released.stacks for bundle in part.result.bundles]
    loads = [str(load.id) for part in released.loads for load in part.result.loads]
    cut, again = when(pieces, "cut", "scrapped"), when(pieces, "cut", "scrapped", "remade")
    told = {
        "cut": {piece: at for piece, (_, _, at) in cut.items()},
        "scrapped": tuple(piece for piece, (_, kind, _) in again.items() if kind != "cut"),
        "bundled": {name: at for name, (_, _, at) in when(bundles, "bundled").items()},
        "loaded": {name: at for name, (_, _, at) in when(bundles, "loaded").items()},
        "shipped": {name: at for name, (_, _, at) in when(loads, "shipped").items()},
    }
    return Told(**told)  # type: ignore[arg-type]  # ids are their text


def _rack(body: str) -> RackCurve:
    return decode(RackCurve, json.loads(body), name="part", unit="mm")


def _plan_of(
    choice: Choice,
    table: Timetable,
    old: PlanManifest,
    released: Released,
    curve: RackCurve | None,
    files: tuple[Document, ...],
    printer: Printer,
) -> Made:
    """The released plan with another timetable, other departures and the files that quote them. Raises ValueError."""
    trucks = dispatch(released.takeoffs, released.stacks, released.loads, table)
    leaving = check_dispatch(released.takeoffs, released.stacks, released.loads, table, trucks)
    faults = [*check_schedule(table.job, table.result).faults, *faults_in_clear(table), *leaving.faults]
    if faults:
        raise ValueError("; ".join(str(fault) for fault in faults)[:1000])
    new = {"schedule": canonical(encode(table)), "dispatch": canonical(encode(trucks))}
    digests = {stage: hashlib.sha256(body.encode()).hexdigest() for stage, body in new.items()}
    parts = [replace(line, digest=digests.get(line.stage, line.digest)) for line in old.parts]
    if not any(line.stage == "dispatch" for line in parts):
        parts.append(PartLine(stage="dispatch", about="plant", digest=digests["dispatch"]))
    plan_id = hashlib.sha256("".join([old.id, *digests.values()]).encode()).hexdigest()[:16]
    claims = {
        "schedule": (table.result.status, float(table.result.objective or 0), float(table.result.lower_bound)),
        "dispatch": (trucks.status, float(trucks.most_late_s), float(trucks.lower_bound)),
    }
    proofs = [one for one in old.proofs if one.stage not in claims]
    proofs += [
        ProofLine(stage=stage, about="plant", status=status, value=value, lower_bound=floor, checked=True)
        for stage, (status, value, floor) in claims.items()
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
    quoting = tuple(_quoting(_whole(manifest, table, trucks, curve, released), released.plant, printer)) if files else ()
    kept = tuple(file for file in files if file.name not in {one.name for one in quoting})
    bodies = tuple((digests[stage], body) for stage, body in new.items())
    return Made(job=uuid4().hex, manifest=manifest, bodies=bodies, files=(*kept, *quoting))


def _whole(manifest: PlanManifest, table: Timetable, trucks: Dispatch, curve: RackCurve | None, released: Released) -> Plan:
    return Plan(
        status="optimal" if manifest.status == "optimal" else "feasible",
        id=manifest.id,
        unit=manifest.unit,
        plant=manifest.plant,
        takeoffs=released.takeoffs,
        stacks=released.stacks,
        cuts=released.cuts,
        sequences=released.sequences,
        slits=released.slits,
        timetable=table,
        loads=released.loads,
        proofs=(),
        lower_bound=manifest.lower_bound,
        cost=manifest.cost,
        seconds=manifest.seconds,
        predecessor=manifest.predecessor,
        dispatch=trucks,
        rack=curve,
    )


def _quoting(plan: Plan, plant: Plant, printer: Printer) -> Iterator[Document]:
    """The files that quote times, made anew; the others stay as they were printed."""
    with tempfile.TemporaryDirectory() as folder:
        printer(plan, plant, Path(folder), lambda _text, _part: None)
        for path in sorted(Path(folder).iterdir()):
            if path.name in QUOTING:
                media = MEDIA.get(path.suffix, "application/octet-stream")
                yield Document(name=path.name, media_type=media, body=path.read_bytes())


def _goes_on(move: Move) -> bool:
    """Whether an operation is where it was and only ends at another time, as running work does that waits for a repair."""
    old, new = move.old, move.new
    return old is not None and new is not None and (old.machine, old.start_s) == (new.machine, new.start_s)


def _told(choice: Choice, table: Timetable, asked: GoingOn, released: Released, made: Made) -> ReplanChoice:
    """A choice in clear: instants in the plant's time, the longest move first."""
    epoch, zone = datetime.fromisoformat(table.epoch), ZoneInfo(released.plant.time_zone)

    def at(seconds: int) -> str:
        return (epoch + timedelta(seconds=seconds)).astimezone(zone).isoformat()

    change = change_between(released.table, table)
    ran = {f"{name}/{index}" for name, index in asked.ran.sooner}
    forced = {f"{one.job}/{one.index}" for one in choice.moves if one.forced}
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
        id=made.job,
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
