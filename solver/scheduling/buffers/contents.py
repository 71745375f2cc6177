"""What is in the rooms while a timetable is made, and when work that brings more has room for good."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from solver.domain.timetable import Job, Slot
from solver.scheduling.buffers.flows import BufferFlows, SafeSequence
from solver.scheduling.buffers.partial_schedule import PartialSchedule
from solver.scheduling.resource_profile import FAR, ResourceProfile


class BufferContents:
    """What is in the rooms when, as far as work is placed: for ever, until who fetches it is placed."""

    def __init__(
        self, jobs: Iterable[Job], flows: BufferFlows, order: Sequence[str], there: Sequence[ResourceProfile] = ()
    ) -> None:
        """`order`: of jobs, one after the other, that keeps to the rooms. `there`: what other work has there."""
        self.flows, self.sequence = flows, SafeSequence(order, flows)
        self.last = {job.id: len(job.operations) - 1 for job in jobs}
        self.profiles = [profile.copy() for profile in there] or [ResourceProfile(size) for size in flows.sizes]
        self.ended: set[str] = set()
        self.fetched = 0  # jobs

    def fit(self, partial: PartialSchedule, slot: Slot, *, asked: bool = True) -> tuple[int, int] | None:
        """Return the first times from which what the work brings has room for good. `asked`: and all else can still pass."""
        ready = partial.ready(slot)
        if not self.brings(slot.job, slot.index):
            return partial.fit(slot, ready)
        if asked and not self.sequence.is_safe(slot.job):
            return None
        return partial.fit(slot, ready, lambda _start, end: self.full_until(slot.job, slot.index, end))

    def brings(self, job: str, index: int) -> bool:
        """Return whether an operation is one that brings something."""
        return job in self.flows.brings and index == self.last[job]

    def full_until(self, job: str, index: int, end: int) -> int | None:
        """Return the time before which work that brings may not end, None where it may at `end`; FAR: never, as things are."""
        brings = self.flows.net(job) if index == 0 else self.flows.brings[job]
        pairs = zip(self.profiles, brings, strict=True)
        times = [profile.end_of_last_conflict([(end, FAR)], count) for profile, count in pairs if count > 0]
        return max((time for time in times if time is not None), default=None)

    def start(self, job: str, at: int) -> None:
        """Let a job fetch what waits for it."""
        for profile, count in zip(self.profiles, self.flows.fetches.get(job, ()), strict=False):
            profile.take([(at, FAR)], -count)
        self.fetched += job in self.flows.fetches
        self.sequence.start(job)

    def end(self, job: str, at: int) -> None:
        """Let a job bring what it made."""
        for profile, count in zip(self.profiles, self.flows.brings.get(job, ()), strict=False):
            profile.take([(at, FAR)], count)
        self.sequence.end(job)
        self.ended.add(job)

    def note(self, slot: Slot) -> None:
        """Note that work is placed: what it fetches as it starts, and brings as it ends."""
        if slot.index == 0:
            self.start(slot.job, slot.start)
        if slot.index == self.last[slot.job]:
            self.end(slot.job, slot.end)
