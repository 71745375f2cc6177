"""Proves a whole plan again: every part by its own stage's check, and that the parts agree with each other."""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence, Set
from itertools import pairwise

from solver.check_floor_continuation import remnants_of
from solver.codec import encode
from solver.domain.building import Building
from solver.domain.cut_plan import Bar
from solver.domain.floor_snapshot import FloorSnapshot
from solver.domain.ids import PieceId
from solver.domain.plan import Part, Plan, Proof, without_search_seconds
from solver.domain.plant import Plant
from solver.domain.report import Report
from solver.domain.takeoff import Takeoff
from solver.domain.timetable import Job, Overfull
from solver.domain.work_ids import bundle_job, load_job, read_operation_id
from solver.errors import FaultCollector, FieldFault
from solver.nesting.check_blanks import BLANK_RULES, check_bars
from solver.plan_parts import CheckContext, iterate_plan_parts
from solver.scheduling.check_hours import CHECKED as IN_HOURS
from solver.scheduling.check_hours import faults_in_hours
from solver.scheduling.check_timetable import CHECKED as IN_CLEAR
from solver.scheduling.check_timetable import timetable_faults

CROSS = (
    "every order taken off, every piece in exactly one bundle and on exactly one bar",
    *BLANK_RULES,
    "every bundle on exactly one load, as long, wide, high and heavy as it was built",
    "bars in the cut order that sequencing gave",
    "every bar, bundle and truck in the timetable, bundles after their bars, loading after the truck's bundles",
    "what waits before the saw and the bundle bay, and what of it finds no room, as told",
    "each part's digest is that of the part",
    IN_CLEAR,
    IN_HOURS,
)


def check_plan(buildings: tuple[Building, ...], plant: Plant, plan: Plan, floor: FloorSnapshot | None = None) -> Report:
    """Return what holds and what does not of a plan made for these buildings, and from this floor where it goes on from one."""
    checked: list[str] = []
    faults = FaultCollector()

    def add(path: str, report: Report) -> None:
        checked.extend(f"{path}: {rule}" for rule in report.checked)
        faults.extend(FieldFault(f"{path}.{fault.path}", fault.problem, fault.fix) for fault in report.faults)

    before = {one.order: one.takeoff for one in floor.orders if one.takeoff is not None} if floor is not None else {}
    given = CheckContext(
        plant=plant, buildings={building.order: building for building in buildings}, earlier=before, floor=floor
    )
    taken_off = _taken_off(buildings, plan, faults)
    for kind, part in iterate_plan_parts(plan):
        if taken_off or kind.kind is not Takeoff:
            add(kind.path(part), kind.check(part, plan, given))
    if floor is not None and plan.kept is None:
        faults.add("kept", "the plan starts elsewhere than this floor", "the plan that was made from this snapshot")
    faults.extend(timetable_faults(plan.timetable))
    faults.extend(faults_in_hours(plant, plan.timetable))
    _pieces_everywhere_once(plan, faults)
    pieces = {piece.id: piece for takeoff in plan.takeoffs for piece in takeoff.pieces}
    remnants = remnants_of(plant, floor)
    for cut in plan.cuts:
        check_bars(cut, pieces, plant, remnants, faults)
    _bundles_on_loads(plan, faults)
    _cut_order(plan, faults)
    _timetable(plan, faults)
    _waiting(plan, plant, faults)
    _digests(plan, faults)
    return Report(checked=(*checked, *CROSS), faults=tuple(faults.found))


def _taken_off(buildings: tuple[Building, ...], plan: Plan, faults: FaultCollector) -> bool:
    """Whether there is one takeoff an order; else that is a fault, and none can be judged."""
    orders = [takeoff.building.order for takeoff in plan.takeoffs]
    if len(set(orders)) == len(orders) and set(orders) == {building.order for building in buildings}:
        return True
    faults.add("takeoffs", "are not those of the orders, each once", "one takeoff an order")
    return False


