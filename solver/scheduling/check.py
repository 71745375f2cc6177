"""Proves a timetable again from the shop's rules: nothing here is shared with the search."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Iterator, Sequence
from graphlib import CycleError, TopologicalSorter
from itertools import accumulate, groupby, pairwise, permutations

from solver.domain.report import Report
from solver.domain.timetable import Buffer, Job, Machine, Operation, Overfull, Pool, ScheduleJob, ScheduleResult, Slot
from solver.errors import FaultCollector

CHECKED = (
    "every operation once, on a machine that can do it",
    "working time, outside closed hours, in one piece unless it may pause",
    "operations of a job in order, holds and releases kept, jobs after the jobs they wait for",
    "one operation at a time on a machine, with the set-up between consecutive ones",
    "one order of jobs on all machines, where asked for",
    "never more people of a pool at work than there are",
    "never more in a room than finds room there, or, where rooms are soft, overfull by as much and when as is told",
    "objective as stated, bound not above it, status true to both",
    "set-up and flow time as stated, where they are",
)

MOST_TOGETHER = 6  # of pieces of work without length at one instant on one machine; more are taken as listed


def check(job: ScheduleJob, result: ScheduleResult) -> Report:
    """Return what holds and what does not of a timetable; times are exact whole numbers."""
    faults = FaultCollector()
    if result.status == "unknown":
        if result.operations or result.objective is not None:
            faults.add("status", "is unknown, yet there is a plan", "feasible or optimal")
        return Report(checked=CHECKED, faults=tuple(faults.found))
    slots = _each_once(job, result, faults)
    if not faults:
        shop = _Shop(job)
        for slot in result.operations:
            _work(shop, slot, faults)
        _jobs_in_order(job, slots, faults)
        _stated("setup", result.setup, _machines(shop, result, faults), faults)
        if job.same_order:
            _one_order(job, result, faults)
        for pool in job.pools:
            _people(pool, shop, result, faults)
        _rooms(job, result, slots, faults)
        _value(job, slots, result, faults)
        _stated("flow", result.flow, _flow(job, slots), faults)
    return Report(checked=CHECKED, faults=tuple(faults.found))


def _each_once(job: ScheduleJob, result: ScheduleResult, faults: FaultCollector) -> dict[tuple[str, int], Slot]:
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


class _Shop:
    """The job's operations and machines by name."""

    def __init__(self, job: ScheduleJob) -> None:
        self.operations = {(one.id, n): step for one in job.jobs for n, step in enumerate(one.operations)}
        self.machines = {machine.id: machine for machine in job.machines}
        self.hours = {machine.id: _Shut(machine) for machine in job.machines}

    def operation(self, slot: Slot) -> Operation:
        return self.operations[slot.job, slot.index]


class _Shut:
    """The closed times of a machine, and how much of them has gone by before each."""

    def __init__(self, machine: Machine) -> None:
        spans = sorted(machine.closed)
        self.starts, self.ends = [low for low, _ in spans], [high for _, high in spans]
        self.gone = [0, *accumulate(high - low for low, high in spans)]

    def before(self, time: int) -> int:
        """How long it was closed before a time."""
        n = bisect_left(self.starts, time)
        return self.gone[n] - (max(0, self.ends[n - 1] - time) if n else 0)

    def within(self, start: int, end: int) -> int:
        return self.before(end) - self.before(start)

    def opened(self, start: int, end: int) -> Iterator[tuple[int, int]]:
        """The open times from start to end."""
        at = start
        for n in range(bisect_right(self.ends, start), bisect_left(self.starts, end)):
            if self.starts[n] > at:
                yield at, self.starts[n]
            at = self.ends[n]
        if at < end:
            yield at, end


