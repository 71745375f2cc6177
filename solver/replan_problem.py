"""A released plan, what the floor told and what happened to it: how to go on, and what changes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from solver.documents.lateness_words import lateness_reasons
from solver.documents.names import ThingNames
from solver.domain.cut_plan import Bar, BarPiece
from solver.domain.disruptions import Disruptions, FloorReport, material_jobs, seconds_after_epoch
from solver.domain.ids import BarId, PieceId, StockId
from solver.domain.material import Material
from solver.domain.piece import Piece
from solver.domain.plant import Plant
from solver.domain.replan import Choice, Down, LateMaterial, ReplanJob, ReplanResult, Urgent, Wait
from solver.domain.timetable import Machine, ScheduleResult, Timetable
from solver.domain.work_ids import bundle_job, is_remake, load_job, read_operation_id, remake_job
from solver.language import ENGLISH
from solver.promise_problem import ReleasedPlan, machines_with_longer_hours, machines_with_new_families, rebuild_plant_work
from solver.replanning.actual_timetable import ActualTimetable, Key, actual_timetable
from solver.replanning.check import choices_as_schedules
from solver.scheduling.buffers.overfull import widen_buffers_to_hold
from solver.scheduling.plant.machines import plant_machines
from solver.scheduling.plant.operations import PlantWork
from solver.scheduling.plant.steps import OperationMeaning, PlantJobs, bar_steps, trim_steps
from solver.scheduling.plant.timetable import plant_timetable
from solver.units import Nm, Seconds


@dataclass(frozen=True, slots=True, kw_only=True)
class ReplanProblem:
    """A replan job, and what each of its operations and deliveries is."""

    job: ReplanJob
    work: PlantWork
    ran: ActualTimetable


def replan_problem(
    released: ReleasedPlan, happened: Disruptions, told: FloorReport, *, now_s: int, firm_until_s: int = 0, seed: int = 1
) -> ReplanProblem:
    """Return the replan job of a plan after what happened, which names only what the plan has (`faults_of`).

    Raises InputError where the plan's timetable is not what its parts ask for (made by an older version).
    """
    table, work = released.table, rebuild_plant_work(released)
    done, tells = _done(released, told), _tells(released, told)
    if done:
        now_s = max(1, now_s)  # what is done had a moment of the plan in which it was
    trusted = happened.untold == "as_planned"
    roomy = widen_buffers_to_hold(table.job, table.result.operations)  # what is overfull as released may stay so, and no more
    ran = actual_timetable(roomy, table.result.operations, now=now_s, reported=done, reportable=() if trusted else tells)
    remakes = _Remakes(released, work, happened.remake)
    since_s = max(
        [now_s, *(slot.end for slot in ran.slots), *(seconds_after_epoch(table.epoch, one.end) for one in happened.down)]
    )
    widen = machines_with_new_families if remakes.work.jobs else machines_with_longer_hours
    task = replace(ran.task, machines=widen(ran.task.machines, remakes.machines(since_s)))
    epoch = table.epoch
    job = ReplanJob(
        plan=task,
        slots=ran.slots,
        now=now_s,
        firm_until=max(now_s, firm_until_s),
        down=tuple(
            Down(
                machine=one.machine,
                start=max(0, seconds_after_epoch(epoch, one.start)),
                end=seconds_after_epoch(epoch, one.end),
            )
            for one in happened.down
        ),
        late=tuple(_late(table, happened)),
        urgent=tuple(_urgent(work, happened, epoch)),
        added=tuple(remakes.work.jobs.values()),
        waits=tuple(remakes.waits(task_jobs={job.id for job in task.jobs})),
        undone=ran.undone,
        calm=released.plant.calm,
        seed=seed,
    )
    return ReplanProblem(job=job, work=_meant(work, released, remakes.work.meaning, happened), ran=ran)


def _meant(work: PlantWork, released: ReleasedPlan, more: Mapping[Key, OperationMeaning], happened: Disruptions) -> PlantWork:
    """The plan's work with what its timetable and what happened added to it."""
    table = released.table
    meaning = {
        read_operation_id(one.id): OperationMeaning(order=one.order, step=one.step, about=one.about, bars=one.bars)
        for one in table.operations
    }
    dues = {(one.order, one.delivery): one.due_s for one in table.deliveries if one.due_s is not None}
    for rush in happened.rush:
        if rush.due is not None:
            dues.update(
                {key: Seconds(max(0, seconds_after_epoch(table.epoch, rush.due))) for key in dues if key[0] == rush.order}
            )
    deliveries = {key: replace(one, due_s=int(dues.get(key, one.due_s))) for key, one in work.deliveries.items()}
    return replace(work, meaning={**meaning, **more}, deliveries=deliveries)


def _done(released: ReleasedPlan, told: FloorReport) -> dict[Key, int]:
    """Operations that the floor told done, and when: bars cut, bundles built, trucks loaded."""
    bars = {bar.id: bar for cut in released.cuts for bar in cut.bars}
    on = {str(load.id): [item.bundle for item in load.placed] for part in released.loads for load in part.result.loads}
    bundled, loaded, shipped = (
        {str(name): when for name, when in one.items()} for one in (told.bundled, told.loaded, told.shipped)
    )
    found: dict[Key, int] = {}
    for one in released.table.operations:
        key = read_operation_id(one.id)
        if one.step in ("cut", "cut trim"):
            pieces = [item.piece for bar in one.bars for item in bars[bar].pieces]
            again = is_remake(key[0])
            pieces = [PieceId(one.about)] if again else pieces
            if pieces and all(piece in told.cut and not (again and piece in told.scrapped) for piece in pieces):
                found[key] = max(told.cut[piece] for piece in pieces)
        elif one.step == "bundle":
            at = bundled.get(one.about, loaded.get(one.about))
            if at is not None:
                found[key] = at
        elif one.step == "load":
            carried = on.get(one.about, [])
            gone = shipped.get(one.about)
            if gone is not None:
                found[key] = gone
            elif carried and all(name in loaded for name in carried):
                found[key] = max(loaded[name] for name in carried)
    return found


