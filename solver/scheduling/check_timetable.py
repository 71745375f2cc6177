"""Proves that a timetable in clear says what its slots say, and that each chain of reasons leads from the start to the end."""

from __future__ import annotations

from itertools import zip_longest

from solver.domain.timetable import Lateness, Link, PlannedOperation, ScheduleJob, Timetable
from solver.domain.work_ids import operation_id, read_operation_id
from solver.errors import FaultCollector, FieldFault

CHECKED = "the timetable in clear is that of its slots; what is late has a chain of reasons that accounts for all its time"
PARTS = ("release_s", "hold_s", "setup_s", "closed_s", "people_s", "room_s", "stayed_s", "idle_s", "work_s", "pause_s")


def timetable_faults(table: Timetable) -> list[FieldFault]:
    """Return every fault: operations that are not the slots, lateness that is not so, chains with gaps or loose links."""
    faults = FaultCollector()
    by_id = {one.id: one for one in table.operations}
    slots = {operation_id(slot.job, slot.index): slot for slot in table.result.operations}
    if len(by_id) != len(table.operations) or set(by_id) != set(slots):
        faults.add("timetable.operations", "are not one a slot", "an operation for each slot")
        return faults.found
    for name, slot in slots.items():
        one = by_id[name]
        if (one.machine, one.start_s, one.end_s) != (slot.machine, slot.start, slot.end):
            faults.add(f"timetable.{name}", "is not when and where its slot is", f"{slot.machine} {slot.start} to {slot.end}")
    _set_ups(table, by_id, faults)
    for promise in table.deliveries:
        _promise(promise, table, by_id, faults)
    return faults.found


def _set_ups(table: Timetable, by_id: dict[str, PlannedOperation], faults: FaultCollector) -> None:
    family = {operation_id(job.id, n): step.family for job in table.job.jobs for n, step in enumerate(job.operations)}
    for machine in table.job.machines:
        here = sorted((one for one in by_id.values() if one.machine == machine.id), key=lambda one: (one.start_s, one.end_s))
        before = machine.initial
        for one in here:
            wanted = machine.setup[before][family[one.id]] if machine.setup is not None and before is not None else 0
            if one.setup_s != wanted:
                faults.add(f"timetable.{one.id}", f"states {one.setup_s} s of set-up", f"{wanted} s")
            before = family[one.id]


def _makes_room(job: ScheduleJob, link: Link) -> bool:
    """Whether what a link waits for fetches, at its start, from a room that the link's operation brings into at its end."""
    if link.before is None:
        return False
    mine, index = read_operation_id(link.operation)
    other, first = read_operation_id(link.before)
    last = {(one.id, len(one.operations) - 1) for one in job.jobs}
    rooms = [room for room in job.rooms if any(stay.job == mine for stay in room.stays)]
    return (mine, index) in last and first == 0 and any(stay.until == other for room in rooms for stay in room.stays)


def _promise(promise: Lateness, table: Timetable, by_id: dict[str, PlannedOperation], faults: FaultCollector) -> None:
    where = f"timetable.deliveries[{promise.order} {promise.delivery}]"
    late = max(0, promise.done_s - promise.due_s) if promise.due_s is not None else 0
    if promise.late_s != late:
        faults.add(where, f"is said to be {promise.late_s} s late", f"{late} s")
    if bool(promise.chain) != bool(late):
        faults.add(where, "has reasons" if promise.chain else "has no reasons", "reasons where it is late, and only there")
        return
    at, before = 0, None
    if table.replanned_s is None and any(link.stayed_s for link in promise.chain):
        faults.add(where, "has work that stayed, in a timetable that was made new", "work as early as its order allows")
    for link, following in zip_longest(promise.chain, promise.chain[1:]):
        one = by_id.get(link.operation)
        if one is None or link.before != before:
            faults.add(where, f"the chain breaks at {link.operation}", "each link from the operation before it")
            return
        end = one.start_s if following is not None and following.waits_for == "room" else one.end_s
        _link(link, end, at, where, faults)
        if link.waits_for == "room" and not _makes_room(table.job, link):
            faults.add(where, f"{link.before} makes no room for {link.operation}", "work that fetches from where it brings")
        at, before = end, link.operation
    last = by_id[promise.chain[-1].operation] if promise.chain else None
    if last is not None and last.end_s + last.hold_s != promise.done_s:
        faults.add(where, f"the chain ends at {last.end_s + last.hold_s}", f"{promise.done_s}")


def _link(link: Link, end: int, at: int, where: str, faults: FaultCollector) -> None:
    """`end`: of the operation; its start, where that is what made room for the one that follows."""
    parts = [getattr(link, name) for name in PARTS]
    if sum(parts) != end - at or min(parts) < 0:
        faults.add(where, f"{link.operation} accounts for {sum(parts)} s", f"{end - at} s, from the end before it to its own")
    if link.idle_s:
        faults.add(where, f"{link.operation} is idle for {link.idle_s} s for no reason", "work as early as its order allows")