def _work(shop: _Shop, slot: Slot, faults: FaultCollector) -> None:
    where, operation = f"{slot.job} {slot.index}", shop.operation(slot)
    if slot.machine not in shop.machines or slot.machine not in operation.on:
        faults.add(where, f"runs on {slot.machine}, which cannot do it", f"one of {', '.join(operation.on)}")
        return
    hours = shop.hours[slot.machine]
    work, shut = operation.on[slot.machine], hours.within(slot.start, max(slot.start, slot.end))
    if slot.start < 0:
        faults.add(where, f"starts at {slot.start}", "0 or later")
    if not operation.pause and shut and work:
        faults.add(where, f"runs {shut} in closed hours of {slot.machine} and may not pause", "open hours")
    if slot.end - slot.start - (shut if operation.pause else 0) != work:
        faults.add(where, f"works {slot.end - slot.start - (shut if operation.pause else 0)}, not {work}", f"{work}")
    if operation.pause and work and (hours.within(slot.start, slot.start + 1) or hours.within(slot.end - 1, slot.end)):
        faults.add(where, "begins or ends in closed hours", "first and last unit of work in open hours")


def _done(one: Job, slots: dict[tuple[str, int], Slot]) -> int:
    last = len(one.operations) - 1
    return slots[one.id, last].end + one.operations[last].hold if one.operations else one.release


def _jobs_in_order(job: ScheduleJob, slots: dict[tuple[str, int], Slot], faults: FaultCollector) -> None:
    by_id = {one.id: one for one in job.jobs}
    for one in job.jobs:
        earliest = max([one.release, *(_done(by_id[other], slots) for other in one.after)])
        for index, operation in enumerate(one.operations):
            slot = slots[one.id, index]
            if slot.start < earliest:
                faults.add(f"{one.id} {index}", f"starts at {slot.start}, before {earliest}", f"{earliest} or later")
            earliest = slot.end + operation.hold


def _stated(field: str, stated: int | None, true: int, faults: FaultCollector) -> None:
    if stated is not None and stated != true:
        faults.add(field, f"is {stated}", f"{true}")


def _flow(job: ScheduleJob, slots: dict[tuple[str, int], Slot]) -> int:
    """From release to the end of the last hold, of all jobs that have a due date."""
    dated = [one for one in job.jobs if one.due is not None and one.operations]
    last = [(one, len(one.operations) - 1) for one in dated]
    return sum(slots[one.id, n].end + one.operations[n].hold - one.release for one, n in last)


def _machines(shop: _Shop, result: ScheduleResult, faults: FaultCollector) -> int:
    """Hold each operation against the one before it on its machine; return the set-up time of all machines.

    Work without length that begins where other such work begins may stand in any order among it: some order has to hold.
    The set-up time counts them as they are listed.
    """
    total = 0
    by_machine: dict[str, list[Slot]] = defaultdict(list)
    for slot in result.operations:
        by_machine[slot.machine].append(slot)
    for machine in shop.machines.values():
        mine = sorted(by_machine[machine.id], key=lambda item: (item.start, item.end))
        free = 0  # until when it is taken
        before: set[int | None] = {machine.initial}  # which families the last work may have been of
        for _, together in groupby(mine, key=lambda item: (item.start, item.end)):
            group = list(together)
            orders = permutations(group) if 1 < len(group) <= MOST_TOGETHER and group[0].start == group[0].end else [group]
            ends = {shop.operation(order[-1]).family for order in orders if _follow(shop, machine, free, before, order)}
            if not ends:
                last = next(iter(before))
                for slot in group:
                    at = free + _gap(machine, last, shop.operation(slot).family)
                    if slot.start < at:
                        what = f"starts at {slot.start} on {machine.id}, which is free and set up at {at}"
                        faults.add(f"{slot.job} {slot.index}", what, f"{at} or later")
                    free, last = slot.end, shop.operation(slot).family
            free, before = group[-1].end, {*ends} or {shop.operation(group[-1]).family}
        families = [machine.initial, *(shop.operation(slot).family for slot in mine)]
        total += sum(_gap(machine, one, two) for one, two in pairwise(families) if two is not None)
    return total


def _follow(shop: _Shop, machine: Machine, free: int, before: set[int | None], order: Sequence[Slot]) -> bool:
    """Whether work can run in this order after a machine is free, set up for one of some families."""
    first = shop.operation(order[0]).family
    if all(order[0].start < free + _gap(machine, last, first) for last in before):
        return False
    return all(
        two.start >= one.end + _gap(machine, shop.operation(one).family, shop.operation(two).family)
        for one, two in pairwise(order)
    )


