"""Where new work ends first in the gaps of a released timetable such that what it brings finds room in its buffer."""

from __future__ import annotations

from solver.domain.timetable import Operation
from solver.replanning.remaining_capacity import RemainingCapacity
from solver.scheduling.rescheduling import FAR, BufferContents

Fit = tuple[int, int, str]  # end, start, machine


def first_fit_with_buffer_room(
    gaps: RemainingCapacity, contents: BufferContents, job: str, index: int, step: Operation, ready: int, *, asked: bool = True
) -> Fit | None:
    """Return where an operation ends first in the gaps such that what it brings finds room for good; None: nowhere, as yet.

    `asked`: and all else of the new order can still pass.
    """
    if not contents.brings(job, index):
        return gaps.first(step, ready)
    if asked and not contents.sequence.is_safe(job):
        return None
    while True:
        end, start, machine = gaps.first(step, ready)
        free = contents.full_until(job, index, end)
        if free is None:
            return end, start, machine
        if free >= FAR:
            return None
        soon = free - max(step.on.values())  # begun then, it may end when there is room; else it begins when there is
        ready = soon if soon > ready else free
