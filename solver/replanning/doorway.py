"""Room for a new order beside a released timetable: what is there already, and where work that brings more ends first."""

from __future__ import annotations

from dataclasses import replace

from solver.domain.replan import PromiseJob
from solver.domain.timetable import Operation
from solver.replanning.gaps import Gaps
from solver.scheduling.levels import FAR
from solver.scheduling.rooms import as_listed, best_order, doors_of
from solver.scheduling.sooner import levels
from solver.scheduling.through import Stock

Fit = tuple[int, int, str]  # end, start, machine


class Rooms:
    """What the released plan has in the rooms when, and an order of the new jobs that keeps to them behind it."""

    def __init__(self, job: PromiseJob) -> None:
        """Where no such order is found for the rooms as they are, they are taken as wide as one needs."""
        new = {one.id for one in job.order}
        stays = [(room, [stay for stay in room.stays if stay.job in new]) for room in job.plan.rooms]
        doors = doors_of([replace(room, stays=tuple(mine)) for room, mine in stays])
        jobs = [replace(one, after=tuple(name for name in one.after if name in new)) for one in job.order]
        order = best_order(jobs, doors, (as_listed(jobs),))
        sizes = tuple(max(a, b) for a, b in zip(doors.sizes, order.most, strict=True))
        self.jobs, self.doors, self.order = job.order, replace(doors, sizes=sizes), order.jobs
        old = [
            replace(room, size=size, stays=tuple(stay for stay in room.stays if stay.job not in new))
            for room, size in zip(job.plan.rooms, sizes, strict=True)
        ]
        self.there = levels(replace(job.plan, rooms=tuple(old)), job.slots)

    def stock(self) -> Stock:
        """Return the rooms with nothing of the new order in them, to fill."""
        return Stock(self.jobs, self.doors, self.order, self.there)


def first_with_room(
    gaps: Gaps, stock: Stock, job: str, index: int, step: Operation, ready: int, *, asked: bool = True
) -> Fit | None:
    """Return where an operation ends first in the gaps such that what it brings finds room for good; None: nowhere, as yet.

    `asked`: and all else of the new order can still pass.
    """
    if not stock.brings(job, index):
        return gaps.first(step, ready)
    if asked and not stock.passage.safe(job):
        return None
    while True:
        end, start, machine = gaps.first(step, ready)
        free = stock.full_until(job, index, end)
        if free is None:
            return end, start, machine
        if free >= FAR:
            return None
        soon = free - max(step.on.values())  # begun then, it may end when there is room; else it begins when there is
        ready = soon if soon > ready else free


def note(stock: Stock, job: str, index: int, start: int, end: int) -> None:
    """Note in the rooms that an operation is placed."""
    if index == 0:
        stock.start(job, start)
    if index == stock.last[job]:
        stock.end(job, end)