def _gap(machine: Machine, last: int | None, following: int) -> int:
    return 0 if machine.setup is None or last is None else machine.setup[last][following]


def _one_order(job: ScheduleJob, result: ScheduleResult, faults: FaultCollector) -> None:
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


def _people(pool: Pool, shop: _Shop, result: ScheduleResult, faults: FaultCollector) -> None:
    """Count heads at every instant at which some work begins; who pauses in closed hours is not at work."""
    events: list[tuple[int, int]] = []
    for slot in result.operations:
        count = pool.uses.get(slot.machine)
        if count and slot.machine in shop.hours:
            for low, high in shop.hours[slot.machine].opened(slot.start, slot.end):
                events += [(low, count), (high, -count)]
    busy = 0
    for time, change in sorted(events):  # at one instant those who leave are counted first
        busy += change
        if busy > pool.size:
            faults.add(f"pools.{pool.id}", f"{busy} people are at work at {time}, of {pool.size}", f"at most {pool.size}")
            return


def _rooms(job: ScheduleJob, result: ScheduleResult, slots: dict[tuple[str, int], Slot], faults: FaultCollector) -> None:
    """Hold what is told of overfull rooms against the count; in a room that is not soft there may never be too much."""
    size = {one.id: len(one.operations) for one in job.jobs}
    told = {one.room: one for one in result.overfull}
    if len(told) != len(result.overfull) or not told.keys() <= {room.id for room in job.rooms}:
        faults.add("overfull", f"names the rooms {[one.room for one in result.overfull]}", "rooms of the job, each once")
    for room in job.rooms:
        stays = [(slots[one.job, size[one.job] - 1].end, slots[one.until, 0].start, one) for one in room.stays]
        true = _overfull(room, [(came, gone, one.takes) for came, gone, one in stays])
        if true is not None and not job.soft_rooms:
            names = ", ".join(dict.fromkeys(one.job for came, gone, one in stays if came <= true.since < gone))
            taken = sum(one.takes for came, gone, one in stays if came <= true.since < gone)
            what = f"{taken} are there at {true.since}, room for {room.size} (of {names})"
            faults.add(f"rooms.{room.id}", what, f"at most {room.size}")
        elif told.get(room.id) != true:
            faults.add(f"overfull.{room.id}", f"{told.get(room.id)} is told", f"{true}")


def _overfull(room: Buffer, stays: list[tuple[int, int, int]]) -> Overfull | None:
    """Count what is there from each instant on at which something comes or goes; what is fetched as it comes takes no room."""
    changes: dict[int, int] = defaultdict(int)
    for came, gone, takes in stays:
        changes[came] += takes
        changes[gone] -= takes
    there = most = at = time = 0
    since: int | None = None
    until = last = 0
    for now in sorted(changes):
        if there > room.size:
            time += now - last
            until = now
        there += changes[now]
        last = now
        if there > room.size and since is None:
            since = now
        if there > most:
            most, at = there, now
    if since is None:
        return None
    return Overfull(room=room.id, size=room.size, most=most, at=at, since=since, until=until, time=time)


def _value(job: ScheduleJob, slots: dict[tuple[str, int], Slot], result: ScheduleResult, faults: FaultCollector) -> None:
    done = {one.id: _done(one, slots) for one in job.jobs}
    if job.objective == "makespan":
        value = max(done.values(), default=0)
    else:
        value = sum(one.weight * max(0, done[one.id] - one.due) for one in job.jobs if one.due is not None)
    if result.objective != value:
        faults.add("objective", f"{result.objective} is stated, {value} is true", f"{value}")
    if result.lower_bound > value:
        faults.add("lower_bound", f"{result.lower_bound} is above the value {value}", "a bound at most the value")
    if (result.status == "optimal") != (result.lower_bound == value and not result.overfull):
        faults.add("status", f"{result.status} with value {value} and bound {result.lower_bound}", "optimal only at the bound")
