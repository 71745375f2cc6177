"""A timetable whose work moves to later times, the last first: how late each piece may end, and who is free then."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from solver.domain.timetable import ScheduleJob, Slot
from solver.scheduling.levels import FAR, worked
from solver.scheduling.settle import Floor, Key, in_order


class Behind:
    """What comes behind each piece of work: on its machine, in its job, in jobs that wait for it."""

    def __init__(self, task: ScheduleJob, slots: Sequence[Slot]) -> None:
        """Begin with a timetable that is sound."""
        self.floor, self.ordered = Floor(task), in_order(task, slots)
        self.made: dict[Key, Slot] = {(slot.job, slot.index): slot for slot in self.ordered}
        self._next: dict[Key, Key] = {}  # on its machine
        for name in self.floor.machines:
            self._next.update(pairwise([(slot.job, slot.index) for slot in self.ordered if slot.machine == name]))
        self._waiting: dict[str, list[str]] = {}
        for job in task.jobs:
            for other in job.after:
                self._waiting.setdefault(other, []).append(job.id)
        for slot in self.ordered:
            self.floor.book(slot.machine, slot.start, slot.end, 1)

    def limit(self, slot: Slot) -> int:
        """Return when a piece of work must have ended, for all behind it to start when it does."""
        job, step, key = self.floor.jobs[slot.job], self.floor.step(slot), (slot.job, slot.index)
        last = slot.index == len(job.operations) - 1
        waiting = [(one, 0) for one in self._waiting.get(slot.job, ())] if last else [(slot.job, slot.index + 1)]
        limit = min((self.made[one].start - step.hold for one in waiting), default=FAR)
        if key in self._next:
            behind, table = self.made[self._next[key]], self.floor.machines[slot.machine].setup
            limit = min(limit, behind.start - (table[step.family][self.floor.step(behind).family] if table is not None else 0))
        return limit

    def move(self, slot: Slot, limit: int, wished: int = FAR) -> None:
        """Let work begin as late as it ends at `limit` and begins at `wished` at the latest, where its people are free then;
        else it stays."""
        calendar, step = self.floor.calendars[slot.machine], self.floor.step(slot)
        work = step.on[slot.machine]
        low, high = slot.start, min(wished, max(slot.start, limit))
        while low < high:  # neither start nor end falls as the time rises from which it may begin
            middle = (low + high + 1) // 2
            start, end = calendar.fit(middle, work, pause=step.pause)
            if start <= wished and end <= limit:
                low = middle
            else:
                high = middle - 1
        start, end = calendar.fit(low, work, pause=step.pause)
        if start == slot.start:
            return
        self.floor.book(slot.machine, slot.start, slot.end, -1)
        spans = worked(calendar, start, end)
        if any(crew.conflict(spans, count) is not None for crew, count in self.floor.crews[slot.machine]):
            start, end = slot.start, slot.end
        self.floor.book(slot.machine, start, end, 1)
        self.made[slot.job, slot.index] = Slot(job=slot.job, index=slot.index, machine=slot.machine, start=start, end=end)
