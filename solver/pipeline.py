"""Orders and plant to a whole plan; the only file that knows all stages."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime
from functools import partial

from solver.bundling.job import stack_job
from solver.bundling.stack import stack
from solver.cut_materials import nest_by_due_window, nest_by_material
from solver.cut_order import order_cuts
from solver.documents.lateness_words import lateness_reasons
from solver.documents.names import ThingNames
from solver.domain.building import Building
from solver.domain.bundle import Bundle
from solver.domain.cut_plan import CutPlan
from solver.domain.floor_snapshot import FloorSnapshot
from solver.domain.ids import OrderId
from solver.domain.kept_work import KeptWork, with_kept_bars
from solver.domain.plan import LoadPart, Part, Plan, Proof, SequencePart, SlitPart, StackPart
from solver.domain.plant import Plant
from solver.domain.progress import StageProgress
from solver.domain.stock import StockSnapshot
from solver.domain.takeoff import Takeoff
from solver.domain.timetable import Timetable
from solver.errors import FieldFault, InputError, NoPlan, as_own_defect
from solver.floor_continuation import (
    continuation_start,
    kept_bars_first,
    loads_not_left,
    snapshot_faults,
    stock_of,
    without_made_bars,
)
from solver.language import ENGLISH
from solver.loading.dispatch import plan_departures
from solver.loading.job import load_job
from solver.loading.load import load
from solver.nesting.due_windows import due_times
from solver.nesting.rack_limits import without_expired_remnants
from solver.order_fault_paths import refusals_in_order_terms
from solver.plan_parts import CheckContext, PartKind, iterate_plan_parts, part_claim
from solver.progress_tracker import ProgressTracker, Report, ignore_progress
from solver.scheduling.calendar_horizon import schedule_within_listed_hours
from solver.scheduling.plant.operations import plant_work
from solver.scheduling.plant.timetable import plant_timetable
from solver.search import Search, call_timed, with_time_limit
from solver.slitting.slit import slit
from solver.slitting.trims import slit_jobs
from solver.takeoff.take_off import take_off
from solver.takeoff_proof import Apart, json_digest, lazy_takeoff_proofs, part_digest
from solver.time_budget import StageTimeBudget

WEIGHTS = {"stack": 0.08, "nest": 0.32, "sequence": 0.08, "slit": 0.05, "load": 0.12, "schedule": 0.35}  # of the time
CHECKS_PER_TAKEOFF = 3.0  # checks and digests take about so much longer than takeoff, whatever the machine
RULES_PER_WORK = 8.0  # dispatch rules take about so much longer than asking machines for the work
SCHEDULE_CLEAR = 0.15  # of the timetable's time, for what it means in clear


def make_plan(
    buildings: tuple[Building, ...],
    plant: Plant,
    search: Search,
    *,
    epoch: str,
    predecessor: str | None = None,
    previous: tuple[Takeoff, ...] = (),
    floor: FloorSnapshot | None = None,
    report: Report = ignore_progress,
    apart: Apart = lazy_takeoff_proofs,
) -> Plan:
    """Return the plan of one or more orders, each part with its proof and an independent check.

    It goes on from `floor` (`solver/floor_continuation.py` says how): from its stock, in place of the catalog's, and with what
    is
    done or stays; absent, the floor is empty.

    `epoch` is the aware instant (ISO 8601) at which the plan's time starts. `previous`: earlier takeoffs of these orders;
    pieces made alike keep their marks. Each stage has its part of the time reserved before the first begins, and answers
    with what it has when that is over, or when `search` ends: so a plan stands soon after. `report` hears how far each
    stage is; `apart` may prove takeoffs beside the search. Raises InputError and NoPlan with every fault, each path below
    its order's id.
    """
    begun = search.left_s()
    if floor is not None:
        snapshot_faults(floor, plant, epoch=epoch).raise_if_any()
        previous = (*previous, *(one.takeoff for one in floor.orders if one.takeoff is not None))
    stock = without_expired_remnants(stock_of(plant, floor), plant, datetime.fromisoformat(epoch).date())
    before = {takeoff.building.order: takeoff for takeoff in previous}
    shown = ProgressTracker(report)
    takeoffs = _take_offs(buildings, plant, before, shown)
    reserve = CHECKS_PER_TAKEOFF * (begun - search.left_s())
    time = StageTimeBudget(search, WEIGHTS, reserve)
    takeoffs_proved = apart([(one, plant, made, before.get(one.order)) for one, made in zip(buildings, takeoffs, strict=True)])
    shown.reserve_s = reserve
    pieces = tuple(piece for takeoff in takeoffs for piece in takeoff.pieces)
    shown.pieces = len(pieces)
    start = continuation_start(floor, buildings, takeoffs)
    kept, free = start.kept, start.takeoffs_to_nest(takeoffs)
    stacks = _stacks(takeoffs, plant, time.of("stack"), shown, start.stacks)
    due = {piece.id: at for piece, at in due_times(takeoffs)}
    bundles = tuple(
        sorted(
            (bundle for part in stacks for bundle in part.result.bundles),
            key=lambda bundle: min((due[lay.piece] for lay in bundle.pieces), default=math.inf),
        )
    )
    with as_own_defect("nesting"):
        cuts = nest_by_due_window(free, plant, stock, time.of("nest"), shown.tell, after=start.last_number)
    with as_own_defect("the cut order"):
        shown.parts("nest", len(cuts), cuts)
    ordered = order_cuts(
        cuts,
        tuple(piece for takeoff in free for piece in takeoff.pieces),
        start.bundles_to_stack(bundles),
        plant,
        stock,
        time.of("sequence"),
        nest_by_material,
        shown.tell,
        after=start.last_number,
    )
    shown.parts("sequence", len(ordered.sequences), ordered.sequences)
    sequences, cuts = ordered.sequences, ordered.cuts
    with as_own_defect("slitting"):
        slits = _slits(with_kept_bars(cuts, without_made_bars(kept)), plant, stock, time.of("slit"), shown)
    loads = _loads(takeoffs, stacks, plant, time.of("load"), shown, start.loads)
    to_come = loads_not_left(loads, kept)
    with as_own_defect("the timetable"):
        bars = with_kept_bars(cuts, kept)
        table = _timetable(
            takeoffs, bars, bundles, sequences, slits, to_come, plant, stock, time.of("schedule"), epoch, shown, kept
        )
    trucks = plan_departures(takeoffs, stacks, to_come, table)
    whole = Plan(
        status="feasible",
        id="",
        unit=plant.unit,
        plant=plant.id,
        takeoffs=takeoffs,
        stacks=stacks,
        cuts=cuts,
        sequences=sequences,
        slits=slits,
        timetable=table,
        loads=loads,
        proofs=(),
        lower_bound=sum(plan.lower_bound for plan in cuts),
        cost=sum(plan.result.cost or 0.0 for plan in cuts),
        seconds=0.0,
        predecessor=predecessor,
        dispatch=trucks,
        rack=ordered.curve,
        kept=kept,
        makings=start.makings,
    )
    houses = {building.order: building for building in buildings}
    given = CheckContext(plant=plant, buildings=houses, earlier=before, floor=floor)
    proofs = _proofs(whole, given, takeoffs_proved, shown)
    proved = all(proof.status in ("optimal", "done") for proof in proofs)
    return replace(
        whole,
        status="optimal" if proved else "feasible",
        id=json_digest([proof.digest for proof in proofs])[:16],
        proofs=proofs,
        seconds=round(begun - search.left_s(), 3),
    )


def _take_offs(
    buildings: tuple[Building, ...], plant: Plant, before: Mapping[OrderId, Takeoff], shown: ProgressTracker
) -> tuple[Takeoff, ...]:
    made: list[Takeoff] = []
    wrong: list[FieldFault] = []
    impossible: list[FieldFault] = []
    for n, building in enumerate(buildings):
        shown.tell(StageProgress(stage="takeoff", done=n / len(buildings), parts=n, proved=n))
        try:
            made.append(take_off(building, plant, before.get(building.order)))
        except InputError as error:
            wrong.extend(_below(building.order, error.faults))
        except NoPlan as error:
            impossible.extend(_below(building.order, error.faults))
    if wrong:
        raise InputError(*wrong, *impossible)
    if impossible:
        raise NoPlan(*impossible)
    shown.parts("takeoff", len(buildings), made)
    return tuple(made)


def _below(name: str, faults: tuple[FieldFault, ...]) -> list[FieldFault]:
    return [FieldFault(f"{name}.{fault.path}", fault.problem, fault.fix) for fault in faults]


def _stacks(
    takeoffs: tuple[Takeoff, ...], plant: Plant, search: Search, shown: ProgressTracker, stays: Mapping[OrderId, StackPart]
) -> tuple[StackPart, ...]:
    made: list[StackPart] = []
    for n, takeoff in enumerate(takeoffs):
        order = takeoff.building.order
        if order in stays:
            made.append(stays[order])
            continue
        house, template = takeoff.building, takeoff.building.anchor_holes == "template"
        job = stack_job(takeoff.pieces, plant, house.deliveries, takeoff.hardware, template=template)
        some = with_time_limit(search, search.left_s() / (len(takeoffs) - n))
        with refusals_in_order_terms(takeoff):
            result, seconds = call_timed(search, partial(stack, job, some))
        made.append(StackPart(order=order, job=job, result=replace(result, seconds=seconds)))
        shown.parts("stack", len(takeoffs), made)
    return tuple(made)


def _slits(
    cuts: tuple[CutPlan, ...], plant: Plant, stock: StockSnapshot, search: Search, shown: ProgressTracker
) -> tuple[SlitPart, ...]:
    made: list[SlitPart] = []
    jobs = slit_jobs(cuts, plant, stock.coils)
    for n, (material, job) in enumerate(jobs):
        result, seconds = call_timed(search, partial(slit, job, with_time_limit(search, search.left_s() / (len(jobs) - n))))
        made.append(SlitPart(material=material, job=job, result=replace(result, seconds=seconds)))
        shown.parts("slit", len(jobs), made)
    return tuple(made)


def _loads(
    takeoffs: tuple[Takeoff, ...],
    stacks: tuple[StackPart, ...],
    plant: Plant,
    search: Search,
    shown: ProgressTracker,
    stays: Mapping[OrderId, LoadPart],
) -> tuple[LoadPart, ...]:
    made: list[LoadPart] = []
    for n, (takeoff, part) in enumerate(zip(takeoffs, stacks, strict=True)):
        if part.order in stays:
            made.append(stays[part.order])
            continue
        job = load_job(part.result.bundles, takeoff.building, plant)
        some = with_time_limit(search, search.left_s() / (len(stacks) - n))
        with refusals_in_order_terms(takeoff, part.result.bundles):
            result, seconds = call_timed(search, partial(load, job, some))
        made.append(LoadPart(order=part.order, job=job, result=replace(result, seconds=seconds)))
        shown.parts("load", len(stacks), made)
    return tuple(made)


def _timetable(
    takeoffs: tuple[Takeoff, ...],
    cuts: tuple[CutPlan, ...],
    bundles: tuple[Bundle, ...],
    sequences: tuple[SequencePart, ...],
    slits: tuple[SlitPart, ...],
    loads: tuple[LoadPart, ...],
    plant: Plant,
    stock: StockSnapshot,
    search: Search,
    epoch: str,
    shown: ProgressTracker,
    kept: KeptWork | None,
) -> Timetable:
    start, begun = datetime.fromisoformat(epoch), search.left_s()
    work = plant_work(
        takeoffs=takeoffs,
        cuts=cuts,
        bundles=bundles,
        slits={str(part.material): part.result for part in slits},
        loads=loads,
        plant=plant,
        stock=stock,
        epoch=start,
        seed=search.seed,
        cut_orders=kept_bars_first(kept, (part.result.order for part in sequences)),
        kept=kept,
    )
    whole = search.left_s()
    enough = whole > RULES_PER_WORK * (begun - whole)  # else not one rule would end in time
    searching = replace(
        with_time_limit(search, whole * (1 - SCHEDULE_CLEAR) if enough else 0.0),
        tell=lambda _text, part: shown.tell(StageProgress(stage="schedule", done=min(1.0, max(0.0, part)), parts=1)),
    )
    (work, result), seconds = call_timed(search, partial(schedule_within_listed_hours, work, searching))
    table = plant_timetable(work, replace(result, seconds=seconds), epoch=start)
    shown.parts("schedule", 1, (table,))
    named = ThingNames.for_timetable(plant, ENGLISH, table, sequences).table(table)
    told = (replace(one, why=lateness_reasons(one, named.operations, ENGLISH)) for one in table.deliveries)
    return replace(table, deliveries=tuple(told))


def _proofs(
    plan: Plan, given: CheckContext, takeoffs_proved: Callable[[], list[tuple[bool, str]]], shown: ProgressTracker
) -> tuple[Proof, ...]:
    """Each part judged by its stage's own check: what it claims, and whether that holds; takeoffs were judged apart."""
    parts = list(iterate_plan_parts(plan))
    proofs: list[Proof] = []

    def add(kind: PartKind, part: Part, holds: bool, digest: str) -> None:
        claim = part_claim(part)
        proofs.append(
            Proof(
                stage=kind.stage,
                about=kind.about(part),
                status=claim.status,
                value=claim.value,
                lower_bound=claim.bound,
                checked=holds,
                digest=digest,
            )
        )
        proved = sum(proof.checked for proof in proofs)
        shown.tell(StageProgress(stage="check", done=len(proofs) / len(parts), parts=len(proofs), proved=proved))

    for kind, part in parts:
        if kind.kind is not Takeoff:
            add(kind, part, kind.check(part, plan, given).sound, part_digest(part))
    later = len(proofs)
    taken_off = [(kind, part) for kind, part in parts if kind.kind is Takeoff]
    for (kind, part), (sound, digest) in zip(taken_off, takeoffs_proved(), strict=True):
        add(kind, part, sound, digest)
    return (*proofs[later:], *proofs[:later])
