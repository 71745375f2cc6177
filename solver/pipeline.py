"""Orders and plant to a whole plan; the only file that knows all stages."""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from functools import partial
from typing import Any, Literal, TypeVar

from solver.bundling.check import check as check_stack
from solver.bundling.job import stack_job
from solver.bundling.stack import stack
from solver.codec import encode
from solver.cut_order import order_cuts
from solver.documents.why import reasons
from solver.domain.building import Building
from solver.domain.bundle import Bundle
from solver.domain.cut_plan import CutPlan, NestJob, NestResult
from solver.domain.dispatch import Dispatch
from solver.domain.ids import MaterialId, OrderId
from solver.domain.piece import Piece
from solver.domain.plan import LoadPart, Part, Plan, Proof, SequencePart, SlitPart, StackPart, timeless
from solver.domain.plant import Plant
from solver.domain.rack import RackCurve
from solver.domain.report import Report
from solver.domain.takeoff import Takeoff
from solver.domain.timetable import Timetable
from solver.errors import FieldFault, InputError, NoPlan
from solver.loading.check import check as check_load
from solver.loading.check_dispatch import check as check_dispatch
from solver.loading.dispatch import dispatch
from solver.loading.job import load_job
from solver.loading.load import load
from solver.nesting.assign import assign_blanks, by_material, floor_job, job_of, remnant_bars
from solver.nesting.blanks import Blanks, share_blanks
from solver.nesting.check import check as check_nest
from solver.nesting.keeping import keep_fewer, on_rack, slots_left
from solver.nesting.nest import nest
from solver.scheduling.check import check as check_schedule
from solver.scheduling.clear import timetable
from solver.scheduling.operations import plant_work
from solver.scheduling.schedule import schedule
from solver.search import Search, share, timed
from solver.sequencing.check import check as check_sequence
from solver.sequencing.check_rack import check as check_rack
from solver.slitting.check import check as check_slit
from solver.slitting.slit import slit
from solver.slitting.trims import slit_jobs
from solver.takeoff.check import check as check_takeoff
from solver.takeoff.take_off import take_off
from solver.units import Unit

PANEL_SAW = "panel-saw"
T = TypeVar("T")
StageName = Literal["takeoff", "stack", "nest", "sequence", "slit", "schedule", "load", "dispatch", "rack"]


def make_plan(
    buildings: tuple[Building, ...],
    plant: Plant,
    search: Search,
    *,
    epoch: str,
    predecessor: str | None = None,
    previous: tuple[Takeoff, ...] = (),
) -> Plan:
    """Return the plan of one or more orders, each part with its proof and an independent check.

    `epoch` is the aware instant (ISO 8601) at which the plan's time starts. `previous`: earlier takeoffs of these orders;
    pieces made alike keep their marks. Raises InputError and NoPlan with every fault, each path below its order's id.
    """
    begun = search.left_s()
    unit: Unit = buildings[0].unit if buildings else plant.unit
    plant = on_rack(plant, datetime.fromisoformat(epoch).date())
    before = {takeoff.building.order: takeoff for takeoff in previous}
    takeoffs = _take_offs(buildings, plant, search, before)
    pieces = tuple(piece for takeoff in takeoffs for piece in takeoff.pieces)
    stacks = _stacks(takeoffs, plant, search, unit)
    bundles = tuple(bundle for part in stacks for bundle in part.result.bundles)
    cuts = _cuts(pieces, plant, search, unit)
    ordered = order_cuts(cuts, pieces, bundles, plant, search, partial(_cuts, unit=unit))
    sequences, cuts = ordered.sequences, ordered.cuts
    slits = _slits(cuts, plant, search, unit)
    loads = _loads(takeoffs, stacks, plant, search, unit)
    table = _timetable(takeoffs, cuts, bundles, sequences, slits, loads, plant, search, epoch)
    trucks = dispatch(takeoffs, stacks, loads, table)
    proofs = _proofs(
        buildings, plant, takeoffs, stacks, cuts, sequences, slits, table, loads, trucks, ordered.curve, before, search
    )
    cost = sum(plan.result.cost or 0.0 for plan in cuts)
    floor = sum(plan.lower_bound for plan in cuts)
    proved = all(proof.status in ("optimal", "done") for proof in proofs)
    return Plan(
        status="optimal" if proved else "feasible",
        id=_digest([proof.digest for proof in proofs])[:16],
        unit=unit,
        plant=plant.id,
        takeoffs=takeoffs,
        stacks=stacks,
        cuts=cuts,
        sequences=sequences,
        slits=slits,
        timetable=table,
        loads=loads,
        proofs=proofs,
        lower_bound=floor,
        cost=cost,
        seconds=round(begun - search.left_s(), 3),
        predecessor=predecessor,
        dispatch=trucks,
        rack=ordered.curve,
    )


