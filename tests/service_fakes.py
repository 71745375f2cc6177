"""A small plan made by hand, and fakes that are real small classes, for tests of the service and the worker."""

from __future__ import annotations

import os
import time
from pathlib import Path

from solver.documents.codes import check_digit
from solver.domain.building import Building, Delivery, ShipTo
from solver.domain.bundle import Bundle, BundleLimits, Lay, StackJob, StackPiece, StackResult
from solver.domain.cut_plan import Bar, BarPiece, CutPlan, NestJob, NestResult, PieceKind, StockLength
from solver.domain.dispatch import Departure, Dispatch
from solver.domain.floor_snapshot import FloorSnapshot
from solver.domain.ids import BarId, BundleId, GroupId, LoadId, MaterialId, OrderId, PieceId, StockId
from solver.domain.load import AxleWeight, Deck, Load, LoadBundle, LoadJob, LoadResult, PlacedBundle, Tiedowns
from solver.domain.piece import Piece
from solver.domain.plan import LoadPart, Plan, Proof, SequencePart, StackPart
from solver.domain.plant import Plant
from solver.domain.progress import PlanProgress, StageProgress
from solver.domain.rack import RackBar, RackCurve, RackPoint
from solver.domain.sequence import BarBundles, SequenceJob, SequenceResult
from solver.domain.takeoff import Takeoff
from solver.domain.timetable import Lateness, Link, Machine, PlannedOperation, ScheduleJob, ScheduleResult, Timetable
from solver.errors import FieldFault, NoPlan
from solver.progress_tracker import Report, ignore_progress
from solver.search import Search
from solver.units import FOOT, INCH, Grams, Nm, Seconds

HOLD = "SAWBILL_TEST_HOLD"
MATERIAL = MaterialId("W6|birch|white")
COVER = Nm(48 * INCH)
THICK = Nm(6 * INCH)


def order_document(order_id: str = "shed-1", revision: int = 1) -> dict[str, object]:
    """A sound order: four walls, one door."""
    return {
        "format": 1,
        "id": order_id,
        "revision": revision,
        "unit": "in",
        "outlines": {
            "main": {
                "corners": [
                    {"id": "a", "at": [0, 0]},
                    {"id": "b", "at": ["16'", 0]},
                    {"id": "c", "at": ["16'", "12'"]},
                    {"id": "d", "at": [0, "12'"]},
                ],
                "walls": ["S", "E", "N", "W"],
            }
        },
        "levels": [{"id": "L1", "outline": "main", "base": 0, "top": "8'"}],
        "openings": [
            {
                "id": "door1",
                "on": "L1.S",
                "kind": "door",
                "from_left": "5' 4\"",
                "sill": 0,
                "width": 36,
                "height": "6' 8\"",
            }
        ],
        "start": {"corner": "a", "direction": "ccw"},
        "site": {
            "ship_to": {"name": "Plot 1", "lines": ["Mill Lane 1"], "country": "US"},
            "time_zone": "America/Denver",
            "transit_minutes": 240,
            "unload_from": ["left"],
        },
        "deliveries": [{"id": "D1", "need_by": "2031-05-12T07:00", "priority": 1, "parts": ["L1"]}],
    }


def piece(order: str, n: int, *, lean_nm: Nm) -> Piece:
    """A wall panel, its head leaning by `lean_nm`."""
    length_nm = Nm(8 * FOOT)
    return Piece(
        id=PieceId(f"{order}/L1.S-{n:02}"),
        order=OrderId(order),
        revision=1,
        mark=f"L1.S-{n:02}",
        part="L1",
        group=GroupId("L1.S"),
        role="wall_panel",
        stands=n,
        material=MATERIAL,
        width_nm=COVER,
        thickness_nm=THICK,
        edge_a=(Nm(0), length_nm),
        edge_b=(Nm(0), Nm(length_nm + lean_nm)),
        turns=("as_is", "over_end"),
        outline=((Nm(0), Nm(0)), (COVER, Nm(0)), (COVER, length_nm), (Nm(0), length_nm)),
        weight_g=Grams(33_000),
    )