def _pieces_everywhere_once(plan: Plan, faults: FaultCollector) -> None:
    wanted = Counter(piece.id for takeoff in plan.takeoffs for piece in takeoff.pieces)
    stacked = Counter(lay.piece for part in plan.stacks for bundle in part.result.bundles for lay in bundle.pieces)
    nested = Counter(item.piece for bar in _bars(plan) for item in bar.pieces)
    if plan.kept is not None:
        nested.update(plan.kept.made)  # from a bar of before: once too
    for name, found, place in (("stacks", stacked, "bundle"), ("cuts", nested, "bar")):
        for piece in sorted(wanted.keys() | found.keys()):
            if found[piece] != 1 or wanted[piece] != 1:
                faults.add(name, f"{piece} is on {found[piece]} {place}s", f"exactly one {place}")


def _bars(plan: Plan) -> Iterator[Bar]:
    """All bars that a plan still cuts: its own, and those that stay from before."""
    yield from (bar for cut in plan.cuts for bar in cut.bars)
    if plan.kept is not None:
        yield from (one.bar for one in plan.kept.bars)


def _bundles_on_loads(plan: Plan, faults: FaultCollector) -> None:
    built = {bundle.id: bundle for part in plan.stacks for bundle in part.result.bundles}
    asked = {bundle.id: bundle for part in plan.loads for bundle in part.job.bundles}
    placed = Counter(item.bundle for part in plan.loads for load in part.result.loads for item in load.placed)
    for name in sorted(built.keys() | placed.keys()):
        if placed[name] != 1 or name not in built:
            faults.add("loads", f"bundle {name} is on {placed[name]} loads", "exactly one load")
            continue
        mine, wanted = built[name], asked.get(name)
        if wanted is None or (wanted.weight_g, wanted.length_nm, wanted.width_nm, wanted.height_nm) != (
            mine.weight_g,
            mine.length_nm,
            mine.width_nm,
            mine.height_nm,
        ):
            faults.add("loads", f"bundle {name} is loaded as what it is not", "its own size and weight")


def _cut_order(plan: Plan, faults: FaultCollector) -> None:
    for part in plan.sequences:
        rank = {name: n for n, name in enumerate(part.result.order)}
        for cut in plan.cuts:
            mine = [rank[bar.id] for bar in cut.bars if bar.id in rank]
            if mine != sorted(mine):
                faults.add(f"cuts[{cut.name}].bars", "are not in cut order", "the order of sequencing")
        starts = [
            (one.start_s, rank[bar])
            for one in plan.timetable.operations
            if one.step == "cut"
            for bar in one.bars
            if bar in rank
        ]
        saws = {one.machine for one in plan.timetable.operations if one.step == "cut"}
        ranks = [place for _, place in sorted(starts)]
        if len(saws) == 1 and ranks != sorted(ranks):
            faults.add("timetable", f"cuts the bars of {part.machine} in another order", "the order of sequencing")


def _timetable(plan: Plan, faults: FaultCollector) -> None:
    jobs = {job.id: job for job in plan.timetable.job.jobs}
    by_bar: dict[str, set[str]] = {}
    for operation in plan.timetable.operations:
        for name in operation.bars:
            by_bar.setdefault(name, set()).add(read_operation_id(operation.id)[0])
    made_by: dict[PieceId, set[str]] = {}
    for bar in _bars(plan):
        names = by_bar.get(bar.id, set())
        if not names:
            faults.add("timetable", f"bar {bar.id} is on no machine", "an operation for each bar")
        made_by.update({item.piece: names for item in bar.pieces})
    built, left = (set(plan.kept.built), set(plan.kept.left)) if plan.kept is not None else (set(), set())
    for part in plan.stacks:
        for bundle in (one for one in part.result.bundles if one.id not in built):
            job = jobs.get(bundle_job(bundle.id))
            if job is None:
                faults.add("timetable", f"bundle {bundle.id} is on no machine", "an operation for each bundle")
                continue
            makers = {name for lay in bundle.pieces for name in made_by.get(lay.piece, ())}
            if not (makers <= _ancestors(job.id, jobs, makers) or makers <= _ancestors(job.id, jobs, jobs.keys())):
                faults.add("timetable", f"bundle {bundle.id} does not wait for all its bars", "after each of its bars")
    for loaded in plan.loads:
        for load in (one for one in loaded.result.loads if one.id not in left):
            job = jobs.get(load_job(load.id))
            if job is None:
                faults.add("timetable", f"load {load.id} is at no dock", "an operation for each truck")
            elif not {bundle_job(item.bundle) for item in load.placed if item.bundle not in built} <= set(job.after):
                faults.add("timetable", f"load {load.id} does not wait for all its bundles", "after each of its bundles")