def _take_offs(
    buildings: tuple[Building, ...], plant: Plant, search: Search, before: Mapping[OrderId, Takeoff]
) -> tuple[Takeoff, ...]:
    made: list[Takeoff] = []
    wrong: list[FieldFault] = []
    impossible: list[FieldFault] = []
    for n, building in enumerate(buildings):
        search.tell(f"takeoff of {building.order}", 0.1 * n / len(buildings))
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
    return tuple(made)


def _below(name: str, faults: tuple[FieldFault, ...]) -> list[FieldFault]:
    return [FieldFault(f"{name}.{fault.path}", fault.problem, fault.fix) for fault in faults]


def _stacks(takeoffs: tuple[Takeoff, ...], plant: Plant, search: Search, unit: Unit) -> tuple[StackPart, ...]:
    made = []
    for takeoff in takeoffs:
        order = takeoff.building.order
        search.tell(f"bundles of {order}", 0.12)
        job = replace(stack_job(takeoff.pieces, plant, takeoff.building.deliveries, takeoff.hardware), unit=unit)
        result, seconds = timed(search, partial(stack, job, share(search, 5.0)))
        made.append(StackPart(order=order, job=job, result=replace(result, seconds=seconds)))
    return tuple(made)


NEST_SHARE = 0.6  # of the plan's time; timetable, loads and checks come after
FLOOR_S = 2.0  # at most, for a bound over all ways to share blanks
SECOND_LOOK_S = 0.2  # whether rips on blanks of their own cost less
FIRST_LOOK_S = 0.5  # each material briefly, then what is still open with all the time that is left for nesting


def _cuts(pieces: tuple[Piece, ...], plant: Plant, search: Search, unit: Unit) -> tuple[CutPlan, ...]:
    end = search.left_s() * (1 - NEST_SHARE)
    groups = by_material(pieces)
    shared: dict[MaterialId, Blanks] = {}
    jobs: dict[MaterialId, NestJob] = {}
    found: dict[MaterialId, NestResult] = {}
    for n, (material, mine) in enumerate(groups.items()):
        search.tell(f"nesting {material}", 0.15 + 0.15 * n / len(groups))
        shared[material], jobs[material], found[material] = _first_look(mine, plant, search, unit)
    still = sorted((material for material in jobs if found[material].status != "optimal"), key=lambda m: len(jobs[m].pieces))
    for n, material in enumerate(still):
        search.tell(f"nesting {material} to its bound", 0.3 + 0.25 * n / len(still))
        budget = (search.left_s() - end) / (len(still) - n)
        if budget > FIRST_LOOK_S:
            found[material] = _better(found[material], _nested(jobs[material], search, budget))
    _keep_what_finds_a_slot(groups, plant, jobs, found, search)
    made = []
    for material, job in jobs.items():
        blanks, result = shared[material], found[material]
        bars = assign_blanks(material, job, result, blanks)
        rest = remnant_bars(material, blanks, plant, after=len(bars))
        floor = _floor(job, blanks, result, search)
        made.append(CutPlan(material=material, job=job, result=result, bars=(*bars, *rest), floor=floor))
    return tuple(made)