def building(order: str, revision: int = 1) -> Building:
    """A building without walls: the fake plan needs only its names."""
    return Building(
        order=OrderId(order),
        revision=revision,
        replaces=None,
        unit="in",
        walls=(),
        roof=(),
        bearing=(),
        start_corner="a",
        direction="ccw",
        trim_colour="slate",
        anchor_holes="template",
        measured=(),
        deliveries=(
            Delivery(
                id="D1",
                need_by="2031-05-12T07:00:00-06:00",
                dock_due="2031-05-12T03:00:00-06:00",
                priority=1,
                parts=("L1",),
            ),
        ),
        ship_to=ShipTo(name="Plot 1", lines=("Mill Lane 1",), country="US"),
        unload_from=("left",),
    )


def fake_plan(
    buildings: tuple[Building, ...],
    plant: Plant,
    search: Search,
    *,
    epoch: str,
    predecessor: str | None = None,
    previous: tuple[Takeoff, ...] = (),
    floor: FloorSnapshot | None = None,
    report: Report = ignore_progress,
) -> Plan:
    """Three pieces on two bars, two bundles one on the other, one truck, for the first order given."""
    order = buildings[0].order
    pieces = tuple(piece(order, n, lean_nm=Nm(INCH * n)) for n in (1, 2, 3))
    bars = tuple(_bars(order, pieces))
    stack, load = _stack(order, pieces), _load(order)
    table = Timetable(
        epoch=epoch,
        job=ScheduleJob(objective="weighted_tardiness", machines=(Machine(id="panel-saw-1", closed=((1800, 3600),)),), jobs=()),
        result=ScheduleResult(status="optimal", objective=0, lower_bound=0, operations=(), seconds=0.0),
        operations=tuple(
            PlannedOperation(
                id=f"bar {bar.id}/0",
                order=order,
                step="cut",
                about=bar.id,
                machine="panel-saw-1",
                start_s=Seconds(600 * n),
                end_s=Seconds(600 * n + 500),
            )
            for n, bar in enumerate(bars)
        ),
        deliveries=(
            Lateness(
                order=order,
                delivery="D1",
                due_s=Seconds(5000),
                done_s=Seconds(6000),
                late_s=Seconds(1000),
                chain=(Link(operation=f"bar {bars[-1].id}/0", waits_for="start", work_s=Seconds(500)),),
            ),
        ),
    )
    proof = Proof(stage="nest", about=MATERIAL, status="optimal", value=2.0, lower_bound=2.0, checked=True, digest="0" * 64)
    return Plan(
        status="optimal",
        id=f"plan-{order}-{buildings[0].revision}-{search.seed}",
        unit="in",
        plant=plant.id,
        takeoffs=(Takeoff(building=buildings[0], pieces=pieces),),
        stacks=(stack,),
        cuts=(_cut(bars),),
        sequences=(_sequence(bars),),
        slits=(),
        timetable=table,
        loads=(load,),
        dispatch=_dispatch(load),
        rack=_rack(bars, plant.rack_slots),
        proofs=(proof,),
        lower_bound=2.0,
        cost=2.0,
        seconds=0.1,
        predecessor=predecessor,
    )


def slow_plan(
    buildings: tuple[Building, ...],
    plant: Plant,
    search: Search,
    *,
    epoch: str,
    predecessor: str | None = None,
    previous: tuple[Takeoff, ...] = (),
    floor: FloorSnapshot | None = None,
    report: Report = ignore_progress,
) -> Plan:
    """The same, after four seconds of looking busy (longer while the file that HOLD names is there), or once told to end."""
    tenth, held = 0, Path(os.environ.get(HOLD, ""))
    while (tenth < 40 or held.is_file()) and not search.over():
        nest = StageProgress(stage="nest", done=min(tenth / 40, 0.9), parts=10, proved=6, gap=0.0036)
        rest = (StageProgress(stage=stage) for stage in ("sequence", "slit", "load", "schedule", "check", "sheets"))
        done = (StageProgress(stage=stage, done=1.0, parts=1, proved=1, gap=0.0) for stage in ("takeoff", "stack"))
        report(PlanProgress(stages=(*done, nest, *rest), pieces=3))
        time.sleep(0.1)
        tenth += 1
    return fake_plan(buildings, plant, search, epoch=epoch, predecessor=predecessor)


