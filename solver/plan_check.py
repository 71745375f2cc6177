"""Proves a whole plan again: every part by its own stage's check, and that the parts agree with each other."""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from collections.abc import Mapping
from typing import Any

from solver.bundling.check import check as check_stack
from solver.codec import encode
from solver.domain.building import Building
from solver.domain.ids import PieceId
from solver.domain.plan import Part, Plan, Proof, timeless
from solver.domain.plant import Plant
from solver.domain.report import Report
from solver.domain.timetable import Job
from solver.errors import Faults, FieldFault
from solver.loading.check import check as check_load
from solver.loading.check_dispatch import check as check_dispatch
from solver.nesting.check import check as check_nest
from solver.nesting.check_blanks import BLANK_RULES, check_bars
from solver.scheduling.check import check as check_schedule
from solver.scheduling.check_clear import CHECKED as IN_CLEAR
from solver.scheduling.check_clear import faults_in_clear
from solver.sequencing.check import check as check_sequence
from solver.sequencing.check_rack import check as check_rack
from solver.slitting.check import check as check_slit
from solver.takeoff.check import check as check_takeoff

CROSS = (
    "every order taken off, every piece in exactly one bundle and on exactly one bar",
    *BLANK_RULES,
    "every bundle on exactly one load, as long, wide, high and heavy as it was built",
    "bars in the cut order that sequencing gave",
    "every bar, bundle and truck in the timetable, bundles after their bars, loading after the truck's bundles",
    "each part's digest is that of the part",
    IN_CLEAR,
)


def check(buildings: tuple[Building, ...], plant: Plant, plan: Plan) -> Report:
    """Return what holds and what does not of a plan made for these buildings."""
    checked: list[str] = []
    faults = Faults()

    def add(path: str, report: Report) -> None:
        checked.extend(f"{path}: {rule}" for rule in report.checked)
        faults.extend(FieldFault(f"{path}.{fault.path}", fault.problem, fault.fix) for fault in report.faults)

    _takeoffs(buildings, plant, plan, faults, add)
    for stacked in plan.stacks:
        add(f"stacks[{stacked.order}]", check_stack(stacked.job, stacked.result))
    for cut in plan.cuts:
        add(f"cuts[{cut.material}]", check_nest(cut.job, cut.result))
    for ordered in plan.sequences:
        add(f"sequences[{ordered.machine}]", check_sequence(ordered.job, ordered.result))
    for slitted in plan.slits:
        add(f"slits[{slitted.material}]", check_slit(slitted.job, slitted.result))
    add("timetable", check_schedule(plan.timetable.job, plan.timetable.result))
    faults.extend(faults_in_clear(plan.timetable))
    for loaded in plan.loads:
        add(f"loads[{loaded.order}]", check_load(loaded.job, loaded.result))
    if plan.dispatch is not None:
        add("dispatch", check_dispatch(plan.takeoffs, plan.stacks, plan.loads, plan.timetable, plan.dispatch))
    if plan.rack is not None:
        bundles = [bundle for part in plan.stacks for bundle in part.result.bundles]
        by_id = {piece.id: piece for takeoff in plan.takeoffs for piece in takeoff.pieces}
        add("rack", check_rack(plan.rack, plan.cuts, bundles, by_id))
    _pieces_everywhere_once(plan, faults)
    pieces = {piece.id: piece for takeoff in plan.takeoffs for piece in takeoff.pieces}
    for cut in plan.cuts:
        check_bars(cut, pieces, plant, faults)
    _bundles_on_loads(plan, faults)
    _cut_order(plan, faults)
    _timetable(plan, faults)
    _waiting(plan, plant, faults)
    _digests(plan, faults)
    return Report(checked=(*checked, *CROSS), faults=tuple(faults.found))


def _takeoffs(buildings: tuple[Building, ...], plant: Plant, plan: Plan, faults: Faults, add: Any) -> None:
    by_order = {takeoff.building.order: takeoff for takeoff in plan.takeoffs}
    if len(by_order) != len(plan.takeoffs) or set(by_order) != {building.order for building in buildings}:
        faults.add("takeoffs", "are not those of the orders, each once", "one takeoff an order")
        return
    for building in buildings:
        add(f"takeoffs[{building.order}]", check_takeoff(building, plant, by_order[building.order]))


def _pieces_everywhere_once(plan: Plan, faults: Faults) -> None:
    wanted = Counter(piece.id for takeoff in plan.takeoffs for piece in takeoff.pieces)
    stacked = Counter(lay.piece for part in plan.stacks for bundle in part.result.bundles for lay in bundle.pieces)
    nested = Counter(item.piece for cut in plan.cuts for bar in cut.bars for item in bar.pieces)
    for name, found, place in (("stacks", stacked, "bundle"), ("cuts", nested, "bar")):
        for piece in sorted(wanted.keys() | found.keys()):
            if found[piece] != 1 or wanted[piece] != 1:
                faults.add(name, f"{piece} is on {found[piece]} {place}s", f"exactly one {place}")


def _bundles_on_loads(plan: Plan, faults: Faults) -> None:
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


