"""What a plant's plan asks of its machines: lots, bars, trims, bundles and deliveries as jobs with operations."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from solver.domain.building import delivery_of_part
from solver.domain.bundle import Bundle
from solver.domain.cut_plan import Bar, CutPlan
from solver.domain.ids import BarId, BundleId, PieceId
from solver.domain.kept_work import KeptWork
from solver.domain.material import Material
from solver.domain.piece import Piece
from solver.domain.plan import LoadPart, deliveries_on_load
from solver.domain.plant import Plant, Workplace
from solver.domain.slit_plan import SlitResult
from solver.domain.stock import StockSnapshot
from solver.domain.takeoff import Takeoff
from solver.domain.timetable import ScheduleJob
from solver.domain.work_ids import bar_job, bundle_job, finish_job, load_job, lot_job, lot_label, season_job, slit_job, trim_job
from solver.scheduling.plant.machines import ListedHours, people_pools, plant_machines
from solver.scheduling.plant.steps import (
    Key,
    OperationMeaning,
    PlantJobs,
    bar_steps,
    lot_steps,
    season_step,
    trim_steps,
    whole_metres,
)
from solver.scheduling.plant.supply import MaterialLedger, grams_of, litres_of, seconds_since_epoch
from solver.scheduling.plant.waiting import WaitingWork, buffers_from_catalog, iterate_waiting_work

MADE = ("new ", "made ")  # bars that are laminated for the plan; others are on hand


@dataclass(frozen=True, slots=True, kw_only=True)
class PlantWork:
    """The schedule job of a plan and what each of its operations is, by (job, index)."""

    job: ScheduleJob
    meaning: Mapping[tuple[str, int], OperationMeaning]
    deliveries: Mapping[tuple[str, str], DeliveryWork]  # by order and delivery
    waits: tuple[WaitingWork, ...] = ()
    families: Mapping[Key, int]  # what each number of the set-up tables stands for
    supply: MaterialLedger  # what the plan leaves of core and coil
    hours: ListedHours | None = None  # how far the job's machines have them listed


@dataclass(frozen=True, slots=True, kw_only=True)
class DeliveryWork:
    """When a delivery is due at the dock, and the jobs that load it: one a truck; it is done when the last of them is."""

    due_s: int
    jobs: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Lot:
    """Bars of one material that go through the press together."""

    id: str
    about: str
    material: str
    bars: list[Bar]
    due: float  # the earliest that any of its pieces is wanted


def plant_work(
    *,
    takeoffs: tuple[Takeoff, ...],
    cuts: tuple[CutPlan, ...],
    bundles: tuple[Bundle, ...],
    slits: Mapping[str, SlitResult],
    loads: tuple[LoadPart, ...],
    plant: Plant,
    stock: StockSnapshot,
    epoch: datetime,
    time_limit_s: float = 10.0,
    seed: int = 1,
    cut_orders: Sequence[Sequence[str]] = (),
    kept: KeptWork | None = None,
    beside: PlantWork | None = None,
    from_s: int = 0,
) -> PlantWork:
    """Return the schedule job of a plan, in whole seconds from `epoch`: due at the dock, lateness weighted by priority.

    `cut_orders`: bars in the order in which they are to be cut, an order for each group that shares a saw's set-up.
    `beside`: released work; its numbers of families stay (new ones follow), and what it draws of core and coil is gone.
    `kept`: what the floor has done of it: built bundles are not waited for, what is laid or aboard is not handled again.
    `from_s`: when the work may begin, for hours listed as far as it may reach from there.

    Core and coil are drawn in the order in which their work is wanted; a job may start when its material is there. What
    no seasoned core is in stock for is cut from fresh blocks, taken to be there at the start, that season first.
    """
    work = PlantJobs(plant, families=dict(beside.families) if beside else {})
    supply = deepcopy(beside.supply) if beside else MaterialLedger(stock, plant.coil_lead_s, epoch)
    pieces = {piece.id: piece for takeoff in takeoffs for piece in takeoff.pieces}
    wanted = dict(_wanted(takeoffs, epoch))
    panels = [plan for plan in cuts if _is_panel(plan, pieces)]
    lot_of: dict[str, str] = {}
    stays = kept.bars if kept is not None else ()
    pressed = {
        one.bar.id: seconds_since_epoch(one.ready, epoch) for one in stays if one.ready is not None or one.state == "begun"
    }
    for lot in sorted(_lots(work, panels, pieces, wanted, pressed), key=lambda one: (one.due, one.id)):
        _add_lot(work, lot, pieces, supply)
        lot_of.update({bar.id: lot.id for bar in lot.bars})
    for material, result in sorted(slits.items()):
        _slitting(work, material, result, supply)
    made_by: dict[PieceId, str] = {}
    _panel_bars(work, panels, pieces, lot_of, cut_orders, made_by, pressed)
    for plan in cuts:
        if plan not in panels:
            _trim_bars(work, plan, pieces, slits, made_by)
    _bundles(work, bundles, made_by, kept)
    deliveries = _deliveries(work, takeoffs, bundles, loads, epoch, kept)
    waits = tuple(iterate_waiting_work(work, lot_of, bundles, made_by))
    places, hours = plant_machines(work, epoch, from_s=from_s)
    job = ScheduleJob(
        objective="weighted_tardiness",
        machines=places,
        jobs=tuple(work.jobs.values()),
        time_limit_s=time_limit_s,
        seed=seed,
        pools=tuple(people_pools(plant)),
        rooms=buffers_from_catalog(waits),
        soft_rooms=True,
        goals=plant.goals,
    )
    return PlantWork(
        job=job,
        meaning=work.meaning,
        deliveries=deliveries,
        waits=waits,
        families=work.families,
        supply=supply,
        hours=hours,
    )


def _wanted(takeoffs: Iterable[Takeoff], epoch: datetime) -> Iterator[tuple[PieceId, float]]:
    """Each piece with the seconds at which its delivery is due at the dock."""
    for takeoff in takeoffs:
        deliveries = takeoff.building.deliveries
        due = {one.id: (datetime.fromisoformat(one.dock_due) - epoch).total_seconds() for one in deliveries}
        for piece in takeoff.pieces:
            brought = delivery_of_part(deliveries, piece.part, piece.role)
            yield piece.id, due[brought.id] if brought is not None else float("inf")


def _is_panel(plan: CutPlan, pieces: Mapping[PieceId, Piece]) -> bool:
    return any(pieces[item.piece].is_panel for bar in plan.bars for item in bar.pieces)


def _lots(
    work: PlantJobs,
    panels: list[CutPlan],
    pieces: Mapping[PieceId, Piece],
    wanted: Mapping[PieceId, float],
    pressed: Collection[BarId],
) -> Iterator[_Lot]:
    """The bars to laminate, in cut order, as many at a time as the press takes; none that is in it or came from it."""
    size = min((place.lot for place in work.places("laminate")), default=1)
    for plan in panels:
        made = [bar for bar in plan.bars if bar.stock.startswith(MADE) and bar.id not in pressed]
        for n in range(0, len(made), size):
            bars = made[n : n + size]
            due = min(wanted.get(item.piece, float("inf")) for bar in bars for item in bar.pieces)
            name = lot_job(plan.name, n // size + 1)
            about = lot_label(plan.name, n // size + 1)
            yield _Lot(id=name, about=about, material=plan.material, bars=bars, due=due)


def _add_lot(work: PlantJobs, lot: _Lot, pieces: Mapping[PieceId, Piece], supply: MaterialLedger) -> None:
    material = Material.parse(lot.material)
    thickness = pieces[lot.bars[0].pieces[0].piece].thickness_nm
    family = next((one for one in work.plant.families if one.id == material.item), None)
    release, fresh = 0, False
    if family is not None:
        long = sum(bar.length_nm for bar in lot.bars)
        release, fresh = supply.core(family.core, litres_of(long, family.cover_nm, thickness))
        weight = grams_of(long, family.developed_nm, family.skin_mg_per_m2)
        for colour in material.faces:
            release = max(release, supply.coil(colour, family.skin_gauge, family.developed_nm, weight))
        if fresh and not work.places("season"):
            release = max(release, work.plant.seasoning_s)
    bars = tuple(bar.id for bar in lot.bars)
    seasoned = season_job(lot.id)
    if fresh:
        work.add(seasoned, [season_step(work, lot.bars)], about=lot.about, bars=bars)
    steps = lot_steps(work, lot.bars, lot.material, str(thickness))
    work.add(lot.id, steps, about=lot.about, bars=bars, after=[seasoned], release=release)


def _slitting(work: PlantJobs, material: str, result: SlitResult, supply: MaterialLedger) -> None:
    run = sum(pattern.length_nm for pattern in result.patterns)
    if not run:
        return
    sheet = Material.parse(material)
    strips = {name for pattern in result.patterns for name in pattern.strips}
    profile = next((one for one in work.plant.profiles if one.id in strips), None)
    release = 0
    if profile is not None:
        weight = grams_of(run, max(supply.coil_width(sheet.finish), profile.blank_nm), profile.mg_per_m2)
        release = supply.coil(sheet.finish, profile.gauge, profile.blank_nm, weight)

    def slit(place: Workplace) -> int:
        return place.per_run_s + place.per_item_s * len(result.patterns) + place.per_metre_s * whole_metres(run)

    step = work.step("slit", work.places("slit"), ("coil", sheet.item, sheet.finish, ""), slit)
    work.add(slit_job(material), [step], about=material, release=release)


def _panel_bars(
    work: PlantJobs,
    panels: list[CutPlan],
    pieces: Mapping[PieceId, Piece],
    lot_of: Mapping[str, str],
    cut_orders: Sequence[Sequence[str]],
    made_by: dict[PieceId, str],
    pressed: Mapping[BarId, int],
) -> None:
    """Bars to cut and then to finish, each by itself; those on hand wait for no lot, those pressed for their glue.

    Where one saw cuts all, bars are cut in the order that keeps few bundles open: each waits for the one before it.
    """
    bars = {bar.id: bar for plan in panels for bar in plan.bars}
    before: dict[str, str] = {}
    if len(work.places("cut")) == 1:
        before = {two: one for order in cut_orders for one, two in pairwise([name for name in order if name in bars])}
    ranked = [name for order in cut_orders for name in order if name in bars]
    for name in dict.fromkeys([*ranked, *bars]):
        bar = bars[BarId(name)]
        members = [pieces[item.piece] for item in bar.pieces]
        orders = {piece.order for piece in members}
        order = orders.pop() if len(orders) == 1 else ""
        cut, *finish = bar_steps(work, bar, members, str(members[0].thickness_nm))
        after = [lot_of.get(name, ""), bar_job(before[name]) if name in before else ""]
        glued = pressed.get(bar.id, 0)
        work.add(bar_job(name), [cut], order=order, about=name, bars=(bar.id,), after=after, release=glued)
        work.add(finish_job(name), finish, order=order, about=name, bars=(bar.id,), after=[bar_job(name)])
        last = finish_job(name) if finish_job(name) in work.jobs else bar_job(name)
        made_by.update({piece.id: last for piece in members})


def _trim_bars(
    work: PlantJobs,
    plan: CutPlan,
    pieces: Mapping[PieceId, Piece],
    slits: Mapping[str, SlitResult],
    made_by: dict[PieceId, str],
) -> None:
    """Jobs for the bars of a profile, as many at a time as the trim saw takes. Blanks wait for their coil to be slit."""
    material = Material.parse(plan.material)
    after = [
        slit_job(sheet)
        for sheet, result in slits.items()
        if any(material.item in pattern.strips for pattern in result.patterns)
        and material.finish in ("", Material.parse(sheet).finish)
    ]
    size = min((place.lot for place in work.places("cut_trim")), default=1)
    for n in range(0, len(plan.bars), size):
        bars = list(plan.bars[n : n + size])
        name = trim_job(plan.name, n // size + 1)
        orders = {pieces[item.piece].order for bar in bars for item in bar.pieces}
        order = orders.pop() if len(orders) == 1 else ""
        ids = tuple(bar.id for bar in bars)
        steps = trim_steps(work, bars, pieces, material.item)
        work.add(name, steps, order=order, about=plan.material, bars=ids, after=after)
        made_by.update({item.piece: name for bar in bars for item in bar.pieces})


def _bundles(work: PlantJobs, bundles: tuple[Bundle, ...], made_by: Mapping[PieceId, str], kept: KeptWork | None) -> None:
    laid, built = (set(kept.laid), set(kept.built)) if kept else (set[PieceId](), set[BundleId]())
    for bundle in bundles:
        if bundle.id in built:
            continue
        after = {made_by[lay.piece] for lay in bundle.pieces if lay.piece in made_by}
        count = sum(lay.piece not in laid for lay in bundle.pieces)
        step = work.step("bundle", work.places("bundle"), ("bundle", "", "", ""), _Handled(count))
        work.add(bundle_job(bundle.id), [step], order=bundle.order or "", about=bundle.id, after=after)


@dataclass(frozen=True, slots=True)
class _Handled:
    """The time of a run in which so many things are handled."""

    count: int

    def __call__(self, place: Workplace) -> int:
        return place.per_run_s + place.per_item_s * self.count


def _deliveries(
    work: PlantJobs,
    takeoffs: tuple[Takeoff, ...],
    bundles: tuple[Bundle, ...],
    loads: tuple[LoadPart, ...],
    epoch: datetime,
    kept: KeptWork | None,
) -> dict[tuple[str, str], DeliveryWork]:
    """A loading job for each truck, due when its first delivery is: it waits for its own bundles, and for the truck before it.

    Trucks of one trip leave in the order in which the site wants what they carry: the start box and what stands first, first.
    """
    by_order = {part.order: part for part in loads}
    aboard = set(kept.aboard) if kept else set[BundleId]()
    made: dict[tuple[str, str], DeliveryWork] = {}
    for takeoff in takeoffs:
        order, deliveries = takeoff.building.order, takeoff.building.deliveries
        due_s = {one.id: max(0, int((datetime.fromisoformat(one.dock_due) - epoch).total_seconds())) for one in deliveries}
        jobs: dict[str, list[str]] = {one.id: [] for one in deliveries}
        trips = {bundle.id: bundle.trip for bundle in by_order[order].job.bundles} if order in by_order else {}
        before: dict[str | None, str] = {}
        for load in by_order[order].result.loads if order in by_order else ():
            mine = deliveries_on_load(load, bundles, takeoff)
            name = load_job(load.id)
            step = work.step(
                "load",
                work.places("load"),
                ("load", "", "", ""),
                _Handled(sum(item.bundle not in aboard for item in load.placed)),
            )
            trip = trips.get(load.placed[0].bundle)
            after = [bundle_job(item.bundle) for item in load.placed]
            after += [before[trip]] if trip in before else []
            before[trip] = name
            due = min((due_s[one.id] for one in mine), default=None)
            weight = max((one.priority for one in mine), default=1)
            work.add(name, [step], order=order, about=load.id, after=after, due=due, weight=weight)
            for one in mine:
                jobs[one.id].append(name)
        made.update({(order, one): DeliveryWork(due_s=due_s[one], jobs=tuple(names)) for one, names in jobs.items() if names})
    return made
