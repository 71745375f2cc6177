"""Why a delivery is late: the chain of operations, waits and set-ups that leads from the plan's start to its end."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from solver.domain.timetable import Job, Link, Machine, ScheduleJob, Slot
from solver.scheduling.calendar import Calendar
from solver.units import Seconds

Key = tuple[str, int]


def chain(task: ScheduleJob, slots: Mapping[Key, Slot], job_id: str) -> tuple[Link, ...]:
    """Return what made one job end when it did: `Walk.chain`, where only one is asked for."""
    return Walk(task, slots).chain(job_id)


def name_of(key: Key) -> str:
    """Return the id of an operation as the plan's timetable writes it."""
    return f"{key[0]}/{key[1]}"


@dataclass(frozen=True, slots=True)
class _Bound:
    """What an operation had to wait for: from when it could have started, and the parts of that time."""

    ready: int
    link: Link
    before: Key | None


class Walk:
    """A timetable with what precedes what, to be walked back from the end of any job."""

    def __init__(self, task: ScheduleJob, slots: Mapping[Key, Slot]) -> None:
        """Take a job and its whole timetable, by job and index."""
        self.task = task
        self.slots = slots
        self.jobs: dict[str, Job] = {job.id: job for job in task.jobs}
        self.machines: dict[str, Machine] = {machine.id: machine for machine in task.machines}
        self.calendars = {machine.id: Calendar(machine.closed) for machine in task.machines}
        self.known: dict[Key, tuple[Link, Key | None]] = {}  # chains share most of their links
        self.before_on: dict[Key, Key] = {}
        last: dict[str, Key] = {}
        for key, slot in sorted(slots.items(), key=lambda item: (item[1].start, item[1].end)):
            if slot.machine in last:
                self.before_on[key] = last[slot.machine]
            last[slot.machine] = key

    def chain(self, job_id: str) -> tuple[Link, ...]:
        """Return what made a job end when it did, link by link from time 0.

        Each operation starts as early as what it waits for allows, so that only a change to a link can make the job's end
        earlier by that way. A job without operations has no chain.
        """
        operations = self.jobs[job_id].operations
        links: list[Link] = []
        at: Key | None = (job_id, len(operations) - 1) if operations else None
        while at is not None:
            if at not in self.known:
                self.known[at] = self._link(at)
            link, at = self.known[at]
            links.append(link)
        return tuple(reversed(links))

    def _link(self, key: Key) -> tuple[Link, Key | None]:
        """The link that ends with an operation, and the operation before it in the chain."""
        slot = self.slots[key]
        step, calendar = self.jobs[key[0]].operations[key[1]], self.calendars[slot.machine]
        bound = max(self._bounds(key), key=lambda one: one.ready)
        first, _ = calendar.fit(bound.ready, step.on[slot.machine], pause=step.pause)
        link = replace(bound.link, closed_s=Seconds(first - bound.ready))
        before = bound.before
        if first < slot.start:
            link, before = self._late_start(key, first, link, before)
        link = replace(
            link,
            operation=name_of(key),
            before=None if before is None else name_of(before),
            work_s=Seconds(step.on[slot.machine]),
            pause_s=Seconds(slot.end - slot.start - step.on[slot.machine]),
        )
        return link, before

    def _bounds(self, key: Key) -> list[_Bound]:
        """All that an operation waits for, the flow of its own material first."""
        job, index = self.jobs[key[0]], key[1]
        slot, made = self.slots[key], []
        others = [(other, len(self.jobs[other].operations) - 1) for other in job.after]
        for before in [(job.id, index - 1)] if index else others:
            hold = self.jobs[before[0]].operations[before[1]].hold
            link = Link(operation="", waits_for="job", hold_s=Seconds(hold))
            made.append(_Bound(self.slots[before].end + hold, link, before))
        machine, previous = self.machines[slot.machine], self.before_on.get(key)
        old = machine.initial if previous is None else self.jobs[previous[0]].operations[previous[1]].family
        gap = machine.setup[old][job.operations[index].family] if machine.setup is not None and old is not None else 0
        if previous is not None:
            link = Link(operation="", waits_for="machine", setup_s=Seconds(gap))
            made.append(_Bound(self.slots[previous].end + gap, link, previous))
        elif gap:
            made.append(_Bound(gap, Link(operation="", waits_for="start", setup_s=Seconds(gap)), None))
        if index == 0 and job.release:
            made.append(_Bound(job.release, Link(operation="", waits_for="release", release_s=Seconds(job.release)), None))
        return made or [_Bound(0, Link(operation="", waits_for="start"), None)]

    def _late_start(self, key: Key, first: int, link: Link, before: Key | None) -> tuple[Link, Key | None]:
        """An operation that could have started earlier but for its people; without a reason the time is idle."""
        slot, holder = self.slots[key], self._people_until(key, first)
        if holder is None:
            return replace(link, idle_s=Seconds(slot.start - first)), before
        step, free = self.jobs[key[0]].operations[key[1]], self.slots[holder].end
        opened, _ = self.calendars[slot.machine].fit(free, step.on[slot.machine], pause=step.pause)
        people, closed = Seconds(slot.start - opened), Seconds(opened - free)
        return Link(operation="", waits_for="people", people_s=people, closed_s=closed), holder

    def _people_until(self, key: Key, first: int) -> Key | None:
        """The last operation to end before this one starts that had its people at or after `first`."""
        slot = self.slots[key]
        held = [
            (theirs.end, other)
            for pool in self.task.pools
            if pool.uses.get(slot.machine)
            for other, theirs in self.slots.items()
            if other != key and pool.uses.get(theirs.machine) and first < theirs.end <= slot.start and theirs.start < theirs.end
        ]
        return max(held)[1] if held else None