def _keep_what_finds_a_slot(
    groups: Mapping[MaterialId, Sequence[Piece]],
    plant: Plant,
    jobs: dict[MaterialId, NestJob],
    found: dict[MaterialId, NestResult],
    search: Search,
) -> None:
    """Panels' drops have the slots first, for they are worth most; then those of trims."""
    panels = [material for material, mine in groups.items() if mine[0].is_panel]
    slots = slots_left(plant, ((jobs[material], found[material]) for material in panels))
    trims = [material for material in jobs if material not in panels]
    fewer, nested = keep_fewer(
        {material: jobs[material] for material in trims},
        {material: found[material] for material in trims},
        slots,
        lambda job: _nested(job, search, FIRST_LOOK_S),
    )
    jobs.update(fewer)
    found.update(nested)


def _first_look(pieces: Sequence[Piece], plant: Plant, search: Search, unit: Unit) -> tuple[Blanks, NestJob, NestResult]:
    """The cheaper of two ways, each nested briefly: rips sharing blanks, and each on its own (sloped ones may share cuts)."""
    tried = []
    for share_them in (True, False):
        blanks = share_blanks(pieces, plant, share=share_them)
        job = replace(job_of(blanks, plant), unit=unit)
        tried.append((blanks, job, _nested(job, search, FIRST_LOOK_S if share_them else SECOND_LOOK_S)))
        if not any(blank.gives_up_a_slope for blank in blanks.blanks):
            break  # square rips cost no more in one blank
    return min(tried, key=lambda item: math.inf if item[2].cost is None else item[2].cost)


def _floor(job: NestJob, blanks: Blanks, result: NestResult, search: Search) -> float | None:
    """A bound over all ways to share blanks and to use drops, where the result's own does not hold for all."""
    least = floor_job(job, blanks)
    return None if least is None else min(result.lower_bound, _nested(least, search, FLOOR_S).lower_bound)


def _nested(job: NestJob, search: Search, seconds: float) -> NestResult:
    result, taken = timed(search, partial(nest, job, share(search, seconds)))
    return replace(result, seconds=taken)


def _better(one: NestResult, two: NestResult) -> NestResult:
    """The cheaper plan, with the higher of the two bounds; both were proved."""
    if two.cost is None or (one.cost is not None and one.cost < two.cost):
        one, two = two, one
    if one.lower_bound <= two.lower_bound or two.cost is None:
        return two
    optimal = two.cost - one.lower_bound <= 1e-6 * two.cost
    return replace(two, lower_bound=min(one.lower_bound, two.cost), status="optimal" if optimal else "feasible")


def _slits(cuts: tuple[CutPlan, ...], plant: Plant, search: Search, unit: Unit) -> tuple[SlitPart, ...]:
    made = []
    for material, raw in slit_jobs(cuts, plant):
        search.tell(f"slitting {material}", 0.65)
        job = replace(raw, unit=unit)
        result, seconds = timed(search, partial(slit, job, share(search, 5.0)))
        made.append(SlitPart(material=material, job=job, result=replace(result, seconds=seconds)))
    return tuple(made)


def _timetable(
    takeoffs: tuple[Takeoff, ...],
    cuts: tuple[CutPlan, ...],
    bundles: tuple[Bundle, ...],
    sequences: tuple[SequencePart, ...],
    slits: tuple[SlitPart, ...],
    loads: tuple[LoadPart, ...],
    plant: Plant,
    search: Search,
    epoch: str,
) -> Timetable:
    search.tell("timetable", 0.75)
    start = datetime.fromisoformat(epoch)
    budget = max(1.0, 0.6 * search.left_s())
    work = plant_work(
        takeoffs=takeoffs,
        cuts=cuts,
        bundles=bundles,
        slits={str(part.material): part.result for part in slits},
        loads=loads,
        plant=plant,
        epoch=start,
        seed=search.seed,
        cut_orders=tuple(part.result.order for part in sequences),
    )
    result, seconds = timed(search, partial(schedule, work.job, share(search, budget)))
    table = timetable(work, replace(result, seconds=seconds), epoch=start)
    told = (replace(one, why=reasons(one, table.operations, "en")) for one in table.deliveries)
    return replace(table, deliveries=tuple(told))