def one_sheet(plan: Plan, plant: Plant, folder: Path, tell: object) -> None:
    """Write a file that says that it is none."""
    (folder / "labels.txt").write_text("a fake sheet\n", encoding="utf-8")


def no_plan(
    buildings: tuple[Building, ...],
    plant: Plant,
    search: Search,
    *,
    epoch: str,
    predecessor: str | None = None,
    previous: tuple[Takeoff, ...] = (),
    floor: FloorSnapshot | None = None,
    report: Report = ignore_progress,
) -> Plan:
    """Nothing can meet it."""
    raise NoPlan(
        FieldFault(f"{buildings[0].order}.L1.S-01", "30' is longer than its stock", "longer stock, or a shorter piece")
    )


def broken_plan(
    buildings: tuple[Building, ...],
    plant: Plant,
    search: Search,
    *,
    epoch: str,
    predecessor: str | None = None,
    previous: tuple[Takeoff, ...] = (),
    floor: FloorSnapshot | None = None,
    report: Report = ignore_progress,
) -> Plan:
    """A fault of ours."""
    raise ZeroDivisionError("a defect\nin a stage")


def _bars(order: str, pieces: tuple[Piece, ...]) -> tuple[Bar, ...]:
    kerf = INCH // 8
    first, second, third = pieces

    def slot(item: Piece, at: int) -> BarPiece:
        return BarPiece(
            piece=item.id,
            turn="as_is",
            edge_a=(Nm(item.edge_a[0] + at), Nm(item.edge_a[1] + at)),
            edge_b=(Nm(item.edge_b[0] + at), Nm(item.edge_b[1] + at)),
        )

    two = Bar(
        id=BarId(f"{MATERIAL}-2"),
        material=MATERIAL,
        stock=StockId("24 ft"),
        length_nm=Nm(24 * FOOT),
        drop_nm=Nm(6 * FOOT),
        pieces=(slot(first, 0), slot(second, 8 * FOOT + INCH + kerf)),
    )
    one = Bar(
        id=BarId(f"{MATERIAL}-1"),
        material=MATERIAL,
        stock=StockId("8 ft 3 in"),
        length_nm=Nm(8 * FOOT + 4 * INCH),
        drop_nm=Nm(0),
        pieces=(slot(third, INCH // 2),),
    )
    return (one, two)


def _cut(bars: tuple[Bar, ...]) -> CutPlan:
    job = NestJob(
        unit="in",
        kerf_nm=Nm(INCH // 8),
        width_nm=COVER,
        keep_from_nm=Nm(3 * FOOT),
        stock=(StockLength(id=StockId("24 ft"), length_nm=Nm(24 * FOOT)),),
        pieces=(PieceKind(id="A", length_nm=Nm(8 * FOOT), count=3),),
    )
    result = NestResult(status="optimal", cost=2.0, lower_bound=2.0, waste=0.1, seconds=0.0, bars=())
    return CutPlan(material=MATERIAL, job=job, result=result, bars=bars)


def _rack(bars: tuple[Bar, ...], slots: int | None) -> RackCurve:
    """Two ways to cut the same bars: one of four slots, one dearer of none; the cheapest that fits is chosen."""
    told = tuple(
        RackBar(
            id=bar.id,
            material=bar.material,
            stock=bar.stock,
            drop_nm=bar.drop_nm,
            pieces=tuple(item.piece for item in bar.pieces),
        )
        for bar in bars
    )
    points = tuple(
        RackPoint(id=name, bundles=n, cost=cost, slots=wait, lower_bound=0, open=7, bars=told, best=True)
        for name, n, cost, wait in (("by 2", 2, 200_000.0, 4), ("by 1", 1, 201_000.0, 1))
    )
    chosen = "by 2" if slots is None or slots >= 4 else "by 1"
    stacks = tuple((piece,) for bar in told for piece in bar.pieces)[:2]
    return RackCurve(stacks=stacks, slots=slots, open_max=6, chosen=chosen, points=points)


def _dispatch(part: LoadPart) -> Dispatch:
    """The one truck, an hour at the door once its bundles are built, two hours on the road, half an hour late."""
    leaving = Departure(
        load=part.result.loads[0].id,
        order=part.order,
        deliveries=("D1",),
        door="dock",
        ready_s=Seconds(3600),
        start_s=Seconds(3600),
        leave_s=Seconds(7200),
        arrive_s=Seconds(14_400),
        leave_by_s=5400,
        need_by_s=12_600,
        late_s=1800,
    )
    return Dispatch(status="optimal", departures=(leaving,), most_late_s=1800, lower_bound=1800)


def _sequence(bars: tuple[Bar, ...]) -> SequencePart:
    job = SequenceJob(bars=tuple(BarBundles(id=bar.id, bundles=("B1",)) for bar in bars))
    order = tuple(bar.id for bar in reversed(bars))
    result = SequenceResult(status="optimal", order=order, open=1, lower_bound=1, seconds=0.0)
    return SequencePart(machine="panel-saw", job=job, result=result)


def _bundle(order: str, n: int, lays: tuple[Lay, ...]) -> Bundle:
    return Bundle(
        id=BundleId(f"{order}/B{n}"),
        kind="panels",
        pieces=lays,
        first_stands=n,
        length_nm=Nm(9 * FOOT),
        width_nm=COVER,
        height_nm=Nm(20 * INCH),
        weight_g=Grams(66_000),
        order=OrderId(order),
        dunnage_nm=(Nm(2 * FOOT), Nm(7 * FOOT)),
        centre_nm=Nm(4 * FOOT),
        serial=f"0095200000000{n:04}" + check_digit(f"0095200000000{n:04}"),
    )


def _stack(order: str, pieces: tuple[Piece, ...]) -> StackPart:
    limits = BundleLimits(
        weight_g=Grams(1_800_000),
        height_nm=Nm(46 * INCH),
        length_nm=Nm(24 * FOOT),
        overhang_nm=Nm(FOOT),
        dunnage_nm=Nm(7 * INCH // 2),
        dunnage_width_nm=Nm(7 * INCH // 2),
        dunnage_every_nm=Nm(5 * FOOT),
        dunnage_from_end_nm=Nm(2 * FOOT),
    )
    boxes = tuple(
        StackPiece(
            id=item.id,
            stands=item.stands,
            length_nm=item.length_nm,
            width_nm=item.width_nm,
            thickness_nm=item.thickness_nm,
            weight_g=item.weight_g,
            order=OrderId(order),
        )
        for item in pieces
    )
    bundles = (
        _bundle(order, 1, (Lay(piece=pieces[1].id), Lay(piece=pieces[0].id, up_nm=THICK))),
        _bundle(order, 2, (Lay(piece=pieces[2].id),)),
    )
    result = StackResult(status="optimal", bundles=bundles, lower_bound=2, seconds=0.0)
    return StackPart(order=OrderId(order), job=StackJob(unit="in", limits=limits, pieces=boxes), result=result)


def _load(order: str) -> LoadPart:
    deck = Deck(
        id="deck-20",
        length_nm=Nm(20 * FOOT),
        width_nm=Nm(102 * INCH),
        height_nm=Nm(40 * INCH),
        payload_g=Grams(4_500_000),
        tare_g=Grams(4_000_000),
    )
    under, over = BundleId(f"{order}/B2"), BundleId(f"{order}/B1")
    bundles = tuple(
        LoadBundle(id=name, length_nm=Nm(9 * FOOT), width_nm=COVER, height_nm=Nm(20 * INCH), weight_g=Grams(66_000), rank=rank)
        for rank, name in enumerate((over, under))
    )
    load = Load(
        id=LoadId(f"{order}/T1"),
        deck="deck-20",
        placed=(
            PlacedBundle(bundle=under, x_nm=Nm(0), y_nm=Nm(0), z_nm=Nm(0)),
            PlacedBundle(bundle=over, x_nm=Nm(0), y_nm=Nm(0), z_nm=Nm(20 * INCH)),
        ),
        weight_g=Grams(132_000),
        axles=(AxleWeight(group="front", weight_g=Grams(66_000), limit_g=Grams(9_000_000)),),
        tiedowns=Tiedowns(by_length=2, by_load=1, required=2, positions_nm=(Nm(FOOT), Nm(8 * FOOT))),
    )
    result = LoadResult(status="optimal", loads=(load,), cost=1.0, lower_bound=1.0, seconds=0.0)
    return LoadPart(order=OrderId(order), job=LoadJob(unit="in", decks=(deck,), bundles=bundles), result=result)
