"""What leaves on its truck when: the timetable's work at the dock, told truck by truck, with a bound on the lateness."""

from __future__ import annotations

import heapq
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from solver.domain.building import Delivery
from solver.domain.bundle import Bundle
from solver.domain.dispatch import Departure, Dispatch
from solver.domain.load import Load
from solver.domain.plan import LoadPart, StackPart, deliveries_on_load
from solver.domain.takeoff import Takeoff
from solver.domain.timetable import ScheduleJob, Slot, Timetable
from solver.domain.work_ids import bundle_job, load_job
from solver.units import Seconds

Closed = Sequence[tuple[int, int]]


@dataclass(frozen=True, slots=True, kw_only=True)
class DockWork:
    """Loading a truck: when its last bundle is built, the open time that it takes, and when it must have left."""

    ready_s: int
    work_s: int
    due_s: int


def plan_departures(
    takeoffs: Sequence[Takeoff], stacks: Sequence[StackPart], loads: Sequence[LoadPart], table: Timetable
) -> Dispatch:
    """Return when each truck is loaded and leaves, as the timetable has it, and how late it is on site.

    The timetable decides: it knows shifts, doors and what else waits. Raises nothing; trucks that no door loads are left
    out, as the plan's check says.
    """
    slots = {slot.job: slot for slot in table.result.operations if slot.index == 0}
    built = _built(table)
    bundles = {part.order: part.result.bundles for part in stacks}
    houses = {takeoff.building.order: takeoff for takeoff in takeoffs}
    made = [
        _departure(load, part, houses[part.order], bundles.get(part.order, ()), slots[load_job(load.id)], built, table)
        for part in loads
        for load in part.result.loads
        if load_job(load.id) in slots
    ]
    made.sort(key=lambda one: (one.leave_s, one.load))
    most = max((one.late_s for one in made if one.late_s is not None), default=0)
    most, bound = max(0, most), max(0, _bound(made, table.job))
    return Dispatch(
        status="optimal" if most == bound else "feasible", departures=tuple(made), most_late_s=most, lower_bound=bound
    )


def least_lateness(work: Sequence[DockWork], closed: Closed) -> int:
    """Return the least largest lateness at one door, were loading free to stop for a truck due sooner and go on later.

    No order beats it. Work stands still while the door is closed. Jackson's preemptive rule: Carlier (1982), European
    Journal of Operational Research 11: 42-47; closed times only stretch the clock, so the earliest due stays first.
    """
    waiting = sorted(work, key=lambda item: item.ready_s)
    ready: list[tuple[int, int, int]] = []
    place, now, worst = 0, 0, -(2**62)
    while ready or place < len(waiting):
        if not ready:
            now = max(now, waiting[place].ready_s)
        while place < len(waiting) and waiting[place].ready_s <= now:
            heapq.heappush(ready, (waiting[place].due_s, place, waiting[place].work_s))
            place += 1
        due, which, left = heapq.heappop(ready)
        end = end_of_open_time(now, left, closed)
        if place < len(waiting) and waiting[place].ready_s < end:
            until = waiting[place].ready_s
            heapq.heappush(ready, (due, which, left - _open_s(now, until, closed)))
            now = until
        else:
            now = end
            worst = max(worst, end - due)
    return worst


def end_of_open_time(start: int, work_s: int, closed: Closed) -> int:
    """Return when so many seconds of open time after `start` are over; `closed` is sorted and disjoint."""
    now, left = start, work_s
    for begin, end in closed:
        if end <= now:
            continue
        if now + left <= begin:
            break
        left -= max(0, begin - now)
        now = end
    return now + left


def _open_s(start: int, end: int, closed: Closed) -> int:
    return end - start - sum(max(0, min(end, b) - max(start, a)) for a, b in closed)


def _built(table: Timetable) -> dict[str, int]:
    """When each job is over, holds included."""
    jobs, made = {job.id: job for job in table.job.jobs}, dict[str, int]()
    for slot in table.result.operations:
        made[slot.job] = max(made.get(slot.job, 0), slot.end + jobs[slot.job].operations[slot.index].hold)
    return made


def _departure(
    load: Load,
    part: LoadPart,
    takeoff: Takeoff,
    bundles: Sequence[Bundle],
    slot: Slot,
    built: Mapping[str, int],
    table: Timetable,
) -> Departure:
    mine = deliveries_on_load(load, bundles, takeoff)
    first = mine[0] if mine else None
    arrive = slot.end + (_transit_s(first) if first else 0)
    need_by = _seconds(first.need_by, table.epoch) if first else None
    return Departure(
        load=load.id,
        order=part.order,
        deliveries=tuple(one.id for one in mine),
        door=slot.machine,
        ready_s=Seconds(max((built.get(bundle_job(item.bundle), 0) for item in load.placed), default=0)),
        start_s=Seconds(slot.start),
        leave_s=Seconds(slot.end),
        arrive_s=Seconds(arrive),
        leave_by_s=_seconds(first.dock_due, table.epoch) if first else None,
        need_by_s=need_by,
        late_s=None if need_by is None else arrive - need_by,
    )


def _seconds(instant: str, epoch: str) -> int:
    return int((datetime.fromisoformat(instant) - datetime.fromisoformat(epoch)).total_seconds())


def _transit_s(delivery: Delivery) -> int:
    return _seconds(delivery.need_by, delivery.dock_due)


def _bound(departures: Sequence[Departure], job: ScheduleJob) -> int:
    """The least largest lateness of any order at the doors; of several doors only each truck by itself is bounded."""
    jobs, closed = {one.id: one for one in job.jobs}, {machine.id: machine.closed for machine in job.machines}
    wanted = [departure for departure in departures if departure.late_s is not None]
    on = [jobs[load_job(one.load)].operations[0].on for one in wanted]
    due = [one.leave_s - (one.late_s or 0) for one in wanted]
    if not wanted:
        return 0
    doors = set[str]().union(*on)
    if len(doors) == 1:
        door = doors.pop()
        work = [
            DockWork(ready_s=one.ready_s, work_s=seconds[door], due_s=by)
            for one, seconds, by in zip(wanted, on, due, strict=True)
        ]
        return least_lateness(work, _merged(closed[door]))
    return max(
        min(end_of_open_time(one.ready_s, seconds[door], _merged(closed[door])) for door in seconds) - by
        for one, seconds, by in zip(wanted, on, due, strict=True)
    )


def _merged(closed: Closed) -> list[tuple[int, int]]:
    """Closed times in order; those that touch are one."""
    made: list[tuple[int, int]] = []
    for begin, end in sorted(closed):
        if made and begin <= made[-1][1]:
            made[-1] = (made[-1][0], max(end, made[-1][1]))
        else:
            made.append((begin, end))
    return made
