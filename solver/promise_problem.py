"""A new order's question beside a released plan: its own work, numbered as the plan's, for the promise of a date."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from solver.bundling.job import stack_job
from solver.bundling.stack import stack
from solver.domain.building import Building
from solver.domain.cut_plan import CutPlan
from solver.domain.kept_work import KeptWork, with_kept_bars
from solver.domain.plan import LoadPart, Plan, SequencePart, SlitPart, StackPart
from solver.domain.plant import Plant
from solver.domain.replan import PromiseJob
from solver.domain.stock import StockSnapshot
from solver.domain.takeoff import Takeoff
from solver.domain.timetable import Buffer, Job, Machine, ScheduleJob, Timetable
from solver.domain.work_ids import is_remake
from solver.errors import FaultCollector, InputError
from solver.floor_continuation import kept_bars_first, loads_not_left
from solver.loading.job import load_job
from solver.loading.load import load
from solver.nesting.assign import assign_blanks, nesting_job, pieces_by_material, remnant_bars
from solver.nesting.blanks import share_blanks
from solver.nesting.nest import nest
from solver.scheduling.buffers.flows import widen_for_single_jobs
from solver.scheduling.buffers.overfull import widen_buffers_to_hold
from solver.scheduling.plant.operations import PlantWork, plant_work
from solver.scheduling.plant.steps import OperationMeaning
from solver.search import Search, with_time_limit
from solver.slitting.slit import slit
from solver.slitting.trims import slit_jobs
from solver.takeoff.take_off import take_off

NEW = "new "  # before the new order's jobs, whose lots and trims are named as the plan's are
NEST_S = 0.8  # for all materials together: a date minds the number of bars, hardly the last of the yield
STAGE_S = 0.4  # for each of bundles, coils and loads


@dataclass(frozen=True, slots=True, kw_only=True)
class ReleasedPlan:
    """The parts of a done plan that a promise is asked of."""

    plant: Plant
    stock: StockSnapshot  # that the plan was made from
    takeoffs: tuple[Takeoff, ...]
    stacks: tuple[StackPart, ...]
    cuts: tuple[CutPlan, ...]
    sequences: tuple[SequencePart, ...]
    slits: tuple[SlitPart, ...]
    loads: tuple[LoadPart, ...]
    table: Timetable
    kept: KeptWork | None = None  # bars of it are among the cuts; loads that left are not among the loads

    @classmethod
    def of(cls, plan: Plan, plant: Plant, stock: StockSnapshot) -> ReleasedPlan:
        """Return the parts of a whole plan that was made from a stock, as far as they are to come."""
        return cls(
            plant=plant,
            stock=stock,
            takeoffs=plan.takeoffs,
            stacks=plan.stacks,
            cuts=with_kept_bars(plan.cuts, plan.kept),
            sequences=plan.sequences,
            slits=plan.slits,
            loads=loads_not_left(plan.loads, plan.kept),
            table=plan.timetable,
            kept=plan.kept,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class PromiseProblem:
    """A promise job, and what each of the new order's operations is, by (job, index)."""

    job: PromiseJob
    meaning: Mapping[tuple[str, int], OperationMeaning]


def promise_problem(
    released: ReleasedPlan,
    building: Building,
    search: Search,
    *,
    now_s: int = 0,
    firm_until_s: int = 0,
    by_s: int | None = None,
) -> PromiseProblem:
    """Return the promise job of an order beside a released plan; times in seconds from the plan's epoch.

    Raises InputError where the order is in the plan already or the plan's timetable is not what its parts ask for (made by
    an older version), and InputError or NoPlan where the order itself cannot be made.
    """
    _refuse(released, building, now_s, by_s)
    work = rebuild_plant_work(released)
    behind = max([now_s, by_s or 0, *(slot.end for slot in released.table.result.operations)])
    mine = _work_of(building, released, work, search, behind)
    jobs = tuple(_renamed(job) for job in mine.job.jobs)
    old = widen_buffers_to_hold(released.table.job, released.table.result.operations)
    rooms = _shared(old.rooms, widen_for_single_jobs(mine.job.rooms, mine.job.jobs))
    plan = replace(old, machines=machines_with_new_families(old.machines, mine.job.machines), rooms=rooms)
    asked = PromiseJob(
        plan=plan,
        slots=released.table.result.operations,
        order=jobs,
        now=now_s,
        firm_until=firm_until_s,
        by=by_s,
        seed=search.seed,
    )
    return PromiseProblem(job=asked, meaning={(NEW + job, n): what for (job, n), what in mine.meaning.items()})


def _refuse(released: ReleasedPlan, building: Building, now_s: int, by_s: int | None) -> None:
    faults = FaultCollector()
    if any(takeoff.building.order == building.order for takeoff in released.takeoffs):
        faults.add("order", f"{building.order!r} is in this plan already", "an order that the plan does not hold")
    if by_s is not None and by_s <= now_s:
        faults.add("by", "the date asked for is not after now", "a later date, or none")
    if faults:
        raise InputError(*faults.found)