def _tells(released: ReleasedPlan, told: FloorReport) -> set[Key]:
    """Operations whose end the floor tells: bundles only where any was told of, for a truck's scan alone will do."""
    kinds = {"cut", "cut trim", "load"} | ({"bundle"} if told.bundled else set())
    return {read_operation_id(one.id) for one in released.table.operations if one.step in kinds}


def _late(table: Timetable, happened: Disruptions) -> Iterator[LateMaterial]:
    for late in happened.late:
        at = seconds_after_epoch(table.epoch, late.at)
        for job, material in material_jobs(table).items():
            if late.material == material or late.material in Material.parse(material).colours:
                yield LateMaterial(job=job, release=at)


def _urgent(work: PlantWork, happened: Disruptions, epoch: str) -> Iterator[Urgent]:
    for rush in happened.rush:
        due = None if rush.due is None else max(0, seconds_after_epoch(epoch, rush.due))
        for name in dict.fromkeys(name for key, one in work.deliveries.items() if key[0] == rush.order for name in one.jobs):
            yield Urgent(job=name, due=due, weight=rush.weight)


class _Remakes:
    """Pieces that are cut again, each from a bar of stock by itself, with all its steps in one job."""

    def __init__(self, released: ReleasedPlan, work: PlantWork, pieces: tuple[str, ...]) -> None:
        self.released, self.before = released, work.families
        self.work = PlantJobs(released.plant, families=dict(work.families))
        self.bars = {item.piece: (bar, item) for cut in released.cuts for bar in cut.bars for item in bar.pieces}
        self.pieces = {piece.id: piece for takeoff in released.takeoffs for piece in takeoff.pieces}
        self.named = {self._name(piece): PieceId(piece) for piece in pieces}
        for name, piece in self.named.items():
            self._add(name, piece)

    def _name(self, piece: str) -> str:
        """A piece that was made again before is made again once more."""
        taken, n = {job.id for job in self.released.table.job.jobs}, 1
        while (name := remake_job(piece, n)) in taken:
            n += 1
        return name

    def _add(self, name: str, piece_id: PieceId) -> None:
        piece = self.pieces[piece_id]
        alone = self._alone(name, piece)
        if piece.is_panel:
            steps = bar_steps(self.work, alone, [piece], str(piece.thickness_nm))
        else:
            steps = trim_steps(self.work, [alone], {piece_id: piece}, Material.parse(piece.material).item)
        self.work.add(name, steps, order=piece.order, about=piece_id)

    def _alone(self, name: str, piece: Piece) -> Bar:
        """The piece by itself, as it lies on its bar; one that was made before the plan began is on none of its bars."""
        if piece.id in self.bars:
            bar, item = self.bars[piece.id]
            return replace(bar, id=BarId(name), pieces=(replace(item, way="whole", host=None, opening=None),))
        item = BarPiece(piece=piece.id, turn="as_is", edge_a=piece.edge_a, edge_b=piece.edge_b)
        length = piece.length_nm
        return Bar(
            id=BarId(name), material=piece.material, stock=StockId("new"), length_nm=length, drop_nm=Nm(0), pieces=(item,)
        )

    def machines(self, from_s: int) -> tuple[Machine, ...]:
        """Return the plant's machines, set up for what is made again too, with hours for what is put off until `from_s`."""
        return plant_machines(self.work, datetime.fromisoformat(self.released.table.epoch), from_s=from_s)[0]

    def waits(self, *, task_jobs: set[str]) -> Iterator[Wait]:
        """Give what waits for each: its bundle; where that is built already, its truck, which waits anyway."""
        bundle_of = {
            lay.piece: bundle.id for part in self.released.stacks for bundle in part.result.bundles for lay in bundle.pieces
        }
        load_of = {item.bundle: load.id for part in self.released.loads for load in part.result.loads for item in load.placed}
        for name, piece in self.named.items():
            bundle = bundle_of.get(piece)
            if bundle is None or name not in self.work.jobs:
                continue
            waiting = [bundle_job(bundle)] + ([load_job(load_of[bundle])] if bundle in load_of else [])
            yield from (Wait(job=one, after=name) for one in waiting if one in task_jobs)


def timetables_of_choices(asked: ReplanProblem, result: ReplanResult, plant: Plant, *, epoch: str) -> tuple[Timetable, ...]:
    """Return the timetable of each choice, calm first; why what is late is late is told in the plant's words."""
    made = []
    for choice, (task, claim) in zip(result.choices, choices_as_schedules(asked.job, result), strict=True):
        work = replace(asked.work, job=task)
        stated = replace(_stated(claim, choice, result), operations=choice.operations)
        table = plant_timetable(work, stated, epoch=datetime.fromisoformat(epoch), replanned_s=Seconds(asked.job.now))
        named = ThingNames(plant).table(table)
        why = [replace(one, why=lateness_reasons(one, named.operations, ENGLISH)) for one in table.deliveries]
        made.append(replace(table, deliveries=tuple(why)))
    return tuple(made)


def _stated(claim: ScheduleResult, choice: Choice, result: ReplanResult) -> ScheduleResult:
    floor = min(result.lower_bound, choice.tardiness)
    status = "optimal" if floor == choice.tardiness else "feasible"
    return replace(
        claim,
        status="optimal" if status == "optimal" else "feasible",
        lower_bound=floor,
        setup=choice.setup,
        flow=choice.flow,
    )
