"""The timetable by the names and times of its operations: what is made before what, one thing at a time on a machine."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from datetime import datetime
from itertools import pairwise

from solver.domain.plan import Plan
from solver.domain.timetable import PlannedOperation
from tests.whole.stacks import deliveries_of

# steps as the shop does them, earlier ones first; two of one rank never work on one bar
RANKS = {
    "season core": 0,
    "cut core": 1,
    "film": 2,
    "laminate": 3,
    "cut": 4,
    "cut trim": 4,
    "rip": 5,
    "bevel": 5,
    "drill": 5,
    "rout": 6,
    "form": 6,
    "mitre": 7,
    "clean and check": 7,
}


def faults_of_times(plan: Plan) -> Iterator[str]:
    """Give every fault of the order in which things are made, and of what is said of deliveries."""
    work = plan.timetable.operations
    yield from (f"{one.id} ends before it begins" for one in work if not 0 <= one.start_s <= one.end_s)
    yield from (f"{one.id} is a step nobody knows: {one.step}" for one in work if one.step not in KNOWN)
    yield from _machines(work)
    by_bar: dict[str, list[PlannedOperation]] = defaultdict(list)
    for one in work:
        for name in one.bars:
            by_bar[name].append(one)
    for bar in (one for cut in plan.cuts for one in cut.bars):
        yield from _bar(bar.id, by_bar[bar.id])
    yield from _bundles(plan, by_bar)
    yield from _cut_orders(plan)


KNOWN = {*RANKS, "slit", "bundle", "load"}


def _machines(work: tuple[PlannedOperation, ...]) -> Iterator[str]:
    lanes: dict[str, list[PlannedOperation]] = defaultdict(list)
    for one in work:
        lanes[one.machine].append(one)
    for machine, mine in lanes.items():
        mine.sort(key=lambda one: (one.start_s, one.end_s))
        for before, after in pairwise(mine):
            if after.start_s - after.setup_s < before.end_s:
                yield f"{machine} does {before.id} and {after.id} at one time, set-up included"


def _bar(name: str, mine: list[PlannedOperation]) -> Iterator[str]:
    """A bar goes through its steps in the shop's order, each after the one before and its hold; it is cut once."""
    cuts = sum(one.step in ("cut", "cut trim") for one in mine)
    if cuts != 1:
        yield f"{name} is cut {cuts} times"
    ranked = sorted((one for one in mine if one.step in RANKS), key=lambda one: RANKS[one.step])
    for before, after in pairwise(ranked):
        if RANKS[before.step] == RANKS[after.step]:
            yield f"{name} has {before.step} and {after.step}"
        elif after.start_s < before.end_s + before.hold_s:
            yield f"{name}: {after.step} begins before {before.step} is done"


def _bundles(plan: Plan, by_bar: dict[str, list[PlannedOperation]]) -> Iterator[str]:
    built = {one.about: one for one in plan.timetable.operations if one.step == "bundle"}
    loading = {one.about: one for one in plan.timetable.operations if one.step == "load"}
    count = Counter((one.step, one.about) for one in plan.timetable.operations if one.step in ("bundle", "load"))
    bundles = {bundle.id: bundle for part in plan.stacks for bundle in part.result.bundles}
    trucks = {load.id: load for part in plan.loads for load in part.result.loads}
    bar_of = {item.piece: bar.id for cut in plan.cuts for bar in cut.bars for item in bar.pieces}
    for step, names in (("bundle", set(bundles)), ("load", set(trucks))):
        known = {about for kind, about in count if kind == step}
        yield from (f"{name} has {count[step, name]} operations {step}" for name in names if count[step, name] != 1)
        yield from (f"{name} is no {step} of the plan" for name in known - names)
    for name, bundle in bundles.items():
        bars = {bar_of[lay.piece] for lay in bundle.pieces if lay.piece in bar_of}
        late = [one for bar in bars for one in by_bar[bar] if name in built and one.end_s + one.hold_s > built[name].start_s]
        yield from (f"{name} is bundled before {one.id} is done" for one in late)
    for truck, load in trucks.items():
        early = [item.bundle for item in load.placed if item.bundle in built and truck in loading]
        early = [one for one in early if built[one].end_s > loading[truck].start_s]
        yield from (f"{truck} is loaded before {one} is built" for one in early)
    yield from _promises(plan, loading)
    if plan.dispatch is not None:
        leaving = Counter(one.load for one in plan.dispatch.departures)
        yield from (f"{name} leaves {leaving[name]} times" for name in trucks if leaving[name] != 1)
        for one in plan.dispatch.departures:
            ready = max((built[item.bundle].end_s for item in trucks[one.load].placed if item.bundle in built), default=0)
            mine = loading.get(one.load)
            if mine is not None and (one.ready_s, one.start_s, one.leave_s) != (ready, mine.start_s, mine.end_s):
                yield f"{one.load} is said to leave otherwise than it is loaded"


def _promises(plan: Plan, loading: dict[str, PlannedOperation]) -> Iterator[str]:
    """Each delivery is done when its last truck is loaded, and as late as that is past its hour at the dock."""
    epoch, wanted = datetime.fromisoformat(plan.timetable.epoch), deliveries_of(plan)
    bundles = {bundle.id: bundle for part in plan.stacks for bundle in part.result.bundles}
    done: dict[tuple[str, str], int] = {}
    for part in plan.loads:
        for load in part.result.loads:
            aboard = [bundles[item.bundle] for item in load.placed if item.bundle in bundles]
            names = {wanted.get(lay.piece) for bundle in aboard for lay in bundle.pieces}
            names |= {bundle.delivery for bundle in aboard if bundle.items}
            for name in names - {None}:
                if load.id in loading:
                    key = (str(part.order), str(name))
                    done[key] = max(done.get(key, 0), loading[load.id].end_s)
    told = {(str(one.order), one.delivery): one for one in plan.timetable.deliveries}
    yield from (f"nothing is said of {name}" for name in sorted(done.keys() - told.keys()))
    for takeoff in plan.takeoffs:
        for delivery in takeoff.building.deliveries:
            key = (str(takeoff.building.order), delivery.id)
            if key not in done or key not in told:
                continue
            due = max(0, int((datetime.fromisoformat(delivery.dock_due) - epoch).total_seconds()))
            late = max(0, done[key] - due)
            if (told[key].done_s, told[key].late_s) != (done[key], late):
                yield f"{key} is said to be done at {told[key].done_s}, {told[key].late_s} late: {done[key]}, {late}"


def _cut_orders(plan: Plan) -> Iterator[str]:
    """Where one saw cuts all, it cuts bars in the order that the plan gives."""
    cutting = [one for one in plan.timetable.operations if one.step == "cut"]
    if len({one.machine for one in cutting}) != 1:
        return
    begun = {bar: one.start_s for one in cutting for bar in one.bars}
    for part in plan.sequences:
        for before, after in pairwise(name for name in part.result.order if name in begun):
            if begun[after] < begun[before]:  # type: ignore[index]
                yield f"{after} is cut before {before}"
