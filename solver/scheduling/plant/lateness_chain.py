"""Why a delivery is late: the chain of operations, waits and set-ups that leads from the plan's start to its end."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from solver.domain.timetable import Job, Link, Machine, ScheduleJob, Slot
from solver.domain.work_ids import operation_id
from solver.scheduling.calendar import Calendar
from solver.scheduling.precedence import Key, slots_by_start
from solver.scheduling.resource_profile import working_spans
from solver.units import Seconds


def lateness_chain(task: ScheduleJob, slots: Mapping[Key, Slot], job_id: str) -> tuple[Link, ...]:
    """Return what made one job end when it did: `LatenessWalk.chain`, where only one is asked for."""
    return LatenessWalk(task, slots).chain(job_id)


def operation_id_of_key(key: Key) -> str:
    """Return the id of an operation as the plan's timetable writes it."""
    return operation_id(*key)


@dataclass(frozen=True, slots=True)
class _Bound:
    """What an operation had to wait for: from when it could have started, and the parts of that time."""

    ready: int
    link: Link
    before: Key | None


class LatenessWalk:
    """A timetable with what precedes what, to be walked back from the end of any job."""

    def __init__(self, task: ScheduleJob, slots: Mapping[Key, Slot]) -> None:
        """Take a job and its whole timetable, by job and index."""
        self.task = task
        self.slots = slots
        self.jobs: dict[str, Job] = {job.id: job for job in task.jobs}
        self.machines: dict[str, Machine] = {machine.id: machine for machine in task.machines}
        self.calendars = {machine.id: Calendar(machine.closed) for machine in task.machines}
        self.known: dict[Key, tuple[Link, Key | None]] = {}  # chains share most of their links
        self.fetchers: dict[
            str, dict[str, None]
        ] = {}  # by job: who fetches from a room that it brings into, other than its own
        self.own_fetchers: dict[str, dict[str, None]] = {}  # who fetches nothing there but what it brings
        for room in task.rooms:
            for name in {stay.job for stay in room.stays}:
                others = {stay.until: None for stay in room.stays if stay.job != name}
                self.fetchers.setdefault(name, {}).update(others)
                own = {stay.until: None for stay in room.stays if stay.job == name and stay.until not in others}
                self.own_fetchers.setdefault(name, {}).update(own)
        self.before_on: dict[Key, Key] = {}
        last: dict[str, Key] = {}
        for slot in slots_by_start(
            task.jobs, slots.values()
        ):  # so that what has no length never waits for itself, machine by machine
            key = (slot.job, slot.index)
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
        to_start, seen = False, set[Key]()
        while at is not None:
            seen.add(at)
            if at not in self.known:
                self.known[at] = self._link(at)
            link, before = self.known[at]
            if before in seen:  # two that end and start at one instant, and each waits for the other's people or room
                link, before = self._link(at, alone=link.waits_for)
            at = before
            links.append(replace(link, work_s=Seconds(0), pause_s=Seconds(0)) if to_start else link)
            to_start = link.waits_for == "room"
        return tuple(reversed(links))

    def _link(self, key: Key, *, alone: str = "") -> tuple[Link, Key | None]:
        """The link that ends with an operation, and the operation before it in the chain.

        `alone`: not one whose people or room it waited for ("people", "room"), which then is told with its own time.
        """
        slot = self.slots[key]
        step, calendar = self.jobs[key[0]].operations[key[1]], self.calendars[slot.machine]
        bound = max(self._bounds(key), key=lambda one: one.ready)
        first, _ = calendar.fit(bound.ready, step.on[slot.machine], pause=step.pause)
        link = replace(bound.link, closed_s=Seconds(first - bound.ready))
        before, counted_from = bound.before, slot.start
        if first < slot.start and alone:
            wait = Seconds(slot.start - first)
            link = replace(link, room_s=wait) if alone == "room" else replace(link, people_s=wait)
        elif first < slot.start:
            link, before = self._late_start(key, first, link, before)
            if link.waits_for == "room" and before is not None:
                counted_from = max(slot.start, self.slots[before].start)
        done = (
            sum(high - low for low, high in working_spans(calendar, counted_from, slot.end))
            if step.pause
            else slot.end - counted_from
        )
        link = replace(
            link,
            operation=operation_id_of_key(key),
            before=None if before is None else operation_id_of_key(before),
            work_s=Seconds(done),
            pause_s=Seconds(slot.end - counted_from - done),
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
        """An operation that could have started earlier but for its people or room; without a reason the time is idle."""
        slot, holder = self.slots[key], self._people_until(key, first)
        step, calendar = self.jobs[key[0]].operations[key[1]], self.calendars[slot.machine]
        free = self.slots[holder].end if holder is not None else first
        opened, ended = calendar.fit(free, step.on[slot.machine], pause=step.pause)
        fetcher = self._room_until(key, ended)
        if fetcher is not None:
            return self._late_end(key, fetcher)
        if holder is None:
            wait = Seconds(slot.start - first)
            busy = any(theirs.start < slot.start and first < theirs.end for _, theirs in self._sharing(key))
            return (replace(link, people_s=wait) if busy else replace(link, idle_s=wait)), before  # busy: now they pause
        people, closed = Seconds(slot.start - opened), Seconds(opened - free)
        return Link(operation="", waits_for="people", people_s=people, closed_s=closed), holder

    def _room_until(self, key: Key, first: int) -> Key | None:
        """The last work to start, after `first` and before this ends, that fetches from where this brings something.

        Where there is none: who takes away at once what this brings, for which there was no room any sooner.
        """
        if key[1] < len(self.jobs[key[0]].operations) - 1:
            return None
        for fetchers in (self.fetchers, self.own_fetchers):
            starts = [(self.slots[name, 0].start, (name, 0)) for name in fetchers.get(key[0], ())]
            found = max((one for one in starts if first < one[0] <= self.slots[key].end), default=None)
            if found is not None:
                return found[1]
        return None

    def _late_end(self, key: Key, fetcher: Key) -> tuple[Link, Key | None]:
        """An operation that could not end before other work started and made room."""
        slot, step, room = self.slots[key], self.jobs[key[0]].operations[key[1]], self.slots[fetcher].start
        wait = max(0, slot.start - room)
        opened, _ = self.calendars[slot.machine].fit(room, step.on[slot.machine], pause=step.pause)
        closed = min(wait, opened - room)
        return Link(operation="", waits_for="room", closed_s=Seconds(closed), room_s=Seconds(wait - closed)), fetcher

    def _people_until(self, key: Key, first: int) -> Key | None:
        """The last operation to end before this one starts that had its people at or after `first`."""
        start = self.slots[key].start
        held = [(theirs.end, other) for other, theirs in self._sharing(key) if first < theirs.end <= start]
        return max(held)[1] if held else None

    def _sharing(self, key: Key) -> list[tuple[Key, Slot]]:
        """Other work that takes people of a pool that this takes people of."""
        machine = self.slots[key].machine
        return [
            (other, theirs)
            for pool in self.task.pools
            if pool.uses.get(machine)
            for other, theirs in self.slots.items()
            if other != key and pool.uses.get(theirs.machine) and theirs.start < theirs.end
        ]
