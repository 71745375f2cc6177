"""What a plant's plan asks of its machines: lots, bars, trims, bundles and deliveries as jobs with operations."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from solver.domain.bundle import Bundle
from solver.domain.cut_plan import Bar, CutPlan
from solver.domain.ids import PieceId
from solver.domain.piece import Piece
from solver.domain.plant import Plant, Workplace
from solver.domain.slit_plan import SlitResult
from solver.domain.takeoff import Takeoff
from solver.domain.timetable import Job, Lateness, Machine, Operation, PlannedOperation, ScheduleJob, ScheduleResult, Timetable
from solver.scheduling.shifts import closed_times
from solver.units import Seconds

METRE_NM = 1_000_000_000
HORIZON_DAYS = 120


@dataclass(frozen=True, slots=True, kw_only=True)
class PlantWork:
    """The schedule job of a plan and what each of its operations is, by (job, index)."""

    job: ScheduleJob
    meaning: Mapping[tuple[str, int], tuple[str, str, str]]  # order, step, what it works on
    deliveries: Mapping[str, tuple[str, str]]  # job id to order and delivery


class _Builder:
    def __init__(self, plant: Plant) -> None:
        self.plant = plant
        self.jobs: list[Job] = []
        self.meaning: dict[tuple[str, int], tuple[str, str, str]] = {}
        self.families: dict[str, dict[str, int]] = {place.id: {} for place in plant.workplaces}
        self.family_numbers: dict[tuple[str, ...], int] = {}

    def places(self, step: str) -> list[Workplace]:
        return [place for place in self.plant.workplaces if step in place.does]

    def family(self, *key: str) -> int:
        """A number for what a machine must be set up for; equal keys need no set-up between them."""
        return self.family_numbers.setdefault(key, len(self.family_numbers))

    def step(self, step: str, family: int, times: Iterable[tuple[Workplace, int]], *, hold: int = 0) -> Operation | None:
        on = {place.id: seconds for place, seconds in times}
        return Operation(on=on, family=family, hold=hold, pause=step not in UNBROKEN) if on else None

    def add(
        self,
        job_id: str,
        order: str,
        about: str,
        steps: list[tuple[str, Operation | None]],
        *,
        after: Iterable[str] = (),
        due: int | None = None,
        weight: int = 1,
    ) -> None:
        known = {job.id for job in self.jobs}
        real = [(name, operation) for name, operation in steps if operation is not None]
        for index, (name, _) in enumerate(real):
            self.meaning[job_id, index] = (order, name, about)
        operations = tuple(operation for _, operation in real)
        waits = tuple(sorted({other for other in after if other in known}))
        if operations:
            self.jobs.append(Job(id=job_id, operations=operations, after=waits, due=due, weight=weight))


UNBROKEN = ("laminate",)  # a press run may not pause: the glue sets


def plant_work(
    *,
    takeoffs: tuple[Takeoff, ...],
    cuts: tuple[CutPlan, ...],
    bundles: tuple[Bundle, ...],
    slits: Mapping[str, SlitResult],
    plant: Plant,
    epoch: datetime,
    time_limit_s: float = 10.0,
    seed: int = 1,
) -> PlantWork:
    """Return the schedule job of a plan, in whole seconds from `epoch`: due at the dock, lateness weighted by priority."""
    build = _Builder(plant)
    pieces = {piece.id: piece for takeoff in takeoffs for piece in takeoff.pieces}
    made_by: dict[PieceId, str] = {}
    for material, result in sorted(slits.items()):
        _slitting(build, material, result)
    slit_jobs = [job.id for job in build.jobs]
    for plan in cuts:
        if any(pieces[item.piece].is_panel for bar in plan.bars for item in bar.pieces):
            _panel_bars(build, plan, pieces, made_by)
        else:
            _trim_bars(build, plan, pieces, made_by, slit_jobs)
    _bundles(build, bundles, made_by)
    deliveries = _deliveries(build, takeoffs, bundles, pieces, epoch)
    machines = tuple(_machine(place, build, plant, epoch) for place in plant.workplaces)
    job = ScheduleJob(
        objective="weighted_tardiness", machines=machines, jobs=tuple(build.jobs), time_limit_s=time_limit_s, seed=seed
    )
    return PlantWork(job=job, meaning=build.meaning, deliveries=deliveries)


def _machine(place: Workplace, build: _Builder, plant: Plant, epoch: datetime) -> Machine:
    keys = sorted(build.family_numbers, key=build.family_numbers.__getitem__)
    setup = tuple(tuple(_set_up(place, one, two) for two in keys) for one in keys)
    closed = closed_times(place, plant, epoch=epoch, days=HORIZON_DAYS)
    return Machine(id=place.id, closed=closed, setup=setup if any(any(row) for row in setup) else None)


def _set_up(place: Workplace, before: tuple[str, ...], after: tuple[str, ...]) -> int:
    """Seconds of set-up from one family key (kind, thickness, colour, angle or profile) to the next."""
    if before[0] != after[0]:
        return 0
    thickness, colour, angle = (a != b for a, b in zip(before[1:4], after[1:4], strict=True))
    if before[0] == "trim":
        return place.setup_profile_s if thickness else 0
    if before[0] == "coil":
        return place.setup_coil_s if thickness or colour else 0
    seconds = place.setup_thickness_s if thickness else 0
    seconds += place.setup_colour_s if colour else 0
    return seconds + (place.setup_angle_s if angle else 0)


def _metres(length_nm: int) -> int:
    return -(-length_nm // METRE_NM)


def _slitting(build: _Builder, material: str, result: SlitResult) -> None:
    run = sum(pattern.length_nm for pattern in result.patterns)
    if not result.patterns:
        return
    family = build.family("coil", material, "", "")
    times = [
        (place, place.per_item_s * len(result.patterns) + place.per_metre_s * _metres(run)) for place in build.places("slit")
    ]
    build.add(f"slit {material}", "", material, [("slit", build.step("slit", family, times))])


def _panel_bars(build: _Builder, plan: CutPlan, pieces: Mapping[PieceId, Piece], made_by: dict[PieceId, str]) -> None:
    """Lots to laminate, then bars to cut: bars on hand need no lot."""
    sample = pieces[plan.bars[0].pieces[0].piece]
    thickness = str(sample.thickness_nm)
    made = [bar for bar in plan.bars if str(bar.stock).startswith(("new ", "made "))]
    lot_size = min((place.lot for place in build.places("laminate")), default=1)
    lot_of: dict[str, str] = {}
    for n in range(0, len(made), lot_size):
        lot = made[n : n + lot_size]
        name = f"lot {plan.material} {n // lot_size + 1}"
        _lot(build, name, plan.material, thickness, lot)
        lot_of.update({str(bar.id): name for bar in lot})
    for bar in plan.bars:
        members = [pieces[item.piece] for item in bar.pieces]
        after = [lot_of[str(bar.id)]] if str(bar.id) in lot_of else []
        order = members[0].order if members else ""
        build.add(f"bar {bar.id}", order, str(bar.id), _bar_steps(build, bar, members, thickness), after=after)
        made_by.update({piece.id: f"bar {bar.id}" for piece in members})


def _lot(build: _Builder, name: str, material: str, thickness: str, lot: list[Bar]) -> None:
    metres = sum(_metres(bar.length_nm) for bar in lot)
    family = build.family("panel", thickness, material.partition("|")[2], "")
    core = [(place, place.per_item_s + place.per_metre_s * metres) for place in build.places("cut_core")]
    film = [(place, place.per_item_s + place.per_metre_s * metres) for place in build.places("film")]
    press = [(place, place.per_item_s) for place in build.places("laminate")]
    build.add(
        name,
        "",
        f"{len(lot)} bars {material}",
        [
            ("cut core", build.step("cut_core", build.family("core", thickness, "", ""), core)),
            ("film", build.step("film", build.family("film", "", "", ""), film)),
            ("laminate", build.step("laminate", family, press, hold=build.plant.glue_hold_s)),
        ],
    )


def _bar_steps(build: _Builder, bar: Bar, members: list[Piece], thickness: str) -> list[tuple[str, Operation | None]]:
    square = sum(1 for item in bar.pieces if item.edge_a == item.edge_b)
    angled = len(bar.pieces) - square
    angle = "angled" if angled else "square"
    ripped = [piece for piece in members if piece.left.kind != "joint" or piece.right.kind != "joint"]
    openings = sum(len(piece.cutouts) for piece in members)
    pockets = sum(1 for piece in members for hole in piece.holes if hole.kind == "pocket")
    cut = [
        (place, place.per_item_s + place.per_cut_s * (square + 1) + place.per_angled_cut_s * angled)
        for place in build.places("cut")
    ]
    rip_metres = sum(_metres(piece.length_nm) for piece in ripped)
    rip = [(place, place.per_item_s + place.per_metre_s * rip_metres) for place in build.places("rip")]
    rout = [
        (place, place.per_item_s + place.per_opening_s * openings + place.per_pocket_s * pockets)
        for place in build.places("rout")
    ]
    clean = [(place, place.per_item_s) for place in build.places("clean")]
    kind = "mitre" if any("mitre" in (piece.left.kind, piece.right.kind) for piece in members) else "rip"
    return [
        ("cut", build.step("cut", build.family("cut", thickness, "", angle), cut)),
        ("rip", build.step("rip", build.family("rip", "", "", kind), rip) if ripped else None),
        ("rout", build.step("rout", build.family("rout", "", "", ""), rout) if openings or pockets else None),
        ("clean", build.step("clean", build.family("clean", "", "", ""), clean)),
    ]


def _trim_bars(
    build: _Builder,
    plan: CutPlan,
    pieces: Mapping[PieceId, Piece],
    made_by: dict[PieceId, str],
    slit_jobs: list[str],
) -> None:
    """One job for all bars of a profile: cut and mitre, drill, form. Blanks wait for the slitter."""
    members = [pieces[item.piece] for bar in plan.bars for item in bar.pieces]
    name, profile = f"trim {plan.material}", str(plan.material).partition("|")[0]
    found = next((item for item in build.plant.profiles if item.id == profile), None)
    bends = found.bends if found is not None else 0
    holes = sum(len(piece.holes) for piece in members)
    angled = sum(1 for bar in plan.bars for item in bar.pieces if item.edge_a != item.edge_b)
    family = build.family("trim", profile, "", "")
    cut = [
        (place, place.per_item_s * len(plan.bars) + place.per_cut_s * (len(members) - angled) + place.per_angled_cut_s * angled)
        for place in build.places("cut_trim")
    ]
    drill = [(place, place.per_item_s + place.per_hole_s * holes) for place in build.places("drill")]
    form = [(place, (place.per_item_s + place.per_bend_s * bends) * len(members)) for place in build.places("form")]
    steps = [
        ("cut trim", build.step("cut_trim", family, cut)),
        ("drill", build.step("drill", build.family("drill", "", "", ""), drill) if holes else None),
        ("form", build.step("form", family, form)),
    ]
    build.add(name, "", str(plan.material), steps, after=slit_jobs)
    made_by.update({piece.id: name for piece in members})


def _bundles(build: _Builder, bundles: tuple[Bundle, ...], made_by: Mapping[PieceId, str]) -> None:
    for bundle in bundles:
        after = {made_by[lay.piece] for lay in bundle.pieces if lay.piece in made_by}
        times = [(place, 600 + place.per_item_s * len(bundle.pieces)) for place in build.places("bundle")]
        operation = build.step("bundle", build.family("bundle", "", "", ""), times)
        build.add(f"bundle {bundle.id}", bundle.order or "", str(bundle.id), [("bundle", operation)], after=after)


def _deliveries(
    build: _Builder,
    takeoffs: tuple[Takeoff, ...],
    bundles: tuple[Bundle, ...],
    pieces: Mapping[PieceId, Piece],
    epoch: datetime,
) -> dict[str, tuple[str, str]]:
    """A loading job for each delivery: it waits for every bundle that holds a piece of the delivery's parts."""
    made: dict[str, tuple[str, str]] = {}
    for takeoff in takeoffs:
        order = takeoff.building.order
        for delivery in takeoff.building.deliveries:
            mine = [
                bundle
                for bundle in bundles
                if bundle.order == order
                and any(pieces[lay.piece].part in delivery.parts for lay in bundle.pieces if lay.piece in pieces)
            ]
            name = f"load {order} {delivery.id}"
            times = [(place, 1800 + place.per_item_s * len(mine)) for place in build.places("load")]
            operation = build.step("load", build.family("load", "", "", ""), times)
            due = max(0, int((datetime.fromisoformat(delivery.dock_due) - epoch).total_seconds()))
            after = [f"bundle {bundle.id}" for bundle in mine]
            build.add(
                name, order, f"{order} {delivery.id}", [("load", operation)], after=after, due=due, weight=delivery.priority
            )
            made[name] = (order, delivery.id)
    return made


