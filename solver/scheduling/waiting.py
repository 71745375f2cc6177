"""What waits before the saw and the bundle bay, against the room there."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from solver.domain.bundle import Bundle
from solver.domain.ids import PieceId
from solver.domain.timetable import ScheduleJob, Slot, Waiting
from solver.scheduling.steps import Work
from solver.units import Seconds


@dataclass(frozen=True, slots=True, kw_only=True)
class WaitingWork:
    """What waits before a place: so many things from the end of one job to the start of the job that fetches them."""

    place: Literal["saw", "bundle_bay"]
    room: int | None
    links: tuple[tuple[str, str, int], ...]


def waits_of(
    work: Work, lot_of: Mapping[str, str], bundles: Iterable[Bundle], made_by: Mapping[PieceId, str]
) -> Iterator[WaitingWork]:
    """Give what waits where: bars for the saw from the end of the press run on, pieces from their bar on for their bundle."""
    jobs = work.jobs
    lots = tuple((lot, f"bar {bar}", 1) for bar, lot in lot_of.items() if lot in jobs and f"bar {bar}" in jobs)
    yield WaitingWork(place="saw", room=work.plant.before_saw, links=lots)
    pieces = Counter(
        (made_by[lay.piece], f"bundle {bundle.id}")
        for bundle in bundles
        for lay in bundle.pieces
        if made_by.get(lay.piece) in jobs and f"bundle {bundle.id}" in jobs
    )
    links = tuple((one, two, count) for (one, two), count in sorted(pieces.items()))
    yield WaitingWork(place="bundle_bay", room=work.plant.before_bundling, links=links)


def most_waiting(waits: Iterable[WaitingWork], task: ScheduleJob, slots: Mapping[tuple[str, int], Slot]) -> Iterator[Waiting]:
    """Give the most that waits before each place in a timetable, and when first; nothing is refused for want of room."""
    last = {job.id: len(job.operations) - 1 for job in task.jobs}
    for one in waits:
        changes: Counter[int] = Counter()
        for made, fetched, count in one.links:
            low, high = slots[made, last[made]].end, slots[fetched, 0].start
            changes[low] += count
            changes[high] -= count
        level = most = at = 0
        for time in sorted(changes):
            level += changes[time]
            if level > most:
                most, at = level, time
        yield Waiting(place=one.place, most=most, at_s=Seconds(at), room=one.room)
