"""Rooms where work waits between jobs: what each job brings and fetches, and an order of jobs that never gets stuck.

A room that is full holds back who would bring more, and who would bring may be whom all wait for: so before work is let in,
all that is left must still be able to go, job by job, in one known order (the banker's algorithm: Dijkstra 1968, in
Programming Languages, ed. Genuys: 43-112; that order here takes the place of his search for one).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from heapq import heapify, heappop, heappush

import numpy as np

from solver.domain.timetable import Job, Room

Counts = tuple[int, ...]  # by room


@dataclass(frozen=True, slots=True)
class Doors:
    """What each job brings into each room at its end and fetches from it at its start; jobs that do neither are not there."""

    sizes: Counts
    brings: Mapping[str, Counts]
    fetches: Mapping[str, Counts]

    def net(self, job: str) -> Counts:
        """Return by how much a job fills each room once it is done."""
        none = (0,) * len(self.sizes)
        return tuple(a - b for a, b in zip(self.brings.get(job, none), self.fetches.get(job, none), strict=True))


def doors_of(rooms: Sequence[Room]) -> Doors:
    """Return who brings and fetches how much."""
    brings: dict[str, list[int]] = {}
    fetches: dict[str, list[int]] = {}
    for n, room in enumerate(rooms):
        for stay in room.stays:
            brings.setdefault(stay.job, [0] * len(rooms))[n] += stay.takes
            fetches.setdefault(stay.until, [0] * len(rooms))[n] += stay.takes
    sizes = tuple(room.size for room in rooms)
    return Doors(sizes, {k: tuple(v) for k, v in brings.items()}, {k: tuple(v) for k, v in fetches.items()})


@dataclass(frozen=True, slots=True)
class Order:
    """Jobs one after the other, and the most that is in each room once one of them has brought something."""

    jobs: tuple[str, ...]
    most: Counts

    def over(self, sizes: Counts) -> int:
        """Return by how much the rooms are too small for it, in all."""
        return sum(max(0, a - b) for a, b in zip(self.most, sizes, strict=True))


def best_order(jobs: Sequence[Job], doors: Doors, wishes: Sequence[Mapping[str, float]], there: Counts = ()) -> Order:
    """Return the order found in which the rooms are least overfull: not at all, where one was found that keeps to them.

    `wishes`: by job, which goes first where nothing else decides; each is tried in three ways. `there`: what is in the rooms at
    first, of jobs that are not among these.
    """
    there = there or (0,) * len(doors.sizes)
    found: list[Order] = []
    for wish in wishes:
        needed = _as_needed(jobs, wish)
        for order in (needed, _straight(jobs, wish), None):
            if order is not None:
                found.append(_counted(order, doors, there))
            elif all(one.over(doors.sizes) for one in found):
                found.append(_emptying(jobs, doors, there, {name: n for n, name in enumerate(needed)}))
    return min(found, key=lambda one: one.over(doors.sizes))


def _straight(jobs: Sequence[Job], wish: Mapping[str, float]) -> list[str]:
    """The jobs as wished, but each after what it waits for."""
    rank = {job.id: (wish[job.id], n) for n, job in enumerate(jobs)}
    left = {job.id: len(set(job.after)) for job in jobs}
    followers: dict[str, list[str]] = {name: [] for name in left}
    for job in jobs:
        for other in set(job.after):
            followers[other].append(job.id)
    ready = [(*rank[name], name) for name, count in left.items() if not count]
    heapify(ready)
    made = []
    while ready:
        made.append(heappop(ready)[-1])
        for other in followers[made[-1]]:
            left[other] -= 1
            if not left[other]:
                heappush(ready, (*rank[other], other))
    return made


def as_listed(jobs: Sequence[Job]) -> dict[str, float]:
    """Return the wish that jobs go in the order in which they are listed."""
    return {job.id: n for n, job in enumerate(jobs)}


def _as_needed(jobs: Sequence[Job], wish: Mapping[str, float]) -> list[str]:
    """Jobs that nothing waits for in the order of the wish, each with what it waits for right before it."""
    rank = {job.id: (wish[job.id], n) for n, job in enumerate(jobs)}
    after = {job.id: sorted(set(job.after), key=rank.__getitem__) for job in jobs}
    waited = {name for others in after.values() for name in others}
    made: dict[str, None] = {}
    for last in sorted((job.id for job in jobs if job.id not in waited), key=rank.__getitem__):
        ahead = [last]
        while ahead:
            missing = [name for name in after[ahead[-1]] if name not in made]
            if missing and ahead[-1] not in made:
                ahead.append(missing[0])
            else:
                made[ahead.pop()] = None
    return list(made)


def _counted(order: Sequence[str], doors: Doors, there: Counts) -> Order:
    now, most = np.array(there, np.int64), np.zeros(len(doors.sizes), np.int64)
    for name in order:
        net = np.array(doors.net(name), np.int64)
        now = now + net
        most = np.where(net > 0, np.maximum(most, now), most)
    return Order(tuple(order), tuple(int(n) for n in most))


def _emptying(jobs: Sequence[Job], doors: Doors, there: Counts, rank: Mapping[str, int]) -> Order:
    """What fills no room goes at once; then, of what still finds room, the first by rank; else what is least too much."""
    left = {job.id: len(set(job.after)) for job in jobs}
    followers: dict[str, list[str]] = {name: [] for name in left}
    for job in jobs:
        for other in set(job.after):
            followers[other].append(job.id)
    net = {name: doors.net(name) for name in left}
    ready, now, made = {name for name, count in left.items() if not count}, list(there), []

    def order_of(name: str) -> tuple[bool, int, int]:
        excess = sum(max(0, a + b - size) for a, b, size in zip(now, net[name], doors.sizes, strict=True) if b > 0)
        return any(n > 0 for n in net[name]), excess, rank[name]

    while ready:
        name = min(ready, key=order_of)
        ready.discard(name)
        made.append(name)
        now = [a + b for a, b in zip(now, net[name], strict=True)]
        for other in followers[name]:
            left[other] -= 1
            if not left[other]:
                ready.add(other)
    return _counted(made, doors, there)


class Passage:
    """An order of jobs that keeps to the rooms, and which of them have started and ended: whether all can still pass."""

    def __init__(self, order: Sequence[str], doors: Doors) -> None:
        """Start with nothing done. The order has to keep to the rooms; jobs that are not in it may have gone before it."""
        self.order, self.doors = list(order), doors
        self._at = {name: n for n, name in enumerate(name for name in order if name in doors.brings or name in doors.fetches)}
        net = np.array([doors.net(name) for name in self._at], np.int64).reshape(len(self._at), len(doors.sizes))
        self._left = np.ascontiguousarray(net.T)  # by room and job: by how much what is left of the job fills the room
        self._now = np.zeros(len(doors.sizes), np.int64)

    def safe(self, job: str) -> bool:
        """Return whether all that is left can still pass once this job, begun or not, has ended first."""
        at = self._at[job]
        now = self._now + self._left[:, at]
        if (now > self.doors.sizes).any():
            return False
        left = self._left.copy()
        left[:, at] = 0
        return bool((now + np.cumsum(left, axis=1).max(axis=1, initial=0) <= self.doors.sizes).all())

    def start(self, job: str) -> None:
        """Note that a job has started: what it fetches is gone."""
        if job in self.doors.fetches:
            fetched = np.array(self.doors.fetches[job], np.int64)
            self._now -= fetched
            if job in self._at:
                self._left[:, self._at[job]] += fetched

    def end(self, job: str) -> None:
        """Note that a job has ended: what it brings is there."""
        if job in self._at:
            self._now += self._left[:, self._at[job]]
            self._left[:, self._at[job]] = 0
        elif job in self.doors.brings:
            self._now += self.doors.brings[job]
