"""Rooms where work waits between jobs: what each job brings and fetches, and an order of jobs that never gets stuck.

A room that is full holds back who would bring more, and who would bring may be whom all wait for: so before work is let in,
all that is left must still be able to go, job by job, in one known order (the banker's algorithm: Dijkstra 1968, in
Programming Languages, ed. Genuys: 43-112; that order here takes the place of his search for one).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from heapq import heapify, heappop, heappush
from itertools import product

import numpy as np

from solver.domain.timetable import Buffer, Job
from solver.scheduling.buffers.greedy_order import FAR_AHEAD, Counts, GreedyOrder
from solver.scheduling.precedence import successors_by_job


@dataclass(frozen=True, slots=True)
class BufferFlows:
    """What each job brings into each room at its end and fetches from it at its start; jobs that do neither are not there."""

    sizes: Counts
    brings: Mapping[str, Counts]
    fetches: Mapping[str, Counts]

    def net(self, job: str) -> Counts:
        """Return by how much a job fills each room once it is done."""
        none = (0,) * len(self.sizes)
        return tuple(a - b for a, b in zip(self.brings.get(job, none), self.fetches.get(job, none), strict=True))


def buffer_flows(rooms: Sequence[Buffer]) -> BufferFlows:
    """Return who brings and fetches how much."""
    brings: dict[str, list[int]] = {}
    fetches: dict[str, list[int]] = {}
    for n, room in enumerate(rooms):
        for stay in room.stays:
            brings.setdefault(stay.job, [0] * len(rooms))[n] += stay.takes
            fetches.setdefault(stay.until, [0] * len(rooms))[n] += stay.takes
    sizes = tuple(room.size for room in rooms)
    return BufferFlows(sizes, {k: tuple(v) for k, v in brings.items()}, {k: tuple(v) for k, v in fetches.items()})


@dataclass(frozen=True, slots=True)
class JobSequence:
    """Jobs one after the other, and the most that is in each room once one of them has brought something."""

    jobs: tuple[str, ...]
    most: Counts

    def over(self, sizes: Counts) -> int:
        """Return by how much the rooms are too small for it, in all."""
        return sum(max(0, a - b) for a, b in zip(self.most, sizes, strict=True))


def widen_for_sequence(flows: BufferFlows, order: JobSequence) -> BufferFlows:
    """Return the rooms wide enough for an order."""
    return replace(flows, sizes=tuple(max(a, b) for a, b in zip(flows.sizes, order.most, strict=True)))


TARGETS = (7, 8, 6, 9)  # tenths of what the best order so far has in an overfull room: measured, near 7 is best
AHEAD = (FAR_AHEAD, 300)  # jobs that may go before the first that is ready: weeks of work do best with few, a week with all


def widen_for_single_jobs(rooms: Sequence[Buffer], jobs: Sequence[Job]) -> tuple[Buffer, ...]:
    """Return the rooms as wide as the jobs by themselves need, in the least full order of them that was found."""
    flows = buffer_flows(rooms)
    sizes = widen_for_sequence(flows, least_overfull_sequence(jobs, flows, (priorities_as_listed(jobs),))).sizes
    return tuple(replace(room, size=size) for room, size in zip(rooms, sizes, strict=True))


def least_overfull_sequence(
    jobs: Sequence[Job],
    flows: BufferFlows,
    priorities: Sequence[Mapping[str, float]],
    there: Counts = (),
    *,
    over: Callable[[], bool] = lambda: False,
) -> JobSequence:
    """Return the order found in which the rooms are least overfull: not at all, where one was found that keeps to them.

    `priorities`: by job, which goes first where nothing else decides. Each is tried as it is and with each job's needs right
    before it; then greedily, for rooms of the sizes and for other ones: a rule that holds back from a size on goes beyond it.
    `there`: what is in the rooms at first, of jobs that are not among these. `over`: whether time is up, after which the
    best so far must do, once the likeliest were tried.
    """
    there = there or (0,) * len(flows.sizes)
    net = {job.id: flows.net(job.id) for job in jobs}
    best: JobSequence | None = None
    ranks = []
    for priority in priorities:
        needed = _as_needed(jobs, priority)
        ranks.append({name: n for n, name in enumerate(needed)})
        for names in (needed, _straight(jobs, priority)):
            best = _less_full(best, _counted(names, net, there), flows.sizes)
            if not best.over(flows.sizes):
                return best
    assert best is not None  # there is a wish
    emptying = GreedyOrder(jobs, net)
    for tenths, ahead, rank in product((10, *TARGETS), AHEAD, ranks):
        aims = flows.sizes if tenths == 10 else _aims(flows.sizes, best.most, tenths)
        names = emptying.order(aims, there, rank, ahead)
        best = _less_full(best, _counted(names, net, there), flows.sizes)
        if not best.over(flows.sizes) or (tenths not in (10, TARGETS[0]) and over()):
            break
    return best


def _aims(sizes: Counts, most: Counts, tenths: int) -> Counts:
    return tuple(tenths * high // 10 if high > size else size for size, high in zip(sizes, most, strict=True))


def _less_full(best: JobSequence | None, other: JobSequence, sizes: Counts) -> JobSequence:
    return other if best is None or other.over(sizes) < best.over(sizes) else best


def _straight(jobs: Sequence[Job], priority: Mapping[str, float]) -> list[str]:
    """The jobs as wished, but each after what it waits for."""
    rank = {job.id: (priority[job.id], n) for n, job in enumerate(jobs)}
    left = {job.id: len(set(job.after)) for job in jobs}
    followers = successors_by_job(jobs)
    ready = [(*rank[name], name) for name, count in left.items() if not count]
    heapify(ready)
    made = []
    while ready:
        made.append(heappop(ready)[-1])
        for other in followers.get(made[-1], ()):
            left[other] -= 1
            if not left[other]:
                heappush(ready, (*rank[other], other))
    return made


def priorities_as_listed(jobs: Sequence[Job]) -> dict[str, float]:
    """Return the wish that jobs go in the order in which they are listed."""
    return {job.id: n for n, job in enumerate(jobs)}


def _as_needed(jobs: Sequence[Job], priority: Mapping[str, float]) -> list[str]:
    """Jobs that nothing waits for in the order of the wish, each with what it waits for right before it."""
    rank = {job.id: (priority[job.id], n) for n, job in enumerate(jobs)}
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


def _counted(order: Sequence[str], net: Mapping[str, Counts], there: Counts) -> JobSequence:
    steps = np.array([net[name] for name in order], np.int64).reshape(len(order), len(there))
    levels = np.where(steps > 0, np.cumsum(steps, axis=0) + np.array(there, np.int64), 0)
    return JobSequence(tuple(order), tuple(int(n) for n in levels.max(axis=0, initial=0)))


class SafeSequence:
    """An order of jobs that keeps to the rooms, and which of them have started and ended: whether all can still pass."""

    def __init__(self, order: Sequence[str], flows: BufferFlows) -> None:
        """Start with nothing done. The order has to keep to the rooms; jobs that are not in it may have gone before it."""
        self.order, self.flows = list(order), flows
        self._at = {name: n for n, name in enumerate(name for name in order if name in flows.brings or name in flows.fetches)}
        net = np.array([flows.net(name) for name in self._at], np.int64).reshape(len(self._at), len(flows.sizes))
        self._left = np.ascontiguousarray(net.T)  # by room and job: by how much what is left of the job fills the room
        self._now = np.zeros(len(flows.sizes), np.int64)

    def is_safe(self, job: str) -> bool:
        """Return whether all that is left can still pass once this job, begun or not, has ended first."""
        at = self._at[job]
        now = self._now + self._left[:, at]
        if (now > self.flows.sizes).any():
            return False
        left = self._left.copy()
        left[:, at] = 0
        return bool((now + np.cumsum(left, axis=1).max(axis=1, initial=0) <= self.flows.sizes).all())

    def start(self, job: str) -> None:
        """Note that a job has started: what it fetches is gone."""
        if job in self.flows.fetches:
            fetched = np.array(self.flows.fetches[job], np.int64)
            self._now -= fetched
            if job in self._at:
                self._left[:, self._at[job]] += fetched

    def end(self, job: str) -> None:
        """Note that a job has ended: what it brings is there."""
        if job in self._at:
            self._now += self._left[:, self._at[job]]
            self._left[:, self._at[job]] = 0
        elif job in self.flows.brings:
            self._now += self.flows.brings[job]