def timetable(work: PlantWork, result: ScheduleResult, *, epoch: datetime) -> Timetable:
    """Return the result in clear: each operation with what it is, each delivery with its lateness."""
    jobs = {job.id: job for job in work.job.jobs}
    operations = []
    done: dict[str, int] = {}
    for slot in sorted(result.operations, key=lambda item: (item.start, item.machine)):
        order, step, about = work.meaning[slot.job, slot.index]
        operation = jobs[slot.job].operations[slot.index]
        done[slot.job] = max(done.get(slot.job, 0), slot.end + operation.hold)
        operations.append(
            PlannedOperation(
                id=f"{slot.job}/{slot.index}",
                order=order,
                step=step,
                about=about,
                machine=slot.machine,
                start_s=Seconds(slot.start),
                end_s=Seconds(slot.end),
                hold_s=Seconds(operation.hold),
            )
        )
    promises = []
    for name, (order, delivery) in work.deliveries.items():
        due = jobs[name].due
        late = max(0, done[name] - due) if due is not None else 0
        promises.append(
            Lateness(
                order=order,
                delivery=delivery,
                due_s=Seconds(due) if due is not None else None,
                done_s=Seconds(done[name]),
                late_s=Seconds(late),
            )
        )
    return Timetable(
        epoch=epoch.isoformat(), job=work.job, result=result, operations=tuple(operations), deliveries=tuple(promises)
    )
