"""A released timetable as it ran: what is done though it was planned for later, and what is not done though it should be."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace

from solver.domain.replan import Undone
from solver.domain.timetable import Job, Operation, ScheduleJob, Slot

Key = tuple[str, int]


@dataclass(frozen=True, slots=True, kw_only=True)
class ActualTimetable:
    """A plan's job and slots with what was done sooner in the past, and what is to be placed again.

    Work that was done sooner than planned has no length any more, for how long it took is not told; it stands where its
    machine had just ended other work, as near as can be to when it was told.
    """

    task: ScheduleJob
    slots: tuple[Slot, ...]
    undone: tuple[Undone, ...]
    sooner: tuple[Key, ...]  # done, and planned for later


def actual_timetable(
    task: ScheduleJob, slots: Collection[Slot], *, now: int, reported: Mapping[Key, int], reportable: Collection[Key]
) -> ActualTimetable:
    """Return a released timetable as it ran until `now`.

    `reported`: operations that are known to be done, and when; all that they waited for is done too. `reportable`: operations
    whose end would be reported, so that one that should have ended and is not reported is not done, nor is what waits for it.
    All else counts as run as planned.
    """
    precedence = _Precedence(task)
    done = precedence.ahead_of(reported)
    by_key = {(slot.job, slot.index): slot for slot in slots}
    undone = {
        key for key, slot in by_key.items() if key in reportable and key not in done and slot.end <= now and slot.start < now
    }
    for key in precedence.order:
        if key not in done and by_key[key].start < now and undone & set(precedence.before[key]):
            undone.add(key)
    sooner = [key for key in precedence.order if key in done and by_key[key].end >= now]
    placed = _Placed(precedence, by_key, {*by_key} - undone - {*sooner}, now)
    for key in sooner:
        undone |= placed.put(key, reported.get(key))
    placed.cut_holds(done)
    return ActualTimetable(
        task=replace(task, jobs=tuple(placed.jobs[job.id] for job in task.jobs)),
        slots=tuple(sorted(placed.slots.values(), key=lambda slot: (slot.job, slot.index))),
        undone=tuple(Undone(job=name, index=index) for name, index in sorted(undone)),
        sooner=tuple(sooner),
    )


class _Precedence:
    """What each operation waits for, and all of them in an order in which they can be done."""

    def __init__(self, task: ScheduleJob) -> None:
        self.machines = {machine.id: machine for machine in task.machines}
        self.jobs = {job.id: job for job in task.jobs}
        self.before: dict[Key, list[Key]] = {}
        for job in task.jobs:
            for index in range(len(job.operations)):
                self.before[job.id, index] = [(job.id, index - 1)] if index else list(self._ends(job.after))
        self.order: list[Key] = []
        seen: set[str] = set()
        for job in task.jobs:
            self._follow(job, seen)

    def _ends(self, names: Collection[str]) -> Iterator[Key]:
        """The last operations of jobs; of a job without operations, those of the jobs that it waits for."""
        for name in names:
            job = self.jobs[name]
            if job.operations:
                yield name, len(job.operations) - 1
            else:
                yield from self._ends(job.after)

    def _follow(self, job: Job, seen: set[str]) -> None:
        ahead = [job.id]
        while ahead:
            one = self.jobs[ahead[-1]]
            wanted = [name for name in one.after if name not in seen]
            if wanted and one.id not in seen:
                ahead += wanted
                continue
            ahead.pop()
            if one.id not in seen:
                seen.add(one.id)
                self.order += [(one.id, index) for index in range(len(one.operations))]

    def ahead_of(self, reported: Collection[Key]) -> set[Key]:
        """Return these operations and all that they waited for, directly or not."""
        found, ahead = set(reported), list(reported)
        while ahead:
            new = [key for key in self.before[ahead.pop()] if key not in found]
            found.update(new)
            ahead += new
        return found


class _Placed:
    """Slots by operation, and what ran on each machine, while work that was done sooner is put among it."""

    def __init__(self, precedence: _Precedence, slots: Mapping[Key, Slot], stays: Collection[Key], now: int) -> None:
        self.precedence, self.slots, self.now = precedence, dict(slots), now
        self.jobs = dict(precedence.jobs)
        self.on: dict[str, list[Slot]] = {name: [] for name in precedence.machines}
        for key in stays:
            self.on[slots[key].machine].append(slots[key])

    def put(self, key: Key, at: int | None) -> set[Key]:
        """Put an operation as near as can be to when it was told; return the running work that cannot have run then."""
        machine = self.slots[key].machine
        least = min(max((self.slots[one].end for one in self.precedence.before[key]), default=0), self.now - 1)
        wished = least if at is None else min(max(least, at), self.now - 1)
        own = self.jobs[key[0]].operations[key[1]].family
        mine = self.on[machine]
        edges = [time for slot in mine for time in (slot.start, slot.end) if least <= time < self.now]
        free = [time for time in (wished, *edges) if self._is_free(machine, time, own)]
        if not free:
            self.on[machine] = [slot for slot in mine if not slot.start < self.now <= slot.end]
        self._take(key, machine, min(free, key=lambda time: (abs(time - wished), time), default=wished))
        return set() if free else {(slot.job, slot.index) for slot in mine if slot.start < self.now <= slot.end}

    def _is_free(self, machine: str, time: int, own: int) -> bool:
        """Whether nothing runs there then, and what comes next can be set up as if nothing had come between."""
        mine = self.on[machine]
        if any(slot.start < time < slot.end for slot in mine):
            return False
        following = min((slot for slot in mine if slot.start >= time and slot.end > time), key=_first, default=None)
        setup = self.precedence.machines[machine].setup
        if following is None or setup is None:
            return True
        return time + setup[self._family(machine, time, own)][self._family_of(following)] <= following.start

    def _family(self, machine: str, time: int, own: int) -> int:
        """For what the machine was set up at a time: for its own work where nothing is known."""
        last = max((slot for slot in self.on[machine] if slot.end <= time), key=_first, default=None)
        if last is not None:
            return self._family_of(last)
        initial = self.precedence.machines[machine].initial
        return own if initial is None else initial

    def _family_of(self, slot: Slot) -> int:
        return self.jobs[slot.job].operations[slot.index].family

    def _take(self, key: Key, machine: str, time: int) -> None:
        """Give an operation no length there, and the family of what ran before it, so that nothing is set up for it."""
        old = self.jobs[key[0]].operations[key[1]]
        family = self._family(machine, time, old.family)
        self._change(key, replace(old, on={**old.on, machine: 0}, family=family, hold=0))
        if key[1] == 0:
            job = self.jobs[key[0]]
            self.jobs[key[0]] = replace(job, release=min(job.release, time))
        self.slots[key] = Slot(job=key[0], index=key[1], machine=machine, start=time, end=time)
        self.on[machine].append(self.slots[key])

    def cut_holds(self, done: Collection[Key]) -> None:
        """Let nothing hold longer than until what is done after it begins."""
        for key in done:
            for one in self.precedence.before[key]:
                left = self.slots[key].start - self.slots[one].end
                old = self.jobs[one[0]].operations[one[1]]
                if old.hold > left:
                    self._change(one, replace(old, hold=left))

    def _change(self, key: Key, new: Operation) -> None:
        job = self.jobs[key[0]]
        steps = (*job.operations[: key[1]], new, *job.operations[key[1] + 1 :])
        self.jobs[key[0]] = replace(job, operations=steps)


def _first(slot: Slot) -> tuple[int, int]:
    return slot.start, slot.end
