"""Right shifts: work moved to later times, the last first, as late as what waits for it allows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from solver.domain.timetable import ScheduleJob, Slot
from solver.scheduling.buffers.whole_schedule import BookedSchedule
from solver.scheduling.precedence import Key, successors_by_job
from solver.scheduling.resource_profile import FAR, working_spans


def right_shift(task: ScheduleJob, slots: Sequence[Slot]) -> tuple[Slot, ...]:
    """Return a timetable with the same order on each machine in which only work of jobs that bring into a buffer starts later.

    So less is there at one time. Such jobs have no due date; what waits for them starts when it did. What fetches from a
    buffer itself does not move: what it fetches would stay longer.
    """
    slack = SuccessorSlack(task, slots)
    for slot in reversed(slack.schedule.ordered):
        job = slack.schedule.partial.jobs[slot.job]
        if slot.job in slack.schedule.flows.brings and job.due is None and not slack.fetches(slot):
            slack.delay(slot, slack.latest_end(slot))
    return tuple(slack.schedule.slots.values())


def restore_released_times(
    task: ScheduleJob, slots: Sequence[Slot], kept: Mapping[Key, Slot], released: Mapping[Key, Slot]
) -> tuple[Slot, ...]:
    """Return a timetable in which work that came sooner than released without need is back at its time, or as near as can be.

    The order on each machine is the same, nothing ends later than what waits for it allows, no job is late that was not, or
    later. What fetches from a buffer stays where it is: what it fetches would stay longer.
    """
    slack = SuccessorSlack(task, slots)
    for slot in reversed(slack.schedule.ordered):
        key = slot.job, slot.index
        before, job = released.get(key), slack.schedule.partial.jobs[slot.job]
        if key in kept or before is None or before.machine != slot.machine or before.start <= slot.start:
            continue
        if slack.fetches(slot):
            continue
        limit = slack.latest_end(slot)
        if slack.schedule.is_last(slot) and job.due is not None:
            limit = min(limit, max(job.due - job.operations[-1].hold, slot.end))
        slack.delay(slot, limit, before.start)
    return tuple(slack.schedule.slots.values())


class SuccessorSlack:
    """How late each piece of work may end for what comes behind it: on its machine, in its job, in jobs that wait for it."""

    def __init__(self, task: ScheduleJob, slots: Sequence[Slot]) -> None:
        """Begin with a timetable that is sound."""
        self.schedule, self._followers = BookedSchedule(task, slots), successors_by_job(task.jobs)

    def fetches(self, slot: Slot) -> bool:
        """Return whether a piece of work fetches from a buffer as it starts."""
        return slot.index == 0 and slot.job in self.schedule.flows.fetches

    def latest_end(self, slot: Slot) -> int:
        """Return when a piece of work must have ended, for all behind it to start when it does."""
        slots, last = self.schedule.slots, self.schedule.is_last(slot)
        hold, behind = self.schedule.partial.step(slot).hold, self.schedule.behind.get((slot.job, slot.index))
        waiting = [(other, 0) for other in self._followers.get(slot.job, ())] if last else [(slot.job, slot.index + 1)]
        limit = min((slots[other].start - hold for other in waiting), default=FAR)
        if behind is None:
            return limit
        return min(limit, slots[behind].start - self.schedule.set_up(slot.machine, slot, slots[behind]))

    def delay(self, slot: Slot, latest_end: int, wished: int = FAR) -> None:
        """Let work begin as late as it ends at `latest_end` and begins at `wished` at the latest, where its people are free.

        Else it stays.
        """
        calendar, step = self.schedule.partial.calendars[slot.machine], self.schedule.partial.step(slot)
        work = step.on[slot.machine]
        low, high = slot.start, min(wished, max(slot.start, latest_end))
        while low < high:  # neither start nor end falls as the time rises from which it may begin
            middle = (low + high + 1) // 2
            start, end = calendar.fit(middle, work, pause=step.pause)
            if start <= wished and end <= latest_end:
                low = middle
            else:
                high = middle - 1
        start, end = calendar.fit(low, work, pause=step.pause)
        if start == slot.start:
            return
        self.schedule.book(slot, -1)
        spans = working_spans(calendar, start, end)
        if any(
            crew.end_of_last_conflict(spans, count) is not None for crew, count in self.schedule.partial.crews[slot.machine]
        ):
            self.schedule.book(slot, 1)
        else:
            self.schedule.move(slot, start, end)