def _cut_order(plan: Plan, faults: Faults) -> None:
    for part in plan.sequences:
        rank = {name: n for n, name in enumerate(part.result.order)}
        for cut in plan.cuts:
            mine = [rank[bar.id] for bar in cut.bars if bar.id in rank]
            if mine != sorted(mine):
                faults.add(f"cuts[{cut.material}].bars", "are not in cut order", "the order of sequencing")
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


def _timetable(plan: Plan, faults: Faults) -> None:
    jobs = {job.id: job for job in plan.timetable.job.jobs}
    by_bar: dict[str, set[str]] = {}
    for operation in plan.timetable.operations:
        for name in operation.bars:
            by_bar.setdefault(name, set()).add(operation.id.rpartition("/")[0])
    made_by: dict[PieceId, set[str]] = {}
    for cut in plan.cuts:
        for bar in cut.bars:
            names = by_bar.get(bar.id, set())
            if not names:
                faults.add("timetable", f"bar {bar.id} is on no machine", "an operation for each bar")
            made_by.update({item.piece: names for item in bar.pieces})
    for part in plan.stacks:
        for bundle in part.result.bundles:
            job = jobs.get(f"bundle {bundle.id}")
            if job is None:
                faults.add("timetable", f"bundle {bundle.id} is on no machine", "an operation for each bundle")
                continue
            waited = _ancestors(job.id, jobs)
            if not all(made_by[lay.piece] <= waited for lay in bundle.pieces if lay.piece in made_by):
                faults.add("timetable", f"bundle {bundle.id} does not wait for all its bars", "after each of its bars")
    for loaded in plan.loads:
        for load in loaded.result.loads:
            job = jobs.get(f"load {load.id}")
            if job is None:
                faults.add("timetable", f"load {load.id} is at no dock", "an operation for each truck")
            elif not {f"bundle {item.bundle}" for item in load.placed} <= set(job.after):
                faults.add("timetable", f"load {load.id} does not wait for all its bundles", "after each of its bundles")


def _waiting(plan: Plan, plant: Plant, faults: Faults) -> None:
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
        for plan_of in plan.cuts
        for bar in plan_of.bars
        for item in bar.pieces
        if bar.id in done and bundle_of.get(item.piece) in fetched
    ]
    spans = {"saw": [(pressed[bar], cut[bar]) for bar in pressed if bar in cut], "bundle_bay": pieces}
    rooms = {"saw": plant.before_saw, "bundle_bay": plant.before_bundling}
    for waits in plan.timetable.waiting:
        mine = spans[waits.place]
        most = max((sum(low <= time < high for low, high in mine) for time, _ in mine), default=0)
        where = f"timetable.waiting[{waits.place}]"
        if waits.most != most:
            faults.add(where, f"says that {waits.most} wait at most", f"{most}")
        room = waits.kept_to or waits.room
        if room is not None and most > room:
            faults.add(where, f"{most} wait at most, and it is said to keep to {room}", f"at most {room}")
        if waits.room != rooms[waits.place] or (waits.kept_to is not None and waits.kept_to <= (waits.room or 0)):
            faults.add(where, f"says room for {waits.room}, kept to {waits.kept_to}", f"the catalog's {rooms[waits.place]}")


def _ancestors(name: str, jobs: Mapping[str, Job]) -> set[str]:
    """All jobs that must be done before a job starts, directly or by way of jobs between."""
    seen: set[str] = set()
    ahead = [name]
    while ahead:
        for other in jobs[ahead.pop()].after:
            if other not in seen and other in jobs:
                seen.add(other)
                ahead.append(other)
    return seen


def _digests(plan: Plan, faults: Faults) -> None:
    parts: list[tuple[str, str, Part]] = [("takeoff", takeoff.building.order, takeoff) for takeoff in plan.takeoffs]
    parts += [("stack", stacked.order, stacked) for stacked in plan.stacks]
    parts += [("nest", cut.material, cut) for cut in plan.cuts]
    parts += [("sequence", ordered.machine, ordered) for ordered in plan.sequences]
    parts += [("slit", slitted.material, slitted) for slitted in plan.slits]
    parts += [("schedule", "plant", plan.timetable)]
    parts += [("load", loaded.order, loaded) for loaded in plan.loads]
    parts += [("rack", "panel-saw", plan.rack)] if plan.rack is not None else []
    parts += [("dispatch", "plant", plan.dispatch)] if plan.dispatch is not None else []
    stated: dict[tuple[str, str], Proof] = {(proof.stage, proof.about): proof for proof in plan.proofs}
    if {(stage, about) for stage, about, _ in parts} != set(stated) or len(stated) != len(plan.proofs):
        faults.add("proofs", "are not one a part", "a proof for each part")
        return
    for stage, about, part in parts:
        text = json.dumps(encode(timeless(part)), sort_keys=True, separators=(",", ":"))
        proof = stated[stage, about]
        if hashlib.sha256(text.encode()).hexdigest() != proof.digest:
            faults.add(f"proofs[{stage} {about}]", "digest is not that of the part", "the part as it was proved")
        if not proof.checked:
            faults.add(f"proofs[{stage} {about}]", "says that the part did not hold", "a part that holds")