def _loads(
    takeoffs: tuple[Takeoff, ...], stacks: tuple[StackPart, ...], plant: Plant, search: Search, unit: Unit
) -> tuple[LoadPart, ...]:
    made = []
    for takeoff, part in zip(takeoffs, stacks, strict=True):
        search.tell(f"loads of {part.order}", 0.7)
        job = replace(load_job(part.result.bundles, takeoff.building, plant), unit=unit)
        result, seconds = timed(search, partial(load, job, share(search, 5.0)))
        made.append(LoadPart(order=part.order, job=job, result=replace(result, seconds=seconds)))
    return tuple(made)


def _proofs(
    buildings: tuple[Building, ...],
    plant: Plant,
    takeoffs: tuple[Takeoff, ...],
    stacks: tuple[StackPart, ...],
    cuts: tuple[CutPlan, ...],
    sequences: tuple[SequencePart, ...],
    slits: tuple[SlitPart, ...],
    table: Timetable,
    loads: tuple[LoadPart, ...],
    trucks: Dispatch,
    curve: RackCurve | None,
    before: Mapping[OrderId, Takeoff],
    search: Search,
) -> tuple[Proof, ...]:
    """Each part judged by its stage's own check: what it claims, and whether that holds."""
    search.tell("checking every part", 0.92)
    made: list[Proof] = []

    def note(stage: StageName, about: str, part: Part, claim: tuple[str, float | None, float | None], report: Report) -> None:
        status, value, floor = claim
        digest = _digest(encode(timeless(part)))
        made.append(
            Proof(stage=stage, about=about, status=status, value=value, lower_bound=floor, checked=report.sound, digest=digest)
        )

    for building, takeoff in zip(buildings, takeoffs, strict=True):
        report = check_takeoff(building, plant, takeoff, before.get(building.order))
        note("takeoff", building.order, takeoff, ("done", None, None), report)
    for stacked in stacks:
        claim = (stacked.result.status, float(len(stacked.result.bundles)), float(stacked.result.lower_bound))
        note("stack", stacked.order, stacked, claim, check_stack(stacked.job, stacked.result))
    for cut in cuts:
        claims = (cut.status, cut.result.cost, cut.lower_bound)
        note("nest", cut.material, cut, claims, check_nest(cut.job, cut.result))
    for ordered in sequences:
        opened = ordered.result.open
        claims = (ordered.result.status, None if opened is None else float(opened), float(ordered.result.lower_bound))
        note("sequence", ordered.machine, ordered, claims, check_sequence(ordered.job, ordered.result))
    for slitted in slits:
        steel = slitted.result.steel_nm
        claims = (
            slitted.result.status,
            None if steel is None else steel / 1e9,
            slitted.result.lower_bound_nm / 1e9,
        )
        note("slit", slitted.material, slitted, claims, check_slit(slitted.job, slitted.result))
    value = table.result.objective
    claims = (table.result.status, None if value is None else float(value), float(table.result.lower_bound))
    note("schedule", "plant", table, claims, check_schedule(table.job, table.result))
    for loaded in loads:
        claims = (loaded.result.status, loaded.result.cost, loaded.result.lower_bound)
        note("load", loaded.order, loaded, claims, check_load(loaded.job, loaded.result))
    leaving = (trucks.status, float(trucks.most_late_s), float(trucks.lower_bound))
    note("dispatch", "plant", trucks, leaving, check_dispatch(takeoffs, stacks, loads, table, trucks))
    if curve is not None:
        bundles = [bundle for stacked in stacks for bundle in stacked.result.bundles]
        by_id = {piece.id: piece for takeoff in takeoffs for piece in takeoff.pieces}
        note("rack", "panel-saw", curve, ("done", None, None), check_rack(curve, cuts, bundles, by_id))
    search.tell("done", 1.0)
    return tuple(made)


def _digest(data: Any) -> str:
    return hashlib.sha256(json.dumps(data, sort_keys=True, separators=(",", ":")).encode()).hexdigest()