def _waiting(plan: Plan, plant: Plant, faults: FaultCollector) -> None:
    """Count again what waits before the saw (bars from the press on) and before the bundle bay (pieces from their bar on)."""
    pressed, cut, done = {}, {}, {}
    for one in sorted(plan.timetable.operations, key=lambda op: op.end_s):
        for bar in one.bars:
            if one.step == "laminate":
                pressed[bar] = one.end_s
            if one.step == "cut":
                cut[bar] = one.start_s
            done[bar] = one.end_s
    fetched = {one.about: one.start_s for one in plan.timetable.operations if one.step == "bundle"}
    bundle_of = {lay.piece: bundle.id for part in plan.stacks for bundle in part.result.bundles for lay in bundle.pieces}
    pieces = [
        (done[bar.id], fetched[bundle_of[item.piece]])
        for bar in _bars(plan)
        for item in bar.pieces
        if bar.id in done and bundle_of.get(item.piece) in fetched
    ]
    spans = {"saw": [(pressed[bar], cut[bar]) for bar in pressed if bar in cut], "bundle_bay": pieces}
    rooms = {"saw": plant.before_saw, "bundle_bay": plant.before_bundling}
    told = {waits.place: waits for waits in plan.timetable.waiting}
    if set(told) != set(spans):
        faults.add("timetable.waiting", f"is told of {', '.join(sorted(told))}", ", ".join(sorted(spans)))
    for place, waits in told.items():
        where, steps = f"timetable.waiting[{place}]", _levels(spans[place])
        most = max((there for _, _, there in steps), default=0)
        first = next((low for low, _, there in steps if there == most), 0)
        if (waits.most, waits.at_s) != (most, first):
            faults.add(where, f"says that {waits.most} wait at most, first at {waits.at_s}", f"{most}, at {first}")
        if waits.room != rooms[place]:
            faults.add(where, f"says room for {waits.room}", f"the catalog's {rooms[place]}")
        room = rooms[place]
        over = [] if room is None else [(low, high) for low, high, there in steps if there > room]
        true = None
        if room is not None and over:
            time = sum(high - low for low, high in over)
            true = Overfull(room=place, size=room, most=most, at=first, since=over[0][0], until=over[-1][1], time=time)
        if waits.over != true:
            faults.add(where, f"says of what finds no room: {waits.over}", f"{true}")


def _levels(spans: Sequence[tuple[int, int]]) -> list[tuple[int, int, int]]:
    """How many of some spans of time hold from when to when, in one sweep."""
    changes = Counter(low for low, high in spans if low < high)
    changes.subtract(Counter(high for low, high in spans if low < high))
    made, there = [], 0
    times = sorted(changes)
    for low, high in pairwise(times):
        there += changes[low]
        made.append((low, high, there))
    return made


def _ancestors(name: str, jobs: Mapping[str, Job], among: Set[str]) -> set[str]:
    """Those of some jobs that must be done before a job starts, directly or by way of others of them."""
    seen: set[str] = set()
    ahead = [name]
    while ahead:
        for other in jobs[ahead.pop()].after:
            if other not in seen and other in among and other in jobs:
                seen.add(other)
                ahead.append(other)
    return seen


def _digests(plan: Plan, faults: FaultCollector) -> None:
    parts: list[tuple[str, str, Part]] = [(kind.stage, kind.about(part), part) for kind, part in iterate_plan_parts(plan)]
    stated: dict[tuple[str, str], Proof] = {(proof.stage, proof.about): proof for proof in plan.proofs}
    if {(stage, about) for stage, about, _ in parts} != set(stated) or len(stated) != len(plan.proofs):
        faults.add("proofs", "are not one a part", "a proof for each part")
        return
    for stage, about, part in parts:
        text = json.dumps(encode(without_search_seconds(part)), sort_keys=True, separators=(",", ":"))
        proof = stated[stage, about]
        if hashlib.sha256(text.encode()).hexdigest() != proof.digest:
            faults.add(f"proofs[{stage} {about}]", "digest is not that of the part", "the part as it was proved")
        if not proof.checked:
            faults.add(f"proofs[{stage} {about}]", "says that the part did not hold", "a part that holds")
