"""Proves a timetable again from the shop's rules: nothing here is shared with the search."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from graphlib import CycleError, TopologicalSorter
from itertools import groupby, pairwise, permutations

from solver.domain.report import Report
from solver.domain.timetable import Job, Machine, Operation, Pool, Room, ScheduleJob, ScheduleResult, Slot
from solver.errors import Faults

CHECKED = (
    "every operation once, on a machine that can do it",
    "working time, outside closed hours, in one piece unless it may pause",
    "operations of a job in order, holds and releases kept, jobs after the jobs they wait for",
    "one operation at a time on a machine, with the set-up between consecutive ones",
    "one order of jobs on all machines, where asked for",
    "never more people of a pool at work than there are",
    "never more in a room than finds room there",
    "objective as stated, bound not above it, status true to both",
    "set-up and flow time as stated, where they are",
)

MOST_TOGETHER = 6  # of pieces of work without length at one instant on one machine; more are taken as listed


def check(job: ScheduleJob, result: ScheduleResult) -> Report:
    """Return what holds and what does not of a timetable; times are exact whole numbers."""
    faults = Faults()
    if result.status == "unknown":
        if result.operations or result.objective is not None:
            faults.add("status", "is unknown, yet there is a plan", "feasible or optimal")
        return Report(checked=CHECKED, faults=tuple(faults.found))
    slots = _each_once(job, result, faults)
    if not faults:
        for slot in result.operations:
            _work(job, slot, faults)
        _jobs_in_order(job, slots, faults)
        _stated("setup", result.setup, _machines(job, result, faults), faults)
        if job.same_order:
            _one_order(job, result, faults)
        for pool in job.pools:
            _people(pool, job, result, faults)
        for room in job.rooms:
            _room(room, job, slots, faults)
        _value(job, slots, result, faults)
        _stated("flow", result.flow, _flow(job, slots), faults)
    return Report(checked=CHECKED, faults=tuple(faults.found))


def _each_once(job: ScheduleJob, result: ScheduleResult, faults: Faults) -> dict[tuple[str, int], Slot]:
    wanted = {(one.id, n) for one in job.jobs for n in range(len(one.operations))}
    seen: dict[tuple[str, int], Slot] = {}
    for n, slot in enumerate(result.operations):
        key = (slot.job, slot.index)
        if key not in wanted:
            faults.add(f"operations[{n}]", f"{slot.job} {slot.index} was not asked for", "operations of the job only")
        elif key in seen:
            faults.add(f"operations[{n}]", f"{slot.job} {slot.index} is done twice", "each operation once")
        seen[key] = slot
    for name, index in sorted(wanted - set(seen)):
        faults.add("operations", f"{name} {index} is missing", "each operation once")
    return seen


def _operation(job: ScheduleJob, slot: Slot) -> Operation:
    return next(one for one in job.jobs if one.id == slot.job).operations[slot.index]


def _machine(job: ScheduleJob, name: str) -> Machine | None:
    return next((machine for machine in job.machines if machine.id == name), None)


def _shut(machine: Machine, start: int, end: int) -> int:
    return sum(max(0, min(end, high) - max(start, low)) for low, high in machine.closed)


def _work(job: ScheduleJob, slot: Slot, faults: Faults) -> None:
    where, operation, machine = f"{slot.job} {slot.index}", _operation(job, slot), _machine(job, slot.machine)
    if machine is None or slot.machine not in operation.on:
        faults.add(where, f"runs on {slot.machine}, which cannot do it", f"one of {', '.join(operation.on)}")
        return
    work, shut = operation.on[slot.machine], _shut(machine, slot.start, slot.end)
    if slot.start < 0:
        faults.add(where, f"starts at {slot.start}", "0 or later")
    if not operation.pause and shut and work:
        faults.add(where, f"runs {shut} in closed hours of {slot.machine} and may not pause", "open hours")
    if slot.end - slot.start - (shut if operation.pause else 0) != work:
        faults.add(where, f"works {slot.end - slot.start - (shut if operation.pause else 0)}, not {work}", f"{work}")
    if operation.pause and work and (_shut(machine, slot.start, slot.start + 1) or _shut(machine, slot.end - 1, slot.end)):
        faults.add(where, "begins or ends in closed hours", "first and last unit of work in open hours")


def _done(one: Job, slots: dict[tuple[str, int], Slot]) -> int:
    last = len(one.operations) - 1
    return slots[one.id, last].end + one.operations[last].hold if one.operations else one.release


def _jobs_in_order(job: ScheduleJob, slots: dict[tuple[str, int], Slot], faults: Faults) -> None:
    by_id = {one.id: one for one in job.jobs}
    for one in job.jobs:
        earliest = max([one.release, *(_done(by_id[other], slots) for other in one.after)])
        for index, operation in enumerate(one.operations):
            slot = slots[one.id, index]
            if slot.start < earliest:
                faults.add(f"{one.id} {index}", f"starts at {slot.start}, before {earliest}", f"{earliest} or later")
            earliest = slot.end + operation.hold


def _stated(field: str, stated: int | None, true: int, faults: Faults) -> None:
    if stated is not None and stated != true:
        faults.add(field, f"is {stated}", f"{true}")


def _flow(job: ScheduleJob, slots: dict[tuple[str, int], Slot]) -> int:
    """From release to the end of the last hold, of all jobs that have a due date."""
    dated = [one for one in job.jobs if one.due is not None and one.operations]
    last = [(one, len(one.operations) - 1) for one in dated]
    return sum(slots[one.id, n].end + one.operations[n].hold - one.release for one, n in last)


def _machines(job: ScheduleJob, result: ScheduleResult, faults: Faults) -> int:
    """Hold each operation against the one before it on its machine; return the set-up time of all machines.

    Work without length that begins where other such work begins may stand in any order among it: some order has to hold.
    The set-up time counts them as they are listed.
    """
    total = 0
    by_machine: dict[str, list[Slot]] = defaultdict(list)
    for slot in result.operations:
        by_machine[slot.machine].append(slot)
    for machine in job.machines:
        mine = sorted(by_machine[machine.id], key=lambda item: (item.start, item.end))
        free = 0  # until when it is taken
        before: set[int | None] = {machine.initial}  # which families the last work may have been of
        for _, together in groupby(mine, key=lambda item: (item.start, item.end)):
            group = list(together)
            orders = permutations(group) if 1 < len(group) <= MOST_TOGETHER and group[0].start == group[0].end else [group]
            ends = {_operation(job, order[-1]).family for order in orders if _follow(job, machine, free, before, order)}
            if not ends:
                last = next(iter(before))
                for slot in group:
                    at = free + _gap(machine, last, _operation(job, slot).family)
                    if slot.start < at:
                        what = f"starts at {slot.start} on {machine.id}, which is free and set up at {at}"
                        faults.add(f"{slot.job} {slot.index}", what, f"{at} or later")
                    free, last = slot.end, _operation(job, slot).family
            free, before = group[-1].end, {*ends} or {_operation(job, group[-1]).family}
        families = [machine.initial, *(_operation(job, slot).family for slot in mine)]
        total += sum(_gap(machine, one, two) for one, two in pairwise(families) if two is not None)
    return total


def _follow(job: ScheduleJob, machine: Machine, free: int, before: set[int | None], order: Sequence[Slot]) -> bool:
    """Whether work can run in this order after a machine is free, set up for one of some families."""
    first = _operation(job, order[0]).family
    if all(order[0].start < free + _gap(machine, last, first) for last in before):
        return False
    return all(
        two.start >= one.end + _gap(machine, _operation(job, one).family, _operation(job, two).family)
        for one, two in pairwise(order)
    )


def _gap(machine: Machine, last: int | None, following: int) -> int:
    return 0 if machine.setup is None or last is None else machine.setup[last][following]


def _one_order(job: ScheduleJob, result: ScheduleResult, faults: Faults) -> None:
    """One order of all jobs, in which each machine takes those that it sees, one after the other."""
    behind: TopologicalSorter[object] = TopologicalSorter()
    for machine in job.machines:
        here: dict[str, tuple[int, int]] = {}
        for slot in result.operations:
            if slot.machine == machine.id:
                start, end = here.get(slot.job, (slot.start, slot.end))
                here[slot.job] = min(start, slot.start), max(end, slot.end)
        before: object = None
        end_before = 0
        spans = groupby(sorted(here.items(), key=lambda pair: pair[1]), key=lambda pair: pair[1])
        for (start, end), alike in spans:  # work of no length at one time is in any order, so it is one step of it
            names = [name for name, _ in alike]
            if start < end_before or (len(names) > 1 and start < end):
                faults.add("operations", f"{machine.id} takes up {names[-1]} amid another job", "one order on all machines")
                return
            for name in names:
                behind.add(name, (machine.id, before))
                behind.add((machine.id, names[0]), name)
            before, end_before = names[0], end
    try:
        behind.prepare()
    except CycleError:
        faults.add("operations", "machines take the jobs in different orders", "one order on all machines")


def _people(pool: Pool, job: ScheduleJob, result: ScheduleResult, faults: Faults) -> None:
    """Count heads at every instant at which some work begins; who pauses in closed hours is not at work."""
    events: list[tuple[int, int]] = []
    for slot in result.operations:
        machine = _machine(job, slot.machine)
        if machine is None or not pool.uses.get(slot.machine):
            continue
        at = slot.start
        for low, high in [*sorted(machine.closed), (slot.end, slot.end)]:
            if high > at and low <= slot.end:
                if low > at:
                    events += [(at, pool.uses[slot.machine]), (low, -pool.uses[slot.machine])]
                at = max(at, high)
    busy = 0
    for time, change in sorted(events):  # at one instant those who leave are counted first
        busy += change
        if busy > pool.size:
            faults.add(f"pools.{pool.id}", f"{busy} people are at work at {time}, of {pool.size}", f"at most {pool.size}")
            return


def _room(room: Room, job: ScheduleJob, slots: dict[tuple[str, int], Slot], faults: Faults) -> None:
    """Count what is there at every instant at which something comes; what is fetched as it comes takes no room."""
    size = {one.id: len(one.operations) for one in job.jobs}
    stays = [(slots[one.job, size[one.job] - 1].end, slots[one.until, 0].start, one) for one in room.stays]
    for at in sorted({came for came, _, _ in stays}):
        here = [one for came, gone, one in stays if came <= at < gone]
        taken = sum(one.takes for one in here)
        if taken > room.size:
            names = ", ".join(dict.fromkeys(one.job for one in here))
            faults.add(
                f"rooms.{room.id}", f"{taken} are there at {at}, room for {room.size} (of {names})", f"at most {room.size}"
            )
            return


def _value(job: ScheduleJob, slots: dict[tuple[str, int], Slot], result: ScheduleResult, faults: Faults) -> None:
    done = {one.id: _done(one, slots) for one in job.jobs}
    if job.objective == "makespan":
        value = max(done.values(), default=0)
    else:
        value = sum(one.weight * max(0, done[one.id] - one.due) for one in job.jobs if one.due is not None)
    if result.objective != value:
        faults.add("objective", f"{result.objective} is stated, {value} is true", f"{value}")
    if result.lower_bound > value:
        faults.add("lower_bound", f"{result.lower_bound} is above the value {value}", "a bound at most the value")
    if (result.status == "optimal") != (result.lower_bound == value):
        faults.add("status", f"{result.status} with value {value} and bound {result.lower_bound}", "optimal only at the bound")