def rebuild_plant_work(released: ReleasedPlan) -> PlantWork:
    """Return the plan's work made again from its parts, for the meaning of its families and what is left of its material.

    Raises InputError where the plan's timetable is not what its parts ask for (made by an older version).
    """
    work = plant_work(
        takeoffs=released.takeoffs,
        cuts=released.cuts,
        bundles=tuple(bundle for part in released.stacks for bundle in part.result.bundles),
        slits={str(part.material): part.result for part in released.slits},
        loads=released.loads,
        plant=released.plant,
        stock=released.stock,
        epoch=datetime.fromisoformat(released.table.epoch),
        cut_orders=kept_bars_first(released.kept, (part.result.order for part in released.sequences)),
        kept=released.kept,
    )
    again = released.table.replanned_s is not None
    old = released.table.job
    if _asked(work.job, again=again) != _asked(old, again=again) or (not again and _hours_apart(work.job, old)):
        faults = FaultCollector()
        faults.add("plan", "its timetable is not what its parts ask for now", "make the plan anew, then ask again")
        raise InputError(*faults.found)
    return work


def _asked(job: ScheduleJob, *, again: bool) -> tuple[object, ...]:
    """What must be so; of work that was placed `again` only what neither the floor nor what happened changes."""
    if again:
        jobs = {(one.id, len(one.operations)) for one in job.jobs if not is_remake(one.id)}
        return tuple(machine.id for machine in job.machines), jobs, job.pools
    return tuple(sorted(job.jobs, key=lambda one: one.id)), job.pools  # in which order they are listed asks for nothing


def _hours_apart(one: ScheduleJob, two: ScheduleJob) -> bool:
    """Whether machines differ, in what both list of their hours."""
    until = min(max((shut.closed[-1][1] for shut in job.machines if shut.closed), default=0) for job in (one, two))
    ahead = [
        [replace(machine, closed=tuple(span for span in machine.closed if span[1] < until)) for machine in job.machines]
        for job in (one, two)
    ]
    return ahead[0] != ahead[1]


def _work_of(building: Building, released: ReleasedPlan, beside: PlantWork, search: Search, from_s: int) -> PlantWork:
    """The order's own way through the plant, each stage looked at briefly, with hours as far as from behind all else."""
    plant = released.plant
    takeoff = take_off(building, plant)
    stacking = stack_job(
        takeoff.pieces, plant, building.deliveries, takeoff.hardware, template=building.anchor_holes == "template"
    )
    bundles = stack(stacking, with_time_limit(search, STAGE_S)).bundles
    cuts = _cuts(takeoff, plant, released.stock, search)
    slits = {
        str(material): slit(job, with_time_limit(search, STAGE_S))
        for material, job in slit_jobs(cuts, plant, released.stock.coils)
    }
    loading = load_job(bundles, building, plant)
    loads = LoadPart(order=building.order, job=loading, result=load(loading, with_time_limit(search, STAGE_S)))
    return plant_work(
        takeoffs=(takeoff,),
        cuts=cuts,
        bundles=bundles,
        slits=slits,
        loads=(loads,),
        plant=plant,
        stock=released.stock,
        epoch=datetime.fromisoformat(released.table.epoch),
        seed=search.seed,
        beside=beside,
        from_s=from_s,
    )


def _cuts(takeoff: Takeoff, plant: Plant, stock: StockSnapshot, search: Search) -> tuple[CutPlan, ...]:
    groups = pieces_by_material(takeoff.pieces)
    made = []
    for material, mine in groups.items():
        blanks = share_blanks(mine, plant, stock)
        job = nesting_job(blanks, plant, stock)
        result = nest(job, with_time_limit(search, NEST_S / len(groups)))
        bars = assign_blanks(material, job, result, blanks)
        rest = remnant_bars(material, blanks, plant, stock, after=len(bars))
        made.append(CutPlan(material=material, job=job, result=result, bars=(*bars, *rest)))
    return tuple(made)


def _renamed(job: Job) -> Job:
    return replace(job, id=NEW + job.id, after=tuple(NEW + one for one in job.after))


def _shared(released: tuple[Buffer, ...], mine: tuple[Buffer, ...]) -> tuple[Buffer, ...]:
    """The plan's rooms with what the new order keeps there too, as wide as either needs."""
    made = {room.id: room for room in released}
    for room in mine:
        stays = tuple(replace(stay, job=NEW + stay.job, until=NEW + stay.until) for stay in room.stays)
        old = made.get(room.id, replace(room, stays=()))
        made[room.id] = replace(old, size=max(old.size, room.size), stays=(*old.stays, *stays))
    return tuple(made.values())


def machines_with_new_families(released: tuple[Machine, ...], mine: tuple[Machine, ...]) -> tuple[Machine, ...]:
    """Return the plan's machines with set-up tables that hold the new families too, and as far as the longer calendar."""
    by_id = {machine.id: machine for machine in mine}
    return tuple(replace(machine, setup=by_id[machine.id].setup) for machine in machines_with_longer_hours(released, mine))


def machines_with_longer_hours(released: tuple[Machine, ...], mine: tuple[Machine, ...]) -> tuple[Machine, ...]:
    """Return the plan's machines with their hours listed as far as the longer calendar."""
    closed = {machine.id: machine.closed for machine in mine}
    return tuple(replace(machine, closed=_longer(machine.closed, closed[machine.id])) for machine in released)


def _longer(released: tuple[tuple[int, int], ...], mine: tuple[tuple[int, int], ...]) -> tuple[tuple[int, int], ...]:
    """The released hours, in which a machine may be down too, and after them those of the other calendar."""
    known = released[-1][1] if released else 0
    return (*released, *((max(low, known), high) for low, high in mine if high > known))
