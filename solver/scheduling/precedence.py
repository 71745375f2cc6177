"""Orders in which work can be done: each job after all that it waits for."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from contextlib import suppress
from graphlib import CycleError, TopologicalSorter

from solver.domain.timetable import Job, Slot

Key = tuple[str, int]  # an operation: its job, and its place there


def in_precedence_order(jobs: Sequence[Job]) -> list[Job]:
    """Return the jobs, each after those of them that it waits for: by the longest chain before it, then as they are listed.

    Jobs that wait for each other in a circle are left out, and so is what waits for them.
    """
    by_id = {job.id: job for job in jobs}
    listed = {name: n for n, name in enumerate(by_id)}
    sorter = TopologicalSorter({job.id: [other for other in job.after if other in by_id] for job in jobs})
    with suppress(CycleError):  # what waits for no circle is still given
        sorter.prepare()
    ordered: list[Job] = []
    while level := sorted(sorter.get_ready(), key=listed.__getitem__):
        ordered += [by_id[name] for name in level]
        sorter.done(*level)
    return ordered


def successors_by_job(jobs: Iterable[Job]) -> dict[str, list[str]]:
    """Return by job the jobs that wait for it, each once; jobs that nothing waits for are not there."""
    followers: dict[str, list[str]] = {}
    for job in jobs:
        for other in dict.fromkeys(job.after):
            followers.setdefault(other, []).append(job.id)
    return followers


def slots_by_start(jobs: Sequence[Job], slots: Iterable[Slot]) -> list[Slot]:
    """Return the slots by start, each after all that it waits for; ties of work without length by the order of jobs."""
    rank = {job.id: n for n, job in enumerate(in_precedence_order(jobs))}
    return sorted(slots, key=lambda slot: (slot.start, slot.end, rank[slot.job], slot.index))
