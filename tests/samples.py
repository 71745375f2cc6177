"""Whole plans for tests of paper and drawings: demo orders through the stages, without slitting, with a short timetable."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from solver.bundling.job import stack_job
from solver.bundling.stack import stack
from solver.documents.codes import short_code
from solver.documents.index import PlanIndex
from solver.domain.building import Building
from solver.domain.cut_plan import CutPlan
from solver.domain.document import LABEL_PLACES, LabelPlace, PieceLabel
from solver.domain.ids import BarId, BundleId, GroupId, MaterialId, OrderId, PieceId
from solver.domain.lift import Lift
from solver.domain.piece import Cutout, EdgeCut, Piece
from solver.domain.plan import LoadPart, Plan, StackPart
from solver.domain.plant import Plant
from solver.domain.takeoff import Takeoff
from solver.domain.timetable import Lateness, Machine, PlannedOperation, ScheduleJob, ScheduleResult, Timetable
from solver.loading.job import load_job
from solver.loading.load import load
from solver.nesting.assign import assign_pieces, nesting_jobs
from solver.nesting.nest import nest
from solver.search import Search
from solver.takeoff.take_off import take_off
from solver.units import INCH, Grams, MicroDeg, Nm, Seconds, Unit
from tests.orders import demo_building, plant

SEARCH = Search(seed=1, workers=1)
LONG = "an-order-with-the-longest-name-anyone-would-ever-type-2031"


def short_timetable() -> Timetable:
    """Return a timetable of two machines and two days: one operation late, one machine closed at night."""
    night = tuple((day * 86_400 + 30_600, (day + 1) * 86_400) for day in range(2))
    machines = (Machine(id="press", closed=night), Machine(id="panel-saw-1", closed=night))
    rows = (
        ("o1", "cottage-7", "laminate", "lot 1", "press", 0, 2_700),
        ("o2", "cottage-7", "laminate", "lot 2", "press", 3_900, 6_600),
        ("o3", "cottage-7", "cut", "W6 bar 1", "panel-saw-1", 93_000, 93_900),
        ("o4", "ell-12", "cut", "W6 bar 2", "panel-saw-1", 94_200, 96_600),
    )
    return Timetable(
        epoch="2031-05-05T06:00:00-06:00",
        job=ScheduleJob(objective="makespan", machines=machines, jobs=()),
        result=ScheduleResult(status="feasible", objective=96_600, lower_bound=0, operations=(), seconds=0.0),
        operations=tuple(
            PlannedOperation(
                id=name, order=order, step=step, about=about, machine=on, start_s=Seconds(start), end_s=Seconds(end)
            )
            for name, order, step, about, on, start, end in rows
        ),
        deliveries=(
            Lateness(order="ell-12", delivery="D1", due_s=Seconds(90_000), done_s=Seconds(96_600), late_s=Seconds(6_600)),
        ),
    )


@cache
def demo_plan(name: str, unit: Unit = "in") -> Plan:
    """Return a demo order taken off, stacked, nested and loaded, both it and the plant in a unit."""
    return plan_of(replace(demo_building(name), unit=unit), catalog=plant(unit))


def plan_of(*buildings: Building, catalog: Plant | None = None, keep: int | None = None) -> Plan:
    """Return buildings taken off, stacked, nested together and loaded at a plant, the demo's if absent; `keep`: so many pieces.

    Each is taken off, stacked and loaded for itself.
    """
    catalog = catalog or plant()
    takeoffs = tuple(_taken_off(building, catalog, keep) for building in buildings)
    stacks = tuple(_stacked(takeoff, catalog) for takeoff in takeoffs)
    pieces = tuple(piece for takeoff in takeoffs for piece in takeoff.pieces)
    cuts = []
    for material, job in nesting_jobs(pieces, catalog, catalog.stated_stock):
        mine = tuple(piece for piece in pieces if piece.material == material)
        quick = replace(job, time_limit_s=0.0)
        result = nest(quick, replace(SEARCH, left_s=_no_time))
        cuts.append(CutPlan(material=material, job=quick, result=result, bars=assign_pieces(material, job, result, mine)))
    loads = []
    for building, part in zip(buildings, stacks, strict=True):
        job_on = load_job(part.result.bundles, building, catalog)
        loads.append(LoadPart(order=building.order, job=job_on, result=load(job_on, SEARCH)))
    return Plan(
        status="feasible",
        id=f"sample-{'-'.join(building.order for building in buildings)}",
        unit=catalog.unit,
        plant=catalog.id,
        takeoffs=takeoffs,
        stacks=stacks,
        cuts=tuple(cuts),
        sequences=(),
        slits=(),
        timetable=short_timetable(),
        loads=tuple(loads),
        proofs=(),
        lower_bound=0.0,
        cost=0.0,
        seconds=0.0,
    )


def _taken_off(building: Building, catalog: Plant, keep: int | None) -> Takeoff:
    takeoff = take_off(building, catalog)
    if keep is None:
        return takeoff
    kept = takeoff.pieces[:keep]
    falls = tuple(drop for drop in takeoff.drops if drop.piece in {piece.id for piece in kept})
    return replace(takeoff, pieces=kept, drops=falls)


def _stacked(takeoff: Takeoff, catalog: Plant) -> StackPart:
    job = stack_job(takeoff.pieces, catalog, takeoff.building.deliveries)
    return StackPart(order=takeoff.building.order, job=job, result=stack(job, SEARCH))


def _no_time() -> float:
    return 0.0


def panel(
    *,
    order: str = "cottage-7",
    mark: str = "L1.S-03",
    width_nm: int = 48 * INCH,
    heights_nm: tuple[int, int] = (108 * INCH, 120 * INCH),
    cutouts: tuple[tuple[int, int, int, int], ...] = (),
    closing: bool = False,
) -> Piece:
    """Return a wall panel as made by hand: its left and right height, a mitred left edge, cutouts by their corners."""
    left, right = Nm(heights_nm[0]), Nm(heights_nm[1])
    wide = Nm(width_nm)
    return Piece(
        id=PieceId(f"{order}/{mark}"),
        order=OrderId(order),
        revision=1,
        mark=mark,
        part="L1",
        group=GroupId(mark.rpartition("-")[0] or mark),
        role="wall_panel",
        stands=31,
        material=MaterialId("W6|birch|white"),
        width_nm=Nm(48 * INCH),
        thickness_nm=Nm(6 * INCH),
        edge_a=(Nm(0), left),
        edge_b=(Nm(0), right),
        turns=("as_is",),
        outline=((Nm(0), Nm(0)), (wide, Nm(0)), (wide, right), (Nm(0), left)),
        weight_g=Grams(44_500),
        left=EdgeCut(kind="mitre", bevel_udeg=MicroDeg(45_000_000), inside_nm=Nm(6 * INCH)),
        cutouts=tuple(
            Cutout(opening="win1", outline=((Nm(a), Nm(b)), (Nm(c), Nm(b)), (Nm(c), Nm(d)), (Nm(a), Nm(d))))
            for a, b, c, d in cutouts
        ),
        closing=closing,
    )


def label(piece: Piece, *, place: LabelPlace = "foot_end", busy: bool = False) -> PieceLabel:
    """Return a label of a piece as made by hand; `busy`: with the longest of everything."""
    return PieceLabel(
        piece=piece,
        place=place,
        code=piece.id,
        short_code=short_code(piece.id),
        lift=Lift(by="hands", people=2 if busy else 1),
        bar=BarId("W6|birch|white#009"),
        bar_at=12 if busy else 2,
        bar_of=100 if busy else 3,
        bundle=BundleId("cottage-7/B03"),
        bundle_name="B1003" if busy else "B03",
        bundle_at=105,
        bundle_of=118,
        film_by="2031-06-11",
    )


def hard_labels() -> list[PieceLabel]:
    """The smallest piece, the longest, one full of openings, the longest names."""
    windows = ((6 * INCH, 30 * INCH, 40 * INCH, 60 * INCH), (6 * INCH, 70 * INCH, 40 * INCH, 90 * INCH))
    pieces = [
        panel(width_nm=INCH // 2, heights_nm=(INCH, INCH)),
        panel(heights_nm=(480 * INCH - 1, 480 * INCH - 1)),
        panel(cutouts=windows, closing=True),
        panel(order=LONG, mark="basement-level.northwest-courtyard-wall-1234"),
        panel(order="ж-7", mark="L1.Ñ-03"),
    ]
    return [label(piece, place=place, busy=True) for piece in pieces for place in LABEL_PLACES]


def demo_index(name: str = "cottage-7") -> PlanIndex:
    return PlanIndex(demo_plan(name), plant())
