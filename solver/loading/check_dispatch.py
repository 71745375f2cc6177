"""Do trucks leave as the plan says? Judged from timetable, loads and orders, without the code that made the departures."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from datetime import datetime, timedelta

from solver.domain.building import Delivery
from solver.domain.dispatch import Departure, Dispatch
from solver.domain.ids import OrderId
from solver.domain.load import Load
from solver.domain.plan import LoadPart, StackPart
from solver.domain.report import Report
from solver.domain.takeoff import Takeoff
from solver.domain.timetable import Slot, Timetable
from solver.domain.work_ids import bundle_job, load_job
from solver.errors import FaultCollector

CHECKED = (
    "every truck leaves exactly once, in order of leaving",
    "a truck is loaded when and where the timetable has it, and only after the last of its bundles is built",
    "no two trucks stand at one door at a time",
    "a truck names what it carries of which delivery, arrives after the way, and is as late as it says",
    "of the trucks of one delivery the first to leave carries the start box and what stands first; what rides later than the "
    "order of standing wants it is named on its load",
    "the largest lateness is that of a truck; its bound is not above it; optimal is said only where they are equal",
)


def check(
    takeoffs: Sequence[Takeoff],
    stacks: Sequence[StackPart],
    loads: Sequence[LoadPart],
    table: Timetable,
    found: Dispatch,
    *,
    built: Collection[str] = (),
) -> Report:
    """Return what was checked of the departures and every fault found; `built`: bundles that are there at the start."""
    faults = FaultCollector()
    trucks = {load.id: (part, load) for part in loads for load in part.result.loads}
    given = Counter(departure.load for departure in found.departures)
    for name in sorted(trucks.keys() | given.keys()):
        if given[name] != 1 or name not in trucks:
            faults.add("departures", f"load {name} leaves {given[name]} times", "every load of the plan once")
    if [departure.leave_s for departure in found.departures] != sorted(departure.leave_s for departure in found.departures):
        faults.add("departures", "are not in order of leaving", "the first to leave first")
    slots: dict[str, list[Slot]] = {}
    for slot in table.result.operations:
        slots.setdefault(slot.job, []).append(slot)
    houses = {takeoff.building.order: takeoff for takeoff in takeoffs}
    for departure in found.departures:
        if departure.load in trucks:
            part, load = trucks[departure.load]
            _judge_dock(departure, load, slots, table, built, faults)
            _judge_road(departure, load, part, houses, stacks, table, faults)
    _judge_doors(found.departures, faults)
    _judge_order(found.departures, {name: load for name, (_, load) in trucks.items()}, takeoffs, stacks, faults)
    _judge_bound(found, faults)
    return Report(checked=CHECKED, faults=tuple(faults.found))


def _judge_dock(
    one: Departure,
    load: Load,
    slots: Mapping[str, Sequence[Slot]],
    table: Timetable,
    built: Collection[str],
    faults: FaultCollector,
) -> None:
    path = f"departures[{one.load}]"
    mine = slots.get(load_job(one.load), ())
    if len(mine) != 1 or (mine[0].machine, mine[0].start, mine[0].end) != (one.door, one.start_s, one.leave_s):
        faults.add(path, "is loaded when the timetable does not load it", "door, start and end of its loading there")
    holds = {(job.id, n): step.hold for job in table.job.jobs for n, step in enumerate(job.operations)}
    last = 0
    for placed in load.placed:
        done = [slot.end + holds.get((slot.job, slot.index), 0) for slot in slots.get(bundle_job(placed.bundle), ())]
        if not done and placed.bundle not in built:
            faults.add(path, f"carries bundle {placed.bundle}, which the timetable never builds", "bundles that are built")
        last = max([last, *done])
    if one.ready_s != last:
        faults.add(f"{path}.ready_s", f"{one.ready_s} is stated, its last bundle is built at {last}", f"{last}")
    if one.start_s < last:
        faults.add(f"{path}.start_s", f"{one.start_s} is before its last bundle is built at {last}", f"at least {last}")


def _judge_road(
    one: Departure,
    load: Load,
    part: LoadPart,
    houses: Mapping[OrderId, Takeoff],
    stacks: Sequence[StackPart],
    table: Timetable,
    faults: FaultCollector,
) -> None:
    path = f"departures[{one.load}]"
    if one.order != part.order or one.order not in houses:
        faults.add(f"{path}.order", f"{one.order} is not the order of this load", part.order)
        return
    house = houses[one.order]
    on = {placed.bundle for placed in load.placed}
    inside = {lay.piece for stack in stacks for bundle in stack.result.bundles if bundle.id in on for lay in bundle.pieces}
    base_apart = [one for one in house.building.deliveries if one.base]
    base = any(piece.role == "base_channel" for piece in house.pieces if piece.id in inside)
    parts = {piece.part for piece in house.pieces if piece.id in inside and not (base_apart and piece.role == "base_channel")}
    held = [item for stack in stacks for bundle in stack.result.bundles if bundle.id in on for item in bundle.items]
    hardware = {item.delivery for item in held}
    wanted = {
        one.id: one
        for one in house.building.deliveries
        if not parts.isdisjoint(one.parts) or one.id in hardware or (base and one.base)
    }
    if Counter(one.deliveries) != Counter(wanted.keys()):
        faults.add(f"{path}.deliveries", f"{list(one.deliveries)} are stated", f"{sorted(wanted)}")
        return
    _judge_lateness(one, wanted, table, faults)


def _judge_lateness(one: Departure, wanted: Mapping[str, Delivery], table: Timetable, faults: FaultCollector) -> None:
    path = f"departures[{one.load}]"
    if not wanted:
        if (one.need_by_s, one.leave_by_s, one.late_s, one.arrive_s) != (None, None, None, one.leave_s):
            faults.add(path, "is wanted at a time, but carries nothing of a delivery", "no need-by, no lateness")
        return
    first = min(wanted.values(), key=lambda delivery: datetime.fromisoformat(delivery.dock_due))
    epoch, left = datetime.fromisoformat(table.epoch), timedelta(seconds=one.leave_s)
    due, by = datetime.fromisoformat(first.dock_due), datetime.fromisoformat(first.need_by)
    arrive = epoch + left + (by - due)
    if epoch + timedelta(seconds=one.arrive_s) != arrive:
        faults.add(f"{path}.arrive_s", f"{one.arrive_s} is not its leaving and the way of {by - due}", f"{arrive.isoformat()}")
    if one.need_by_s is None or epoch + timedelta(seconds=one.need_by_s) != by:
        faults.add(f"{path}.need_by_s", f"{one.need_by_s} is not when delivery {first.id} is wanted", first.need_by)
    if one.leave_by_s is None or epoch + timedelta(seconds=one.leave_by_s) != due:
        faults.add(f"{path}.leave_by_s", f"{one.leave_by_s} is not when it must leave for delivery {first.id}", first.dock_due)
    late = int((arrive - by).total_seconds())
    if one.late_s != late:
        faults.add(f"{path}.late_s", f"{one.late_s} is stated, it is late by {late}", f"{late}")


def _judge_order(
    departures: Sequence[Departure],
    loads: Mapping[str, Load],
    takeoffs: Sequence[Takeoff],
    stacks: Sequence[StackPart],
    faults: FaultCollector,
) -> None:
    """What a bundle is wanted for is the first of its pieces to stand; a box of hardware is wanted before all of them."""
    stands = {piece.id: piece.stands for takeoff in takeoffs for piece in takeoff.pieces}
    wanted, trip = dict[str, int](), dict[str, tuple[str, str | None]]()
    for part in stacks:
        for bundle in part.result.bundles:
            wanted[bundle.id] = min((stands.get(lay.piece, 0) for lay in bundle.pieces), default=0)
            trip[bundle.id] = (part.order, bundle.delivery)
    latest = dict[tuple[str, str | None], int]()
    for one in sorted(departures, key=lambda one: (one.leave_s, one.load)):
        load = loads.get(one.load)
        mine = [item.bundle for item in load.placed if item.bundle in wanted] if load is not None else []
        for name in mine:
            if load is not None and wanted[name] < latest.get(trip[name], 0) and name not in load.out_of_order:
                what = "the start box" if not wanted[name] else f"what stands {wanted[name]}."
                problem = f"carries {what}, {name}, though a truck that left before carries what stands later"
                faults.add(f"departures[{one.load}]", problem, "what is wanted first on the first truck, or named on its load")
        for name in mine:
            latest[trip[name]] = max(latest.get(trip[name], 0), wanted[name])


def _judge_doors(departures: Sequence[Departure], faults: FaultCollector) -> None:
    doors: dict[str, list[Departure]] = {}
    for one in sorted(departures, key=lambda one: (one.start_s, one.leave_s)):
        doors.setdefault(one.door, []).append(one)
    for door, mine in doors.items():
        for n, later in enumerate(mine[1:]):
            if later.start_s < mine[n].leave_s:
                faults.add(f"departures[{later.load}]", f"is at {door} before {mine[n].load} has left", "one at a time")


def _judge_bound(found: Dispatch, faults: FaultCollector) -> None:
    most = max([0, *(departure.late_s for departure in found.departures if departure.late_s is not None)])
    if found.most_late_s != most:
        faults.add("most_late_s", f"{found.most_late_s} is stated, the largest is {most}", f"{most}")
    if not 0 <= found.lower_bound <= most:
        faults.add("lower_bound", f"{found.lower_bound} is not between 0 and the lateness {most}", f"0 to {most}")
    if (found.status == "optimal") != (found.lower_bound == most):
        faults.add("status", f"{found.status} is stated", "optimal where bound and lateness are equal")
