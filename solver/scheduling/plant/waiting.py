"""What waits before the saw and the bundle bay: the rooms that a plan's timetable has to keep to, and what is there then."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Literal

from solver.domain.bundle import Bundle
from solver.domain.ids import PieceId
from solver.domain.timetable import Buffer, BufferStay, ScheduleJob, Slot, Waiting
from solver.domain.work_ids import bar_job, bundle_job
from solver.scheduling.buffers.overfull import overfull_buffers
from solver.scheduling.plant.steps import PlantJobs
from solver.units import Seconds


@dataclass(frozen=True, slots=True, kw_only=True)
class WaitingWork:
    """What waits before a place: so many things from the end of one job to the start of the job that fetches them."""

    place: Literal["saw", "bundle_bay"]
    room: int | None  # how many the catalog says find room
    links: tuple[tuple[str, str, int], ...]


def iterate_waiting_work(
    work: PlantJobs, lot_of: Mapping[str, str], bundles: Iterable[Bundle], made_by: Mapping[PieceId, str]
) -> Iterator[WaitingWork]:
    """Give what waits where: bars for the saw from the end of the press run on, pieces from their bar on for their bundle."""
    jobs = work.jobs
    lots = tuple((lot, bar_job(bar), 1) for bar, lot in lot_of.items() if lot in jobs and bar_job(bar) in jobs)
    yield WaitingWork(place="saw", room=work.plant.before_saw, links=lots)
    pieces = Counter(
        (made_by[lay.piece], bundle_job(bundle.id))
        for bundle in bundles
        for lay in bundle.pieces
        if made_by.get(lay.piece) in jobs and bundle_job(bundle.id) in jobs
    )
    links = tuple((one, two, count) for (one, two), count in sorted(pieces.items()))
    yield WaitingWork(place="bundle_bay", room=work.plant.before_bundling, links=links)


def buffers_from_catalog(waits: Iterable[WaitingWork]) -> tuple[Buffer, ...]:
    """Return the rooms of the places that the catalog gives a size: a bar takes one place from the press on, glue setting."""
    return tuple(
        Buffer(
            id=one.place,
            size=one.room,
            stays=tuple(BufferStay(job=made, until=fetched, takes=count) for made, fetched, count in one.links),
        )
        for one in waits
        if one.room is not None and one.links
    )


def peak_waiting(waits: Iterable[WaitingWork], task: ScheduleJob, slots: Mapping[tuple[str, int], Slot]) -> Iterator[Waiting]:
    """Give the most that waits before each place in a timetable and when first, and where that is more than finds room."""
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
        full = overfull_buffers(replace(task, rooms=buffers_from_catalog((one,))), tuple(slots.values()))
        yield Waiting(place=one.place, most=most, at_s=Seconds(at), room=one.room, over=full[0] if full else None)
